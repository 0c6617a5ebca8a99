"""How much current a conductor may carry (F14) under each rule set, step by step with its sources."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Final, Literal

from sizing.cable.conductors import Conductor, ladder
from sizing.cable.rulesets import facts
from sizing.core.checks import Provenance, Term
from sizing.core.customary import show_both
from sizing.core.inputs import CableStandard, InputOutOfRange, RuleSet
from sizing.core.words import show
from sizing.tables import PrintedValue, Row, by_size, cell, rows, weakest

REFERENCE_AMBIENT_C: Final = 30.0  # air the printed ampacities are for [°C]
ENGINE_SPACE_C: Final = 50.0  # air of an engine space, 33 CFR 183.425 table 5 note 1 [°C]
#: Derating of a cable lying on a roof in the sun where no code adder applies; a starting value of ours. [-]
ROOF_IN_SUN_FACTOR: Final = 0.70
#: Clearance below which NFPA 70 (2017) 310.15(B)(3)(c) adds 33 °C: 7/8 in. [m]
ROOFTOP_CLEARANCE_M: Final = 7 / 8 * 0.0254
_ENGINE_SPACE: Final = f"engine space ({show_both(ENGINE_SPACE_C, '°C')})"
MARINE_COLUMNS_C: Final = (60, 75, 80, 90, 105)
CODE_COLUMNS_C: Final = (60, 75, 90)


@dataclass(frozen=True, slots=True)
class Laying:
    """How and where a conductor lies.

    ``bundle_count`` counts current-carrying conductors lying together; ``parallel_conductors`` counts
    cables that share the current of one pole. ``is_exposed_pv`` asks for the coarser ambient bands of
    NFPA 70 table 690.31(A). ``roof_clearance_m`` of ``None`` on a roof counts as lying on it.
    """

    bundle_count: int = 2
    ambient_c: float = REFERENCE_AMBIENT_C
    in_engine_space: bool = False
    on_roof_in_sun: bool = False
    roof_clearance_m: float | None = None
    in_raceway: bool = True
    insulation_c: int = 105
    terminal_c: int = 75
    is_exposed_pv: bool = False
    parallel_conductors: int = 1


@dataclass(frozen=True, slots=True)
class AmpacityStep:
    """One step from the printed value to the usable one."""

    kind: Literal["base", "factor", "cap"]
    name: str
    value: float | None  # amps, or the factor
    result_a: float | None
    source: str
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Ampacity:
    """What a conductor may carry. ``None`` means that the rule set prints nothing for this case."""

    rule_set: RuleSet
    usable_a: float | None
    corrected_a: float | None  # after factors, before the terminal column
    terminal_a: float | None  # terminal column, before factors (code rule sets only)
    max_ocpd_a: float | None
    ocpd_reason: str
    provenance: Provenance
    steps: tuple[AmpacityStep, ...]
    missing: str = ""

    @property
    def source(self) -> str:
        """Return the sources of all steps, each once."""
        return "; ".join(dict.fromkeys(step.source for step in self.steps))

    @property
    def formula(self) -> str:
        """Return the steps in symbols."""
        factors = " × ".join(f"k_{index}" for index, step in enumerate(self._factors, start=1))
        text = f"I_table × {factors}" if factors else "I_table"
        return f"I_z = min({text}, I_terminal)" if self.terminal_a is not None else f"I_z = {text}"

    @property
    def substituted(self) -> str:
        """Return the steps with their numbers."""
        base = next((show(step.value, "A") for step in self.steps if step.kind == "base"), "–")
        product = " × ".join([base, *(show(step.value) for step in self._factors)])
        text = f"{product} = {show(self.corrected_a, 'A')}"
        if self.terminal_a is None:
            return text
        return f"{text}; terminals {show(self.terminal_a, 'A')}; usable {show(self.usable_a, 'A')}"

    @property
    def terms(self) -> tuple[Term, ...]:
        """Return each step as a term for the panel that opens the number."""
        return tuple(
            Term(step.kind, step.name, step.value, "" if step.kind == "factor" else "A")
            for step in self.steps
        )

    @property
    def _factors(self) -> tuple[AmpacityStep, ...]:
        return tuple(step for step in self.steps if step.kind == "factor")


def cable_ampacity(rule_set: RuleSet, cable: Conductor, laying: Laying) -> Ampacity:
    """Return the usable ampacity of a cable as laid, under a rule set, with every step (F14).

    Parameters
    ----------
    rule_set : RuleSet
        The rules to judge by. [-]
    cable : Conductor
        Size from :func:`sizing.cable.conductors.conductor`. A size of another system is looked up as the
        largest printed size that has no more copper. [mm²]
    laying : Laying
        Bundle, ambient [°C], engine space, roof, raceway, insulation [°C], terminals [°C]. [-]

    Returns
    -------
    Ampacity
        Usable current [A], largest device that protects the cable [A], steps, sources, provenance.

    Raises
    ------
    InputOutOfRange
        If fewer than one conductor is said to lie in the bundle or to share the current.

    Notes
    -----
    Marine: ``I_z = I_table·k_temp·k_bundle·k_roof``. Code: 310.15(B) with the terminal column of
    110.14(C) as a cap, the device by 240.4(B) and (D). Metric: BS 7671 4E1A with NFPA ambient factors.

    References
    ----------
    .. [1] 33 CFR 183.425 table 5; ABYC E-11. NFPA 70 (2017) 310.15, 110.14(C), 240.4, 690.31(A).
    .. [2] BS 7671 table 4E1A; table 4C1.
    """
    if laying.bundle_count < 1 or laying.parallel_conductors < 1:
        raise InputOutOfRange("bundle_count", f"must be at least 1 conductor, got {laying.bundle_count}")
    return _ampacity(rule_set, cable, laying)


@lru_cache(maxsize=2048)
def _ampacity(rule_set: RuleSet, cable: Conductor, laying: Laying) -> Ampacity:
    if rule_set is RuleSet.MARINE_105C:
        return _assembled(rule_set, cable, laying, _marine_steps(cable, laying), None)
    if rule_set is RuleSet.METRIC:
        return _assembled(rule_set, cable, laying, _metric_steps(cable, laying), None)
    column = _highest(CODE_COLUMNS_C, min(laying.insulation_c, facts(rule_set).base_column_c))
    terminal = _code_cell("ampacity_nec_310_16", cable, _highest(CODE_COLUMNS_C, laying.terminal_c))
    return _assembled(rule_set, cable, laying, _code_steps(cable, laying, column), terminal)


# -- marine -------------------------------------------------------------------------------------------


def _marine_steps(cable: Conductor, laying: Laying) -> list[AmpacityStep | None]:
    column = _highest(MARINE_COLUMNS_C, laying.insulation_c)
    row = _row("ampacity_33cfr183_table5", cable)
    base = cell(row, f"a_{column}C") if row and column else None
    return [
        _base(f"{column} °C column", base),
        _warmest(_marine_ambient(column, laying.ambient_c), _engine_space(column, laying)),
        _marine_bundle(laying.bundle_count),
        _roof_in_sun(laying),
    ]


def _marine_ambient(column: int, ambient_c: float) -> AmpacityStep | None:
    if ambient_c <= REFERENCE_AMBIENT_C:
        return None  # cooler air earns nothing
    if column == 105:
        return _ambient("NEC 690.31(A)", ambient_c, 105)
    return _ambient("NEC 310.15(B)(1)", ambient_c, _highest(CODE_COLUMNS_C, column))


def _engine_space(column: int, laying: Laying) -> AmpacityStep | None:
    if not laying.in_engine_space:
        return None
    for row in rows("factors_abyc_33cfr"):
        if (
            row.text("factor_type") == "engine_space_50C"
            and row.text("condition") == f"{column} C insulation"
        ):
            return _factor(_ENGINE_SPACE, cell(row, "factor"))
    return _unknown(_ENGINE_SPACE)


def _marine_bundle(count: int) -> AmpacityStep | None:
    for low, high, condition in (
        (3, 3, "3 current-carrying conductors"),
        (4, 6, "4 to 6"),
        (7, 24, "7 to 24"),
        (25, math.inf, "25 or more"),
    ):
        if low <= count <= high:
            row = next(
                row
                for row in rows("factors_abyc_33cfr")
                if row.text("factor_type") == "bundling" and row.text("condition") == condition
            )
            return _factor(f"{count} conductors together", cell(row, "factor"))
    return None


def _roof_in_sun(laying: Laying) -> AmpacityStep | None:
    if not laying.on_roof_in_sun:
        return None
    source = "roof in sun 0.70: starting value of ours, to be set by the shop"
    return _factor("on a roof in the sun", PrintedValue(ROOF_IN_SUN_FACTOR, source, Provenance.SHOP_DEFAULT))


# -- code ---------------------------------------------------------------------------------------------


def _code_steps(cable: Conductor, laying: Laying, column: int) -> list[AmpacityStep | None]:
    is_free_air = not laying.in_raceway
    table = "ampacity_nec_310_17_free_air" if is_free_air else "ampacity_nec_310_16"
    bands = "NEC 690.31(A)" if is_free_air and laying.is_exposed_pv else "NEC 310.15(B)(1)"
    place = "free air" if is_free_air else "in raceway or cable"
    return [
        _base(f"{column} °C column, {place}", _code_cell(table, cable, column)),
        _ambient(bands, _code_ambient_c(laying), column),
        _counted("NEC 310.15(C)(1)", laying.bundle_count, f"{laying.bundle_count} conductors together"),
    ]


def _code_ambient_c(laying: Laying) -> float:
    ambient_c = max(laying.ambient_c, ENGINE_SPACE_C) if laying.in_engine_space else laying.ambient_c
    clearance_m = laying.roof_clearance_m
    is_close = clearance_m is None or clearance_m < ROOFTOP_CLEARANCE_M
    if laying.on_roof_in_sun and is_close:
        ambient_c += rooftop_adder_c()
    return ambient_c


@cache
def rooftop_adder_c(edition: str = "2017") -> float:
    """Return what NFPA 70 adds to the ambient of a cable in the sun close above a roof [°C]."""
    row = next(row for row in rows("rooftop_adder_nec") if row.text("edition") == edition)
    return float(row.text("adder_C"))


def _code_cell(table: str, cable: Conductor, column: int) -> PrintedValue | None:
    row = _row(table, cable)
    return cell(row, f"a_{column}C") if row and column else None


# -- metric -------------------------------------------------------------------------------------------


def _metric_steps(cable: Conductor, laying: Laying) -> list[AmpacityStep | None]:
    ambient_c = max(laying.ambient_c, ENGINE_SPACE_C) if laying.in_engine_space else laying.ambient_c
    is_90 = laying.insulation_c >= 90
    hot = _ambient("NEC 310.15(B)(1)", ambient_c, 90 if is_90 else 60)
    return [
        _metric_base(cable, laying),
        hot if ambient_c > REFERENCE_AMBIENT_C else None,
        _metric_group(laying.bundle_count),
        _roof_in_sun(laying),
    ]


def _metric_base(cable: Conductor, laying: Laying) -> AmpacityStep:
    if laying.insulation_c >= 90:
        method, column = ("B", "a_85_90C") if laying.in_raceway else ("C", "ref_method_c_a")
        return _base(f"90 °C, method {method}", _metric_cell("BS 7671 Table 4E1A", cable, column))
    column = "a_70C" if laying.insulation_c >= 70 else "a_60C"
    printed = _metric_cell("ISO 10133 Annex A", cable, column) if laying.insulation_c >= 60 else None
    return _base(f"{column[2:4]} °C insulation", printed)


def _metric_group(bundle_count: int) -> AmpacityStep | None:
    circuits = math.ceil(bundle_count / 2)
    if circuits <= 1:
        return None
    return _counted("BS 7671 Table 4C1 item 1", circuits, f"{circuits} circuits together")


def _metric_cell(table: str, cable: Conductor, column: str) -> PrintedValue | None:
    fitting = [
        row
        for row in rows("ampacity_metric")
        if row.text("table") == table and float(row.text("area_mm2")) <= cable.area_mm2
    ]
    return cell(fitting[-1], column) if fitting else None


# -- shared -------------------------------------------------------------------------------------------


def _assembled(
    rule_set: RuleSet,
    cable: Conductor,
    laying: Laying,
    wanted: list[AmpacityStep | None],
    terminal: PrintedValue | None,
) -> Ampacity:
    steps: list[AmpacityStep] = []
    carried: float | None = None
    for step in wanted:
        if step is None:
            continue
        carried = _applied(carried, step)
        steps.append(AmpacityStep(step.kind, step.name, step.value, carried, step.source, step.provenance))
    count = laying.parallel_conductors
    corrected = None if carried is None else carried * count
    usable, terminal_a = corrected, None
    if facts(rule_set).is_code:
        terminal_a = None if terminal is None else terminal.value * count
        usable = None if corrected is None or terminal_a is None else min(corrected, terminal_a)
        steps.append(_terminal_step(laying, terminal_a, usable, terminal))
    max_ocpd_a, reason = _largest_ocpd(rule_set, cable, usable)
    unknown = [step.name for step in steps if step.value is None]
    return Ampacity(
        rule_set=rule_set,
        usable_a=usable,
        corrected_a=corrected,
        terminal_a=terminal_a,
        max_ocpd_a=max_ocpd_a,
        ocpd_reason=reason,
        provenance=weakest(*(step.provenance for step in steps)),
        steps=tuple(steps),
        missing=f"no printed value for {', '.join(unknown)}" if unknown else "",
    )


def _applied(carried: float | None, step: AmpacityStep) -> float | None:
    if step.kind == "base":
        return step.value
    return None if carried is None or step.value is None else carried * step.value


def _terminal_step(
    laying: Laying, terminal_a: float | None, usable_a: float | None, printed: PrintedValue | None
) -> AmpacityStep:
    source = "NFPA 70 (2017) 110.14(C): not above the column of the terminals"
    provenance = printed.provenance if printed else Provenance.MEMORY
    return AmpacityStep("cap", f"terminals {laying.terminal_c} °C", terminal_a, usable_a, source, provenance)


def _largest_ocpd(rule_set: RuleSet, cable: Conductor, usable_a: float | None) -> tuple[float | None, str]:
    if usable_a is None:
        return None, ""
    if not facts(rule_set).is_code:
        return usable_a, facts(rule_set).ocpd_source
    cap_a = _next_size_up(usable_a)
    reason = "NFPA 70 (2017) 240.4(B)"
    small_a = small_conductor_limit_a(cable.label)
    if small_a is not None and small_a < cap_a:
        return small_a, "NFPA 70 (2017) 240.4(D)"
    return cap_a, reason


@cache
def standard_ratings() -> tuple[float, ...]:
    """Return the standard fuse and breaker ratings of NFPA 70 (2017) 240.6(A), ascending [A]."""
    return tuple(
        sorted(
            float(row.text("rating_a"))
            for row in rows("ocpd_standard_sizes")
            if row.text("family").startswith("NEC 240.6(A)")
        )
    )


@cache
def small_conductor_limit_a(label: str) -> float | None:
    """Return the largest device for a small copper conductor, NFPA 70 (2017) 240.4(D) [A]; else ``None``."""
    for row in rows("small_conductor_limits_nec_240_4_d"):
        if row.text("size") == label and row.text("material") == "copper":
            return row.number("max_ocpd_a")
    return None


def _next_size_up(usable_a: float) -> float:
    """240.4(B): a rating between two standard sizes may take the next above, up to 800 A."""
    above = next((size for size in standard_ratings() if size >= usable_a - 1e-9), math.inf)
    if above <= 800.0:
        return above
    return max(size for size in standard_ratings() if size <= usable_a)


def _row(table: str, cable: Conductor) -> Row | None:
    """Return the printed row of this size, else of the largest printed size with no more copper."""
    printed = by_size(table)
    if cable.standard is not CableStandard.METRIC and cable.label in printed and _same_copper(table, cable):
        return printed[cable.label]
    fitting = [
        size
        for size in ladder(CableStandard.AWG)
        if size.label in printed and size.area_mm2 <= cable.area_mm2
    ]
    return printed[fitting[-1].label] if fitting else None


def _same_copper(table: str, cable: Conductor) -> bool:
    """ABYC E-11 rates an SAE cable as the AWG of its number; the code does not know SAE sizes."""
    return cable.standard is CableStandard.AWG or table == "ampacity_33cfr183_table5"


def _highest(columns: tuple[int, ...], limit_c: int) -> int:
    """Return the hottest printed column not above a temperature; 0 when there is none."""
    return max((column for column in columns if column <= limit_c), default=0)


def _ambient(table: str, ambient_c: float, column: int) -> AmpacityStep | None:
    name = f"{show_both(ambient_c, '°C', 2)} air"
    for row in rows("ampacity_ambient_correction"):
        if row.text("table") == table and ambient_c <= float(row.text("band_high_C")):
            return _factor(name, cell(row, f"factor_{column}C") if column else None)
    return _unknown(name)


def _counted(standard: str, count: int, name: str) -> AmpacityStep | None:
    for row in rows("ampacity_conductor_count_adjustment"):
        high = row.number("n_high")
        if row.text("standard") == standard and (high is None or count <= high):
            return _factor(name, cell(row, "factor"))
    return _unknown(name)


def _warmest(*steps: AmpacityStep | None) -> AmpacityStep | None:
    """Of several factors that all describe the heat of one place, the hardest counts."""
    known = [step for step in steps if step is not None]
    return min(known, key=lambda step: -1.0 if step.value is None else step.value, default=None)


def _base(name: str, printed: PrintedValue | None) -> AmpacityStep:
    if printed is None:
        return AmpacityStep("base", name, None, None, "not printed", Provenance.MEMORY)
    return AmpacityStep("base", name, printed.value, printed.value, printed.source, printed.provenance)


def _factor(name: str, printed: PrintedValue | None) -> AmpacityStep | None:
    if printed is None:
        return _unknown(name)
    if printed.value == 1.0:
        return None
    return AmpacityStep("factor", name, printed.value, None, printed.source, printed.provenance)


def _unknown(name: str) -> AmpacityStep:
    return AmpacityStep("factor", name, None, None, "not permitted or not printed", Provenance.MEMORY)
