"""Conductors by their label: metal area, resistance, and how AWG, SAE and metric labels are read."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, lru_cache
from typing import Final

from sizing.core.checks import Provenance
from sizing.core.inputs import CableStandard, InputOutOfRange
from sizing.tables import Row, rows

#: Resistivity of annealed copper at 20 °C [Ω·mm²/m]; 0.017241 is the International Annealed Copper
#: Standard (IEC 60028) and the figure behind the solid column of the conductor table.
RHO_CU_20C_OHM_MM2_PER_M: Final = 0.017241
#: Temperature coefficient of copper's resistance referred to 20 °C (IEC 60028, from memory). [1/°C]
ALPHA_CU_20C_PER_C: Final = 0.00393
#: The same referred to 75 °C: NFPA 70 (2017), chapter 9, table 8, note 2. [1/°C]
ALPHA_CU_75C_PER_C: Final = 0.00323
M_PER_KFT: Final = 304.8  # meters in 1000 ft


class ResistanceBasis(StrEnum):
    """Which published resistance a drop is computed from."""

    SOLID_20C = "solid_20c"  # AWG, SAE: copper of the nominal area, no lay of strands; metric: class 5
    PRINTED = "printed"  # stranded uncoated, NFPA 70 chapter 9 table 8; IEC 60228 class 5 plain


@dataclass(frozen=True, slots=True)
class Conductor:
    """One size of copper cable. Resistances are of one conductor; a circuit has two."""

    label: str  # "10", "2/0", "250 kcmil", "16"
    standard: CableStandard
    area_mm2: float
    area_cmil: float
    r20_solid_ohm_per_m: float
    printed_ohm_per_m: float | None  # at ``printed_temp_c``
    printed_temp_c: float
    source: str
    provenance: Provenance

    @property
    def words(self) -> str:
        """Return the size as it is said and printed: ``10 AWG``, ``16 mm²``, ``300 kcmil``."""
        if self.standard is CableStandard.METRIC:
            return f"{self.label} mm²"
        if "kcmil" in self.label:
            return self.label
        return f"{self.label} AWG" if self.standard is CableStandard.AWG else f"{self.label} SAE"

    def resistance_ohm_per_m(
        self, temp_c: float = 20.0, basis: ResistanceBasis = ResistanceBasis.SOLID_20C
    ) -> float:
        """Return the resistance [Ω/m] at a metal temperature [°C]; the solid figure where none is printed."""
        if basis is ResistanceBasis.PRINTED and self.printed_ohm_per_m is not None:
            alpha = ALPHA_CU_75C_PER_C if self.printed_temp_c == 75.0 else ALPHA_CU_20C_PER_C
            return self.printed_ohm_per_m * (1 + alpha * (temp_c - self.printed_temp_c))
        return self.r20_solid_ohm_per_m * (1 + ALPHA_CU_20C_PER_C * (temp_c - 20.0))

    def at_least(self, other: Conductor) -> bool:
        """Return whether this conductor has at least as much copper as the other."""
        return self.area_mm2 >= other.area_mm2


@cache
def ladder(standard: CableStandard) -> tuple[Conductor, ...]:
    """Return every size of a standard, thinnest first."""
    makers = {
        CableStandard.AWG: _awg_ladder,
        CableStandard.SAE: _sae_ladder,
        CableStandard.METRIC: _metric_ladder,
    }
    return tuple(sorted(makers[standard](), key=lambda conductor: conductor.area_mm2))


@lru_cache(maxsize=2048)
def conductor(size: str, standard: str = CableStandard.AWG) -> Conductor:
    """Return the conductor named by ``size``.

    Parameters
    ----------
    size : str
        As people write it: ``"10"``, ``"#10"``, ``"10 AWG"``, ``"2/0"``, ``"00"``, ``"16 mm²"``,
        ``"250 kcmil"``. A unit in the text wins over ``standard``, save that people say AWG of the
        thinner SAE cable too: there the standard stays. [-]
    standard : str
        ``"awg"``, ``"sae"`` or ``"metric"``: what a bare number means. [-]

    Returns
    -------
    Conductor
        Area [mm²], resistance at 20 °C [Ω/m], source and provenance.

    Raises
    ------
    InputOutOfRange
        If the standard or the size is not in the tables.

    References
    ----------
    .. [1] NFPA 70 (2017), chapter 9, table 8. IEC 60228, tables 2 and 3.
    .. [2] SAE J1127/J1128, as cable tables print them.
    """
    if standard not in tuple(CableStandard):
        raise InputOutOfRange("cable_standard", f'must be "awg", "sae" or "metric", got "{standard}"')
    label, used = _read(size, CableStandard(standard))
    for found in ladder(used):
        if found.label == label:
            return found
    known = ", ".join(each.label for each in ladder(used))
    raise InputOutOfRange("size", f'no {used.value} conductor "{size}"; sizes are {known}')


def _read(size: str, standard: CableStandard) -> tuple[str, CableStandard]:
    text = size.strip().lower().replace("²", "2").removeprefix("#")
    metric = re.fullmatch(r"([0-9]+(?:[.,][0-9]+)?) ?(?:mm2|sqmm)?", text)
    if metric and (text.endswith(("mm2", "sqmm")) or standard is CableStandard.METRIC):
        return f"{float(metric.group(1).replace(',', '.')):g}", CableStandard.METRIC
    if text.endswith("sae"):
        text, standard = text.removesuffix("sae").strip(), CableStandard.SAE
    if text.endswith("awg") and standard is CableStandard.METRIC:
        standard = CableStandard.AWG
    text = text.removesuffix("awg").removesuffix("gauge").strip()
    if re.fullmatch(r"[0-9]{3} ?(kcmil|mcm)", text):
        return f"{text[:3]} kcmil", CableStandard.AWG
    if re.fullmatch(r"0{1,4}", text):
        text = f"{len(text)}/0"
    return text, standard


def _awg_ladder() -> list[Conductor]:
    return [_awg(row) for row in rows("conductors") if row.text("system") == "AWG"]


def _awg(row: Row) -> Conductor:
    return Conductor(
        label=row.text("size"),
        standard=CableStandard.AWG,
        area_mm2=_needed(row, "area_mm2"),
        area_cmil=_needed(row, "area_cmil"),
        r20_solid_ohm_per_m=_needed(row, "r20_solid_ohm_per_km_computed") / 1000,
        printed_ohm_per_m=_needed(row, "nec_t8_r75_stranded_uncoated_ohm_per_kft") / M_PER_KFT,
        printed_temp_c=75.0,
        source=row.source,
        provenance=row.provenance,
    )


def _sae_ladder() -> list[Conductor]:
    found = []
    for row in rows("sae_wire_areas"):
        area_mm2 = _needed(row, "sae_min_area_mm2")
        found.append(
            Conductor(
                label=row.text("size"),
                standard=CableStandard.SAE,
                area_mm2=area_mm2,
                area_cmil=_needed(row, "sae_min_area_cmil"),
                r20_solid_ohm_per_m=RHO_CU_20C_OHM_MM2_PER_M / area_mm2,
                printed_ohm_per_m=None,
                printed_temp_c=20.0,
                source=row.source,
                provenance=row.provenance,
            )
        )
    return found


def _metric_ladder() -> list[Conductor]:
    found = []
    for row in rows("conductors"):
        if row.text("system") != "IEC60228":
            continue
        found.append(
            Conductor(
                label=f"{float(row.text('size')):g}",
                standard=CableStandard.METRIC,
                area_mm2=_needed(row, "area_mm2"),
                area_cmil=_needed(row, "area_cmil"),
                r20_solid_ohm_per_m=_needed(row, "iec60228_class5_plain_r20_max_ohm_per_km") / 1000,
                printed_ohm_per_m=_needed(row, "iec60228_class5_plain_r20_max_ohm_per_km") / 1000,
                printed_temp_c=20.0,
                source=row.source,
                provenance=row.provenance,
            )
        )
    return found


def _needed(row: Row, column: str) -> float:
    return float(row.text(column))
