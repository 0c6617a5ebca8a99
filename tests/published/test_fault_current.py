"""Fault current of banks against worked cases and printed tables (F17).

Lithium: a worked case gives a 60 Ah 12.8 V battery 3.75 mΩ with its links, 14 V / 0.00375 Ω = 3.7 kA; its
lower end, 2.5 kA per 100 Ah, is from memory. Lead: an off-grid supplier's note gives a 100 Ah 12 V battery 1
to 2 kA, possibly 4 kA. Mains: ABYC E-11 table V.A as a component supplier reprints it (12 to 24 V: up to
650, 1100 and over 1100 cold cranking amps: 1500, 3000, 5000 A; branch half of it) and 11.10.1.2.3.2 as a
guide quotes it (over 2200 CCA or 500 Ah: the maker's rating, or 20 kA at 125 V DC where that exceeds 10 kA;
batteries in series are not added). The rest is Ohm's law written out: a battery as a voltage behind a
resistance, the way IEC 61660-1 draws it, conductors of 17.241 Ω·mm²/km at 20 °C over the AWG area.
"""

from __future__ import annotations

import pytest

from sizing.cable.bank_fault import bank_fault
from sizing.core.checks import Provenance
from sizing.core.inputs import BankInput, Chemistry
from tests.designs import lfp_bank
from tests.unit.sizing.fault import fault_of, main_run, row

K_OHM_MM2_PER_M = 0.017241


def lead(ah: float, quantity: int = 1, **more: object) -> BankInput:
    return BankInput(Chemistry.FLOODED, 12.0, ah, quantity, **more)  # type: ignore[arg-type]


def test_the_worked_lithium_battery_of_60_ah():
    """Four cells with their links: 14 V / 3.75 mΩ = 3733 A."""
    found = bank_fault(BankInput(Chemistry.LFP, 12.8, 60.0, 1))
    assert found.prospective_a[1] == pytest.approx(14.0 / 0.00375)


@pytest.mark.parametrize(("ah", "low_a", "high_a"), [(100.0, 2500.0, 6222.0), (200.0, 5000.0, 12_444.0)])
def test_lithium_per_hundred_amp_hours(ah, low_a, high_a):
    """3.7333 kA / 60 Ah = 62.2 A per Ah; 25 A per Ah from memory."""
    assert bank_fault(BankInput(Chemistry.LFP, 12.8, ah, 1)).prospective_a == pytest.approx(
        (low_a, high_a), rel=1e-4
    )


def test_the_quoted_lead_battery_of_100_ah():
    """1 to 4 kA."""
    assert bank_fault(lead(100.0)).prospective_a == pytest.approx((1000.0, 4000.0))


@pytest.mark.parametrize(
    ("cca_a", "main_a"),
    [(600.0, 1500.0), (650.0, 1500.0), (651.0, 3000.0), (1100.0, 3000.0), (1101.0, 5000.0)],
)
def test_small_lead_banks_by_cranking_amps(cca_a, main_a):
    found = bank_fault(lead(100.0, cca_a=cca_a))
    assert (found.main_limit_a, found.provenance) == (main_a, Provenance.PRINTED)


def test_cranking_amps_of_parallel_batteries_add():
    """Two of 600 A are 1200 A: 5 kA."""
    assert bank_fault(lead(100.0, 2, cca_a=600.0)).main_limit_a == 5000.0


@pytest.mark.parametrize(
    ("bank", "main_a"),
    [
        (lead(450.0, 3, short_circuit_a=12_000.0), 20_000.0),  # 1350 Ah, over 10 kA: 20 kA
        (lead(450.0, 3, short_circuit_a=9_000.0), 9_000.0),  # at least the maker's rating
        (lead(450.0, 3, short_circuit_a=26_000.0), 26_000.0),
        (lead(100.0, 4, cca_a=600.0), 20_000.0),  # 400 Ah, but 2400 CCA
    ],
)
def test_large_banks_of_any_chemistry(bank, main_a):
    assert bank_fault(bank).main_limit_a == pytest.approx(main_a)


def test_batteries_in_series_are_not_added():
    four_up = bank_fault(BankInput(Chemistry.LFP, 12.8, 100.0, 4, in_series=4))
    assert four_up.prospective_a == pytest.approx(
        bank_fault(BankInput(Chemistry.LFP, 12.8, 100.0, 1)).prospective_a
    )


def test_a_main_fuse_0_15_m_from_300_ah():
    """Three batteries of 2.25 mΩ are 0.75 mΩ; 0.15 m of 4/0 (107.2 mm²) are 0.0241 mΩ.

    14 V / 0.7741 mΩ = 18.09 kA.
    """
    r_cable = 0.15 * K_OHM_MM2_PER_M / 107.2
    found = fault_of(lfp_bank(3), main_run(), at="C4")
    assert found.high_a == pytest.approx(14.0 / (0.00075 + r_cable), rel=1e-3)
    assert found.high_a == pytest.approx(18_090, abs=20)


def test_a_branch_sees_both_legs():
    """Positive 0.15 m of 4/0, negative 0.3 m of 4/0, then 2 × 0.5 m of 6 AWG (13.3 mm²) to its device.

    0.75 + 0.0241 + 0.0482 + 1.296 = 2.119 mΩ: 6.61 kA.
    """
    ohm = 0.00075 + 0.45 * K_OHM_MM2_PER_M / 107.2 + 2 * 0.5 * K_OHM_MM2_PER_M / 13.3
    branch = row("C3", "6", 1.5, away_m=0.5)
    found = fault_of(lfp_bank(3), main_run(), row("C7", "4/0", 0.3), branch, at="C3")
    assert found.high_a == pytest.approx(14.0 / ohm, rel=1e-3)
    assert found.high_a == pytest.approx(6_607, abs=10)


def test_the_makers_internal_resistance_rules():
    """Two batteries of 5 mΩ side by side: 14 V / 2.5 mΩ = 5.6 kA."""
    found = bank_fault(lfp_bank(2, internal_resistance_ohm=0.005))
    assert found.prospective_a == pytest.approx((5600.0, 5600.0))


def test_three_batteries_on_fuses_of_their_own_see_two_sisters():
    """Two sisters of 2.25 mΩ, one behind 0.4 m of 2/0 link, both legs: 67.43 mm², 2 × 0.1023 mΩ.

    1/2.25 + 1/2.4546 = 0.8518 per mΩ: 14 V × 851.8 S = 11.93 kA.
    """
    link = row("C5", "2/0", 0.4)
    found = fault_of(lfp_bank(3), main_run(), link, at="C5")
    r_link = 2 * 0.4 * K_OHM_MM2_PER_M / 67.43
    assert found.high_a == pytest.approx(14.0 * (1 / 0.00225 + 1 / (0.00225 + r_link)), rel=1e-3)
    assert found.count == 2
