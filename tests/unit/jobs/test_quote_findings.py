"""What a customer's paper says of the sums: what the customer can decide about, and every block."""

from __future__ import annotations

import dataclasses

import pytest

import sizing
from jobs.quote.document import findings, guessed_facts, open_facts
from tests.designs import golden

V = sizing.Verdict


@pytest.fixture(scope="module")
def result():
    return sizing.size_system(golden())


def told(result, *checks) -> list[tuple[str, str]]:
    return [(row["verdict"], row["title"]) for row in findings(dataclasses.replace(result, checks=checks))]


def check(key: str, verdict: V, subject: str = "", **changes) -> sizing.Check:
    return sizing.Check(
        rule="F0",
        key=key,
        subject=subject or key.partition("/")[0],
        title=key,
        verdict=verdict,
        value=1.0,
        limit=2.0,
        unit="",
        margin=None,
        sentence=f"{key}.",
        source="by hand",
        provenance=sizing.Provenance.COMPUTED,
        **changes,
    )


@pytest.mark.parametrize(
    "key",
    [
        "bank/autonomy",
        "energy/harvest",
        "controller:A/clip",
        "vehicle/height",
        "vehicle/cargo_left",
        "vehicle/hitch_share",
    ],
)
def test_the_customer_decides_about_days_weight_and_height(result, key):
    assert told(result, check(key, V.CAUTION)) == [("caution", key[:1].upper() + key[1:])]


@pytest.mark.parametrize(
    "key",
    [
        "circuit:C2/run_len",
        "circuit:C3/interrupting",
        "circuit:C4/ampacity",
        "controller:A/touch_voltage",
        "controller:A/cold_voc_methods",
        "roof/uplift",
        "bank/surge",
        "energy/array_margin",
        "nobody/listed",
    ],
)
@pytest.mark.parametrize("verdict", [V.CAUTION, V.NOT_ENOUGH_DATA])
def test_what_only_the_desk_settles_stays_on_the_desk(result, key, verdict):
    assert told(result, check(key, verdict)) == []


def test_a_block_is_never_kept_from_the_customer(result):
    found = told(result, check("bank/autonomy", V.CAUTION), check("circuit:C4/ampacity", V.BLOCK))
    assert found == [("block", "Circuit:C4/ampacity"), ("caution", "Bank/autonomy")]


def test_a_cause_is_said_once(result):
    short, margin = check("energy/harvest", V.CAUTION), check("energy/array_margin", V.CAUTION)
    assert told(result, short, margin) == [("caution", "Energy/harvest")]


def test_a_pass_is_not_told(result):
    assert told(result, check("bank/autonomy", V.PASS)) == []


def test_what_is_not_known_yet_is_named_once(result):
    unknown = [
        check("vehicle/axles", V.NOT_ENOUGH_DATA, missing="the wheelbase"),
        check("vehicle/hitch_share", V.NOT_ENOUGH_DATA, missing="the wheelbase"),
        check("bank/surge", V.NOT_ENOUGH_DATA),
        check("bank/discharge", V.CAUTION, missing="nothing"),
    ]
    facts = open_facts(dataclasses.replace(result, checks=tuple(unknown)))
    assert facts == ["the wheelbase", "bank/surge"]


def test_guessed_cables_are_counted_for_the_customer_not_named(result):
    every = (
        check("circuit:C1/drop", V.CAUTION, guesses=("circuit:C1.run_len", "roof.crown")),
        check("circuit:C2/drop", V.CAUTION, guesses=("circuit:C2.run_len",)),
    )
    assert guessed_facts(dataclasses.replace(result, checks=every)) == ["crown", "2 cable lengths"]
    assert guessed_facts(dataclasses.replace(result, checks=every[1:])) == ["1 cable length"]
    assert guessed_facts(dataclasses.replace(result, checks=())) == []
