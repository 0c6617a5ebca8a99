"""Hours by task and days of work.

Hours are common practice, no published source; the sums beside each test are worked by hand.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from jobs.models import ChargerSheet, Design, DesignSource, ExistingItem, Part
from jobs.quote import labour


@pytest.fixture
def design(golden_job) -> Design:
    """Return the draft design of a 27 ft trailer: four panels in two strings, lithium, 2 kW inverter."""
    return golden_job.designs.get()


def hours_of(design: Design) -> dict[str, Decimal]:
    """Return plan hours by code."""
    return {task.code.code: task.plan_h for task in labour.plan_hours(Design.objects.get(pk=design.pk))}


def test_every_code_is_there_with_low_plan_high_in_order():
    codes = labour.labour_codes()
    assert list(codes) == [f"L{number:02d}" for number in range(1, 28)]
    for code in codes.values():
        assert code.low_h < code.high_h
        assert code.plan_h is None or code.low_h <= code.plan_h <= code.high_h
    assert [code.code for code in codes.values() if code.plan_h is None] == ["L26"]


def test_the_trailer_takes_28_hours_and_a_bit(design):
    assert hours_of(design) == {
        "L01": Decimal("1.0"),
        "L03": Decimal("1.5"),
        "L05": Decimal("3.6"),  # 4 panels × 0.9 h, two people
        "L09": Decimal("1.9"),  # 1.5 + 2 strings × 0.2
        "L10": Decimal("2.5"),
        "L11": Decimal("1.2"),
        "L13": Decimal("3.5"),
        "L14": Decimal("2.5"),
        "L15": Decimal("3.5"),
        "L17": Decimal("1.5"),
        "L21": Decimal("1.0"),
        "L23": Decimal("1.0"),
        "L24": Decimal("2.5"),
        "L25": Decimal("1.0"),
    }
    total = sum(hours_of(design).values())
    assert total == Decimal("28.2")
    assert labour.working_days(total) == 5  # 28.2 / 6.5 = 4.3


def test_only_the_mounting_takes_two_people(design):
    assert [task.code.code for task in labour.plan_hours(design) if task.code.is_pair] == ["L05"]


def test_panels_alone_take_twelve_to_seventeen_hours(design):
    # Common practice, no source: four panels, controller and home run are about 12 to 16 h.
    design.bank.delete()
    design.inverter.delete()
    design.sources.all().delete()
    design.job.survey.existing_items.all().delete()
    assert 12 <= sum(hours_of(design).values()) <= 17


def test_the_large_job_takes_32_to_45_hours(design, shop):
    # Common practice, no source: lithium, inverter-charger and DC-DC on top of it, about 32 to 45 h.
    design.inverter.part.inverter_sheet.is_charger = True
    design.inverter.part.inverter_sheet.save()
    dc_dc = Part.objects.get(shop=shop, sku="D30")
    DesignSource.objects.create(design=design, part=dc_dc)
    found = hours_of(design)
    assert found["L16"] == Decimal("8.0")
    assert found["L18"] == Decimal("4.5")
    assert found["L19"] == Decimal("3.5")  # a trailer needs the truck side too
    assert 32 <= sum(found.values()) <= 45


def test_a_hard_way_takes_longer(design):
    design.job.survey.wire_legs.filter(circuit="C2").update(difficulty=4)
    assert hours_of(design)["L10"] == Decimal("6.0")


@pytest.mark.parametrize(
    ("difficulty", "hours"), [(0, "1.0"), (1, "1.0"), (2, "2.5"), (3, "4.25"), (4, "6.0")]
)
def test_difficulty_runs_from_low_to_high(difficulty, hours):
    assert labour.hours_by_difficulty(labour.labour_codes()["L10"], difficulty) == Decimal(hours)


def test_lead_for_lead_is_a_swap(design, shop):
    design.bank.part = Part.objects.get(shop=shop, sku="A100")
    design.bank.save()
    found = hours_of(design)
    assert found["L12"] == Decimal("1.0")
    assert "L13" not in found


def test_old_panels_are_taken_off_each(design):
    ExistingItem.objects.create(survey=design.job.survey, kind="panel", quantity=3, fate="remove")
    assert hours_of(design)["L02"] == Decimal("2.4")


def test_flexible_panels_are_bonded_not_screwed(design):
    sheet = design.panels.first().part.panel_sheet
    sheet.is_flexible = True
    sheet.save()
    found = hours_of(design)
    assert found["L07"] == Decimal("4.0")
    assert "L05" not in found


def test_a_kept_bank_and_inverter_cost_no_hours(design):
    design.bank.is_new = design.inverter.is_new = False
    design.bank.save()
    design.inverter.save()
    assert not {"L12", "L13", "L14", "L15", "L16"} & set(hours_of(design))


@pytest.mark.parametrize(
    ("hours", "people", "place", "days"),
    [
        ("0", 1, "shop", 0),
        ("6.5", 1, "shop", 1),
        ("6.6", 1, "shop", 2),
        ("28.2", 2, "shop", 3),
        ("11", 1, "campsite", 3),
    ],
)
def test_days_are_whole(hours, people, place, days):
    assert labour.working_days(Decimal(hours), people=people, place=place) == days


def test_a_converter_kept_is_left_alone(design):
    design.job.survey.existing_items.filter(kind="converter").update(fate="keep")
    assert "L17" not in hours_of(design)


def test_dc_dc_of_a_motorhome_needs_no_truck_side(design, shop):
    sheet = ChargerSheet.objects.get(part__shop=shop, part__sku="D30")
    DesignSource.objects.create(design=design, part=sheet.part)
    type(design.job.vehicle).objects.filter(pk=design.job.vehicle_id).update(kind="class_c")
    assert "L19" not in hours_of(design)
