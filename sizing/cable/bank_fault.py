"""What a bank can push into a short circuit, and what its main device must be able to break (F17)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

from sizing.core.checks import Provenance
from sizing.core.inputs import BankInput, Chemistry
from sizing.core.judge import is_within
from sizing.tables import Row, rows

#: Interrupting rating a shop asks of the main device of a lithium bank, whatever its size. [A]
LITHIUM_MAIN_INTERRUPT_A: Final = 20_000.0
#: Above either of these a bank is "large": 20 kA, whatever its chemistry (ABYC E-11, as quoted). [Ah], [A]
LARGE_BANK_AH: Final = 500.0
LARGE_BANK_CCA: Final = 2200.0
#: A stated short-circuit current above this asks for 20 kA of a large bank (ABYC E-11, as quoted). [A]
LARGE_FAULT_A: Final = 10_000.0
LARGE_BANK_ROW: Final = "bank > 2200 CCA or > 500 Ah, any chemistry"
_SMALL_BANKS: Final = (  # highest bank voltage, then the rows with the cranking amps each reaches to
    (
        28.0,
        (
            (650.0, "12/24 V, <= 650 CCA"),
            (1100.0, "12/24 V, 651-1100 CCA"),
            (math.inf, "12/24 V, > 1100 CCA"),
        ),
    ),
    (math.inf, ((1250.0, "32 V, <= 1250 CCA"), (math.inf, "32 V, > 1250 CCA"))),
)


@dataclass(frozen=True, slots=True)
class BatterySource:
    """One row of batteries in series as a source: its voltage behind the range of its resistance."""

    emf_v: float
    low_ohm: float  # gives the upper end of the fault current
    high_ohm: float
    source: str
    provenance: Provenance

    @property
    def is_stated(self) -> bool:
        """Return whether the maker's own figure stands behind it."""
        return self.provenance is Provenance.MAKER


@dataclass(frozen=True, slots=True)
class InterruptNeed:
    """What a text, a maker or the shop asks a device to interrupt, whatever the sum says. [A]"""

    main_a: float
    branch_a: float | None  # None: the text gives branch devices no figure of their own
    source: str
    provenance: Provenance
    is_final: bool = False  # a printed row chosen by known cranking amps: no sum beside it


@dataclass(frozen=True, slots=True)
class FaultCurrent:
    """What a bank can push into a short circuit at its terminals, and what its main device must break."""

    prospective_a: tuple[float, float]  # lower and upper end
    main_limit_a: float
    formula: str
    source: str
    provenance: Provenance


def in_parallel(bank: BankInput) -> int:
    """Return how many rows of batteries stand side by side [-]."""
    return max(1, bank.quantity // max(1, bank.in_series))


def bank_fault(bank: BankInput, lithium_main_a: float = LITHIUM_MAIN_INTERRUPT_A) -> FaultCurrent:
    """Return a bank's fault current at its terminals and the interrupting rating its main device needs (F17).

    Parameters
    ----------
    bank : BankInput
        Chemistry, capacity [Ah]; where known the maker's short-circuit current [A], the internal resistance
        [Ω] and the cold cranking amps of a battery. [A]
    lithium_main_a : float
        What the shop asks of the main device of a lithium bank at least. [A]

    Returns
    -------
    FaultCurrent
        Lower and upper end of the prospective current, conductors left out, and the rating needed. [A]

    Raises
    ------
    Nothing; a lead bank of unknown cranking amps takes the largest row of the table.

    Notes
    -----
    ``I_sc = n·E/R``, E of a full battery at rest, R stated or ``k·cells/C`` with k by chemistry. The upper
    end counts where it is more than the text asks.

    References
    ----------
    .. [1] ABYC E-11 table V.A (reprint); 11.10.1.2.3.2 (20 kA for large banks, as quoted).
    .. [2] IEC 61660-1, battery as a voltage behind a resistance.
    """
    count, found = in_parallel(bank), battery_source(bank)
    need = interrupt_need(bank, count, lithium_main_a)
    low_a, high_a = count * found.emf_v / found.high_ohm, count * found.emf_v / found.low_ohm
    limit_a = need.main_a if need.is_final else max(need.main_a, high_a)
    ruling = need if limit_a <= need.main_a else found
    return FaultCurrent((low_a, high_a), limit_a, "I_sc = n·E/R", ruling.source, ruling.provenance)


def battery_source(bank: BankInput) -> BatterySource:
    """Return one row of batteries as a source: the maker's figure, else the range of its chemistry."""
    row = _fault_row(bank.chemistry)
    cells, in_series = _cells(bank, row), max(1, bank.in_series)
    emf_v = float(row.text("full_cell_v")) * cells * in_series
    stated = []
    if bank.internal_resistance_ohm is not None:
        stated.append((in_series * bank.internal_resistance_ohm, "internal resistance by the battery maker"))
    if bank.short_circuit_a is not None:
        ohm = emf_v * in_parallel(bank) / bank.short_circuit_a
        stated.append((ohm, "short-circuit current by the battery maker"))
    if stated:
        ohm, source = min(stated)
        return BatterySource(emf_v, ohm, ohm, source, Provenance.MAKER)
    low, high = (
        float(row.text(name)) * cells * in_series / bank.unit_capacity_ah
        for name in ("low_ohm_ah_per_cell", "high_ohm_ah_per_cell")
    )
    return BatterySource(emf_v, low, high, f"resistance by chemistry: {row.source}", row.provenance)


def interrupt_need(bank: BankInput, count: int, lithium_main_a: float) -> InterruptNeed:
    """Return what ``count`` rows of this bank's batteries ask of a device by text, maker or shop."""
    stated_a = _stated_a(bank, count)
    if bank.chemistry is Chemistry.LFP:
        text = "shop policy: every lithium main interrupts at least this; ABYC E-11 11.10.1.2.3.2 (as quoted)"
        source = f"{text} asks 20 kA of banks over 500 Ah whose battery rating exceeds 10 kA"
        if stated_a is not None and stated_a > lithium_main_a:
            return InterruptNeed(stated_a, None, battery_source(bank).source, Provenance.MAKER)
        return InterruptNeed(lithium_main_a, None, source, Provenance.SHOP_DEFAULT)
    cranking_a = None if bank.cca_a is None else count * bank.cca_a
    is_large = count * bank.unit_capacity_ah > LARGE_BANK_AH or (cranking_a or 0.0) > LARGE_BANK_CCA
    if is_large and (stated_a is None or not is_within(stated_a, LARGE_FAULT_A)):
        row = _need_row(LARGE_BANK_ROW)
        main_a = max(float(row.text("main_ocpd_interrupt_a")), stated_a or 0.0)
        return InterruptNeed(main_a, None, row.source, row.provenance)
    if stated_a is not None:
        return InterruptNeed(stated_a, None, battery_source(bank).source, Provenance.MAKER)
    return _small_lead_need(bank, cranking_a)


def starter_battery_need(cranking_a: float | None = None) -> InterruptNeed:
    """Return what a 12 V starting battery asks; unknown cranking amps take the largest row."""
    return _row_need(_SMALL_BANKS[0][1], cranking_a)


def _small_lead_need(bank: BankInput, cranking_a: float | None) -> InterruptNeed:
    nominal_v = bank.unit_nominal_v * max(1, bank.in_series)
    return _row_need(next(found for most_v, found in _SMALL_BANKS if nominal_v <= most_v), cranking_a)


def _row_need(bands: tuple[tuple[float, str], ...], cranking_a: float | None) -> InterruptNeed:
    """Without the cranking amps the largest row counts."""
    name = bands[-1][1] if cranking_a is None else next(row for most, row in bands if cranking_a <= most)
    row = _need_row(name)
    words = f"{row.source}: {name}" + (", cranking amps not known" if cranking_a is None else "")
    return InterruptNeed(
        float(row.text("main_ocpd_interrupt_a")),
        float(row.text("branch_ocpd_interrupt_a")),
        words,
        row.provenance,
        is_final=cranking_a is not None,
    )


def _stated_a(bank: BankInput, count: int) -> float | None:
    """Return the maker's short-circuit current of ``count`` rows [A]."""
    found = battery_source(bank)
    return count * found.emf_v / found.low_ohm if found.is_stated else None


def _cells(bank: BankInput, row: Row) -> int:
    """Return the cells of one battery: rounded up, and never fewer than its whole 12 V steps have."""
    counted = math.ceil(bank.unit_nominal_v / float(row.text("nominal_cell_v")) - 0.01)
    return max(1, counted, round(bank.unit_nominal_v / 12.0) * int(row.text("cells_per_12v")))


@cache
def _fault_row(chemistry: Chemistry) -> Row:
    name = "lfp" if chemistry is Chemistry.LFP else "lead"
    return next(row for row in rows("battery_fault") if row.text("chemistry") == name)


@cache
def _need_row(name: str) -> Row:
    table = rows("ocpd_interrupt_requirement_abyc")
    return next(row for row in table if row.text("battery_bank") == name)
