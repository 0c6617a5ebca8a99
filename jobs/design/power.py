"""Changes the bank, inverter and other chargers of a draft design."""

from __future__ import annotations

from collections.abc import Sequence

from common.told import in_english
from jobs.design.revision import Change, circuits_wanted, design_change, propose_circuits
from jobs.design.rows import Row, write_only, write_rows
from jobs.models import (
    Design,
    DesignBank,
    DesignInverter,
    DesignSource,
    SizingRun,
)


@in_english
def power_change(
    *, design: Design, bank: Row | None, inverter: Row | None, sources: Sequence[Row], change: Change
) -> SizingRun | None:
    """Set bank, inverter and the other chargers; None takes bank or inverter away."""

    def apply(locked: Design) -> str:
        before = circuits_wanted(locked)
        write_only(locked, DesignBank, bank)
        write_only(locked, DesignInverter, inverter)
        written = write_rows(locked, DesignSource, sources)
        added = propose_circuits(locked, before)
        return f"{written} chargers; {added} circuits added" if added else f"{written} chargers"

    return design_change(design, change, "power changed", apply)
