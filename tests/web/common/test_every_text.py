"""Every text that stands in a template of the main pages can be translated, and English is what it was."""

from __future__ import annotations

import re

import pytest
from django.template import engines
from django.urls import reverse

from config.language import said
from tests.bare_texts import bare_texts

VARIES = re.compile(r'name="csrfmiddlewaretoken" value="\w+"|"X-CSRFToken": "\w+"|nonce="[^"]+"')


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
        reverse("jobs:table_import", args=["parts"]),
        reverse("jobs:table_import", args=["customers"]),
        reverse("jobs:member_list"),
        reverse("jobs:shop_edit"),
        reverse("checklists:checklist_detail", args=[golden_job.pk]),
    ]


class TestEveryText:
    def test_no_text_of_a_template_is_left_bare(self, pages, alice, client_of, monkeypatch):
        assert bare_texts(client_of(alice), alice, pages, monkeypatch) == {}


class TestEnglish:
    def test_pages_are_byte_by_byte_what_they_were(self, pages, alice, client_of, monkeypatch):
        """Every template is compared in the unit tests; these pages are compared as they are put together."""
        client, pages = client_of(alice), pages[::3]
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
        assert ready == plain
