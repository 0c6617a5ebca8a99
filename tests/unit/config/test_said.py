"""Texts of templates are found, printed as they stand in English, and said in another language."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template import Context, Template, engines
from django.utils import translation
from django.utils.translation import trans_real

from config.language.runs import MACHINE_BLOCKS, Reader, marked
from config.language.said import fitted, prepared, sayings

TEMPLATES = sorted(
    path for path in (Path(settings.BASE_DIR) / "templates").rglob("*.*") if path.suffix in {".html", ".txt"}
)
LITERAL = re.compile(r"_\((\"[^\"]*\"|'[^']*')\)")
TAG = re.compile(r"{% (said( attr)?|endsaid) %}")


class Book:
    """A catalog of a test, in place of the Spanish one."""

    def __init__(self, words):
        self.words = words

    def gettext(self, text):
        return self.words.get(text, text)

    def ngettext(self, one, many, number):
        return self.gettext(one if number == 1 else many)

    def language(self):
        return "es"

    to_language = language


@pytest.fixture
def said(monkeypatch):
    """Return a printer: source, what the catalog has, values → what a page in that language shows."""

    def show(source, words, **values):
        monkeypatch.setitem(trans_real._translations, "es", Book(words))
        with translation.override("es"):
            return Template(marked(source)).render(Context(values))

    return show


def messages_of(source):
    return list(sayings(marked(source)))


class TestFinding:
    @pytest.mark.parametrize(
        ("source", "messages"),
        [
            ("<p>Due back soon.</p>", ["Due back soon."]),
            ("<p>\n  Due back\n  soon. </p>", ["Due back soon."]),
            ("<p>Due {{ job.promised_date|date:'D' }}, {{ x }}</p>", ["Due {promised_date}, {x}"]),
            ("<p>From {{ a.name }} to {{ b.name }}, {{ a.name }}</p>", ["From {name} to {name_2}, {name}"]),
            ('<p>{% qty low "m" %} to {% qty high "m" %}</p>', ["{low} to {high}"]),
            ("<p><strong>Stop</strong> here</p>", ["<strong>Stop</strong> here"]),
            ("<p><strong>Stop here</strong></p>", ["Stop here"]),
            ("<p><strong>Stop {% if x %}now{% endif %}</strong></p>", ["Stop", "now"]),
            ("<p>At most 3 % of it</p>", ["At most 3 % of it"]),
            ('<p aria-label="Parts of it" class="Not read">–</p>', ["Parts of it"]),
            ('<img alt="{% if x %}Roof of {{ y }}{% else %}Roof{% endif %}">', ["Roof of {y}", "Roof"]),
            ("<p>{{ x }} Wh, {{ y }} &amp; {{ z }}</p>", []),
            ("<script>const sentence = 'Not read';</script><style>a { b: c }</style><!-- Nor this -->", []),
            ("{% comment %}Not read{% endcomment %}{# Nor this #}", []),
            ("{% blocktranslate %}Said {{ x }} already{% endblocktranslate %}", []),
            ('{% translate "Said already" %}', []),
            ("{% block body_class %}entrance{% endblock %}<p>Read</p>", ["Read"]),
            ("<{% if x %}a href='y'{% else %}b{% endif %}>Go</{% if x %}a{% else %}b{% endif %}>", ["Go"]),
        ],
    )  # fmt: skip
    def test_runs(self, source, messages):
        assert messages_of(source) == messages

    @pytest.mark.parametrize(
        ("source", "after"),
        [
            ('{{ x|default:"not set" }}', '{{ x|default:_("not set") }}'),
            ("{{ x|yesno:'yes,no' }}", "{{ x|yesno:_('yes,no') }}"),
            ('<a data-open="{{ x|yesno:\'yes,no\' }}">', '<a data-open="{{ x|yesno:\'yes,no\' }}">'),
            ('{% include "a" with words="Save" to="b" %}', '{% include "a" with words=_("Save") to="b" %}'),
            ('{% firstof x "Not yours." as why %}', '{% firstof x _("Not yours.") as why %}'),
            ('{% if x == "pass" %}{% endif %}', '{% if x == "pass" %}{% endif %}'),
        ],
    )  # fmt: skip
    def test_words_given_to_tags_and_filters(self, source, after):
        assert marked(source) == after

    @pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
    def test_nothing_else_of_a_template_is_changed(self, path):
        """What is put in, taken out again, leaves the template byte by byte."""
        source = path.read_text(encoding="utf-8")
        ready = prepared(source, path.name)
        assert LITERAL.sub(r"\1", TAG.sub("", ready)) == LITERAL.sub(r"\1", source)
        assert engines["django"].from_string(ready)

    @pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
    def test_the_reader_is_never_lost(self, path):
        """At the end of each template it stands in plain text again; a block inside a tag is known to it."""
        source = path.read_text(encoding="utf-8")
        reader = Reader(html=path.suffix == ".html")
        for atom in reader.atoms(source):
            block = re.match(r"{%\s*block\s+(\w+)", atom.text)
            assert block is None or reader.where == "text" or block[1] in MACHINE_BLOCKS
        assert reader.where == "text"

    @pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
    def test_no_plural_is_put_together_from_pieces(self, path):
        assert "|pluralize" not in path.read_text(encoding="utf-8")


class TestSaying:
    def test_a_sentence(self, said):
        assert said("<p> Due soon. </p>", {"Due soon.": "Vence pronto."}) == "<p> Vence pronto. </p>"

    def test_values_change_places_and_are_escaped(self, said):
        page = said("<p>{{ a }} of {{ b }}</p>", {"{a} of {b}": "de {b}: {a}"}, a="<1>", b=2)
        assert page == "<p>de 2: &lt;1&gt;</p>"

    def test_an_attribute_stays_one(self, said):
        words = {"Roof of {x}": 'Techo "{x}"'}
        assert said('<img alt="Roof of {{ x }}">', words, x='"') == '<img alt="Techo &quot;&quot;&quot;">'

    def test_inline_tags_move_with_their_words(self, said):
        words = {"<strong>Stop</strong> here": "Aquí, <strong>alto</strong>"}
        assert said("<p><strong>Stop</strong> here</p>", words) == "<p>Aquí, <strong>alto</strong></p>"

    def test_a_percent_sign_is_a_percent_sign(self, said):
        words = {"At most 3 % {x}": "Máximo 3 %s {x} 100%"}
        assert said("<p>At most 3 % {{ x }}</p>", words, x=1) == "<p>Máximo 3 %s 1 100%</p>"

    @pytest.mark.parametrize(
        "wrong",
        ["Vence", "Vence {y}", "Vence {x} {y}", "Vence {x", "Vence {x} }", "{ {x}", "<b>Vence {x}", "{0}{x}"],
    )  # fmt: skip
    def test_what_does_not_fit_is_said_in_english(self, said, wrong):
        assert said("<p>Due {{ x }}</p>", {"Due {x}": wrong}, x=1) == "<p>Due 1</p>"

    def test_what_nobody_translated_is_said_in_english(self, said):
        assert said("<p>Due {{ x }}</p>", {}, x="&") == "<p>Due &amp;</p>"

    def test_a_default_of_a_filter(self, said):
        assert said('{{ x|default:"not set" }}', {"not set": "sin fijar"}) == "sin fijar"

    def test_a_brace_of_ours_is_kept(self):
        assert fitted("Keep {x} in [brackets] {", "Deje {x} { así") == ("Deje ", "x", " { así")


class TestEnglish:
    source = (
        '<p title="A {{ x }}">\n <b>One</b>  two {{ x|default:"no" }} <br> {% if x %}on{% endif %} 3%</p>'
    )

    @pytest.mark.parametrize("x", ["", "<&>", 7])
    def test_every_byte_is_as_it_was(self, x):
        plain, ready = Template(self.source), Template(marked(self.source))
        assert ready.render(Context({"x": x})) == plain.render(Context({"x": x}))

    def test_only_our_own_templates_are_read_so(self):
        mine = engines["django"].get_template("jobs/job_board.html").template
        other = engines["django"].get_template("bootstrap5/field.html").template
        assert "{% said %}" in mine.source
        assert "{% said" not in other.source
