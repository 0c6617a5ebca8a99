"""On a technician's pages every word of ours is said in the language of the reader, templates' and code's.

The language puts « and » round each text that is in the catalog, whole or by its form; what stands outside of
them must be what people of the shop typed: names, parts, titles, units and codes.
"""

from __future__ import annotations

import html
import re

import pytest
from django.urls import reverse
from django.utils.translation import trans_real

from common import told
from config.language import catalog
from jobs.models import Membership, Part
from tests.roles import step_of
from tests.spoken import LANGUAGE

#: Typed by people of the invented shop, and units; a line that holds one of these is theirs.
TYPED = (
    "Test Coach Solar", "Bob Test", "Solar and lithium", "Pardee", "pardee@mail.example", "Junipergate",
    "TRL-2709", "Two of us", "Shop bay", "AWG", "gal", "tube",
)  # fmt: skip
MARKUP = re.compile(r"<(script|style|svg).*?</\1>|<[^>]+>", re.DOTALL)


@pytest.fixture
def page_of(client_of, bob, checklist, monkeypatch):
    """Return a reader of pages in a language that marks what it says."""
    ids = [each.id for each in catalog.messages("django") if each.id]
    texts = [text for each in ids for text in (each if isinstance(each, tuple) else (each,))]
    teller = told.Teller({text: f"«{text}»" for text in texts})
    spanish = trans_real.translation(LANGUAGE)
    monkeypatch.setattr(spanish, "gettext", lambda text: f"«{text}»")
    monkeypatch.setattr(spanish, "ngettext", lambda one, many, number: f"«{one if number == 1 else many}»")
    monkeypatch.setattr(told, "_tell", lambda _language, text: teller.tell(text))
    monkeypatch.setattr("checklists.texts.says.ours", lambda text, _language: f"«{text}»" if text else "")
    Membership.objects.filter(user=bob).update(language=LANGUAGE)
    bob.refresh_from_db()
    client = client_of(bob)
    return lambda url: client.get(url).text


def english_of(page):
    """Return the lines outside of « and »."""
    text, depth = [], 0
    for letter in MARKUP.sub("\n", page):
        depth += {"«": 1, "»": -1}.get(letter, 0)
        text.append(letter if depth == 0 and letter != "»" else "")
    return {line for each in html.unescape("".join(text)).split("\n") if (line := each.strip())}


def test_nothing_of_ours_stays_english(page_of, checklist):
    job = checklist.job
    urls = [reverse(f"checklists:{name}", args=[job.pk]) for name in ("checklist_detail", "load", "hours")]
    urls += [f"/jobs/{job.pk}/", f"/jobs/{job.pk}/log/"]
    roles = ("rest_volts", "appliances_tried")
    urls += [reverse("checklists:step_detail", args=[step_of(checklist, role, "").pk]) for role in roles]
    typed = (*TYPED, *Part.objects.of_shop(job.shop).values_list("name", flat=True))
    for url in urls:
        page = page_of(url)
        assert page.count("«") > 10, url
        left = {line for line in english_of(page) if re.search(r"[A-Za-z]{3}", line)}
        left -= {"Pat", "Test"}  # a person, in two cells
        assert {line for line in left if not any(name in line for name in typed)} == set(), url
