"""Every text that stands in a template of the main pages can be translated, and English is what it was.

A language is put in that says «every message» between such marks; what Python prints is marked too, so all
that is left bare on a page stands in a template and nobody could translate it.
"""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from django.conf import settings
from django.template import base, engines, library
from django.urls import reverse
from django.utils.translation import trans_real

from config import runs, said
from jobs.models import Membership

FROM_PYTHON, ITS_END = "\ue000", "\ue001"
DEPTH = {FROM_PYTHON: 1, ITS_END: -1, "«": 1, "»": -1}
VARIES = re.compile(r'name="csrfmiddlewaretoken" value="\w+"|"X-CSRFToken": "\w+"|nonce="[^"]+"')
#: Language names and the name of the product are the same in every language.
SAME = {"Coachlight"}


class Marks:
    """A language that says each message as «message»."""

    def gettext(self, text):
        return f"«{text.rpartition(chr(4))[2]}»"

    def ngettext(self, one, many, number):
        return self.gettext(one if number == 1 else many)

    def language(self):
        return "es"

    to_language = language


class Bare(HTMLParser):
    """Gathers what of a page's texts stands outside all marks."""

    def __init__(self):
        super().__init__()
        self.depth = 0
        self.silent = ""
        self.found = []

    def handle_starttag(self, tag, attrs):
        if tag in {"script", "style"}:
            self.silent = tag
        for name, text in attrs:
            if (
                name in {"alt", "title", "placeholder", "aria-label", "data-label", "aria-description"}
                and text
            ):
                before = self.depth
                self.look(text)
                self.depth = before

    def handle_endtag(self, tag):
        if tag == self.silent:
            self.silent = ""

    def handle_data(self, data):
        if not self.silent:
            self.look(data)

    def look(self, text):
        bare = []
        for letter in text:
            self.depth += DEPTH.get(letter, 0)
            if not self.depth and letter not in DEPTH:
                bare.append(letter)
        left = "".join(bare).strip()
        if runs.has_words(left) and left not in SAME:
            self.found.append(left)


@pytest.fixture
def pages(golden_job, draft_quote, shop):
    """Return the addresses of the main pages of the office."""
    design = draft_quote.design
    by_job = ("job_detail", "survey_detail", "design_list", "quote_list", "job_papers", "job_log")
    return [
        reverse("jobs:job_board"),
        *(reverse(f"jobs:{name}", args=[golden_job.pk]) for name in by_job),
        reverse("jobs:design_detail", args=[design.pk]),
        reverse("jobs:workspace", args=[design.pk]),
        reverse("jobs:quote_detail", args=[draft_quote.pk]),
        reverse("jobs:quote_edit", args=[draft_quote.pk]),
        reverse("jobs:quote_preview", args=[draft_quote.pk]),
        reverse("jobs:customer_list"),
        reverse("jobs:customer_detail", args=[golden_job.vehicle.customer.pk]),
        reverse("jobs:vehicle_detail", args=[golden_job.vehicle.pk]),
        reverse("jobs:part_list"),
        reverse("jobs:member_list"),
        reverse("jobs:shop_edit"),
        reverse("checklists:checklist_detail", args=[golden_job.pk]),
    ]


def marked_by_python(render):
    """Return a render of a node whose print is known to come from Python."""
    return lambda self, context: f"{FROM_PYTHON}{render(self, context)}{ITS_END}"


class TestEveryText:
    def test_no_text_of_a_template_is_left_bare(self, pages, alice, client_of, monkeypatch):
        Membership.objects.filter(user=alice).update(language="es")
        monkeypatch.setitem(trans_real._translations, "es", Marks())
        for node in (base.VariableNode, library.SimpleNode):
            monkeypatch.setattr(node, "render", marked_by_python(node.render))
        left = {}
        for address in pages:
            answer = client_of(alice).get(address)
            assert answer.status_code == 200, address
            bare = Bare()
            bare.feed(answer.text)
            assert "«" in answer.text
            left[address] = bare.found
        assert {address: found for address, found in left.items() if found} == {}


class TestEnglish:
    def test_every_page_is_byte_by_byte_what_it_was(self, pages, alice, client_of, monkeypatch):
        client = client_of(alice)
        ready = [VARIES.sub("", client.get(address).text) for address in pages]
        monkeypatch.setattr(said, "prepared", lambda source, name: source)
        engine = engines["django"].engine
        try:
            for loader in engine.template_loaders:
                loader.reset()
            plain = [VARIES.sub("", client.get(address).text) for address in pages]
            assert "{% said" not in engine.get_template("jobs/job_board.html").source
        finally:
            for loader in engine.template_loaders:
                loader.reset()
        assert settings.LANGUAGE_CODE == "en-us"
        assert ready == plain
