"""What the customer gets, in plain sentences made from the design; the estimator goes over them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import sizing
from common import units as trade
from jobs.models import ChargerSheet, Design, Survey

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
#: Loads named one by one; the rest is "and more".
_NAMED_LOADS = 4
_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def what_you_get(design: Design, result: sizing.SystemResult | None, units: str) -> str:
    """Return the design in a few sentences a customer understands; the design comes with its parts."""
    survey = design.job.survey
    sentences = [
        _panels(design, units),
        _bank(design, result, units),
        _inverter(design),
        _charging(design),
        _runs(survey, result, units),
    ]
    return " ".join(one for one in sentences if one)


def gap_words(
    survey: Survey,
    result: sizing.SystemResult,
    others: Sequence[tuple[str, sizing.SystemResult]] = (),
) -> str:
    """Return what falls short of what was asked for, and what would close it; blank where nothing does.

    ``others`` are the options beside it, by name.
    """
    days = _days_short(survey, result)
    if days:
        days = f"{days} {_closed_by(survey, result, others)}"
    return " ".join(one for one in (days, _month_short(survey, result)) if one)


def _closed_by(
    survey: Survey, result: sizing.SystemResult, others: Sequence[tuple[str, sizing.SystemResult]]
) -> str:
    """Return which option gives more days: the leanest that is enough, else the one that gives most."""
    own = result.bank.autonomy_days or 0.0
    more = [(name, other) for name, other in others if (other.bank.autonomy_days or 0.0) > own + 0.05]
    if not more:
        return "More battery, or using less, would close it: ask us."
    more.sort(key=lambda each: each[1].bank.autonomy_days or 0.0)
    enough = [each for each in more if (each[1].bank.autonomy_days or 0.0) >= survey.autonomy_days]
    name, other = enough[0] if enough else more[-1]
    return f"{name} gives {days_text(other)}."


def design_month(result: sizing.SystemResult, month: int | None) -> sizing.MonthHarvest | None:
    """Return the leg and month the design is judged by: the chosen month, else the leanest."""
    known = [row for row in result.harvest if row.harvest_wh is not None and row.balance_wh is not None]
    chosen = [row for row in known if row.month == month] or known
    return min(chosen, key=lambda row: row.balance_wh or 0.0, default=None)


def month_name(number: int) -> str:
    """Return a month by its number, 1 to 12."""
    return _MONTHS[number - 1]


def days_asked(survey: Survey) -> str:
    """Return the days without sun a customer asked for, in words."""
    return _days(survey.autonomy_days)


def days_text(result: sizing.SystemResult) -> str:
    """Return the days without sun a design gives, rounded down: a promise is not rounded up."""
    days = result.bank.autonomy_days
    return "" if days is None else trade.number_text(_down(days), 1)


def _down(days: float) -> float:
    return int(days * 10) / 10


def _days(days: float) -> str:
    count = int(days)
    text = _COUNTS[count] if days == count and 0 < count < len(_COUNTS) else trade.number_text(days, 1)
    return f"{text} day{'' if days == 1 else 's'}"


def _days_short(survey: Survey, result: sizing.SystemResult) -> str:
    days = result.bank.autonomy_days
    if days is None or days >= survey.autonomy_days:
        return ""
    return f"You asked for {_days(survey.autonomy_days)} without sun; this gives {days_text(result)}."


def _month_short(survey: Survey, result: sizing.SystemResult) -> str:
    """Return how much of the use the sun covers in the month the design is judged by, where it is not all."""
    row = design_month(result, survey.design_month)
    use = result.energy.e_day_wh
    if row is None or row.harvest_wh is None or row.balance_wh is None or row.balance_wh >= 0 or use <= 0:
        return ""
    percent = trade.number_text(int(100 * row.harvest_wh / use), 0)
    month = month_name(row.month)
    return (
        f"On an average day in {month} ({row.leg}) the sun covers {percent}% of what you use;"
        " the rest comes from driving, hook-up or using less."
    )


def _panels(design: Design, units: str) -> str:
    sheets = [panel.part.panel_sheet for panel in design.panels.all() if hasattr(panel.part, "panel_sheet")]
    if not sheets:
        return ""
    sizes = Counter(trade.show(sheet.pmp_w, "W", units, digits=0) for sheet in sheets)
    named = _joined(
        [f"{_count(count)} {size} panel{'' if count == 1 else 's'}" for size, count in sizes.items()]
    )
    total = trade.show(sum(sheet.pmp_w for sheet in sheets), "W", units, digits=0)
    together = f", {total} together" if len(sheets) > 1 else ""
    named = f"{named[:1].upper()}{named[1:]} on the roof{together}"
    return f"{named}, placed clear of shade as far as the roof allows."


def _bank(design: Design, result: sizing.SystemResult | None, units: str) -> str:
    bank = getattr(design, "bank", None)
    if bank is None:
        return "Your batteries stay as they are."
    sheet = bank.part.battery_sheet
    if not bank.is_new:
        return "Your batteries stay as they are."
    chemistry = {"lfp": "lithium", "agm": "AGM", "gel": "gel", "flooded": "flooded lead"}[sheet.chemistry]
    usable = ""
    if result is not None and result.bank.usable_wh:
        usable = f" with {trade.show(result.bank.usable_wh, 'Wh', units, digits=0)} you can use"
    batteries = "battery" if bank.quantity == 1 else "batteries"
    return f"{_count(bank.quantity).capitalize()} {chemistry} {batteries}{usable}."


def _inverter(design: Design) -> str:
    inverter = getattr(design, "inverter", None)
    if inverter is None:
        return ""
    power = trade.number_text(inverter.part.inverter_sheet.power_w, 0)
    charger = " and charges the batteries from hook-up" if inverter.part.inverter_sheet.is_charger else ""
    return f"A {power} W inverter gives household power from the batteries{charger}."


def _charging(design: Design) -> str:
    new = [source.part for source in design.sources.all() if source.part and source.existing_id is None]
    if any(part.charger_sheet.kind == ChargerSheet.Kind.DC_DC for part in new):
        return "The engine charges the batteries while you drive."
    return ""


def _runs(survey: Survey, result: sizing.SystemResult | None, units: str) -> str:
    loads = sorted(survey.loads.all(), key=lambda load: -load.energy_wh)
    names = list(dict.fromkeys(_short(load.name) for load in loads if load.energy_wh > 0))
    if not names or result is None:
        return ""
    named = _joined([*names[:_NAMED_LOADS], *(["more"] if len(names) > _NAMED_LOADS else [])])
    use = trade.show(result.energy.e_day_wh, "Wh", units, digits=0)
    return f"Planned for what you told us you run: {named}, {use} a day with losses."


def _short(name: str) -> str:
    """Return a load's name as it stands in a sentence, without what is said after a colon or comma."""
    short = name.split(":")[0].split(",")[0].strip()
    return short if short[1:2].isupper() else short[:1].lower() + short[1:]


def _count(number: float) -> str:
    count = int(number)
    return _COUNTS[count] if 0 <= count < len(_COUNTS) else str(count)


def _joined(words: Sequence[str] | Iterable[str]) -> str:
    words = list(words)
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
