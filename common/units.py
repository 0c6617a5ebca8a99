"""Turns trade units into SI and back (feet, inches, pounds, °F, psf, in-lb): forms, pages, papers."""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

IMPERIAL: Final = "imperial"
METRIC: Final = "metric"
#: Parts of an inch.
EIGHTHS: Final = 8
SIXTEENTHS: Final = 16


class UnitError(ValueError):
    """The text cannot be read as a quantity; the message is fit for the person who typed it."""


@dataclass(frozen=True)
class Display:
    """How one kind of quantity is written in one system of units.

    ``style`` is ``decimal``, ``feet`` (feet, inches and eighths) or ``inches`` (inches and eighths).
    """

    label: str
    unit: str  # Pint's name
    digits: int
    style: str = "decimal"
    example: str = ""
    least_digits: int | None = None  # zeros after this many are dropped
    small_digits: int | None = None  # digits of an amount under ten


@dataclass(frozen=True)
class Kind:
    """One kind of quantity: its name, the SI unit it is stored in, and how either system writes it."""

    name: str
    si_unit: str  # Pint's name
    metric: Display
    imperial: Display
    aliases: tuple[tuple[str, str], ...]

    def display(self, units: str) -> Display:
        """Return how ``units`` writes it."""
        return self.imperial if units == IMPERIAL else self.metric


# What people write for a unit = Pint's name; several words for one unit are parted by commas.
_ALIASES: Final[dict[str, str]] = {
    "length": 'mm=millimetre; cm=centimetre; m,metre,meter=metre; in,inch,"=inch;'
    " ft,foot,feet,'=foot; yd=yard",
    "distance": "km=kilometre; mi,mile=mile",
    "resistance per length": "mω/m=milliohm/metre; mω/ft=milliohm/foot",
    "mass": "kg=kilogram; g=gram; t=metric_ton; lb,pound=pound; oz=ounce",
    "temperature": "°c,c,deg c=degree_Celsius; °f,f,deg f=degree_Fahrenheit",
    "temperature difference": "k,°c=delta_degree_Celsius; °f=delta_degree_Fahrenheit",
    "speed": "m/s=metre/second; km/h,kph=kilometre/hour; mph=mile/hour; kn=knot",
    "pressure": "pa=pascal; kpa=kilopascal; psf=pound_force/foot**2; psi=pound_force/inch**2",
    "force": "n=newton; kn=kilonewton; lbf,lb=pound_force",
    "torque": "n·m,nm,n m=newton*metre; in-lb,in lb,in·lb,lb-in=pound_force*inch;"
    " ft-lb,ft lb,ft·lb,lb-ft=pound_force*foot",
    "volume": "l,litre,liter=litre; gal,gallon=US_liquid_gallon; qt=US_liquid_quart",
    "area": "m²,m2=metre**2; ft²,ft2,sq ft,sqft=foot**2",
    "energy per length": "kwh/m=kilowatt_hour/metre; kwh/ft=kilowatt_hour/foot",
    "energy per mass": "kwh/kg=kilowatt_hour/kilogram; kwh/lb=kilowatt_hour/pound",
    "mass per area": "kg/m²=kilogram/metre**2; lb/ft²=pound/foot**2",
}


def _aliases(name: str) -> tuple[tuple[str, str], ...]:
    """Return the written forms of one kind's units with Pint's names."""
    pairs = [entry.strip().rsplit("=", 1) for entry in _ALIASES[name].split(";")]
    return tuple((word, unit) for words, unit in pairs for word in words.split(","))


def _kind(name: str, metric: Display, imperial: Display) -> Kind:
    """Return a kind stored in the unit its metric form is written in."""
    return Kind(name, metric.unit, metric, imperial, _aliases(name))


def _same(name: str, label: str, unit: str, digits: int, *words: str) -> Kind:
    """Return a kind that both systems write alike: volts are volts everywhere."""
    shown = Display(label, unit, digits)
    return Kind(name, unit, shown, shown, tuple((word, unit) for word in (label, *words)))


# Keyed by the stored unit as templates and fields name it; m_run is a length written in decimal feet.
KINDS: Final[dict[str, Kind]] = {
    "m": _kind(
        "length",
        Display("m", "metre", 3, example="3.5 m", least_digits=2),
        Display("ft", "foot", 1, "feet", example="12' 6 1/2\""),
    ),
    "m_run": _kind("length", Display("m", "metre", 1), Display("ft", "foot", 1)),
    "mm": _kind(
        "length",
        Display("mm", "millimetre", 1, least_digits=0),
        Display("in", "inch", 2, "inches", example="16 in"),
    ),
    "km": _kind("distance", Display("km", "kilometre", 0), Display("mi", "mile", 0)),
    "kg": _kind("mass", Display("kg", "kilogram", 1), Display("lb", "pound", 0, small_digits=1)),
    "°C": _kind(
        "temperature",
        Display("°C", "degree_Celsius", 1, example="-20 °C", least_digits=0),
        Display("°F", "degree_Fahrenheit", 0, example="-4 °F"),
    ),
    "K": _kind(
        "temperature difference",
        Display("K", "delta_degree_Celsius", 1),
        Display("°F", "delta_degree_Fahrenheit", 0),
    ),
    # Roads are posted in km/h and wind is forecast in it; what is reckoned is in m/s.
    "m/s": Kind(
        "speed",
        "metre/second",
        Display("km/h", "kilometre/hour", 0, example="105 km/h"),
        Display("mph", "mile/hour", 0),
        _aliases("speed"),
    ),
    "Pa": _kind("pressure", Display("Pa", "pascal", 0), Display("psf", "pound_force/foot**2", 1)),
    "N": _kind("force", Display("N", "newton", 0), Display("lbf", "pound_force", 0)),
    "N·m": _kind("torque", Display("N·m", "newton*metre", 1), Display("in-lb", "pound_force*inch", 0)),
    "L": _kind("volume", Display("L", "litre", 0), Display("gal", "US_liquid_gallon", 0, small_digits=1)),
    "m²": _kind("area", Display("m²", "metre**2", 2), Display("ft²", "foot**2", 1)),
    "kg/m²": _kind(
        "mass per area", Display("kg/m²", "kilogram/metre**2", 1), Display("lb/ft²", "pound/foot**2", 1)
    ),
    "kWh/m": _kind(
        "energy per length",
        Display("kWh/m", "kilowatt_hour/metre", 3, least_digits=0),
        Display("kWh/ft", "kilowatt_hour/foot", 3, least_digits=0),
    ),
    "kWh/kg": _kind(
        "energy per mass",
        Display("kWh/kg", "kilowatt_hour/kilogram", 3, least_digits=0),
        Display("kWh/lb", "kilowatt_hour/pound", 3, least_digits=0),
    ),
    "mΩ/m": _kind(
        "resistance per length",
        Display("mΩ/m", "milliohm/metre", 4),
        Display("mΩ/ft", "milliohm/foot", 4),
    ),
    "V": _same("voltage", "V", "volt", 1, "volt"),
    "A": _same("current", "A", "ampere", 1, "amp"),
    "kA": _same("current", "kA", "kiloampere", 1),
    "W": _same("power", "W", "watt", 0, "watt"),
    "kW": _same("power", "kW", "kilowatt", 1),
    "Wh": _same("energy", "Wh", "watt_hour", 0),
    "Ah": _same("charge", "Ah", "ampere_hour", 0),
    "Ω": _same("resistance", "Ω", "ohm", 3, "ohm"),
    "mΩ": _same("resistance", "mΩ", "milliohm", 2, "mohm"),
    "MΩ": _same("resistance", "MΩ", "megohm", 2, "mohm"),
    "mm²": _same("area", "mm²", "millimetre**2", 2, "mm2"),
    "W/m²": _same("irradiance", "W/m²", "watt/metre**2", 0, "w/m2"),
    "h": _same("time", "h", "hour", 1, "hour", "hr"),
    "d": _same("time", "days", "day", 2, "day", "d"),
    "s": _same("time", "s", "second", 2, "second", "sec"),
    "min": _same("time", "min", "minute", 0, "minute"),
    "°": _same("angle", "°", "degree", 1, "deg", "degree"),
    "%": _same("share", "%", "percent", 2),
    "": _same("number", "", "dimensionless", 2),
}

_FRACTION_SIGNS = dict(
    zip("½¼¾⅓⅔⅛⅜⅝⅞", ["1/2", "1/4", "3/4", "1/3", "2/3", "1/8", "3/8", "5/8", "7/8"], strict=True)
)
_SAME_SIGN = str.maketrans(
    {"′": "'", "’": "'", "‘": "'", "″": '"', "”": '"', "“": '"', "−": "-", "–": "-", "\u00a0": " ", "⁄": "/"}
)
_NUMBER = r"(?:\d+[ -]+\d+/\d+|\d+/\d+|\d[\d.,' ]*\d(?=')|\d[\d.,]*|[.,]\d+)"
# A unit may end in a point (ft.) and hold a hyphen (in-lb), never a digit save the ² of m2.
_TERM = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>(?:m2|ft2|w/m2|mm2|[^\d,+])*)")


@functools.cache
def _registry() -> Any:
    """Return the one register of units; made on first use because it takes a while."""
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """Return ``value`` in another unit (Pint's names)."""
    if from_unit == to_unit:
        return value
    if "degree" in from_unit and "delta" not in from_unit and from_unit != "degree":
        return float(_registry().Quantity(value, from_unit).to(to_unit).magnitude)
    return value * _factor(from_unit, to_unit)


@functools.cache
def _factor(from_unit: str, to_unit: str) -> float:
    """Return the factor between two units of one dimension."""
    return float(_registry().Quantity(1.0, from_unit).to(to_unit).magnitude)


def kind_of(unit: str) -> Kind:
    """Return the kind stored in ``unit``; an unknown unit is printed as it stands."""
    return KINDS.get(unit) or _same("number", unit, "dimensionless", 2)


# --- printing -----------------------------------------------------------------------------------------------


def show(
    value: float,
    unit: str,
    units: str,
    *,
    digits: int | None = None,
    trim: bool = False,
    parts: int = EIGHTHS,
) -> str:
    """Return the stored ``value`` [``unit``] as the shop writes it, with its unit.

    ``trim`` drops zeros after the point: right in a form, wrong in a column of a table. ``parts`` of an inch
    are what a tape is read to; what is drilled, or must come back from a form, is in sixteenths.
    """
    kind = kind_of(unit)
    shown = kind.display(units)
    amount = convert(float(value), kind.si_unit, shown.unit)
    if not math.isfinite(amount):
        return "–"
    if shown.style == "feet" and digits is None:
        return _feet_text(amount, parts)
    if shown.style == "inches" and digits is None:
        return _inches_text(amount, parts)
    least = 0 if trim else shown.least_digits if digits is None else None
    text = number_text(amount, _digits_of(shown, amount) if digits is None else digits, least_digits=least)
    return with_unit(text, shown.label)


def _digits_of(shown: Display, amount: float) -> int:
    """Return how many digits after the point an amount is printed with."""
    is_small = shown.small_digits is not None and abs(amount) < 10
    return shown.small_digits if is_small and shown.small_digits is not None else shown.digits


def with_unit(text: str, label: str) -> str:
    """Return a written number with its unit; degree and percent stand close."""
    return f"{text}{'' if label in {'°', '%', ''} else ' '}{label}"


def rough(value: float, unit: str, units: str) -> str:
    """Return a limit as people say it, two or three figures: for "usually 8' to 45'", never for a refusal."""
    kind = kind_of(unit)
    shown = kind.display(units)
    amount = convert(float(value), kind.si_unit, shown.unit)
    if shown.style == "feet":
        return _feet_text(round(amount) if abs(amount) >= 3 else round(amount * 12) / 12)
    if shown.style == "inches":
        return _inches_text(round(amount) if abs(amount) >= 3 else round(amount * 8) / 8)
    if amount:
        size = math.floor(math.log10(abs(amount)))
        amount = round(amount, (1 if size < 1 else 2) - size)
    return with_unit(number_text(amount, 4, least_digits=0), shown.label)


def tidy(value: float, unit: str, units: str) -> float:
    """Return a suggested value as a round number of the shop's own units: 16 in, not 15 3/4, for 400 mm.

    What is stored is a round number of SI already. Whole inches from 3 in, quarters from 1 in, else eighths;
    pounds to 10 from 100; degrees Fahrenheit to 5.
    """
    kind = kind_of(unit)
    shown = kind.display(units)
    if units != IMPERIAL:
        return value
    inches = {"foot": 12.0, "inch": 1.0}.get(shown.unit)
    amount = convert(float(value), kind.si_unit, shown.unit)
    size = abs(amount) * (inches or 1.0)
    if inches:
        step = (1.0 if size >= 3 else 0.25 if size >= 1 else 0.125) / inches
    elif shown.label == "°F":
        step = 5.0
    else:
        step = 10.0 if shown.label == "lb" and size >= 100 else 0.0
    return (
        float(f"{convert(_rounded(amount / step, 0) * step, shown.unit, kind.si_unit):.9g}")
        if step
        else value
    )


def typed(value: float, unit: str, units: str) -> str:
    """Return the stored value as a person would type it: fine enough to come back the same, unit included."""
    kind = kind_of(unit)
    shown = kind.display(units)
    if shown.style != "decimal":
        return show(value, unit, units, parts=SIXTEENTHS)
    amount = convert(float(value), kind.si_unit, shown.unit)
    text = number_text(amount, max(shown.digits, 1) + 1, least_digits=0).replace(",", "")
    return with_unit(text, shown.label)


def number_text(amount: float, digits: int, *, least_digits: int | None = None) -> str:
    """Return a number with thousands separated and ``digits`` after the point; no negative zero."""
    text = f"{_rounded(amount, digits):,.{digits}f}"
    if least_digits is not None and "." in text:
        whole, _, part = text.partition(".")
        kept = part.rstrip("0").ljust(least_digits, "0")
        text = f"{whole}.{kept}" if kept else whole
    return text.removeprefix("-") if not text.strip("-0.,") else text


def _rounded(amount: float, digits: int) -> float:
    """Return ``amount`` rounded half away from zero, as people round."""
    scale = 10.0**digits
    scaled = abs(amount) * scale
    if scaled > 1e15:
        return amount
    # The small push undoes binary noise: 2.675 is stored as 2.67499999…
    return math.copysign(math.floor(scaled + 0.5 + 1e-9), amount) / scale


def _split(inches: float, parts: int) -> tuple[int, str]:
    """Return whole inches and the rest as a fraction of so many parts."""
    total = math.floor(inches * parts + 0.5)
    whole, rest = divmod(total, parts)
    return whole, str(Fraction(rest, parts)) if rest else ""


def _inches_text(inches: float, parts: int = EIGHTHS) -> str:
    """Return inches as ``16 1/2 in``."""
    whole, part = _split(abs(inches), parts)
    body = " ".join(filter(None, [str(whole) if whole or not part else "", part]))
    return f"{'-' if inches < 0 and (whole or part) else ''}{body} in"


def _feet_text(feet: float, parts: int = EIGHTHS) -> str:
    """Return feet as ``12' 6 1/2"``."""
    whole, part = _split(abs(feet) * 12, parts)
    foot, inch = divmod(whole, 12)
    inches = " ".join(filter(None, [str(inch) if inch or foot or not part else "", part]))
    body = f'{inches}"' if not foot else f"{foot}' {inches}\"" if inches != "0" else f"{foot}'"
    return f"-{body}" if feet < 0 and (whole or part) else body


# --- reading ------------------------------------------------------------------------------------------------


def read(text: str, unit: str, units: str) -> float:
    """Return what was typed in SI; a bare number is in the shop's own unit. Raise UnitError."""
    kind = kind_of(unit)
    cleaned = _cleaned(text)
    sign = -1.0 if cleaned.startswith("-") else 1.0
    terms = _terms(cleaned.lstrip("+-"), kind, units)
    if not terms or (kind.name == "temperature" and len(terms) > 1):
        raise _unreadable(text, kind, units)
    if kind.name == "temperature":  # its zero lies elsewhere: the sign goes in before
        total = convert(sign * terms[0][0], terms[0][1], kind.si_unit)
    else:
        total = sign * sum(convert(amount, name, kind.si_unit) for amount, name in terms)
    return float(f"{total:.12g}")  # takes away binary dust, nothing a tape could show


def _terms(cleaned: str, kind: Kind, units: str) -> list[tuple[float, str]]:
    """Return the amounts of ``12' 6 1/2"`` with their units; empty when the text has no such shape."""
    found: list[tuple[float, str]] = []
    position = 0
    while position < len(cleaned):
        match = _TERM.match(cleaned, position)
        if match is None:
            return []
        name = _unit_name(match["unit"], kind, found[-1][1] if found else "", units)
        if name is None:
            return []
        found.append((_number(match["number"], cleaned, units), name))
        position = match.end()
    return found


def _cleaned(text: str) -> str:
    """Return the text with one spelling for each sign: primes, minus, fractions."""
    out = text.strip()
    for sign, plain in _FRACTION_SIGNS.items():
        out = re.sub(rf"(?<=\d)\s*{sign}", f" {plain}", out).replace(sign, plain)
    return out.translate(_SAME_SIGN).replace("''", '"').lower()


def _number(text: str, typed: str, units: str) -> float:
    """Return one number of a term: ``6``, ``6.5``, ``6,5``, ``1,250``, ``6 1/2``, ``1/2``."""
    if "/" in text:
        whole, _, part = re.sub(r"[ -]+", " ", text).rpartition(" ")
        top, bottom = part.split("/")
        if int(bottom) == 0:
            raise UnitError(f"“{typed}” divides by zero.")
        return (int(whole) if whole else 0) + int(top) / int(bottom)
    plain = _decimal_text(text, typed, units)
    try:
        return float(plain)
    except ValueError:
        raise UnitError(f"“{typed}” is not a number that can be read.") from None


def _decimal_text(text: str, typed: str, units: str) -> str:
    """Return the number with a decimal point; a comma may be either a decimal or a thousands sign."""
    if "," not in text:
        return text
    if text.startswith("0,") or not re.fullmatch(r"\d{1,3}(,\d{3})+(\.\d+)?", text):
        return text.replace(",", ".") if text.count(",") == 1 and "." not in text else text
    if units == IMPERIAL or "." in text or text.count(",") > 1:
        return text.replace(",", "")
    plain, point = text.replace(",", ""), text.replace(",", ".")
    raise UnitError(f"“{typed}” can be read two ways: please write {plain} or {point}.")


def _unit_name(typed: str, kind: Kind, previous: str, units: str) -> str | None:
    """Return Pint's name of the typed unit; without one, the shop's own, or what follows the unit before."""
    name = " ".join(typed.split()).rstrip(".").strip()
    if not name:
        return {"foot": "inch", "pound": "ounce"}.get(previous) if previous else kind.display(units).unit
    known = {alias.lower(): pint_name for alias, pint_name in kind.aliases}
    singular = name.removesuffix("es") if name.removesuffix("es") in known else name.removesuffix("s")
    return known.get(name) or known.get(singular)


def _unreadable(text: str, kind: Kind, units: str) -> UnitError:
    """Return the error for text that is no quantity of this kind."""
    shown = kind.display(units)
    example = shown.example or f"12 {shown.label}".strip()
    article = "an" if kind.name[0] in "aeiou" else "a"
    return UnitError(f"“{text}” cannot be read as {article} {kind.name}; write it like {example}.")
