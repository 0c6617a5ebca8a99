"""Whose name stands in the log for a person, a customer who signed by link, and the system."""

from __future__ import annotations

import pytest

from jobs.shop.actor import ByName, System
from jobs.shop.log import log


@pytest.mark.parametrize(("actor", "name"), [(System(), ""), (ByName("Pat Doe"), "Pat Doe")])
def test_who_does_not_sign_in_leaves_a_name_and_no_account(shop, now, actor, name):
    entry = log(shop=shop, actor=actor, verb="quote accepted", at=now)
    assert (entry.actor, entry.actor_name) == (None, name)


def test_a_person_leaves_account_and_full_name_or_else_the_sign_in(shop, now, alice):
    assert log(shop=shop, actor=alice, verb="note", at=now).actor == alice
    assert log(shop=shop, actor=alice, verb="note", at=now).actor_name == "Alice Test"
    alice.first_name = alice.last_name = ""
    assert log(shop=shop, actor=alice, verb="note", at=now).actor_name == "alice"
