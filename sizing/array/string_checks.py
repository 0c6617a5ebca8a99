"""Whether strings suit one another: mixed panels, unequal strings, and the fuse each needs (F13)."""

from __future__ import annotations

from typing import Final

from sizing.array.strings import WiredString
from sizing.cable import overcurrent as ocpd
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.guesses import resting_on
from sizing.core.inputs import ControllerInput, SystemInput
from sizing.core.judge import limit_check, margin_fraction, missing_check, show
from sizing.core.results import ControllerResult

MISMATCH: Final = 0.05  # spread of Imp in series or Vmp in parallel, common practice [-]
FUSE_TITLE: Final = "String fuse"


def mismatch_checks(controller: ControllerInput, strings: tuple[WiredString, ...]) -> tuple[Check, ...]:
    """Return the judgment of mixed panels: Imp in series, Vmp between parallel strings, within 5 %."""
    found = []
    for wired in strings:
        if len(set(wired.panels)) > 1:
            found.append(_series_mix_check(wired))
    if len({round(wired.vmp_v, 6) for wired in strings}) > 1:
        found.append(_parallel_mix_check(controller, strings))
    return tuple(found)


def _series_mix_check(wired: WiredString) -> Check:
    currents = [panel.imp_a for panel in wired.panels]
    return limit_check(
        rule="mismatch",
        key=f"string:{wired.string.id}/series_mix",
        subject=f"string:{wired.string.id}",
        title="Mixed panels in series: spread of working current",
        value=1.0 - min(currents) / max(currents),
        limit=MISMATCH,
        beyond=Verdict.CAUTION,
        at_limit=Verdict.PASS,  # "at most 5 %" by its own words
        unit="fraction",
        sentence=f"The string carries its weakest panel's current, {show(min(currents), 'A')}.",
        source="Imp within 5% in series: common practice, no source",
        provenance=Provenance.COMMON_PRACTICE,
        formula="1 - min(Imp)/max(Imp) ≤ 5%",
        substituted=f"1 - {show(min(currents))}/{show(max(currents))}",
    )


def _parallel_mix_check(controller: ControllerInput, strings: tuple[WiredString, ...]) -> Check:
    volts = [wired.vmp_v for wired in strings]
    return limit_check(
        rule="mismatch",
        key=f"controller:{controller.id}/parallel_mix",
        subject=f"controller:{controller.id}",
        title="Unequal strings in parallel: spread of working voltage",
        value=1.0 - min(volts) / max(volts),
        limit=MISMATCH,
        at_limit=Verdict.PASS,  # "at most 5 %" by its own words
        unit="fraction",
        sentences={
            Verdict.PASS: "The strings' working voltages are near enough to share one tracker.",
            Verdict.BLOCK: "The lower string gives almost nothing: give it its own controller.",
        },
        source="Vmp within 5% in parallel: common practice, no source",
        provenance=Provenance.COMMON_PRACTICE,
        formula="1 - min(Vmp)/max(Vmp) ≤ 5%",
        substituted=f"1 - {show(min(volts))}/{show(max(volts))}",
    )


def string_fuse_check(system: SystemInput, result: ControllerResult, wired: WiredString) -> Check:
    """Return whether one string has the fuse it needs, and whether a chosen one is right."""
    others_a = max(0.0, result.isc_a - wired.isc_a) if result.np > 1 else 0.0
    need = ocpd.string_fuse(max(1, result.np), wired.isc_a, wired.max_series_fuse_a, others_isc_a=others_a)
    fuse_a, key = wired.string.fuse_a, f"string:{wired.string.id}/fuse"
    if fuse_a is None and need.is_required is False:
        words = f"{show(need.back_feed_a, 'A')} can flow back, within the panel's limit: no fuse required."
        return _fuse_fact(system, key, need, Verdict.PASS, need.back_feed_a, need.max_series_fuse_a, words)
    if need.max_series_fuse_a is None:
        return missing_check(
            rule="F13",
            key=key,
            subject=key.partition("/")[0],
            title=FUSE_TITLE,
            missing="the panel's maximum series fuse",
            unit="A",
        )
    chosen_a = need.rating_a if fuse_a is None else fuse_a
    if chosen_a is None or chosen_a > need.max_series_fuse_a:
        words = f"{show(chosen_a, 'A')} is above the panel's maximum of {show(need.max_series_fuse_a, 'A')}."
        return _fuse_fact(system, key, need, Verdict.BLOCK, chosen_a, need.max_series_fuse_a, words)
    if chosen_a < need.min_rating_a:
        words = f"{show(chosen_a, 'A')} would blow in bright light: at least {show(need.min_rating_a, 'A')}."
        return _fuse_fact(system, key, need, Verdict.BLOCK, chosen_a, need.min_rating_a, words)
    volts = wired.string.fuse_voltage_rating_v
    if volts is not None and result.voc_cold_v is None:
        return missing_check(
            rule="F13",
            key=key,
            subject=key.partition("/")[0],
            title=FUSE_TITLE,
            missing="the coldest temperature, which tells the volts it must interrupt,",
            unit="V",
        )
    if volts is not None and result.voc_cold_v is not None and volts < result.voc_cold_v:
        cold = show(result.voc_cold_v, "V", 1)
        words = f"The fuse is rated {show(volts, 'V')} DC; the string reaches {cold} in the cold."
        return _fuse_fact(system, key, need, Verdict.BLOCK, result.voc_cold_v, volts, words, "V")
    required = "String fuses are required: " if need.is_required else ""
    words = f"{required}{show(chosen_a, 'A')} in each string, at most {show(need.max_series_fuse_a, 'A')}."
    return _fuse_fact(system, key, need, Verdict.PASS, chosen_a, need.max_series_fuse_a, words)


def _fuse_fact(
    system: SystemInput,
    key: str,
    need: ocpd.StringFuse,
    verdict: Verdict,
    value: float | None,
    limit: float | None,
    words: str,
    unit: str = "A",
) -> Check:
    return Check(
        rule="F13",
        key=key,
        subject=key.partition("/")[0],
        title=FUSE_TITLE,
        verdict=verdict,
        value=value,
        limit=limit,
        unit=unit,
        margin=margin_fraction(value, limit),
        sentence=words,
        source=need.source,
        provenance=need.provenance,
        formula=need.formula,
        substituted=need.substituted,
        terms=(
            Term("N_p", "strings in parallel", need.np),
            Term("Isc", "short-circuit current of a string", need.isc_a, "A"),
            Term("I_fuse,max", "panel's maximum series fuse", need.max_series_fuse_a, "A"),
        ),
        guesses=resting_on(system, ("panels", "strings")),
    )
