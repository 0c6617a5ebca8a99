"""The wind on a panel, what a foot holds, and how many holes that makes (F18 to F21)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import (
    KG_PER_LB,
    M_PER_FT,
    MPS_PER_MPH,
    N_PER_LBF,
    PA_PER_PSF,
    pair,
    show_both,
)
from sizing.core.guesses import resting_on
from sizing.core.inputs import PanelSpec, PlacedPanel, RoofInput, SystemInput
from sizing.core.judge import fact_check, limit_check, missing_check, show, show_count
from sizing.core.results import Figure, PenetrationResult
from sizing.roof.wind import (
    MM_PER_INCH,
    SCREW_DIAMETER_IN,
    UPLIFT_CP,
    dynamic_pressure_pa,
    screw_withdrawal_n,
    uplift_n,
)

FRONT_CP: Final = 1.3  # first panel behind an open leading edge, common practice [-]
GAP_CP: Final = 1.5  # panel that stands high enough for the wind to get under it, common practice [-]
HIGH_GAP_M: Final = 0.1  # above it a panel stands so high, common practice [m]
FRONT_FEET: Final = 1.5  # its leading feet carry so much more than their share, common practice [-]
RAFTER_THREAD_IN: Final = 1.0  # thread in a rafter [in]
FOOT_BLOCK: Final = 0.8  # utilization: wet wood, fatigue and uneven feet need the rest; shop default [-]
TEST_VALUE_SHARE: Final = 0.25  # of a maker's tested pull-out for blind fasteners, common practice [-]
BOND_STRESS_PA: Final = (
    50e3  # long-life stress of a structural bond on sound gelcoat or steel, shop default [Pa]
)
MEMBRANES: Final = frozenset({"epdm", "tpo", "pvc"})
BONDABLE: Final = frozenset({"fibreglass", "frp", "steel", "painted_steel", "aluminium"})
#: Rafters the wood formula says nothing of, with their word in print.
METAL_RAFTERS: Final = {"aluminium": "aluminum", "steel": "steel"}
SHEET_METAL: Final = frozenset({"steel", "painted_steel", "aluminium"})
LONG_PANEL_M: Final = 1.6  # above it, or above 1.8 m², six feet; common practice [m]
LARGE_PANEL_M2: Final = 1.8
WITHDRAWAL_SOURCE: Final = (
    "Wood-screw withdrawal"
    " ‹19.65·G²·D N per mm of thread, D in mm|2850·G²·D lb per inch of thread›"
    " (wood engineering handbooks), half in plywood"
)
FRONT_TITLE: Final = "Wind on the front panel's leading feet"


@dataclass(frozen=True, slots=True)
class LoadedFoot:
    """One panel's hardest pulled foot [N]: what pulls at it, what it holds (``None``: not known, see words).

    ``cp`` is the suction coefficient of the panel, ``edge`` what a leading foot carries beyond its share.
    """

    placed: PlacedPanel
    lift_n: float
    force_n: float
    capacity_n: float | None
    words: str
    cp: float
    edge: float

    @property
    def utilisation(self) -> float | None:
        """Return the share of its hold that is used [-]."""
        return None if self.capacity_n is None else self.force_n / self.capacity_n

    @property
    def severity(self) -> tuple[int, float]:
        """Return how bad it is, so that ``max`` finds the worst: block, then not known, then utilization."""
        used = self.utilisation
        if used is None:
            return 2, self.force_n
        return (3 if used > FOOT_BLOCK else 1), used


def penetrations(system: SystemInput) -> PenetrationResult:
    """Return the holes to make and seal (F21); a bonded panel makes none."""
    roof = system.roof
    is_bonded = roof is not None and roof.is_bonded_only
    feet = 0 if is_bonded else sum(placed.feet for placed in system.panels)
    fasteners = 0 if is_bonded else sum(placed.feet * placed.fasteners_per_foot for placed in system.panels)
    gland = roof.gland_screws if roof is not None else 0
    return PenetrationResult(
        feet=feet,
        foot_fasteners=fasteners,
        gland_screws=gland,
        penetrations=fasteners + gland,
        cable_holes=roof.cable_holes if roof is not None else 0,
    )


def roof_checks(system: SystemInput) -> tuple[Check, ...]:
    """Return every judgment on the roof: what holds the panels, how many feet, how high."""
    if not system.panels:
        return ()
    if system.roof is None:
        title = "Wind on the most loaded foot"
        return (
            missing_check(rule="F19", key="roof/uplift", subject="roof", title=title, missing="the roof"),
        )
    roof = system.roof
    bonded = [one for one in system.panels if roof.is_bonded_only or one.feet == 0]
    found = [_bond_check(system, roof, bonded)] if bonded else []
    if len(bonded) < len(system.panels):
        found += _screw_checks(system, roof)
    found += _feet_checks(system)
    found.append(_height_check(system, roof))
    return tuple(found)


def roof_figures(system: SystemInput) -> tuple[Figure, ...]:
    """Return wind pressure and the uplift of each panel kind as numbers that can be opened."""
    if not system.panels:
        return ()
    pressure = dynamic_pressure_pa(system.design_speed_mps)
    speed_kmh = show(system.design_speed_mps * 3.6, "", 0)
    found = [
        Figure(
            key="roof/pressure",
            title="Wind pressure at design speed",
            value=pressure,
            unit="Pa",
            formula="q = 0.5·ρ·v²",
            substituted=pair(
                f"0.5 × 1.225 × ({speed_kmh} ÷ 3.6)² = {show(pressure, 'Pa', 0)}",
                f"0.00256 × {show(system.design_speed_mps / MPS_PER_MPH, '', 1)}²"
                f" = {show(pressure / PA_PER_PSF, 'psf', 1)}",
            ),
            source="Bernoulli; "
            f"{pair('169 km/h (121 driving + 48 head wind)', '105 mph (75 driving + 30 head wind)')}"
            " is common practice, no source",
        )
    ]
    for panel in dict.fromkeys(placed.panel for placed in system.panels):
        force = uplift_n(panel, system.design_speed_mps)
        found.append(
            Figure(
                key=f"panel:{panel.name}/uplift",
                title=f"Net uplift on one {panel.name}",
                value=force,
                unit="N",
                formula="F_up = q·Cp·A - m·g",
                substituted=_uplift_words(panel, pressure, force),
                source="Bernoulli; Cp 1.0 is common practice, no source",
                guesses=resting_on(system, ("panels",)),
            )
        )
    return tuple(found)


def _uplift_words(panel: PanelSpec, pressure_pa: float, force_n: float) -> str:
    """Return the uplift of one panel with its numbers, Cp 1."""
    sides = (show(panel.length_m, "", 3), show(panel.width_m, "", 3))
    feet = (show(each / M_PER_FT, "", 2) for each in (panel.length_m, panel.width_m))
    return pair(
        f"{show(pressure_pa, '', 0)} × 1 × {' × '.join(sides)} - {show(panel.mass_kg)} × 9.81"
        f" = {show(force_n, 'N', 0)}",
        f"{show(pressure_pa / PA_PER_PSF, '', 1)} × 1 × {' × '.join(feet)} -"
        f" {show(panel.mass_kg / KG_PER_LB, '', 1)} = {show(force_n / N_PER_LBF, 'lbf', 0)}",
    )


def loaded_feet(system: SystemInput, roof: RoofInput, *, is_front_open: bool) -> list[LoadedFoot]:
    """Return the hardest pulled foot of each panel that has feet; ``is_front_open`` loads the front ones."""
    exposed = _front_panels(system) if is_front_open else frozenset()
    found: dict[tuple[object, ...], LoadedFoot] = {}
    for placed in system.panels:
        is_front = placed.id in exposed
        alike = (placed.panel, placed.feet, placed.fasteners_per_foot, placed.gap_m > HIGH_GAP_M, is_front)
        if placed.feet > 0 and alike not in found:
            found[alike] = _loaded_foot(system, roof, placed, is_front=is_front)
    return list(found.values())


def hardest_foot_n(system: SystemInput) -> float | None:
    """Return the hardest pull of the wind on any foot.

    Parameters
    ----------
    system : SystemInput
        Panels with their feet, design speed, and whether the front edge is open (not known counts as open).

    Returns
    -------
    float or None
        Net force on that foot; ``None`` where no panel has feet or the roof is not known. [N]

    Raises
    ------
    Nothing
        Unknown data is an answer.

    References
    ----------
    .. [1] Per foot, never per panel; 1.3 and 1.5 at an open front are common practice, no source.
    """
    roof = system.roof
    if roof is None or roof.is_bonded_only:
        return None
    feet = loaded_feet(system, roof, is_front_open=roof.is_front_open is not False)
    return max((foot.force_n for foot in feet), default=None)


def _loaded_foot(system: SystemInput, roof: RoofInput, placed: PlacedPanel, *, is_front: bool) -> LoadedFoot:
    cp, edge = _cp(placed, is_front=is_front), FRONT_FEET if is_front else 1.0
    lift_n = uplift_n(placed.panel, system.design_speed_mps, cp=cp)
    capacity_n, words = foot_capacity_n(system, roof, placed)
    return LoadedFoot(placed, lift_n, edge * lift_n / placed.feet, capacity_n, words, cp, edge)


def _cp(placed: PlacedPanel, *, is_front: bool) -> float:
    """Return the suction coefficient of a panel where it lies [-] (F18)."""
    return max(
        UPLIFT_CP, GAP_CP if placed.gap_m > HIGH_GAP_M else UPLIFT_CP, FRONT_CP if is_front else UPLIFT_CP
    )


def _front_panels(system: SystemInput) -> frozenset[str]:
    """Return the panels no other panel lies ahead of: the first the wind meets in their lane."""
    lying = [(one.id, *_outline(one)) for one in system.panels if one.feet > 0]
    return frozenset(
        name
        for name, _, front, right, left in lying
        if not any(
            rear >= front - 1e-6 and its_front > front and its_right < left and right < its_left
            for _, rear, its_front, its_right, its_left in lying
        )
    )


def _outline(placed: PlacedPanel) -> tuple[float, float, float, float]:
    """Return rear, front, right and left edge of a panel on the roof [m]."""
    along, across = placed.panel.length_m, placed.panel.width_m
    if placed.turned:
        along, across = across, along
    return placed.x_m, placed.x_m + along, placed.y_m, placed.y_m + across


def _screw_checks(system: SystemInput, roof: RoofInput) -> list[Check]:
    """Return the judgment of the most used foot on the roof, and of the front unless that is closed."""
    feet = loaded_feet(system, roof, is_front_open=False)
    worst = max(feet, key=lambda foot: foot.severity)
    found = [_foot_check(system, worst, "roof/uplift", "Wind on the most loaded foot")]
    if roof.is_front_open is not False:
        found.append(_front_check(system, roof))
    return found


def _front_check(system: SystemInput, roof: RoofInput) -> Check:
    """Return the judgment of the front feet; a front nobody looked at passes only if it may be open."""
    feet = [foot for foot in loaded_feet(system, roof, is_front_open=True) if foot.edge > 1.0]
    check = _foot_check(system, max(feet, key=lambda foot: foot.severity), "roof/uplift_front", FRONT_TITLE)
    if roof.is_front_open is None and check.verdict is not Verdict.PASS:
        return missing_check(
            rule="F19",
            key="roof/uplift_front",
            subject="roof",
            title=FRONT_TITLE,
            missing="whether the front edge of the array is open to the wind",
        )
    return check


def _foot_check(system: SystemInput, foot: LoadedFoot, key: str, title: str) -> Check:
    if foot.capacity_n is None:
        return missing_check(rule="F19", key=key, subject="roof", title=title, missing=foot.words)
    name = f"{foot.placed.panel.name}: " if len({one.panel for one in system.panels}) > 1 else ""
    on_foot = f"{name}{show_both(foot.force_n, 'N')} on a foot"
    held, words = show_both(foot.capacity_n, "N"), foot.words
    return limit_check(
        rule="F19",
        key=key,
        subject="roof",
        title=title,
        value=foot.utilisation,
        limit=system.policy.foot_use_fraction,
        block_beyond=FOOT_BLOCK,
        at_limit=Verdict.PASS,  # this share is room already; the second limit comes after it
        unit="utilisation",
        sentences={
            Verdict.PASS: f"{on_foot} that holds {held} ({words}).",
            Verdict.CAUTION: f"{on_foot} that holds {held} ({words}): more feet or rafters.",
            Verdict.BLOCK: (
                f"{on_foot} that holds only {held} ({words}): shift onto"
                " rafters, use backing plates or blind fasteners with a tested value."
            ),
        },
        source=f"{WITHDRAWAL_SOURCE}; pass to {show(system.policy.foot_use_fraction)} is shop policy, "
        f"block above {FOOT_BLOCK:g} a shop default",
        provenance=Provenance.COMMON_PRACTICE,
        formula="utilization = k·(q·Cp·A - m·g)/n_feet/(n_screws·W)",
        substituted=f"{show_both(foot.force_n, 'N')}/{show_both(foot.capacity_n, 'N')}",
        terms=_foot_terms(system, foot, foot.capacity_n),
        guesses=resting_on(
            system, ("roof.material", "roof.deck", "roof.rafters", "roof.screw", "roof.front", "panels")
        ),
    )


def _foot_terms(system: SystemInput, foot: LoadedFoot, capacity_n: float) -> tuple[Term, ...]:
    return (
        Term("v", "design speed", system.design_speed_mps, "m/s"),
        Term("Cp", "suction coefficient", foot.cp),
        Term("F_up", f"net uplift on {foot.placed.panel.name}", foot.lift_n, "N"),
        Term("n_feet", "feet of the panel", foot.placed.feet),
        Term("k", "share of a leading foot", foot.edge),
        Term("n·W", foot.words, capacity_n, "N"),
    )


def foot_capacity_n(system: SystemInput, roof: RoofInput, placed: PlacedPanel) -> tuple[float | None, str]:
    """Return what the weakest foot holds [N] and on what, or ``None`` and what is missing."""
    if placed.fasteners_per_foot == 0:
        return None, f"what holds the feet of {placed.panel.name} (no screw is planned)"
    if roof.fastener_tested_n is not None:
        held = roof.fastener_tested_n * TEST_VALUE_SHARE * placed.fasteners_per_foot
        return held, f"{show_count(placed.fasteners_per_foot, 'fastener')} at a quarter of the tested value"
    feet = sum(each.feet for each in system.panels)
    if roof.screw not in SCREW_DIAMETER_IN:
        return None, f"what a {roof.screw!r} fastener holds (a tested value)"
    if roof.feet_on_rafter is not None and roof.feet_on_rafter >= feet:
        if roof.rafter_kind in METAL_RAFTERS:
            return (
                None,
                f"what a screw in a rafter of {METAL_RAFTERS[roof.rafter_kind]} holds (a tested value)",
            )
        each_n = screw_withdrawal_n(roof.screw, RAFTER_THREAD_IN * MM_PER_INCH, in_plywood=False)
        count = min(roof.screws_per_rafter_foot, placed.fasteners_per_foot)
        if count == 0:
            return None, "how many screws of a foot are in the rafter"
        return each_n * count, f"{show_count(count, f'{roof.screw} screw')} in a rafter"
    if roof.material.lower() in SHEET_METAL:
        return None, "what a fastener in sheet metal holds (a tested value)"
    if not roof.deck_thickness_m:
        return None, "the thickness of the roof deck"
    each_n = screw_withdrawal_n(roof.screw, roof.deck_thickness_m * 1000.0, in_plywood=True)
    where = (
        "plywood only" if roof.feet_on_rafter == 0 or roof.feet_on_rafter is None else "a foot that missed"
    )
    screws = show_count(placed.fasteners_per_foot, f"{roof.screw} screw")
    return each_n * placed.fasteners_per_foot, f"{screws}, {where}"


def _bond_check(system: SystemInput, roof: RoofInput, bonded: list[PlacedPanel]) -> Check:
    """Return the judgment of panels held by adhesive alone (F20): a caution at best."""
    key, title = "roof/bond", "Panels held by adhesive alone"
    material = roof.material.lower()
    front = {one.id for one in bonded} if roof.is_front_open is not False else set()
    force_n = sum(
        uplift_n(one.panel, system.design_speed_mps, cp=_cp(one, is_front=one.id in front)) for one in bonded
    )
    if material not in MEMBRANES | BONDABLE or (material in BONDABLE and roof.bond_area_m2 is None):
        missing = "the bonded area" if material in BONDABLE else "the roof material"
        return missing_check(rule="F20", key=key, subject="roof", title=title, missing=missing)
    stress = 0.0 if material in MEMBRANES else BOND_STRESS_PA
    held_n = stress * (roof.bond_area_m2 or 0.0)
    is_held = held_n > 0 and force_n <= held_n
    words = (
        f"{show_both(force_n, 'N')} on a bond good for {show_both(held_n, 'N')}; add a stainless tether to"
        " structure."
        if material in BONDABLE
        else f"A bond holds only as well as the {material.upper()} sheet is stuck down: it peels."
    )
    return Check(
        rule="F20",
        key=key,
        subject="roof",
        title=title,
        verdict=Verdict.CAUTION if is_held else Verdict.BLOCK,
        value=force_n / held_n if held_n > 0 else None,
        limit=1.0,
        unit="utilisation",
        margin=1.0 - force_n / held_n if held_n > 0 else None,
        sentence=words,
        source=f"{pair('0.05 MPa', '7.25 psi')} on sound gelcoat or steel, nothing on a membrane:"
        " shop defaults",
        provenance=Provenance.SHOP_DEFAULT,
        formula="utilization = ΣF_up/(A_bond·σ_allow)",
        substituted=f"{show_both(force_n, 'N')}/({show_both(roof.bond_area_m2, 'm²', 2)} ×"
        f" {show_both(stress, 'Pa')})",
        guesses=resting_on(system, ("roof.material", "panels")),
    )


def _feet_checks(system: SystemInput) -> list[Check]:
    """Return a caution for each panel kind with fewer feet than its size asks for; the fewest count."""
    found = []
    by_kind = {each.panel.name: each for each in sorted(system.panels, key=lambda each: -each.feet)}
    for placed in by_kind.values():
        panel = placed.panel
        is_large = panel.length_m > LONG_PANEL_M or panel.length_m * panel.width_m > LARGE_PANEL_M2
        needed = 6 if is_large else 4
        if placed.feet < needed:
            found.append(
                fact_check(
                    rule="F21",
                    key=f"panel:{panel.name}/feet",
                    subject="roof",
                    title=f"Feet under {panel.name}",
                    is_met=False,
                    unmet=Verdict.CAUTION,
                    sentence=f"{show_count(placed.feet, 'foot', 'feet')}; {needed} are usual for a panel of"
                    " this size.",
                    source=f"At least 4 feet, 6 above {show_both(LONG_PANEL_M, 'm', 2)} or"
                    f" {show_both(LARGE_PANEL_M2, 'm²', 1)}: common practice, no source",
                    provenance=Provenance.COMMON_PRACTICE,
                )
            )
    return found


def _height_check(system: SystemInput, roof: RoofInput) -> Check:
    """Return the judgment of the overall height with the array on top."""
    height_m = overall_height_m(roof)
    return limit_check(
        rule="height",
        key="vehicle/height",
        subject="vehicle",
        title="Overall height with the array",
        value=height_m,
        limit=roof.height_limit_m,
        beyond=Verdict.CAUTION,
        unit="m",
        sentences={
            Verdict.PASS: f"{show_both(height_m, 'm', 2)} over all.",
            Verdict.CAUTION: f"{show_both(height_m, 'm', 2)} over all: tell the driver, put it on the sheet.",
            Verdict.NOT_ENOUGH_DATA: "Overall height with the array: not enough data, measure the height.",
        },
        source="Shop's height limit; "
        f"{pair('4 m is the European limit (96/53/EC)', '13 ft 6 in is the usual US limit (a legal guide)')}",
        provenance=Provenance.SHOP_DEFAULT,
        formula="height = max(height now, roof skin + array top)",
        guesses=resting_on(system, ("roof.height",)),
    )


def overall_height_m(roof: RoofInput) -> float | None:
    """Return the height with the array on [m]; without the skin's height the array is put on top of all."""
    if roof.overall_height_m is None:
        return None
    if roof.skin_height_m is None:
        return roof.overall_height_m + roof.array_top_m
    return max(roof.overall_height_m, roof.skin_height_m + roof.array_top_m)
