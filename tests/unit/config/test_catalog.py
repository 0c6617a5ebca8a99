"""The catalogs: everything that can be translated is in them, and the Spanish of the steps is whole."""

from __future__ import annotations

import re

import pytest
from babel.messages.mofile import read_mo

from checklists.plan.templates import newest_version
from checklists.texts.sentences import SENTENCES
from checklists.texts.sources import safety_texts, sheet_lines, step_texts
from config.language import catalog

MARK = re.compile(r"‹([^‹|›]*)\|([^‹|›]*)›")
PART = re.compile(r"\{(\w+)\}|%\((\w+)\)s")
NUMBER = re.compile(r"\d[\d.,/]*")
FILES = [(language, domain) for language in catalog.TRANSLATED for domain in catalog.DOMAINS]


def spanish():
    """Return English → Spanish of everything the server says."""
    return {each.id: each.string for each in catalog.read("es", "django") if each.id}


def flat(said):
    """Return one text of a string and its plural."""
    return said if isinstance(said, str) else "|".join(said)


@pytest.mark.parametrize(("language", "domain"), FILES)
class TestFiles:
    def test_every_string_of_today_is_there_and_no_other(self, language, domain):
        """After a change: ``manage.py messages``."""
        in_file = {(each.id, each.context) for each in catalog.read(language, domain)}
        assert in_file == {(each.id, each.context) for each in catalog.messages(domain)}

    def test_what_is_read_is_what_is_edited(self, language, domain):
        path = catalog.po_path(language, domain)
        with path.with_suffix(".mo").open("rb") as file:
            read = {flat(each.id): flat(each.string) for each in read_mo(file) if each.id}
        edited = {flat(each.id): flat(each.string) for each in catalog.read(language, domain) if each.id}
        assert read == {what: said for what, said in edited.items() if said.strip("|")}

    def test_nothing_is_guessed(self, language, domain):
        assert not [each.id for each in catalog.read(language, domain) if each.id and each.fuzzy]

    def test_the_header_says_who_made_it(self, language, domain):
        head = catalog.po_path(language, domain).read_text(encoding="utf-8")[:300]
        assert "Made by machine and to be reviewed" in head

    def test_a_part_left_out_of_a_sentence_is_noticed(self, language, domain):
        wrong = []
        for each in catalog.read(language, domain):
            ids, said = each.id, each.string
            if not ids or not said or not any(said):
                continue
            asked = set(PART.findall(ids[-1] if isinstance(ids, tuple) else ids))
            for one in said if isinstance(said, tuple) else (said,):
                wrong += [ids] if set(PART.findall(one)) - asked else []
                wrong += [ids] if not isinstance(ids, tuple) and set(PART.findall(one)) != asked else []
        assert not wrong


def test_what_is_just_written_in_a_template_is_gathered_with_its_file():
    """In an attribute, as text, with a value, given to a filter: none of them is marked there."""
    places = {each.id: {file for file, _ in each.locations} for each in catalog.messages("django")}
    for text, file in (
        ("Parts of the board", "jobs/job_board.html"),
        ("Page not found", "404.html"),
        ("All {count} in “{label}”", "jobs/_lane.html"),
        ("not agreed", "jobs/job_detail.html"),
    ):
        assert f"templates/{file}" in places[text]


@pytest.mark.parametrize("language", catalog.TRANSLATED)
def test_the_tablet_has_the_words_of_today(language):
    assert catalog.script_path(language).read_text(encoding="utf-8") == catalog.script(language)


class TestSpanishOfTheSteps:
    every = [text for text, _ in step_texts(newest_version())]

    def test_steps_safety_lines_and_cards_are_whole(self):
        said = spanish()
        asked = [*self.every, *safety_texts(newest_version()), *sheet_lines(), *SENTENCES]
        assert [text for text in asked if not said.get(text)] == []

    def test_quantities_are_the_same_ones(self):
        """Both sides of each mark, figure by figure; words beside them may change (``3 ft``, ``3 pies``)."""
        said = spanish()
        wrong = []
        for text in [*self.every, *sheet_lines()]:
            ours, theirs = MARK.findall(text), MARK.findall(said[text])
            figures = [[NUMBER.findall(side) for side in pair] for pair in ours]
            if sorted(figures) != sorted([NUMBER.findall(side) for side in pair] for pair in theirs):
                wrong.append(text)
        assert wrong == []

    def test_figures_outside_marks_are_the_same_ones(self):
        """A wrong figure in a safety line could hurt somebody."""
        said = spanish()
        wrong = []
        for text in [*self.every, *sheet_lines()]:
            ours = sorted(NUMBER.findall(MARK.sub("", text)))
            theirs = sorted(NUMBER.findall(MARK.sub("", said[text])))
            wrong += (
                []
                if [each.rstrip(".,") for each in ours] == [each.rstrip(".,") for each in theirs]
                else [text]
            )
        assert wrong == []

    def test_a_warning_in_capitals_stays_one(self):
        loud = re.compile(r"\b[A-Z]{4,}\b")
        said = spanish()
        lost = [
            text for text in self.every if loud.search(text) and not re.search(r"[A-ZÑÁÉÍÓÚ]{3,}", said[text])
        ]
        assert lost == []
