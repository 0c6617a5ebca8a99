"""Every page and paper speaks the shop's units: read as the owner, in a shop of either kind."""

from __future__ import annotations

import html
import json
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.test import Client
from django.urls import Resolver404, resolve, reverse

from checklists.sheet.issue import sheet_issue
from checklists.sheet.printing import print_sheet
from checklists.tablet.download import job_download
from jobs.models import Part, Shop
from sizing import in_units
from tests.guests import clean, read
from tests.papers import text_of

#: Units of one system that a shop of the other never reads, but for what ALLOWED takes out first.
FOREIGN = {
    "imperial": re.compile(
        r"\d\s?(?:m|mm|cm|g|N|K|L|Pa|kPa|MPa|km/h)(?![\w/·²°'%])"
        r"|(?<![\w/])(?:mm|cm|kg|km|N·m|m/s|km/h|m²|kg/m²|mΩ/m|kPa)(?![\w²])|°C"
        r"|\b(?:millimet|centimet|kilomet|kilogram|newton|litre|liter)\w*|\bmetres?\b"
    ),
    "metric": re.compile(
        r"\d\s?(?:in|mi)(?=\s*(?:$|[.,;:)(<|›]))|\d\s?(?:ft)\b|\d\s?[\"″'′](?!\w)"
        r"|(?<![\w/])(?:lb|lbf|lbs|mph|psf|psi|in-lb|ft-lb|lb-ft|gal|ft²|lb/ft²|mΩ/ft)(?!\w)|°F"
        r"|\b(?:inch|pound|gallon|mile|Fahrenheit)\w*",
    ),
}
#: What is said alike in every shop, each with its reason.
ALLOWED = (
    r"\b(?:60|70|75|80|90|105|125|200) °C(?: \(\d+ °F\))?",  # as conductors are marked, UL and IEC
    r"module ambient below 25 °C",  # the heading of NFPA 70 table 690.7(A)
    r"(?:voltage|current)[^.\n]{0,12} at 25 °C|\(25 °C - -?\d+ °C\)",  # standard test conditions, IEC 60904
    r"[-+\d.]* ?mV/°C",  # the setting of chargers, as they print it
    r"[%AV1]/°C",  # coefficients, as data sheets print them
    r"\(30 °C air\)",  # the conditions of 33 CFR 183.425 table 5 and BS 7671 table 4E1A
    r"Units \* Feet, inches, pounds, °F Met(?:er|re)s, kilograms, °C",  # where a shop chooses
    r"Any unit is understood: [^\n]*?\.(?= )",  # the line that says so
    r"(?:TV|Monitor),? [\d–-]+ in\b",  # screens are sold by the inch everywhere
    r"\d+ in(?: \([\d.]+ m*\))? (?:unsheathed|from)",  # the distances of ABYC E-11 in its own words
    r"5/16 in inverter stud",  # a thread
    r"\d[\d/ ]* in wood screw|#\d+ and 1/4 in",  # screws are sold so in both
)
#: Pages of one name that are read at most, but for steps.
MOST, MOST_STEPS = 2, 8  # the tablet holds the words of every step


def readable(text: str) -> str:
    """Return the words of a page: its text, titles and labels, what stands in its fields and its data."""
    data = re.findall(r'<script[^>]*type="application/json"[^>]*>(.*?)</script>', text, flags=re.S)
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", text, flags=re.S)
    spoken = re.findall(r'\b(?:title|aria-label|placeholder|alt|value|data-confirm)="([^"]*)"', text)
    plain = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))
    words = [html.unescape(each) for each in (plain, *spoken)]
    words += [each for found in data for each in sentences(json.loads(found))]
    return "\n".join(each for each in words if " " in each and not each.startswith(("{", "[")))


def sentences(data: Any) -> Iterator[str]:
    """Return every text of more than a word in what a script is handed."""
    if isinstance(data, dict):
        data = list(data.values())
    if isinstance(data, list):
        for each in data:
            yield from sentences(each)
    elif isinstance(data, str) and " " in data and not data.startswith("<"):
        yield data


def foreign(text: str, units: str) -> list[str]:
    """Return what is said in units of the other system, with the words around it."""
    for pattern in ALLOWED:
        text = re.sub(pattern, " ", text)
    found = FOREIGN[units].finditer(text)
    return [" ".join(text[max(0, each.start() - 60) : each.end() + 25].split()) for each in found]


def pages(client: Client, starts: list[str], of: str = "") -> dict[str, str]:
    """Return the pages a person comes to by following links, by address; ``of`` stays with one app."""
    waiting, read, count = [*starts], {}, Counter[str]()
    while waiting:
        address = waiting.pop(0)
        try:
            name = resolve(urlsplit(address).path).view_name
        except Resolver404:
            continue
        if (
            not name.startswith(of)
            or address in read
            or count[name] >= (MOST_STEPS if name.endswith("step_detail") else MOST)
        ):
            continue
        answer = client.get(address)
        if answer.status_code != 200 or "html" not in answer.headers.get("Content-Type", ""):
            continue
        count[name] += 1
        read[address] = answer.content.decode()
        links = re.findall(r'href="(/[^"#]*)', read[address])
        waiting += [html.unescape(link) for link in links if not link.startswith(("/static", "/back-office"))]
    return read


def wrong_on(found: dict[str, str], units: str) -> str:
    """Return every place with a unit of the other system, one a line."""
    lines = {f"{at}: {words}": None for at, text in found.items() for words in foreign(text, units)}
    return "\n".join(lines)


@pytest.fixture(params=["imperial", "metric"])
def units(request, shop):
    """Return the units of the shop, which are these."""
    Shop.objects.filter(pk=shop.pk).update(units=request.param)
    shop.refresh_from_db()
    return request.param


@pytest.fixture
def golden_job(units, golden_job):
    """Return the golden job; a metric shop buys its cable by the meter."""
    if units == "metric":
        for part in Part.objects.filter(unit="ft"):
            part.name, part.unit = part.name.replace("per foot", "per meter"), "m"
            part.save()
    return golden_job


def test_pages_of_survey_design_and_quote_speak_the_shops_units(
    units, golden_job, sent_quote, alice, client_of
):
    found = pages(client_of(alice), [reverse("jobs:job_detail", args=[golden_job.pk]), "/"])
    found[clean(sent_quote.token)] = read(Client(), sent_quote.token).text
    assert len(found) > 40
    assert wrong_on({at: readable(text) for at, text in found.items()}, units) == ""


def test_pages_of_the_work_and_the_tablet_speak_the_shops_units(
    units, golden_job, second_list, alice, client_of
):
    start = reverse("checklists:checklist_detail", args=[golden_job.pk])
    found = {at: readable(text) for at, text in pages(client_of(alice), [start], "checklists:").items()}
    taken = job_download(second_list) | {"says": {}}  # the Spanish has a test of its own for its marks
    download = "\n".join(sentences(taken))
    found["tablet"] = in_units(download, units)
    assert len(found) > 12
    assert wrong_on(found, units) == ""


def test_papers_speak_the_shops_units(units, sent_quote, client):
    read(client, sent_quote.token)
    paper = client.get(clean(sent_quote.token, "pdf")).content
    assert wrong_on({"quote": text_of(paper)}, units) == ""


def test_the_job_sheet_speaks_the_shops_units(units, second_list, bob, now):
    sheet = sheet_issue(checklist=second_list, actor=bob, at=now)
    assert wrong_on({"job sheet": text_of(print_sheet(second_list, sheet.snapshot))}, units) == ""
