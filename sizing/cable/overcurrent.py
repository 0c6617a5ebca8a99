"""Fuses and breakers: standard sizes, families with their DC limits, F13, distance to source."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Final

from sizing.cable.ampacity import standard_ratings
from sizing.cable.rulesets import StringFuseMethod
from sizing.core.checks import Provenance
from sizing.core.inputs import InputOutOfRange, RuleSet
from sizing.tables import PrintedValue, Row, rows

CONTINUOUS_FACTOR: Final = 1.25  # device over continuous current, NFPA 70 (2017) 690.9(B), 210.20(A)
INCH_M: Final = 0.0254


# -- standard sizes ------------------------------------------------------------------------------------


@cache
def dc_ratings() -> tuple[float, ...]:
    """Return the ratings [A] proposed for DC circuits: standard ones that some DC family is made in.

    Below 15 A the blade ratings of ISO 8820-3; from 15 A those of NFPA 70 (2017) 240.6(A).
    """
    made = {float(row.text("rating_a")) for row in _family_rows()}
    small = {
        float(row.text("rating_a"))
        for row in _family_rows()
        if row.text("family").startswith("blade regular")
    }
    return tuple(
        sorted(
            {size for size in small if size < 15} | {s for s in standard_ratings() if s >= 15 and s in made}
        )
    )


def round_up(needed_a: float, ratings: tuple[float, ...] | None = None) -> float | None:
    """Return the smallest rating at or above ``needed_a``; ``None`` beyond the largest.

    Parameters
    ----------
    needed_a : float
        What the device must at least be rated, 0 or more. [A]
    ratings : tuple of float, optional
        Ratings to choose from, ascending; NFPA 70 240.6(A) when left out. [A]

    Returns
    -------
    float or None
        Standard rating. [A]

    Raises
    ------
    InputOutOfRange
        If ``needed_a`` is negative or not a finite number.

    References
    ----------
    .. [1] NFPA 70 (2017), 240.6(A).
    """
    if not (math.isfinite(needed_a) and needed_a >= 0):
        raise InputOutOfRange("needed_a", f"must be 0 A or more, got {needed_a}")
    chosen = standard_ratings() if ratings is None else ratings
    return next((rating for rating in chosen if rating >= needed_a * (1 - 1e-9)), None)


# -- families ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Family:
    """A family of DC fuses. Voltage is the lowest sold; the interrupting rating may fall with voltage."""

    key: str
    words: str
    ratings_a: tuple[float, ...]
    dc_voltage_v: float
    interrupting_by_voltage: tuple[tuple[float, float], ...]  # (up to V, A)
    source: str
    provenance: Provenance  # of the voltage, and of the interrupting ratings that name none of their own
    interrupting_known: tuple[Provenance, ...] = ()  # by step, where steps are known unlike well

    def interrupting_a(self, system_v: float) -> float | None:
        """Return the interrupting rating [A] at a system voltage [V]; ``None`` above its last step."""
        return next((amps for volts, amps in self.interrupting_by_voltage if system_v <= volts), None)

    def interrupting_provenance(self, system_v: float) -> Provenance:
        """Return how well the interrupting rating at a system voltage [V] is known."""
        for (volts, _), known in zip(self.interrupting_by_voltage, self.interrupting_known, strict=False):
            if system_v <= volts:
                return known
        return self.provenance

    def rating_a(self, needed_a: float) -> float | None:
        """Return the smallest rating of the family at or above ``needed_a`` [A]."""
        return round_up(needed_a, self.ratings_a)


_FAMILIES: Final = (
    # key, our words, start of the printed family name, words people write
    ("class_t", "class T", "Class T", ("class t", "classt")),
    ("post", "terminal fuse at the post", "terminal fuse", ("terminal fuse", "post")),
    ("strip", "bolt-in strip fuse", "strip fuse", ("strip",)),
    (
        "bolt_small",
        "small bolt-down (ISO 8820-5 SF30)",
        "bolt-down small",
        ("small bolt down", "bolt down small", "sf30"),
    ),
    (
        "bolt_large",
        "large bolt-down (ISO 8820-5 SF51)",
        "bolt-down large",
        ("large bolt down", "bolt down large", "sf51"),
    ),
    ("blade_mini", "mini blade (ISO 8820-3 F)", "blade mini", ("mini blade", "blade mini")),
    ("blade_maxi", "maxi blade (ISO 8820-3 E)", "blade maxi", ("maxi", "blade maxi")),
    ("blade", "blade (ISO 8820-3 C)", "blade regular", ("blade", "ato", "atc")),
    ("gpv", "gPV cylindrical 10 × 38 (IEC 60269-6)", "gPV", ("gpv", "pv fuse", "10x38", "pv")),
)


#: What designs hold that were stored before families went by their standards, and the key of each now.
_FORMER: Final = {
    "mrbf": "post",
    "anl": "strip",
    "ann": "strip",
    "midi": "bolt_small",
    "ami": "bolt_small",
    "mega": "bolt_large",
    "amg": "bolt_large",
}


@cache
def families() -> tuple[Family, ...]:
    """Return the DC fuse families of the table."""
    return tuple(_family(key, words, start) for key, words, start, _ in _FAMILIES)


@lru_cache(maxsize=2048)
def family(name: str) -> Family | None:
    """Return the family meant by ``name`` (``"class T"``, ``"strip"``, ``"gPV"``); ``None`` if unknown."""
    text = " ".join(name.lower().replace("_", " ").replace("-", " ").split())
    if not text:
        return None
    for found, (key, _, _, aliases) in zip(families(), _FAMILIES, strict=True):
        if text == key.replace("_", " ") or any(
            re.search(rf"\b{re.escape(alias)}\b", text) for alias in aliases
        ):
            return found
    return _former(text)


def _former(text: str) -> Family | None:
    """Return the family an older design names, so that it keeps its answer; ``None`` if it names none."""
    key = next((key for word, key in _FORMER.items() if re.search(rf"\b{word}\b", text)), None)
    return next((found for found in families() if found.key == key), None)


def _family(key: str, words: str, start: str) -> Family:
    found = [row for row in _family_rows() if row.text("family").startswith(start)]
    first = found[0]
    volts = float(re.split(r"[ -]", first.text("dc_voltage_rating_v"))[0])
    return Family(
        key=key,
        words=words,
        ratings_a=tuple(sorted(float(row.text("rating_a")) for row in found)),
        dc_voltage_v=volts,
        interrupting_by_voltage=_interrupting(first.text("dc_interrupt_rating_a"), volts),
        source=f"{first.text('standard')}; {first.source}",
        provenance=first.provenance,
        interrupting_known=tuple(
            Provenance(each) for each in first.text("interrupt_provenance").split("; ") if each
        ),
    )


def _interrupting(printed: str, volts: float) -> tuple[tuple[float, float], ...]:
    steps = re.findall(r"([0-9]+) @ ([0-9]+) V", printed)
    if steps:
        return tuple(sorted((float(at_v), float(amps)) for amps, at_v in steps))
    return ((volts, float(printed)),)


@cache
def _family_rows() -> tuple[Row, ...]:
    return tuple(row for row in rows("ocpd_standard_sizes") if not row.text("family").startswith("NEC"))


# -- string fuses (F13) --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StringFuse:
    """Whether a string beside others needs a fuse, and which."""

    method: StringFuseMethod
    np: int
    isc_a: float
    max_series_fuse_a: float | None
    back_feed_a: float  # what the other strings can push into a faulty one
    is_required: bool | None  # None: the panel's largest fuse is not known
    min_rating_a: float  # a fuse, where fitted, must be at least this
    max_rating_a: float | None  # upper bound of the method, before the panel's own limit
    rating_a: float | None  # standard rating at or above the minimum
    fits: bool | None  # the standard rating keeps to the panel's limit; None: not known
    formula: str
    substituted: str
    source: str
    provenance: Provenance


#: (back-feed factor, smallest rating factor, largest rating factor, source, provenance), all times Isc. [-]
_STRING_FACTORS: Final = {
    StringFuseMethod.NFPA_70: (
        1.25,
        1.5625,
        math.inf,
        "NFPA 70 (2017) 690.8(A)(1), 690.9(A) exception, 690.9(B)",
        Provenance.PRINTED,
    ),
    StringFuseMethod.IEC_62548: (
        1.0,
        1.5,
        2.4,
        "IEC 62548 string protection (as worked in a public installer article)",
        Provenance.PRINTED,
    ),
    StringFuseMethod.IEC_60364_7_712: (
        1.25,
        1.375,
        math.inf,
        "IEC 60364-7-712 (from memory; public texts give 1.1 to blocking diodes): 1.1 × 1.25 × Isc",
        Provenance.MEMORY,
    ),
}
#: Ratings of string fuses by the standard that sizes them. IEC steps as on gPV data pages. [A]
IEC_STRING_RATINGS_A: Final = (1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 32.0)


def string_fuse(
    np: int,
    isc_a: float,
    max_series_fuse_a: float | None,
    method: StringFuseMethod = StringFuseMethod.NFPA_70,
    *,
    others_isc_a: float | None = None,
) -> StringFuse:
    """Return whether parallel strings need fuses, and which rating (F13).

    Parameters
    ----------
    np : int
        Strings in parallel, 1 or more. [-]
    isc_a : float
        Short-circuit current of one string at 1000 W/m², above 0. [A]
    max_series_fuse_a : float or None
        Largest fuse the panel allows; ``None`` where the data sheet is not known. [A]
    method : StringFuseMethod
        ``nfpa_70`` (the default), ``iec_62548`` or ``iec_60364_7_712``. [-]
    others_isc_a : float, optional
        Short-circuit currents of the other strings together; left out, they are equal to this one. [A]

    Returns
    -------
    StringFuse
        Back-feed [A], need, smallest and standard rating [A], and whether it keeps to the panel's limit.

    Raises
    ------
    InputOutOfRange
        If ``np`` is below 1 or ``isc_a`` is not above 0 A.

    Notes
    -----
    ``I_rev = (np - 1)·k·Isc``, of unequal strings ``k·ΣIsc`` of the others;
    required when it exceeds the panel's largest fuse. Smallest rating
    1.25 × 1.25 × Isc (NFPA), 1.5 × Isc (IEC 62548, also below 2.4 × Isc), 1.375 × Isc (IEC 60364-7-712).

    References
    ----------
    .. [1] NFPA 70 (2017) 690.8, 690.9. IEC 62548. IEC 60364-7-712 (from memory).
    """
    if np < 1:
        raise InputOutOfRange("np", f"must be 1 string or more, got {np}")
    if not (math.isfinite(isc_a) and isc_a > 0):
        raise InputOutOfRange("isc_a", f"must be above 0 A, got {isc_a}")
    back_k, least_k, most_k, source, provenance = _STRING_FACTORS[method]
    equal_a, least_a = (np - 1) * isc_a, least_k * isc_a
    others_a = equal_a if others_isc_a is None else others_isc_a
    is_equal = math.isclose(others_a, equal_a, rel_tol=1e-9, abs_tol=1e-12)
    back_feed_a = back_k * (equal_a if is_equal else others_a)
    sizes = IEC_STRING_RATINGS_A if method is not StringFuseMethod.NFPA_70 else standard_ratings()
    rating_a = round_up(least_a, sizes)
    limit = max_series_fuse_a
    return StringFuse(
        method=method,
        np=np,
        isc_a=isc_a,
        max_series_fuse_a=limit,
        back_feed_a=back_feed_a,
        is_required=None if limit is None and np > 1 else back_feed_a > (limit or 0.0) * (1 + 1e-9),
        min_rating_a=least_a,
        max_rating_a=most_k * isc_a if math.isfinite(most_k) else None,
        rating_a=rating_a,
        fits=None if limit is None or rating_a is None else rating_a <= min(limit, most_k * isc_a),
        formula=(
            f"I_rev = (N_p − 1) × {back_k:g} × Isc" if is_equal else f"I_rev = {back_k:g} × ΣIsc of others"
        )
        + f"; I_n ≥ {least_k:g} × Isc",
        substituted=(f"({np} − 1) × {back_k:g} × {isc_a:g}" if is_equal else f"{back_k:g} × {others_a:g}")
        + f" = {back_feed_a:.2f} A; {least_k:g} × {isc_a:g} = {least_a:.2f} A",
        source=source,
        provenance=provenance,
    )


def string_fuse_methods(np: int, isc_a: float, max_series_fuse_a: float | None) -> tuple[StringFuse, ...]:
    """Return the same strings judged by each standard, for showing side by side.

    Parameters
    ----------
    np : int
        Strings in parallel, 1 or more. [-]
    isc_a : float
        Short-circuit current of one string, above 0. [A]
    max_series_fuse_a : float or None
        Largest fuse the panel allows. [A]

    Returns
    -------
    tuple of StringFuse
        NFPA 70, IEC 62548, IEC 60364-7-712, in this order. [A]

    Raises
    ------
    InputOutOfRange
        If ``np`` is below 1 or ``isc_a`` is not above 0 A.

    References
    ----------
    .. [1] NFPA 70 (2017) 690.8, 690.9. IEC 62548. IEC 60364-7-712 (from memory).
    """
    return tuple(string_fuse(np, isc_a, max_series_fuse_a, method) for method in StringFuseMethod)


# -- distance to the source ----------------------------------------------------------------------------


def distance_limit(rule_set: RuleSet, *, is_sheathed: bool, is_battery_post: bool) -> PrintedValue:
    """Return how far along the wire [m] a device may sit from what feeds it.

    Parameters
    ----------
    rule_set : RuleSet
        Marine and code sets use the 7, 40 and 72 inch rule; metric 200 mm and 1.0 m. [-]
    is_sheathed : bool
        Whether the conductor is in a sheath, conduit or enclosure all the way. [-]
    is_battery_post : bool
        Whether it starts at a battery terminal rather than at a busbar or switch. [-]

    Returns
    -------
    PrintedValue
        Limit with source and provenance. [m]

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] 33 CFR 183.455 (7 and 40 in); ABYC E-11 (72 in from a battery terminal, sheathed).
    .. [2] AS/NZS 3001.2:2022 (200 mm; 1.0 m enclosed), as given in a trade summary.
    """
    if rule_set is RuleSet.METRIC:
        source = (
            "AS/NZS 3001.2:2022, quoted: within ‹200 mm|200 mm (8 in)› of the battery, "
            "‹1.0 m|1.0 m (39 in)› if the cable is enclosed, or directly outside the battery's compartment"
        )
        return PrintedValue(1.0 if is_sheathed else 0.2, source, Provenance.QUOTED)
    if not is_sheathed:
        return PrintedValue(
            _inches(7), "33 CFR 183.455; ABYC E-11: ‹7 in (178 mm)|7 in› unsheathed", Provenance.PRINTED
        )
    if is_battery_post:
        source = "ABYC E-11: ‹72 in (1.83 m)|72 in› from a battery terminal when sheathed all the way"
        return PrintedValue(_inches(72), source, Provenance.PRINTED)
    source = "33 CFR 183.455; ABYC E-11: ‹40 in (1.02 m)|40 in› from another source when sheathed all the way"
    return PrintedValue(_inches(40), source, Provenance.PRINTED)


def distance_block_m(rule_set: RuleSet, *, is_sheathed: bool) -> float | None:
    """Return the distance beyond which a device blocks [m], where its limit alone is a caution.

    Parameters
    ----------
    rule_set : RuleSet
        Makers of recreational vehicles and inverters print 18 in from the battery; it holds in a vehicle
        under the code sets and under the marine column, which is used there by analogy. The metric set
        follows a vehicle standard of its own, which has nothing between. [-]
    is_sheathed : bool
        Whether the conductor is in a sheath, conduit or enclosure all the way. [-]

    Returns
    -------
    float or None
        457 mm unsheathed, ``None`` under the metric set or sheathed: beyond the limit it blocks. [m]

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] A trailer owner's manual and an inverter manual: within 18 in of the battery.
    """
    has_nothing_between = rule_set is RuleSet.METRIC or is_sheathed
    return None if has_nothing_between else _inches(18)


def _inches(count: float) -> float:
    """Return inches in meters, to the millimeter a tape is read to."""
    return round(count * INCH_M, 3)


def device_limits_compared(size: str) -> tuple[tuple[str, float, str], ...]:
    """Return the largest device on one AWG size by every rule that prints one.

    Parameters
    ----------
    size : str
        AWG label: ``"14"``, ``"2/0"``. [-]

    Returns
    -------
    tuple of (name, limit, source)
        Printed rules disagree widely on small wire: 14 AWG has 52.5, 35 and 15 A. [A]

    Raises
    ------
    Nothing; a size no table prints has no limits.

    References
    ----------
    .. [1] 33 CFR 183.455(c)(1); ABYC E-11; NFPA 70 (2017) 240.4(D) and table 552.10(E)(1).
    """
    found: list[tuple[str, float, str]] = []
    for row in rows("ampacity_33cfr183_table5"):
        if row.text("size") == size:
            base_a = float(row.text("a_105C"))
            found.append(("33 CFR below 50 V", 1.5 * base_a, "33 CFR 183.455(c)(1): 150% of table 5"))
            found.append(("marine base", base_a, "ABYC E-11 105 °C column"))
    for row in rows("small_conductor_limits_nec_240_4_d"):
        if row.text("size") == size and row.text("material") == "copper":
            found.append(("code", float(row.text("max_ocpd_a")), row.source))
    for row in rows("low_voltage_limits_nec_552_10"):
        if row.text("size") == size:
            found.append(("park trailer, 24 V or less", float(row.text("ampacity_a")), row.source))
    return tuple(found)
