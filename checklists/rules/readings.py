"""Asks the sizing engine about the readings: against the system as built, sun and temperature."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Final

import sizing
from checklists.plan.roles import Role
from checklists.rules.install import Install, StepInfo
from checklists.rules.judging import Judged, Mark

#: Moisture that rose this much since arrival is a leak; common practice, no source. [points of %]
MOISTURE_RISE: Final = 2.0
#: Hours on the cure clock until rain does no harm, by family; shop defaults, the tube's label wins. [h]
RAIN_SAFE_H: Final[Mapping[str, float]] = {"lap": 12.0, "polyurethane": 12.0, "ms_polymer": 12.0}
#: Hours on the cure clock until the vehicle may be driven; shop defaults, the tube's label wins. [h]
ROAD_SAFE_H: Final[Mapping[str, float]] = {"lap": 24.0, "polyurethane": 72.0, "ms_polymer": 72.0}
BONDED_ROAD_SAFE_H: Final = 72.0
#: How neutral and ground read with the inverter alone, by what its manual says of them.
NEUTRAL_ALONE: Final[Mapping[str, str]] = {"relay": "bonded", "always": "bonded", "floating": "open"}
MOISTURE_CURE: Final = frozenset({"polyurethane", "ms_polymer"})
_MARKS: Final[Mapping[str, Mark]] = {
    sizing.Verdict.PASS: Mark.OK,
    sizing.Verdict.CAUTION: Mark.CAUTION,
    sizing.Verdict.BLOCK: Mark.FAIL,
    sizing.Verdict.NOT_ENOUGH_DATA: Mark.MISSING,
}


@dataclass(frozen=True, slots=True)
class Sun:
    """Sun and cell temperature while the strings were read."""

    poa_global_w_m2: float
    temp_cell_c: float
    is_rough: bool


def sun_of(install: Install) -> Sun | None:
    """Return the sun the readings were taken under, or None while it is not entered or too faint to ask."""
    irradiance, cell = install.value(Role.SUN, "g_wm2"), install.value(Role.SUN, "t_cell_c")
    if irradiance is None or cell is None or irradiance < sizing.LEAST_SUN_W_M2:
        return None
    return Sun(float(irradiance), float(cell), install.value(Role.SUN, "sun_meter") != "calibrated")


def judge_readings(
    install: Install, system: sizing.SystemInput, result: sizing.SystemResult
) -> dict[tuple[int, str], Judged]:
    """Return what the sizing face says of each reading, by step and field."""
    found = judge_plain(install)
    judges = {
        "voc": _string_reading,
        "isc": _string_reading,
        "controller_a": _controller_current,
        "drop": _drop,
        "insulation": _insulation,
        "cure": _cure,
        "moisture": _moisture,
    }
    for step in install.in_scope:
        for spec in step.specs:
            if spec.judge in judges:
                judged = judges[spec.judge](install, step, spec.name, system, result)
                if judged is not None:
                    found[step.pk, spec.name] = judged
    return found


def judge_plain(install: Install) -> dict[tuple[int, str], Judged]:
    """Return what is said of the readings that are set against what was recorded before, not against sums."""
    judges = {"neutral": _neutral, "works_after": _works_after}
    return {
        (step.pk, spec.name): judged
        for step in install.in_scope
        for spec in step.specs
        if spec.judge in judges and (judged := judges[spec.judge](install, step, spec.name)) is not None
    }


def check_of_string(
    install: Install, step: StepInfo, name: str, system: sizing.SystemInput
) -> sizing.Check | None:
    """Return the judgment of a string's reading; None while sun or plan are not known."""
    sun, string = sun_of(install), _string(system, step.subject_name)
    if sun is None or string is None:
        return None
    panel = panel_of(system, string)
    if panel is None or panel.beta_voc_fraction_per_c is None:
        return None
    quantity = sizing.Quantity.VOC if name == "voc_v" else sizing.Quantity.ISC
    expected = sizing.expected_readings(
        panel,
        ns=len(string.panel_ids),
        poa_global_w_m2=sun.poa_global_w_m2,
        temp_cell_c=sun.temp_cell_c,
        is_rough_meter=sun.is_rough,
    )
    check = sizing.judge_reading(
        quantity,
        install.state(step)[name].value,
        expected,
        poa_global_w_m2=sun.poa_global_w_m2,
        string_id=step.subject_name,
        other_strings=tuple(_other_readings(install, step, name)),
    )
    return _with_model(check, quantity, panel, len(string.panel_ids), sun)


def _with_model(
    check: sizing.Check, quantity: sizing.Quantity, panel: sizing.PanelSpec, ns: int, sun: Sun
) -> sizing.Check:
    """Return the check with what the panel's own curve expects beside it, where the curve is known."""
    if panel.single_diode is None:
        return check
    model = sizing.expected_by_diode(
        panel, ns=ns, poa_global_w_m2=sun.poa_global_w_m2, temp_cell_c=sun.temp_cell_c
    )
    value, unit = (model.voc_v, "V") if quantity is sizing.Quantity.VOC else (model.isc_a, "A")
    words = f"{check.sentence} The single-diode model expects {value:.1f} {unit}; the formula rules."
    return replace(check, sentence=words)


def alike_checks(install: Install, system: sizing.SystemInput) -> tuple[sizing.Check, ...]:
    """Return whether equal strings of one controller read alike."""
    return tuple(_alike(install, system))


def _alike(install: Install, system: sizing.SystemInput) -> Iterator[sizing.Check]:
    for controller in system.controllers:
        strings = [string for string in system.strings if string.controller_id == controller.id]
        if len({len(string.panel_ids) for string in strings}) > 1:
            continue  # unequal strings are each set against their own expectation
        for name, quantity in (("voc_v", "voc"), ("isc_a", "isc")):
            values = [install.value(Role.STRING_TESTS, name, f"string:{string.id}") for string in strings]
            known = tuple(float(value) for value in values if value is not None)
            if len(known) > 1:
                yield sizing.judge_strings_alike(
                    sizing.Quantity(quantity), known, controller_id=controller.id
                )


def drive_release(install: Install, sealed_at: datetime | None) -> tuple[datetime | None, str]:
    """Return from when it may be driven, and why; None while the clock cannot be read or stands still."""
    family = install.value(Role.SEALANT, "over_family")
    temp = install.value(Role.LEAK_TEST, "temp_air_c")
    if temp is None:
        temp = install.value(Role.SEALANT, "temp_air_c")
    if sealed_at is None or temp is None or (family is None and "flexible" not in install.facts["scopes"]):
        return None, "Not known yet: sealing time, family and temperature are needed."
    target_h = ROAD_SAFE_H.get(str(family), BONDED_ROAD_SAFE_H)
    if "flexible" in install.facts["scopes"]:
        target_h = max(target_h, BONDED_ROAD_SAFE_H)
    rate = sizing.cure_rate(float(temp), _humidity(install), moisture_cure=family in MOISTURE_CURE)
    if rate <= 0:
        return None, "The cure clock stands still: too cold, or the air too dry for this family."
    wait_h = target_h / rate
    speed = "at full speed" if rate == 1 else f"at {rate:g} of full speed"
    words = f"{target_h:g} h on the cure clock {speed}: {wait_h:g} h after the last sealing."
    return sealed_at + timedelta(hours=wait_h), words


def _string_reading(
    install: Install, step: StepInfo, name: str, system: sizing.SystemInput, result: sizing.SystemResult
) -> Judged | None:
    sun = sun_of(install)
    if sun is None:
        where = install.code_of(Role.SUN)
        return Judged(Mark.MISSING, f"enter the sun and the cell temperature first ({where}).")
    check = check_of_string(install, step, name, system)
    if check is None:
        return Judged(Mark.CAUTION, "no expected value: the panel's data sheet lacks its coefficient.")
    terms = {term.symbol: term.value for term in check.terms}
    mark = _MARKS[check.verdict]
    return Judged(
        mark,
        "" if mark is Mark.OK else check.sentence,
        expected=check.limit,
        low=_number(terms.get("low")),
        high=_number(terms.get("high")),
    )


def _controller_current(
    install: Install, step: StepInfo, name: str, system: sizing.SystemInput, result: sizing.SystemResult
) -> Judged | None:
    sun, battery_v = sun_of(install), install.value(Role.PV_ON, "battery_v", step.subject)
    if sun is None or not battery_v:
        return None
    expected = sizing.expected_charge_a(
        system,
        step.subject_name,
        poa_global_w_m2=sun.poa_global_w_m2,
        temp_cell_c=sun.temp_cell_c,
        battery_v=float(battery_v),
    )
    if expected is None:
        return None
    measured = install.value(Role.PV_ON, name, step.subject)
    low = sizing.LEAST_SHARE_OF_CHARGE * expected
    is_low = measured is not None and measured < low - 1e-9
    words = "under 0.85 of what this sun should give."
    return Judged(Mark.FAIL if is_low else Mark.OK, words if is_low else "", expected=expected, low=low)


def _drop(
    install: Install, step: StepInfo, name: str, system: sizing.SystemInput, result: sizing.SystemResult
) -> Judged | None:
    values = [install.value(Role.PV_ON, key, step.subject) for key in ("combiner_v", "controller_v", "pv_a")]
    if any(value is None for value in values):
        return None
    combiner_v, controller_v, pv_a = (float(value) for value in values)
    row = _home_run(system, result, step.subject_name)
    controller = next((found for found in result.controllers if found.id == step.subject_name), None)
    if row is None or row.drop_v is None or controller is None or not controller.imp_a or pv_a <= 0:
        return None
    computed_v = row.drop_v * pv_a / controller.imp_a
    check = sizing.judge_measured_drop(combiner_v - controller_v, computed_v, circuit_id=row.id)
    mark = _MARKS[check.verdict]
    return Judged(mark, "" if mark is Mark.OK else f"{check.sentence} {check.substituted}.")


def _insulation(
    install: Install, step: StepInfo, name: str, system: sizing.SystemInput, result: sizing.SystemResult
) -> Judged | None:
    volts = max((found.voc_stc_v for found in result.controllers), default=0.0)
    if volts <= 0:
        return None
    is_wet = install.value(Role.ARRAY_INSULATION, "wet") == "wet"
    check = sizing.judge_insulation(install.value(Role.ARRAY_INSULATION, name), volts, is_wet=is_wet)
    mark = _MARKS[check.verdict]
    return Judged(mark, "" if mark is Mark.OK else check.sentence, low=check.limit)


def _cure(
    install: Install, step: StepInfo, name: str, system: sizing.SystemInput, result: sizing.SystemResult
) -> Judged | None:
    hours, temp = install.value(Role.LEAK_TEST, name), install.value(Role.LEAK_TEST, "temp_air_c")
    family = str(install.value(Role.SEALANT, "over_family") or "lap")
    target_h = RAIN_SAFE_H.get(family, 12.0)
    if hours is None or temp is None:
        return Judged(Mark.OK, low=target_h)
    spell = sizing.WeatherSpell(float(hours), float(temp), _humidity(install))
    clock_h = sizing.cured_h((spell,), moisture_cure=family in MOISTURE_CURE)
    if clock_h >= target_h - 1e-9:
        return Judged(Mark.OK)
    words = f"{clock_h:g} of {target_h:g} hours on the cure clock: not rain-safe yet."
    return Judged(Mark.FAIL, words, low=target_h)


def _moisture(
    install: Install, step: StepInfo, name: str, system: sizing.SystemInput, result: sizing.SystemResult
) -> Judged | None:
    before = install.value(Role.ROOF_CHECKED, "moisture_percent")
    after = install.value(Role.LEAK_TEST, name)
    if before is None:
        return None
    limit = float(before) + MOISTURE_RISE
    if after is None or after < limit - 1e-9:
        return Judged(Mark.OK, expected=float(before), high=limit)
    words = f"{after:g}% now, {before:g}% on arrival: risen by 2 points or more, water is getting in."
    return Judged(Mark.FAIL, words, expected=float(before), high=limit)


def _neutral(install: Install, step: StepInfo, name: str) -> Judged | None:
    """Return whether neutral and ground read as the inverter's manual says, when it runs alone."""
    kind, found = install.value(Role.NEUTRAL_KIND, "kind"), install.value(step.role, name)
    if kind not in NEUTRAL_ALONE:
        where = install.code_of(Role.NEUTRAL_KIND)
        return Judged(Mark.MISSING, f"enter first what the inverter's manual says ({where}).")
    if found is None or found == NEUTRAL_ALONE[kind]:
        return Judged(Mark.OK)
    return Judged(Mark.FAIL, "not as the manual says: inverter off, the licensed person decides.")


def _works_after(install: Install, step: StepInfo, name: str) -> Judged | None:
    """Return whether something fails now that worked at check-in."""
    before = _several(install.value(Role.WORKS_BEFORE, "not_working"))
    now = _several(install.value(step.role, name))
    fresh = [each for each in now if each not in before]
    if fresh:
        names = dict(next(spec.choices for spec in step.specs if spec.name == name))
        words = ", ".join(names.get(each, each) for each in fresh)
        return Judged(Mark.FAIL, f"{words}: worked at check-in and fails now.")
    return Judged(Mark.CAUTION, "as at check-in.") if now else Judged(Mark.OK)


def _several(value: Any) -> list[str]:
    """Return the keys of a field of several choices; none were chosen where it says so."""
    return [each for each in str(value or "").split(",") if each and each != "none"]


def _humidity(install: Install) -> float | None:
    percent = install.value(Role.SEALANT, "rh_percent")
    return None if percent is None else float(percent) / 100


def _other_readings(install: Install, step: StepInfo, name: str) -> Iterator[float]:
    for other in install.of_role(step.role):
        value = install.state(other)[name].value
        if other.pk != step.pk and value is not None:
            yield float(value)


def _string(system: sizing.SystemInput, name: str) -> sizing.StringInput | None:
    return next((string for string in system.strings if string.id == name), None)


def panel_of(system: sizing.SystemInput, string: sizing.StringInput) -> sizing.PanelSpec | None:
    """Return the panel a string is made of, as it is expected to read: a used one gives less current."""
    return sizing.as_it_reads([placed for placed in system.panels if placed.id in string.panel_ids])


def home_run_of(system: sizing.SystemInput, controller: str) -> str | None:
    """Return the circuit that brings the strings of a controller down."""
    wanted = {"", f"controller:{controller}"}
    return next(
        (
            one.id
            for one in system.circuits
            if one.kind == sizing.CircuitKind.HOME_RUN and one.serves in wanted
        ),
        None,
    )


def _home_run(
    system: sizing.SystemInput, result: sizing.SystemResult, controller: str
) -> sizing.CircuitRow | None:
    name = home_run_of(system, controller)
    return next((row for row in result.circuits if row.id == name), None)


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) else None
