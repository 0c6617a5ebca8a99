"""A language in which every text of ours reads «so», and what of it reaches the database."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import connection
from django.utils.translation import trans_real

from common import told

LANGUAGE = "es"


def speak(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let Spanish put every text between « and », whether translated or not."""
    spanish = trans_real.translation(LANGUAGE)
    monkeypatch.setattr(spanish, "gettext", lambda text: f"«{text}»")
    monkeypatch.setattr(told, "_tell", lambda _language, sentence: f"«{sentence}»" if sentence else "")


@contextmanager
def written_in_it() -> Iterator[list[str]]:
    """Yield a list that is filled with what is stored in this language; sessions are nobody's record."""
    found: list[str] = []

    def watch(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.startswith(("INSERT", "UPDATE")) and "django_session" not in sql:
            text = json.dumps(params, default=str, ensure_ascii=False)
            if "«" in text or "\\u00ab" in text:
                found.append(f"{sql[:60]} … {text[max(0, text.find('«') - 60) :][:200]}")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(watch):
        yield found
