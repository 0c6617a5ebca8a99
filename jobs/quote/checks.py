"""What stands between a draft and the customer: what forbids sending, and what needs whom."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

import sizing
from common import units as trade
from common.templatetags.show import money
from jobs.engine.stored import result_of
from jobs.engine.subjects import subject_names
from jobs.models import InverterSheet, Quote, QuoteLine, SizingRun

#: Above this total a second pair of eyes looks at a quote. A starting value of ours, no source. [money]
REVIEW_TOTAL: Final = Decimal(8000)
#: So does a bank of this voltage and above. A starting value of ours, no source. [V]
REVIEW_V: Final = 48
#: Lines without a price named one by one before sending. [-]
NAMED: Final = 5


@dataclass(slots=True)
class SendCheck:
    """``refusals`` nobody passes; ``for_owner`` the owner, with a reason; ``for_review`` a second person."""

    refusals: list[str] = field(default_factory=list)
    for_owner: list[str] = field(default_factory=list)
    for_review: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def send_check(quote: Quote, run: SizingRun | None) -> SendCheck:
    """Return what stands in the way of sending this draft, in sentences for the person at the desk."""
    found = SendCheck()
    lines = list(quote.lines.all())
    if not lines:
        found.refusals.append("The quote has no lines yet.")
    elif quote.total <= 0:
        found.refusals.append("The quote adds up to zero: price its lines first.")
    _look_for_prices(found, lines)
    _look_at_margin(found, quote)
    _look_at_run(found, quote, run)
    found.for_review = review_reasons(quote)
    if not quote.job.vehicle.customer.email:
        found.notes.append(
            "There is no e-mail address for this customer: copy the link and send it yourself."
        )
    return found


def review_reasons(quote: Quote) -> list[str]:
    """Return why a second person should read this quote before it goes out; empty when nobody need."""
    reasons = []
    if quote.total > REVIEW_TOTAL:
        reasons.append(f"its total is above {money(REVIEW_TOTAL, quote.job.shop.currency)}")
    if quote.job.survey.v_nominal_v >= REVIEW_V:
        reasons.append(f"the system is {quote.job.survey.v_nominal_v} V")
    inverter = getattr(quote.design, "inverter", None)
    sheet: InverterSheet | None = getattr(inverter.part, "inverter_sheet", None) if inverter else None
    if sheet is not None and sheet.is_charger:
        reasons.append("it has an inverter-charger")
    return reasons


def _look_for_prices(found: SendCheck, lines: list[QuoteLine]) -> None:
    missing = [line.text for line in lines if line.is_unpriced]
    if missing:
        more = f" and {len(missing) - NAMED} more" if len(missing) > NAMED else ""
        found.for_owner.append(f"Price missing: {'; '.join(missing[:NAMED])}{more}. The margin is unknown.")


def _look_at_margin(found: SendCheck, quote: Quote) -> None:
    margin = quote.margin_fraction
    if margin is None:
        return
    shop = quote.job.shop
    percent = f"{margin * 100:.2f}"
    if margin < shop.margin_block:
        found.for_owner.append(
            f"The gross margin is {percent}%, under the shop's floor of {_percent(shop.margin_block)}%."
        )
    elif margin < shop.margin_caution:
        found.notes.append(
            f"The gross margin is {percent}%, under the {_percent(shop.margin_caution)}% you aim to keep."
        )


def _look_at_run(found: SendCheck, quote: Quote, run: SizingRun | None) -> None:
    if run is None:
        found.refusals.append("The design has not been sized: size it first.")
        return
    result = result_of(run)
    blocks = [check for check in result.checks if check.blocks]
    lines = _by_cause(blocks, quote)
    found.for_owner += [f"The design is blocked: {line.title}. {_told(line)}" for line in lines]
    unknown = sum(1 for check in result.checks if check.verdict is sizing.Verdict.NOT_ENOUGH_DATA)
    if unknown:
        found.notes.append(
            f"{_count(unknown, 'check')} could not be made because facts are missing; the quote names them."
        )
    guesses = {guess for check in result.checks for guess in check.guesses}
    if guesses:
        found.notes.append(f"Results are based on {_count(len(guesses), 'guess')}; the quote says so.")


def _by_cause(blocks: list[sizing.Check], quote: Quote) -> list[sizing.Attention]:
    """Return one line a cause; what the blocks rest on is told elsewhere."""
    names = subject_names(quote.design) if blocks else {}
    lines = sizing.grouped(blocks, subject_names=names)
    return [line for line in lines if line.verdict is sizing.Verdict.BLOCK]


def _told(line: sizing.Attention) -> str:
    return " ".join(f"{subjects}: {words}" if subjects else words for subjects, words in line.told)


def _count(number: int, noun: str) -> str:
    plural = f"{noun}es" if noun.endswith("s") else f"{noun}s"
    return f"{number} {noun if number == 1 else plural}"


def _percent(fraction: Decimal) -> str:
    return trade.number_text(float(fraction) * 100, 0)


def margin_verdict(margin: Decimal | None, *, caution: Decimal, block: Decimal) -> str:
    """Return pass, caution or block for a gross margin, or not enough data."""
    if margin is None:
        return str(sizing.Verdict.NOT_ENOUGH_DATA)
    if margin < block:
        return str(sizing.Verdict.BLOCK)
    return str(sizing.Verdict.CAUTION if margin < caution else sizing.Verdict.PASS)
