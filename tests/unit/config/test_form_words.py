"""Every word of every form can be said otherwise: it is lazy, or its English stands in the catalog."""

from __future__ import annotations

import re

import pytest
from django.utils.functional import Promise

from common.told import Teller
from config.language import catalog
from config.language.gathered import forms

LETTERS = re.compile(r"[^\W\d_]{2,}")
#: What is no word of ours: codes of states, names of zones and parts, numbers of a rule set.
NO_WORDS = re.compile(r"[A-Z]{1,3}\d?|[\w+-]+/[\w/+-]+")


@pytest.fixture(scope="module")
def teller():
    ids = [each.id for each in catalog.messages("django") if each.id]
    return Teller(
        {text: f"«{text}»" for each in ids for text in (each if isinstance(each, tuple) else (each,))}
    )


def words_of(field):
    """Yield label, help, choices and placeholder of a field."""
    yield from (field.label, field.help_text, field.widget.attrs.get("placeholder"))
    yield getattr(field, "empty_label", None)
    for _value, words in getattr(field, "choices", ()):
        yield words


def test_there_are_forms():
    assert len(list(forms())) > 50


@pytest.mark.django_db
@pytest.mark.parametrize("form", forms(), ids=lambda form: f"{form.__module__}.{form.__name__}")
def test_every_word_can_be_said(form, teller):
    lost = []
    for name, field in form.base_fields.items():
        for words in words_of(field):
            is_lazy = isinstance(words, Promise)
            text = str(words or "")
            if (
                not is_lazy
                and LETTERS.search(text)
                and not NO_WORDS.fullmatch(text)
                and not teller.knows(text)
            ):
                lost.append((name, text))
    assert lost == []
