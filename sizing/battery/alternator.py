"""What chargers on the engine ask of the alternator, against what it gives idling hot (F28)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sizing.battery.bank import in_parallel
from sizing.battery.chargers import limited_a
from sizing.battery.charging import absorb_range, excluded_pairs, simultaneous_charge_a
from sizing.cable.currents import DC_DC_EFFICIENCY, ON_ENGINE, alternator_a, dc_dc_input_a
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.guesses import resting_on
from sizing.core.inputs import ChargeSourceInput, Chemistry, SourceKind, SystemInput
from sizing.core.judge import limit_check, missing_check, show

#: Volts of a running engine at the charger's input where nobody measured, per 12 V of alternator. [V]
ENGINE_V: Final = 13.5
SOURCE: Final = (
    "An alternator idling hot gives a share of its rating: shop default, common practice, no source"
)
MEASURED: Final = "What the alternator gives idling hot, as its maker states or as measured"


def alternator_checks(system: SystemInput) -> list[Check]:
    """Return, for every charger on an engine, the judgment of all that load its alternator together."""
    found = []
    units = [source for source in system.sources if source.kind in ON_ENGINE]
    for source in units:
        together = [unit for unit in units if unit.alternator_id == source.alternator_id]
        found.append(_alternator_check(system, source, together))
    return found


def input_a(system: SystemInput, source: ChargeSourceInput) -> float | None:
    """Return what one charger takes from the alternator [A] at the alternator's volts; None: not known.

    A DC-DC unit: output amps times bank volts, over its efficiency and the alternator's volts; bank volts
    are what it is set to, and no less than the bank's nominal. A relay: the limit stated for it, else all
    the lithium may take by its maker, and no less than the alternator gives: a maker's limit limits nothing
    (lead: the relay's own rating).
    """
    if source.kind is SourceKind.RELAY:
        return _through_relay_a(system, source)
    return dc_dc_input_a(limited_a(source), _output_v(system, source), _engine_v(source))


def _through_relay_a(system: SystemInput, source: ChargeSourceInput) -> float | None:
    bank = system.bank
    if source.limited_to_a is not None or bank is None or bank.chemistry is not Chemistry.LFP:
        return limited_a(source)
    if bank.max_charge_a is None:
        return None
    return max(bank.max_charge_a * in_parallel(bank), alternator_a(system, source) or 0.0)


def _output_v(system: SystemInput, source: ChargeSourceInput) -> float:
    """Return the volts a DC-DC unit puts out [V]: as set; a setting below the bank's own is none."""
    bank = system.bank
    least_v = 0.0 if bank is None else bank.unit_nominal_v * bank.in_series
    return max(source.absorb_v, least_v) if source.absorb_v is not None else _full_v(system)


def _full_v(system: SystemInput) -> float:
    """Return the highest charging voltage of the bank [V]."""
    if system.bank is None:
        return 1.2 * system.v_nominal_v
    return absorb_range(system.bank, system.v_nominal_v).high or 1.2 * system.v_nominal_v


def _engine_v(source: ChargeSourceInput) -> float:
    if source.input_v is not None:
        return source.input_v
    is_24_v = (source.lockout_v or 0.0) > 18.0
    return ENGINE_V * (2.0 if is_24_v else 1.0)


def _alternator_check(
    system: SystemInput, source: ChargeSourceInput, together: Sequence[ChargeSourceInput]
) -> Check:
    key, subject = f"source:{source.id}/alternator", f"source:{source.id}"
    title = f"{source.name}: share of the alternator"
    asked = {unit.id: input_a(system, unit) for unit in together}
    known = {name: amps for name, amps in asked.items() if amps is not None}
    if len(together) > 1:
        title += f", {len(together)} units on it"
        title += "" if excluded_pairs(together, frozenset(known)) else " together"
    ratings = [unit.alternator_rating_a for unit in together if unit.alternator_rating_a is not None]
    if ratings and known:
        total_a = simultaneous_charge_a(known, excluded_pairs(together, frozenset(known)))
        found = _judged(system, source, together, (key, subject, title), (total_a, min(ratings)))
        if len(known) == len(asked) or found.blocks:  # one nobody knows makes what is too much no better
            return found
    missing = "the bank's highest charge current" if ratings else "the alternator's rating"
    return missing_check(rule="F28", key=key, subject=subject, title=title, missing=missing, unit="A")


def _judged(
    system: SystemInput,
    source: ChargeSourceInput,
    together: Sequence[ChargeSourceInput],
    names: tuple[str, str, str],
    amps: tuple[float, float],
) -> Check:
    (key, subject, title), (total_a, rating_a) = names, amps
    measured = [unit.alternator_idle_a for unit in together if unit.alternator_idle_a is not None]
    idle_a = min(min(measured, default=rating_a * system.alternator_idle_fraction), rating_a)
    load_a = max((unit.alternator_load_a or 0.0 for unit in together), default=0.0)
    limit_a = max(idle_a - load_a, 0.0)
    is_free = any(_is_free_lithium_relay(system, unit) for unit in together)
    asks, listed = _asked_words(system, together, total_a)
    return limit_check(
        rule="F28",
        key=key,
        subject=subject,
        title=title,
        value=total_a,
        limit=limit_a,
        block_beyond=None if is_free else max(rating_a - load_a, 0.0),
        unit="A",
        sentences={
            Verdict.PASS: f"{asks} at the alternator; idling hot it can spare {show(limit_a, 'A')}.",
            Verdict.CAUTION: (
                f"{asks} at the alternator, more than the {show(limit_a, 'A')} it can spare idling hot:"
                " it overheats."
            ),
            Verdict.BLOCK: (
                f"{asks} through a relay that limits nothing; the alternator can spare {show(limit_a, 'A')}"
                " idling hot and burns out: use a DC-DC charger."
                if is_free
                else f"{asks} at the alternator, more than it can give at all."
            ),
        },
        source=MEASURED if measured else SOURCE,
        provenance=Provenance.MAKER if measured else Provenance.SHOP_DEFAULT,
        formula="Σ I_out·V_bank/(η·V_alt) ≤ k_idle·I_alternator - I_vehicle",
        substituted=f"{listed} ≤ {_spared(idle_a, load_a)} = {show(limit_a, 'A')}",
        terms=(
            Term("I_alternator", "rating of the alternator", rating_a, "A"),
            Term("k_idle", "share of it idling hot", idle_a / rating_a),
            Term("I_vehicle", "what the vehicle itself draws", load_a, "A"),
            Term("η", "efficiency of a DC-DC unit", DC_DC_EFFICIENCY),
        ),
        guesses=resting_on(system, ("sources", "bank")),
    )


def _asked_words(
    system: SystemInput, together: Sequence[ChargeSourceInput], total_a: float
) -> tuple[str, str]:
    """Return what the units ask for, as a sentence begins and as a sum; those kept apart are not added."""
    total, parts = show(total_a, "A"), [_substituted(system, unit) for unit in together]
    if len(parts) == 1:
        return f"It takes {total}", f"{parts[0]} → {total}"
    if total_a < sum(input_a(system, unit) or 0.0 for unit in together) - 1e-9:
        return (
            f"At most {total} at a time",
            f"{', '.join(parts)}, some kept apart → at most {total} at a time",
        )
    return f"Together {total}", f"{' + '.join(parts)} → {total}"


def _spared(idle_a: float, load_a: float) -> str:
    left = f"{show(idle_a)} - {show(load_a)}"
    return left if idle_a >= load_a else f"max(0, {left})"


def _is_free_lithium_relay(system: SystemInput, source: ChargeSourceInput) -> bool:
    is_lithium = system.bank is not None and system.bank.chemistry is Chemistry.LFP
    return source.kind is SourceKind.RELAY and source.limited_to_a is None and is_lithium


def _substituted(system: SystemInput, source: ChargeSourceInput) -> str:
    if source.kind is SourceKind.RELAY:
        return show(input_a(system, source))
    output_v = show(_output_v(system, source))
    return f"{show(limited_a(source))} × {output_v}/({show(DC_DC_EFFICIENCY)} × {show(_engine_v(source))})"
