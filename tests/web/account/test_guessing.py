"""Guessing passwords: slowed for strangers, and no way for them to keep anybody out."""

from __future__ import annotations

import pytest
from django.conf import settings as project
from django.test import Client

from config import sign_in

PASSWORD = "seal-under-and-over"
BOB = "bob@shop.example"


@pytest.fixture(autouse=True)
def person(bob, settings):
    settings.TRUSTED_PROXIES = 1
    bob.set_password(PASSWORD)
    bob.save()
    return bob


def tries(client: Client, password: str, *, address: str, login: str = BOB):
    data = {"login": login, "password": password}
    return client.post("/account/login/", data, headers={"X-Forwarded-For": address})


def got_in(answer) -> bool:
    return answer.status_code == 302


def attack(networks: int, *, each: int = 2) -> None:
    """Guess from many networks."""
    for number in range(networks):
        for _ in range(each):
            tries(Client(), "wrong", address=f"203.0.113.{number}")


def test_one_network_guesses_a_few_times_only():
    for _ in range(sign_in.ACCOUNT):
        assert "not correct" in tries(Client(), "wrong", address="203.0.113.1").text
    late = tries(Client(), PASSWORD, address="203.0.113.1")
    assert not got_in(late)
    assert "Too many failed" in late.text


def test_a_made_up_header_does_not_help_the_guesser():
    for number in range(sign_in.ACCOUNT):
        tries(Client(), "wrong", address=f"198.51.100.{number}, 203.0.113.1")
    assert not got_in(tries(Client(), PASSWORD, address="198.51.100.99, 203.0.113.1"))


def test_strangers_keep_nobody_out():
    """From a network that tried nothing the right password works, however many others guess."""
    attack(sign_in.ATTACK)
    assert got_in(tries(Client(), PASSWORD, address="198.51.100.7"))


def test_an_account_under_attack_gives_each_network_one_try():
    attack(sign_in.ATTACK)
    assert "not correct" in tries(Client(), "wrong", address="198.51.100.8").text
    assert "Too many failed" in tries(Client(), PASSWORD, address="198.51.100.8").text


def test_a_known_browser_is_not_touched_even_from_the_same_network():
    mine = Client()
    assert got_in(tries(mine, PASSWORD, address="203.0.113.1"))
    mine.post("/account/logout/")
    for _ in range(sign_in.NETWORK + 5):
        tries(Client(), "wrong", address="203.0.113.1")
    assert not got_in(tries(Client(), PASSWORD, address="203.0.113.1"))
    assert got_in(tries(mine, PASSWORD, address="203.0.113.1"))


def test_a_known_browser_has_a_limit_of_its_own():
    mine = Client()
    tries(mine, PASSWORD, address="203.0.113.1")
    mine.post("/account/logout/")
    for _ in range(sign_in.KNOWN):
        tries(mine, "wrong", address="203.0.113.1")
    assert not got_in(tries(mine, PASSWORD, address="203.0.113.1"))


def test_a_right_password_is_not_counted():
    for _ in range(sign_in.ACCOUNT + 3):
        assert got_in(tries(Client(), PASSWORD, address="203.0.113.1"))


def test_a_forged_cookie_is_nobodys():
    thief = Client()
    thief.cookies[project.KNOWN_COOKIE_NAME] = "eyJicm93c2VyIjoiYSJ9:1vAAAA:forged"
    for _ in range(sign_in.ACCOUNT):
        tries(thief, "wrong", address="203.0.113.1")
    assert not got_in(tries(thief, PASSWORD, address="203.0.113.1"))


def test_the_cookie_of_another_person_opens_no_way(lena):
    lena.set_password(PASSWORD)
    lena.save()
    hers = Client()
    tries(hers, PASSWORD, address="203.0.113.1", login="lena@shop.example")
    hers.post("/account/logout/")
    for _ in range(sign_in.ACCOUNT):
        tries(hers, "wrong", address="203.0.113.1")
    assert not got_in(tries(hers, PASSWORD, address="203.0.113.1"))


def test_a_new_password_forgets_every_browser(person):
    mine = Client()
    tries(mine, PASSWORD, address="203.0.113.1")
    mine.post("/account/logout/")
    person.set_password("another-long-password")
    person.save()
    for _ in range(sign_in.ACCOUNT):
        tries(mine, "wrong", address="203.0.113.1")
    assert not got_in(tries(mine, "another-long-password", address="203.0.113.1"))


def test_the_cookie_is_signed_and_out_of_scripts_reach():
    mine = Client()
    tries(mine, PASSWORD, address="203.0.113.1")
    cookie = mine.cookies[project.KNOWN_COOKIE_NAME]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Lax", "/")
    assert "bob" not in cookie.value
    assert PASSWORD not in cookie.value


def test_an_unknown_account_answers_alike():
    known = [tries(Client(), "wrong", address="203.0.113.1") for _ in range(sign_in.ACCOUNT + 1)]
    unknown = [
        tries(Client(), "wrong", address="203.0.113.2", login="nobody@shop.example")
        for _ in range(sign_in.ACCOUNT + 1)
    ]
    assert [each.status_code for each in known] == [each.status_code for each in unknown]
    assert "Too many failed" in known[-1].text
    assert "Too many failed" in unknown[-1].text
