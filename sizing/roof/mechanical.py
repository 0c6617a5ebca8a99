"""The wind on a panel, what a foot holds, and how many holes that makes (F18 to F21)."""

from __future__ import annotations

from typing import Final

from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import N_PER_LBF, show_both
from sizing.core.guesses import resting_on
from sizing.core.inputs import InputOutOfRange, PanelSpec, PlacedPanel, RoofInput, SystemInput
from sizing.core.judge import fact_check, limit_check, missing_check, show
from sizing.core.results import Figure, PenetrationResult

AIR_DENSITY_KG_M3: Final = 1.225  # standard atmosphere at sea level, 15 °C [kg/m³]
GRAVITY_M_S2: Final = 9.81  # [m/s²]
MM_PER_INCH: Final = 25.4
UPLIFT_CP: Final = 1.0  # suction coefficient of a flush panel, common practice [-]
FRONT_CP: Final = 1.3  # first panel behind an open leading edge, common practice [-]
FRONT_FEET: Final = 1.5  # its leading feet carry so much more than their share, common practice [-]
WOOD_SPECIFIC_GRAVITY: Final = 0.45  # spruce-pine-fir to southern pine [-]
PLY_SHARE: Final = 0.5  # of the solid-wood value, as plywood is over-predicted; shop default [-]
RAFTER_THREAD_IN: Final = 1.0  # thread in a rafter [in]
FOOT_PASS: Final = 0.5  # utilisation: wet wood, fatigue and uneven feet need the rest; shop default [-]
FOOT_BLOCK: Final = 0.8
TEST_VALUE_SHARE: Final = 0.25  # of a maker's tested pull-out for blind fasteners, common practice [-]
BOND_STRESS_PA: Final = (
    50e3  # long-life stress of a structural bond on sound gelcoat or steel, shop default [Pa]
)
SCREW_DIAMETER_IN: Final = {"#8": 0.164, "#10": 0.190, "#12": 0.216, "#14": 0.242, "1/4": 0.250, "M6": 0.236}
MEMBRANES: Final = frozenset({"epdm", "tpo", "pvc"})
BONDABLE: Final = frozenset({"fibreglass", "frp", "steel", "painted_steel", "aluminium"})
METAL_RAFTERS: Final = frozenset({"aluminium", "steel"})  # the wood formula says nothing of these
SHEET_METAL: Final = frozenset({"steel", "painted_steel", "aluminium"})
LONG_PANEL_M: Final = 1.6  # above it, or above 1.8 m², six feet; common practice [m]
LARGE_PANEL_M2: Final = 1.8
WITHDRAWAL_SOURCE: Final = (
    "Wood-screw withdrawal 2850·G²·D lb per inch of thread (wood engineering handbooks), half in plywood"
)


def dynamic_pressure_pa(speed_m_s: float) -> float:
    """Return the dynamic pressure of moving air (F18).

    Parameters
    ----------
    speed_m_s : float
        Road speed plus head wind, 0 or more. [m/s]

    Returns
    -------
    float
        ``0.5·ρ·v²`` at 1.225 kg/m³. [Pa]

    Raises
    ------
    InputOutOfRange
        If the speed is negative.

    References
    ----------
    .. [1] Bernoulli; standard atmosphere at sea level (ISO 2533).
    """
    if speed_m_s < 0:
        raise InputOutOfRange("speed_m_s", f"must be 0 m/s or more, got {speed_m_s}")
    return 0.5 * AIR_DENSITY_KG_M3 * speed_m_s**2


def uplift_n(panel: PanelSpec, speed_m_s: float, *, cp: float = UPLIFT_CP) -> float:
    """Return the net upward force on a panel (F18).

    Parameters
    ----------
    panel : PanelSpec
        Length, width and mass. [m], [kg]
    speed_m_s : float
        Road speed plus head wind, 0 or more. [m/s]
    cp : float
        Suction coefficient. [-]

    Returns
    -------
    float
        ``q·Cp·A - m·g``, never below 0. [N]

    Raises
    ------
    InputOutOfRange
        If the speed is negative.

    References
    ----------
    .. [1] Bernoulli; Cp 1.0 at 105 mph is common practice, no source.
    """
    lift = dynamic_pressure_pa(speed_m_s) * cp * panel.length_m * panel.width_m
    return max(0.0, lift - panel.mass_kg * GRAVITY_M_S2)


def screw_withdrawal_n(screw: str, thread_mm: float, *, in_plywood: bool) -> float:
    """Return what a wood screw may be pulled with (F19).

    Parameters
    ----------
    screw : str
        ``#8``, ``#10``, ``#12``, ``#14``, ``1/4`` or ``M6``. [-]
    thread_mm : float
        Thread in the wood, 0 or more. [mm]
    in_plywood : bool
        Whether the wood is plywood, which holds half of what the formula says. [-]

    Returns
    -------
    float
        Allowable withdrawal, side grain, G = 0.45. [N]

    Raises
    ------
    InputOutOfRange
        If the screw is not in the list or the thread is negative.

    References
    ----------
    .. [1] Wood-screw withdrawal formula of wood engineering handbooks, ``W = 2850·G²·D`` lb per inch.
    """
    if screw not in SCREW_DIAMETER_IN:
        raise InputOutOfRange("roof.screw", f"must be one of {', '.join(SCREW_DIAMETER_IN)}, got {screw!r}")
    if thread_mm < 0:
        raise InputOutOfRange("thread_mm", f"must be 0 mm or more, got {thread_mm}")
    pounds_per_inch = 2850.0 * WOOD_SPECIFIC_GRAVITY**2 * SCREW_DIAMETER_IN[screw]
    share = PLY_SHARE if in_plywood else 1.0
    return pounds_per_inch * N_PER_LBF * thread_mm / MM_PER_INCH * share


def foot_utilisation(
    uplift: float, *, feet: int, capacity_per_foot_n: float, edge_factor: float = 1.0
) -> float | None:
    """Return how much of one foot's hold the wind uses (F19): the load goes where the foot is.

    Parameters
    ----------
    uplift : float
        Net force on the panel. [N]
    feet : int
        Feet of the panel, 1 or more. [-]
    capacity_per_foot_n : float
        What this very foot holds. [N]
    edge_factor : float
        1.5 for the leading feet of the front panel, else 1. [-]

    Returns
    -------
    float or None
        ``k_edge·F/n/(capacity)``; ``None`` for a foot that holds nothing. [-]

    Raises
    ------
    InputOutOfRange
        If there is no foot.

    References
    ----------
    .. [1] Per foot, never per panel: common practice, no source.
    """
    if feet < 1:
        raise InputOutOfRange("feet", f"must be 1 or more, got {feet}")
    return edge_factor * uplift / feet / capacity_per_foot_n if capacity_per_foot_n > 0 else None


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
    """Return every judgement on the roof: what holds the panels, how many feet, how high."""
    if not system.panels:
        return ()
    if system.roof is None:
        title = "Wind on the most loaded foot"
        return (
            missing_check(rule="F19", key="roof/uplift", subject="roof", title=title, missing="the roof"),
        )
    roof = system.roof
    found = [_bond_check(system, roof)] if roof.is_bonded_only else _screw_checks(system, roof)
    found += _feet_checks(system)
    found.append(_height_check(system, roof))
    return tuple(found)


def roof_figures(system: SystemInput) -> tuple[Figure, ...]:
    """Return wind pressure and the uplift of each panel kind as numbers that can be opened."""
    if not system.panels:
        return ()
    pressure = dynamic_pressure_pa(system.design_speed_mps)
    found = [
        Figure(
            key="roof/pressure",
            title="Wind pressure at design speed",
            value=pressure,
            unit="Pa",
            formula="q = 0.5·ρ·v²",
            substituted=f"0.5 × 1.225 × {show(system.design_speed_mps)}² = {pressure:,.0f} Pa",
            source="Bernoulli; 105 mph (75 driving + 30 head wind) is common practice, no source",
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
                substituted=(
                    f"{pressure:,.0f} × 1 × {show(panel.length_m, '', 3)} × {show(panel.width_m, '', 3)} -"
                    f" {show(panel.mass_kg)} × 9.81 = {force:,.0f} N"
                ),
                source="Bernoulli; Cp 1.0 is common practice, no source",
                guesses=resting_on(system, ("panels",)),
            )
        )
    return tuple(found)


def _screw_checks(system: SystemInput, roof: RoofInput) -> list[Check]:
    """Return the judgement of the weakest foot anywhere on the roof, and of the front panel's where open."""
    worst = max(system.panels, key=lambda placed: _force_per_foot_n(system, placed))
    found = [_foot_check(system, roof, worst, "roof/uplift", "Wind on the most loaded foot", 1.0)]
    if roof.is_front_open:
        front = max(system.panels, key=lambda placed: placed.x_m)
        factor = FRONT_CP * FRONT_FEET
        found.append(
            _foot_check(
                system, roof, front, "roof/uplift_front", "Wind on the front panel's leading feet", factor
            )
        )
    return found


def _foot_check(
    system: SystemInput, roof: RoofInput, placed: PlacedPanel, key: str, title: str, factor: float
) -> Check:
    capacity_n, words = foot_capacity_n(system, roof, placed)
    if capacity_n is None:
        return missing_check(rule="F19", key=key, subject="roof", title=title, missing=words)
    force_n = _force_per_foot_n(system, placed) * factor
    on_foot, held = f"{show_both(force_n, 'N')} on a foot", show_both(capacity_n, "N")
    return limit_check(
        rule="F19",
        key=key,
        subject="roof",
        title=title,
        value=force_n / capacity_n if capacity_n > 0 else None,
        limit=FOOT_PASS,
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
        source=f"{WITHDRAWAL_SOURCE}; pass to 0.5, block above 0.8 are shop defaults",
        provenance=Provenance.COMMON_PRACTICE,
        formula="utilisation = k·F_up/n_feet/(n_screws·W)",
        substituted=f"{force_n:,.0f} N/{capacity_n:,.0f} N",
        terms=(
            Term(
                "F_up",
                f"net uplift on {placed.panel.name}",
                uplift_n(placed.panel, system.design_speed_mps),
                "N",
            ),
            Term("n_feet", "feet of the panel", placed.feet),
            Term("k", "front factor", factor),
            Term("n·W", words, capacity_n, "N"),
        ),
        guesses=resting_on(system, ("roof.material", "roof.deck", "roof.rafters", "panels")),
    )


def foot_capacity_n(system: SystemInput, roof: RoofInput, placed: PlacedPanel) -> tuple[float | None, str]:
    """Return what the weakest foot holds [N] and on what, or ``None`` and what is missing."""
    if roof.fastener_tested_n is not None:
        held = roof.fastener_tested_n * TEST_VALUE_SHARE * placed.fasteners_per_foot
        return held, f"{placed.fasteners_per_foot} fasteners at a quarter of the tested value"
    feet = sum(each.feet for each in system.panels)
    if roof.screw not in SCREW_DIAMETER_IN:
        return None, f"what a {roof.screw!r} fastener holds (a tested value)"
    if roof.feet_on_rafter is not None and roof.feet_on_rafter >= feet:
        if roof.rafter_kind in METAL_RAFTERS:
            return None, f"what a screw in a rafter of {roof.rafter_kind} holds (a tested value)"
        each_n = screw_withdrawal_n(roof.screw, RAFTER_THREAD_IN * MM_PER_INCH, in_plywood=False)
        return each_n * roof.screws_per_rafter_foot, f"{roof.screws_per_rafter_foot} screws in a rafter"
    if roof.material.lower() in SHEET_METAL:
        return None, "what a fastener in sheet metal holds (a tested value)"
    if roof.deck_thickness_m is None:
        return None, "the thickness of the roof deck"
    each_n = screw_withdrawal_n(roof.screw, roof.deck_thickness_m * 1000.0, in_plywood=True)
    where = (
        "plywood only" if roof.feet_on_rafter == 0 or roof.feet_on_rafter is None else "a foot that missed"
    )
    return each_n * placed.fasteners_per_foot, f"{placed.fasteners_per_foot} screws, {where}"


def _force_per_foot_n(system: SystemInput, placed: PlacedPanel) -> float:
    force = uplift_n(placed.panel, system.design_speed_mps)
    return force / placed.feet if placed.feet > 0 else force


def _bond_check(system: SystemInput, roof: RoofInput) -> Check:
    """Return the judgement of panels held by adhesive alone (F20): a caution at best."""
    key, title = "roof/bond", "Panels held by adhesive alone"
    material = roof.material.lower()
    force_n = sum(uplift_n(placed.panel, system.design_speed_mps) for placed in system.panels)
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
        source="0.05 MPa on sound gelcoat or steel, nothing on a membrane: shop defaults",
        provenance=Provenance.SHOP_DEFAULT,
        formula="utilisation = ΣF_up/(A_bond·σ_allow)",
        substituted=f"{force_n:,.0f}/({show(roof.bond_area_m2)} × {stress:,.0f})",
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
                    sentence=f"{placed.feet} feet; {needed} are usual for a panel of this size.",
                    source="At least 4 feet, 6 above 1.6 m or 1.8 m²: common practice, no source",
                    provenance=Provenance.COMMON_PRACTICE,
                )
            )
    return found


def _height_check(system: SystemInput, roof: RoofInput) -> Check:
    """Return the judgement of the overall height with the array on top."""
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
            Verdict.PASS: f"{show(height_m, 'm')} over all.",
            Verdict.CAUTION: f"{show(height_m, 'm')} over all: tell the driver, put it on the sheet.",
            Verdict.NOT_ENOUGH_DATA: "Overall height with the array: not enough data, measure the height.",
        },
        source="Shop's height limit; 13 ft 6 in (4.115 m) is the usual US limit, from memory",
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
