"""The exact set of judgments on whole designs: none may fall silent, none may come twice or from nowhere.

A check that is not there any more looks like a design with nothing wrong. So the sets are written down, each
word with what asks for it; a check that is added comes here with its reason, one that goes is argued for.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import (
    BankInput,
    ChargeSourceInput,
    Chemistry,
    CircuitInput,
    CircuitKind,
    ControllerKind,
    RoofInput,
    RuleSet,
    SourceKind,
    SystemInput,
)
from tests.designs import P100, P200, P400, controller, golden, lfp_bank, placed, wired

#: Whatever is asked: what a day gives, how long the bank carries it, what the vehicle may still carry.
ALWAYS = {"energy": {"harvest"}, "bank": {"autonomy"}, "vehicle": {"cargo_left"}}
#: A cable that is there: does it carry the current, is it protected, does the device fit load and cable.
CABLE = {"ampacity", "protection", "ocpd_rating", "ocpd_cable"}
#: An MPPT controller with a bank: volts in the cold by two methods, in the heat, amps in, what is cut off;
#: its settings for the bank, and whether it stops for a cold one.
MPPT = {
    "cold_voc", "cold_voc_methods", "hot_start", "hot_run", "pv_isc", "clip", "profile", "equalise",
    "cold_charge",
}  # fmt: skip
#: A PWM controller pulls the array down to the battery: nominal volts, watts it may take, watts it wastes.
PWM = {
    "cold_voc", "cold_voc_methods", "pv_isc", "pwm_nominal", "pwm_power", "pwm_waste", "profile", "equalise",
    "cold_charge",
}  # fmt: skip
#: A charger besides: its settings for the bank, and whether it stops for a cold one.
CHARGER = {"profile", "equalise", "cold_charge"}
#: A bank with chargers and an inverter: all charging at once, the inverter's current, the count in series.
BANK = {"autonomy", "charge_sum", "discharge", "series"}


def nothing_yet() -> SystemInput:
    """Return a vehicle of which nothing is known yet."""
    return SystemInput(RuleSet.MARINE_105C, 12.0, None, None)


def high_bank() -> SystemInput:
    """Return six large panels on two controllers, 48 V of lithium and a charger on the alternator."""
    first, second = wired(6, 3)
    units = [controller(250, 40, absorb_v=56.8), replace(controller(250, 40, absorb_v=56.8), id="B")]
    booster = ChargeSourceInput(
        "booster", SourceKind.DC_DC, "booster", 20.0, absorb_v=56.8, low_t_stop_c=5.0, input_v=13.4,
        alternator_rating_a=150.0, driving_hours_per_day=2.0,
    )  # fmt: skip
    return replace(
        golden(),
        v_nominal_v=48.0,
        bank=lfp_bank(8, in_series=4),
        controllers=tuple(units),
        panels=placed(P400, 6),
        strings=(first, replace(second, controller_id="B")),
        sources=(booster,),
        circuits=(
            CircuitInput("C4", CircuitKind.BATTERY_TO_MAIN_FUSE, 0.15, serves="bank"),
            CircuitInput("C5", CircuitKind.HOME_RUN, 7.0, serves="controller:B"),
        ),
    )


def old_trailer() -> SystemInput:
    """Return two glued panels on a PWM controller, flooded batteries of 6 V and the tow vehicle's wire."""
    return replace(
        golden(),
        bank=BankInput(Chemistry.FLOODED, 6.0, 220.0, 4, in_series=2, unit_mass_kg=28.0),
        inverter=None,
        panels=placed(P100, 2, feet=0),
        strings=wired(2, 2),
        glued_panels=True,
        roof=RoofInput(
            5.0,
            2.0,
            "fibreglass",
            overall_height_m=2.8,
            is_bonded_only=True,
            bond_area_m2=1.1,
            array_top_m=0.04,
        ),
        circuits=(),
        sources=(ChargeSourceInput("wire", SourceKind.TOW_CHARGE_WIRE, "tow wire", 15.0),),
        controllers=(replace(controller(50, 20), kind=ControllerKind.PWM, absorb_v=14.4),),
    )


DESIGNS = {
    "nothing yet": (nothing_yet(), ALWAYS),
    "the reference trailer": (
        golden(),
        {
            "energy": {"harvest", "array_margin"},  # a month was chosen: the array against its break-even
            "bank": BANK,
            "controller:A": MPPT,
            "string:S1": {"fuse"},
            "string:S2": {"fuse"},
            "source:converter": CHARGER,
            "circuit:C2": CABLE | {"drop", "ocpd_voltage"},
            "circuit:C3": CABLE | {"drop"},
            # The device at the battery: near enough to the post, able to break what the bank can give.
            "circuit:C4": CABLE | {"interrupting", "ocpd_voltage", "ocpd_distance"},
            # The inverter's cable by its length too: it is the longest that makers allow.
            "circuit:C6": CABLE | {"drop", "interrupting", "ocpd_voltage", "ocpd_distance", "run_len"},
            "circuit:C10": CABLE | {"drop"},
            "circuit:C11": CABLE | {"drop"},
            "roof": {"uplift"},
            "vehicle": {"cargo_left", "height"},
        },
    ),
    "a bank of 48 V": (
        high_bank(),
        {
            "energy": {"harvest", "array_margin"},
            # 12 V appliances need a step-down, and a full bank is near what may be touched.
            "bank": BANK | {"step_down", "touch_voltage"},
            "controller:A": MPPT | {"touch_voltage"},  # three in series reach it as well
            "controller:B": MPPT | {"touch_voltage"},
            "string:S1": {"fuse"},
            "string:S2": {"fuse"},
            "source:booster": CHARGER | {"alternator"},
            "circuits": {"feeds"},  # neither controllers nor inverter nor booster have a cable to the bus
            "circuit:C4": CABLE | {"ocpd_distance"},  # a device that is proposed has no marking yet
            "circuit:C5": {"ampacity", "drop"},  # one string: the panel's own limit protects it
            "roof": {"uplift"},
            "panel:P400": {"feet"},  # four are few for a panel so large
            "vehicle": {"cargo_left", "height"},
        },
    ),
    "an old trailer": (
        old_trailer(),
        {
            "energy": {"harvest", "array_margin"},
            # No circuit is listed, so nobody said what protects the bank: it is told only where it lacks.
            "bank": {"autonomy", "charge_sum", "series", "main_device"},
            "circuits": {"feeds"},  # nor what the controller's cable and the tow vehicle's wire are
            "controller:A": PWM,
            "string:S1": {"fuse"},
            "source:wire": CHARGER,
            "roof": {"bond"},  # glue is judged by its area
            "panel:P100": {"feet"},  # it has none
            "vehicle": {"cargo_left", "height"},
        },
    ),
}


@pytest.mark.parametrize("name", DESIGNS)
def test_these_are_all_the_judgements_on_a_design(name):
    system, expected = DESIGNS[name]
    checks = sizing.size_system(system).checks
    told = sorted(check.key for check in checks)
    assert told == sorted(f"{subject}/{word}" for subject, words in expected.items() for word in words)


def test_a_vehicle_of_which_nothing_is_known_passes_nothing():
    result = sizing.size_system(nothing_yet())
    assert {check.verdict for check in result.checks} == {sizing.Verdict.NOT_ENOUGH_DATA}
    assert result.verdict is sizing.Verdict.NOT_ENOUGH_DATA


def clean(*circuits: CircuitInput) -> SystemInput:
    """Return a bank with a controller and an inverter: all that is judged passes, but for its circuits."""
    found = golden()
    return replace(
        found,
        loads=tuple(replace(row, power_w=row.power_w * 0.6) for row in found.loads),
        inverter=replace(found.inverter, idle_w=10.0),
        panels=placed(P200, 4, feet=6),
        circuits=circuits,
    )


def test_a_bank_without_a_main_device_in_the_schedule_is_no_pass():
    """A short circuit between the battery and its bus is broken by the main device alone (ABYC E-11).

    Which no circuit stands for here, so nothing says it is there: a safety check is missing.
    """
    feeds = [one for one in golden().circuits if one.kind is not CircuitKind.BATTERY_TO_MAIN_FUSE]
    bare = [replace(one, has_no_ocpd=one.kind is CircuitKind.BUS_TO_INVERTER, ocpd=None) for one in feeds]
    result = sizing.size_system(clean(*bare))
    (missing,) = [check for check in result.checks if check.verdict is sizing.Verdict.NOT_ENOUGH_DATA]
    assert (missing.key, missing.verdict) == ("bank/main_device", sizing.Verdict.NOT_ENOUGH_DATA)
    assert "the main fuse of the bank is not in the circuit schedule" in missing.sentence


def test_a_bank_without_any_circuit_is_no_pass():
    result = sizing.size_system(clean())
    left = {check.key for check in result.checks if check.verdict is not sizing.Verdict.PASS}
    assert left == {"bank/main_device", "circuits/feeds"}
    assert result.verdict is sizing.Verdict.NOT_ENOUGH_DATA


@pytest.mark.parametrize(
    ("gone", "thing"),
    [
        ("C3", "controller 50 A"),
        ("C6", "inverter 2 kW"),
        ("C10", "new converter"),
        ("C2", None),
        ("C11", None),
    ],
)
def test_each_thing_on_the_bank_has_a_circuit(gone, thing):
    """Controller, inverter and charger are wired to the bank; without its row nobody judged that wire."""
    left = [one for one in golden().circuits if one.id != gone]
    told = {one.key: one for one in sizing.size_system(clean(*left)).checks}
    assert ("circuits/feeds" in told) is (thing is not None)
    if thing is not None:
        assert told["circuits/feeds"].verdict is sizing.Verdict.NOT_ENOUGH_DATA
        assert f"({thing})." in told["circuits/feeds"].sentence


def test_a_cable_of_one_controller_is_not_that_of_another():
    two = (controller(), replace(controller(), id="B", name="second"))
    found = sizing.size_system(replace(golden(), controllers=two)).check("circuits/feeds")
    assert "(second)." in found.sentence


def _source(kind: SourceKind, **more: str) -> ChargeSourceInput:
    return ChargeSourceInput("s", kind, "source", 30.0, **more)


@pytest.mark.parametrize(
    ("source", "kinds", "is_complete"),
    [
        # On the engine: a wire from the starting battery and one to the bus.
        (_source(SourceKind.DC_DC), (CircuitKind.DC_DC_TO_BUS,), False),
        (_source(SourceKind.DC_DC), (CircuitKind.START_BATTERY_TO_DC_DC, CircuitKind.DC_DC_TO_BUS), True),
        (_source(SourceKind.TOW_CHARGE_WIRE), (), False),
        (_source(SourceKind.PORTABLE_PV), (CircuitKind.PORTABLE_INLET,), True),
        (_source(SourceKind.PORTABLE_PV), (), False),
        (_source(SourceKind.INVERTER_CHARGER), (), True),  # charges through the inverter's own cable
        (_source(SourceKind.GENERATOR), (), True),  # makes line voltage, its charger has the cable
        (_source(SourceKind.CONVERTER), (), False),
    ],
)
def test_which_circuits_a_source_needs(source, kinds, is_complete):
    rows = [one for one in golden().circuits if one.kind is not CircuitKind.CHARGER_TO_BUS]
    rows += [CircuitInput(kind, kind, 2.0, serves="source:s") for kind in kinds]
    design = replace(clean(*rows), sources=(source,))
    told = {one.key for one in sizing.size_system(design).checks}
    assert ("circuits/feeds" not in told) is is_complete


def test_without_a_bank_there_is_no_main_device_to_ask_for():
    told = {check.key for check in sizing.size_system(nothing_yet()).checks}
    assert "bank/main_device" not in told


@pytest.mark.parametrize(
    ("kind", "has_no_device", "is_asked"),
    [
        (CircuitKind.BATTERY_TO_MAIN_FUSE, False, False),
        (CircuitKind.BATTERY_TO_MAIN_FUSE, True, False),  # blocks by itself: no device at the battery
        (CircuitKind.BUS_TO_INVERTER, False, False),  # a bank that feeds its inverter alone: its device
        (CircuitKind.BUS_TO_INVERTER, True, True),
        (CircuitKind.HOME_RUN, False, True),
        (CircuitKind.BATTERY_LINKS, False, True),  # between two batteries, not between them and the bus
    ],
)
def test_which_circuit_stands_for_the_main_device(kind, has_no_device, is_asked):
    result = sizing.size_system(clean(CircuitInput("C", kind, 0.15, has_no_ocpd=has_no_device)))
    assert ("bank/main_device" in {check.key for check in result.checks}) is is_asked
    if has_no_device and not is_asked:
        assert result.check("circuit:C/protection").verdict is sizing.Verdict.BLOCK


def test_the_inverters_largest_fuse_is_asked_of_its_own_cable_only():
    system = replace(golden(), inverter=replace(golden().inverter, max_fuse_a=250.0))
    told = {one.key for one in sizing.size_system(system).checks}
    assert {key for key in told if key.endswith("/inverter_max_fuse")} == {"circuit:C6/inverter_max_fuse"}


@pytest.mark.parametrize(("voc_v", "is_asked"), [(28.0, False), (30.5, True)])
def test_an_unmarked_device_is_asked_for_its_volts_above_32(voc_v, is_asked):
    """Blade fuses of road vehicles are rated 32 V DC (ISO 8820-3), the least of all families.

    One panel at -5 °C, 30 K below 25 °C, at 0.28 % a kelvin: 28.0 × 1.084 = 30.4 V, 30.5 × 1.084 = 33.1 V.
    """
    found = golden()
    panel = replace(found.panels[0].panel, voc_v=voc_v)
    device = replace(found.circuits[0].ocpd, family="", voltage_rating_v=None)
    system = replace(
        found,
        tmin_storage_c=-5.0,
        panels=tuple(replace(one, panel=panel) for one in found.panels[:1]),
        strings=(replace(found.strings[0], panel_ids=("p1",)),),
        circuits=(replace(found.circuits[0], ocpd=device),),
    )
    told = {one.key: one.verdict for one in sizing.size_system(system).checks}
    asked = told.get("circuit:C2/ocpd_voltage")
    assert asked is (sizing.Verdict.NOT_ENOUGH_DATA if is_asked else None)


# --- weight, axles and glue ---------------------------------------------------------------------------------


def on_wheels(**known) -> set[str]:
    """Return the judgments on the vehicle where these of its weights are known."""
    ledger = replace(golden().weight, **known)
    checks = sizing.size_system(replace(golden(), weight=ledger)).checks
    return {one.key for one in checks if one.subject == "vehicle"} - {"vehicle/height", "vehicle/cargo_left"}


@pytest.mark.parametrize(
    "known", [{"front_kg": 900.0}, {"rear_kg": 1400.0}, {"front_limit_kg": 1800.0}, {"rear_limit_kg": 2300.0}]
)
def test_one_weight_of_one_axle_is_enough_to_ask_for_the_others(known):
    assert on_wheels() == set()
    assert on_wheels(**known)


def test_the_axles_of_a_trailer_without_a_third_weigh_what_the_scale_said():
    ledger = replace(
        golden().weight, hitch="tongue", front_kg=300.0, rear_kg=2000.0, front_limit_kg=500.0,
        rear_limit_kg=2000.25, added=(), removed=(), wheelbase_m=5.0,
    )  # fmt: skip
    found = replace(golden(), weight=ledger, panels=(), strings=(), bank=None, inverter=None, sources=())
    bare = replace(found, controllers=(), circuits=())
    told = {one.key: one for one in sizing.size_system(bare).checks}
    assert told["vehicle/axle_rear"].limit == pytest.approx(2000.25)
    assert told["vehicle/axle_rear"].value == pytest.approx(2000.0)


def test_a_label_of_nothing_says_nothing():
    result = sizing.size_system(replace(golden(), weight=replace(golden().weight, label_kg=0.0)))
    assert result.weight.left_fraction is None
    assert result.check("vehicle/cargo_left").verdict is sizing.Verdict.NOT_ENOUGH_DATA


def test_glue_in_the_open_wind_is_pulled_harder():
    def pull(is_open: bool | None) -> float:
        roof = replace(old_trailer().roof, is_front_open=is_open)
        value = sizing.size_system(replace(old_trailer(), roof=roof)).check("roof/bond").value
        assert value is not None
        return value

    assert pull(True) > pull(False)
    assert pull(None) == pull(True)  # nobody looked: taken as open
