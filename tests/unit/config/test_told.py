"""Sentences the code makes are found in the catalog, whole or by their form, and said with their parts.

What is expected is written by hand here; the sentences of the engine are those of the designs of the demo.
"""

from __future__ import annotations

import ast
import time

import pytest
from django.core.management import call_command
from django.template import Context, Template
from django.utils import translation
from django.utils.safestring import mark_safe

from common.told import Teller, told
from config.demo.shop import SHOP_NAME, bring_to_life
from config.language import catalog
from config.language.gathered import form_of, is_said
from jobs.design.page import answer_for
from jobs.models import Design

SAID = {
    "{name} carries {amps} A": "{name} lleva {amps} A",
    "{title}: {has}, limit {bound}.": "{title}: {has}, límite {bound}.",
    "{a} of {b}": "{a} de {b}",
    "Main fuse": "Fusible principal",
    "The lid opens": "La tapa abre",
    "The way is {wide} too narrow": "El paso es {wide} demasiado estrecho",
    "The way {start} to {end} is {wide} too narrow": "El paso {start} a {end} es {wide} demasiado estrecho",
    "from the edge": "desde el borde",
    "{count} panels left out": "faltan paneles",  # a part is missing: not to be used
}


@pytest.fixture
def teller():
    return Teller(SAID)


class TestTeller:
    @pytest.mark.parametrize(
        ("english", "spanish"),
        [
            ("Main fuse", "Fusible principal"),
            ("main fuse", "fusible principal"),
            ("Main fuse carries 30 A", "Fusible principal lleva 30 A"),
            ("Roof 2 carries ‹3 m|10 ft› A", "Roof 2 lleva ‹3 m|10 ft› A"),
            ("3 of ‹4 kg|9 lb›", "3 de ‹4 kg|9 lb›"),
            ("Main fuse: 4 A, limit 5 A.", "Fusible principal: 4 A, límite 5 A."),
            ("The lid opens. Main fuse", "La tapa abre. Fusible principal"),
            ("The lid opens.", "La tapa abre."),
            ("Ladder: main fuse; the lid opens", "Ladder: fusible principal; la tapa abre"),
            (
                "The way from the edge to Vent is ‹211 mm|8 1/4 in› too narrow",
                "El paso desde el borde a Vent es ‹211 mm|8 1/4 in› demasiado estrecho",
            ),
        ],
    )
    def test_a_sentence_is_said_with_its_parts(self, teller, english, spanish):
        assert teller.tell(english) == spanish

    @pytest.mark.parametrize(
        "english", ["", "–", "12.5 A", "Somebody's own words", "3 panels left out", "two of three"]
    )
    def test_what_is_not_known_stays(self, teller, english):
        assert teller.tell(english) == english

    def test_a_quantity_is_not_cut(self):
        assert Teller({"b": "x"}).tell("‹a: b|c: b›") == "‹a: b|c: b›"


class TestTold:
    def test_english_stays_and_so_does_another_language_without_words(self):
        for language in ("en-us", "en", "fr"):
            with translation.override(language):
                assert told("Not enough data") == "Not enough data"

    def test_a_filter_says_it_and_escapes_what_was_typed(self):
        page = Template("{{ one|told }}|{{ two|told }}|{{ none|told }}|{{ markup|told }}")
        shown = {"one": "block", "two": "<b>", "none": None, "markup": mark_safe("<i>block</i>")}
        with translation.override("es"):
            assert page.render(Context(shown)) == "bloqueo|&lt;b&gt;||<i>block</i>"


class TestForms:
    @pytest.mark.parametrize(
        ("code", "form"),
        [
            ('f"{found.kind.from_to}: fuse or breaker"', "{from_to}: fuse or breaker"),
            ('f"{job.get_state_display()} since {show(day)}"', "{state} since {day}"),
            ('f"{low} to {low}" f" or {a.low}"', "{low} to {low} or {low2}"),
            ('"Holds " + f"{count} A"', "Holds {count} A"),
        ],
    )
    def test_an_f_string_becomes_a_form(self, code, form):
        assert form_of(ast.parse(code, mode="eval").body) == form

    @pytest.mark.parametrize("text", ["Main fuse", "Hours", "{n} panels", "from the edge", "“{x}” is taken"])
    def test_words_for_people_are_gathered(self, text):
        assert is_said(text)

    @pytest.mark.parametrize(
        "text", ["run_len", "btn btn-primary", "<b>Hours</b>", "{a}:{b}", "/jobs/", "SELECT 1"]
    )
    def test_ids_and_markup_are_not(self, text):
        assert not is_said(text)


@pytest.fixture
def sentences(db):
    """Return every distinct text of the checks of the demo's designs."""
    call_command("loaddata", "demo_shop", verbosity=0)
    bring_to_life()
    found: set[str] = set()
    for design in Design.objects.filter(job__shop__name=SHOP_NAME):
        for check in answer_for(design).result.checks:
            found |= {check.title, check.sentence, check.action, check.missing or ""}
    return sorted(found - {""})


def test_the_sentences_of_the_engine_are_in_the_catalog(sentences):
    """Measured when this was written: all 493, in 0.06 ms each."""
    ids = [each.id for each in catalog.messages("django") if each.id]
    texts = [text for each in ids for text in (each if isinstance(each, tuple) else (each,))]
    teller = Teller({text: f"«{text}»" for text in texts})
    lost = [sentence for sentence in sentences if not teller.knows(sentence)]
    assert len(sentences) > 400
    assert len(lost) <= 0.05 * len(sentences), lost
    start = time.process_time()
    said = [teller.tell(sentence) for sentence in sentences]
    assert time.process_time() - start < 1e-3 * len(sentences)  # ten times slower than measured
    plain = [each.replace("«", "").replace("»", "").lower() for each in said]
    assert plain == [each.lower() for each in sentences]  # every part is back in its place
