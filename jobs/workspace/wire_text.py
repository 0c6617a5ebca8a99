"""Writes what the workspace shows of the circuits that run over the roof: way, gauge, drop, verdict."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import sizing
from common import units as trade
from jobs.engine.state import DesignState
from jobs.engine.system import Circuit
from jobs.models import ConfidenceChoice
from jobs.parts.circuits import schedule_order
from jobs.roof.wires import DrawnRun, drawn_runs
from sizing import CircuitKind

ROOF_KINDS: Final = (CircuitKind.STRINGS_TO_COMBINER, CircuitKind.HOME_RUN)
_KNOWN: Final = {
    "measured": "measured",
    "scaled": "scaled from a drawing",
    "guess": "a guess, counted 25% longer",
}


def wire_rows(design: DesignState, result: sizing.SystemResult) -> list[dict[str, Any]]:
    """Return each roof circuit as judged, with where its length comes from; texts in the shop's units."""
    judged = {row.id: row for row in result.circuits}
    runs = {(run.kind, run.serves): run for run in drawn_runs(design.roof, design.inside)}
    own = sorted((one for one in design.system.circuits if one.kind in ROOF_KINDS), key=schedule_order)
    return [
        _row(circuit, judged[circuit.label], runs.get((circuit.kind, circuit.serves)), design.units)
        for circuit in own
        if circuit.label in judged
    ]


def _row(circuit: Circuit, judged: sizing.CircuitRow, run: DrawnRun | None, units: str) -> dict[str, Any]:
    return {
        "label": circuit.label,
        "words": sizing.circuit_facts(CircuitKind(circuit.kind)).title,
        "length": "–" if circuit.run_len_m is None else trade.show(circuit.run_len_m, "m_run", units),
        "how": _undrawn(circuit) if run is None else drawn_words(run, units),
        "gauge": f"{judged.size_words or '–'}{' proposed' if judged.is_proposed_size else ''}",
        "drop": "–" if judged.drop_fraction is None else f"{100 * judged.drop_fraction:.2f}%",
        "verdict": str(judged.verdict),
    }


def _undrawn(circuit: Circuit) -> str:
    return f"Not drawn; length {_KNOWN[circuit.confidence]}."


def drawn_words(run: DrawnRun, units: str) -> str:
    """Return how a drawn length adds up."""
    return " + ".join(_summands(run, units)) + "."


def _summands(run: DrawnRun, units: str) -> Iterable[str]:
    yield f"{trade.show(run.drawn_m, 'm_run', units)} drawn"
    yield f"{100 * run.slack_fraction:.0f}% slack"
    if run.inside_confidence:
        inside = trade.show(run.inside_m, "m_run", units)
        if run.inside_confidence == ConfidenceChoice.GUESS:
            yield f"{inside} inside, a guess until the survey has its legs (counted 25% longer)"
        else:
            yield f"{inside} inside, {_KNOWN[run.inside_confidence]} in the survey"
