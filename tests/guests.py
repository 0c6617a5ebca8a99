"""Does what a customer's browser does with the link of a letter."""

from __future__ import annotations

import re
from typing import Any

from django.test import Client
from django.urls import reverse

from jobs.models import GuestLink
from jobs.quote.guest_link import token_sha256


def letter(token: str, kind: str = "quote") -> str:
    """Return the address that stands in the letter."""
    return reverse(f"jobs:guest_{kind}", args=[token])


def clean(token: str, act: str = "document") -> str:
    """Return the address without the token, of the page or of an answer."""
    return reverse(f"jobs:guest_{act}", args=[GuestLink.objects.get(token_sha256=token_sha256(token)).pk])


def read(client: Client, token: str, kind: str = "quote") -> Any:
    """Open the link of the letter and go where it leads."""
    return client.get(letter(token, kind), follow=True)


def word_of(client: Client, token: str, kind: str = "quote") -> str:
    """Open the link and return the word that an answer must bring."""
    found = re.search(r'name="answer_word" value="(\w+)"', read(client, token, kind).text)
    return found[1] if found else ""


def answer(
    client: Client, token: str, act: str, data: dict[str, str], kind: str = "quote", word: str = ""
) -> Any:
    """Open the link, fill in the form of the page and send it; with ``word``, from a page opened before."""
    return client.post(clean(token, act), {"answer_word": word or word_of(client, token, kind)} | data)
