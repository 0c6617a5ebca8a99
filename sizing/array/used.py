"""Whether a used panel keeps up with its sisters: a weak one holds back all that are in series with it."""

from __future__ import annotations

from statistics import median
from typing import Final

from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.inputs import PlacedPanel, SystemInput
from sizing.core.judge import limit_check, missing_check, show, show_percent
from sizing.energy.used_panel import LEAST_SUN_W_M2, LOSS_SOURCE, measured_fraction, used_fraction

#: A used panel further below its sisters is held back; the band of a hand-held meter, common practice. [-]
BELOW_SISTERS: Final = 0.10
#: No panel gives so much of its data sheet: tolerance, heat and a hand-held meter together make less;
#: common practice. [-]
READS_TOO_MUCH: Final = 1.2
SOURCE: Final = (
    f"10% below its sisters, the band of a hand-held meter: common practice, no source; {LOSS_SOURCE}"
)


def used_panel_checks(system: SystemInput) -> tuple[Check, ...]:
    """Return the judgment on every used panel.

    Parameters
    ----------
    system : SystemInput
        The design. [-]

    Returns
    -------
    tuple of Check
        Keys ``panel:<id>/used``; not enough data where a panel was neither measured nor dated. [-]

    Raises
    ------
    Nothing
        A bad panel is an answer.

    References
    ----------
    .. [1] Jordan and Kurtz (2013), Progress in Photovoltaics 21, 12-29.
    """
    return tuple(_check(system, placed) for placed in system.panels if placed.is_used)


def _check(system: SystemInput, placed: PlacedPanel) -> Check:
    key, subject, title = (
        f"panel:{placed.id}/used",
        f"panel:{placed.id}",
        f"Panel {placed.id}: used, what it gives",
    )
    missing = _missing(placed)
    if missing:
        return missing_check(rule="used_panel", key=key, subject=subject, title=title, missing=missing)
    read = measured_fraction(placed)
    if read is not None and read > READS_TOO_MUCH:
        words = f"its amps and light as they are (these make {show_percent(read)} of its data sheet)"
        return missing_check(
            rule="used_panel", key=key, subject=subject, title=title, missing=words, verb="are"
        )
    share, sisters = used_fraction(placed), _sisters(system, placed)
    beside = median(used_fraction(each) for each in sisters) if sisters else 1.0
    whom = "panels beside it" if sisters else "data sheet"
    words = f"Gives {show_percent(share)} of its data sheet; the {whom}: {show_percent(beside)}."
    return limit_check(
        rule="used_panel",
        key=key,
        subject=subject,
        title=title,
        value=share,
        limit=(1.0 - BELOW_SISTERS) * beside,
        unit="fraction",
        at_least=True,
        beyond=Verdict.CAUTION,
        sentences={
            Verdict.PASS: words,
            Verdict.CAUTION: f"{words} It holds back all in series with it: replace it or leave it out.",
        },
        source=SOURCE,
        provenance=Provenance.COMMON_PRACTICE,
        formula="Isc·(1000/G)/Isc,sheet, else 1 - 0.005·years; ≥ 0.9·sisters",
        substituted=_substituted(placed, share),
        terms=(
            Term("Isc", "short-circuit current as measured", placed.measured_isc_a, "A"),
            Term("G", "light while it was measured", placed.measured_at_w_m2, "W/m²"),
            Term("Isc,sheet", "short-circuit current of the data sheet", placed.panel.isc_a, "A"),
            Term("years", "age", placed.age_years, "years"),
        ),
    )


def _missing(placed: PlacedPanel) -> str:
    """Return what is not known of a used panel; empty where its share can be told."""
    if measured_fraction(placed) is not None or placed.age_years is not None:
        return ""
    if placed.measured_isc_a is not None and placed.measured_at_w_m2 is not None:
        return f"a short-circuit current measured in {show(LEAST_SUN_W_M2, 'W/m²')} or more"
    if placed.measured_isc_a is not None:
        return "the light (W/m²) while its short-circuit current was measured"
    return "its short-circuit current in known light, or its age"


def _sisters(system: SystemInput, placed: PlacedPanel) -> list[PlacedPanel]:
    """Return the other panels of its string, else the others of its kind."""
    string = next((each for each in system.strings if placed.id in each.panel_ids), None)
    names = set() if string is None else set(string.panel_ids) - {placed.id}
    mates = [each for each in system.panels if each.id in names]
    alike = [each for each in system.panels if each.panel == placed.panel and each.id != placed.id]
    return mates or alike


def _substituted(placed: PlacedPanel, share: float) -> str:
    if measured_fraction(placed) is not None:
        amps, light = show(placed.measured_isc_a), show(placed.measured_at_w_m2)
        read = measured_fraction(placed)
        counted = "" if read == share else f", counted as {show_percent(share)}"
        return f"{amps} × 1000/{light}/{show(placed.panel.isc_a)} = {show_percent(read)}{counted}"
    return f"1 - 0.005 × {show(placed.age_years)} = {show_percent(share)}"
