"""What a draft would look like if it were proposed today: line by line, with edits by hand kept.

Three readings of each line are laid side by side: as it was proposed, as it stands, as it would be proposed
now. What nobody touched follows the new proposal; what a person changed stays as they left it, and that is
said.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction

from common.currency import money_text
from common.told import in_english
from jobs.engine.stored import design_in_full, is_current, latest_run
from jobs.models import Design, LineKind, Quote, SizingRun
from jobs.quote import money
from jobs.quote.draft import QuoteRefused, locked_draft, quote_price, scope_of, terms_of
from jobs.quote.lines import LineDraft, Rates, draft_of, line_of_json, priced, proposed_json
from jobs.quote.proposal import Trip, propose
from jobs.shop.log import log

#: What a person may change of a line, and a new proposal too.
_MOVING: Final = ("text", "quantity", "unit", "unit_cost", "markup", "is_margin", "is_banded")
#: The decimals the columns of a line keep.
_PLACES: Final = {
    "quantity": Decimal("0.00001"),
    "unit_cost": Decimal("0.0001"),
    "markup": Decimal("0.0001"),
    "unit_price": Decimal("0.0001"),
}


@dataclass(frozen=True, slots=True)
class LineChange:
    """What would become of one line: its words, what it is now, what it would be, and what a hand keeps."""

    kind: str  # added, removed, changed, kept
    text: str
    was: str
    now: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Rerun:
    """A draft as it would be proposed today, and how that differs."""

    design: Design
    run: SizingRun | None
    lines: list[LineDraft]
    proposed: list[LineDraft]
    changes: list[LineChange]


def rerun_of(quote: Quote) -> Rerun | None:
    """Return what a draft would become on the newest revision of its plan; None where its start is not known.

    A draft begun by an earlier release does not know how its lines were proposed.
    """
    if not quote.proposed:
        return None
    design = design_in_full(_newest(quote).pk)
    run = latest_run(design)
    options = quote.proposed["options"]
    trip = Trip(Decimal(options["miles"]), Decimal(options["hours_each_way"]))
    proposal = propose(
        design=design,
        shop=quote.job.shop,
        run=run,
        trip=trip,
        survey_fee_paid=Decimal(options["survey_fee_paid"]),
        by_band=bool(options["by_band"]),
    )
    rates, currency = Rates.of_shop(quote.job.shop), quote.job.shop.currency
    fresh = [_stored(line) for line in priced(proposal.lines, rates)]
    base = [line_of_json(row) for row in quote.proposed["lines"]]
    ours = [draft_of(line) for line in quote.lines.all()]
    fates = _merged(base, ours, fresh, rates)
    changes = [change for change in (_change(fate, currency) for fate in fates) if change]
    return Rerun(design, run, [fate.done for fate in fates if fate.done], fresh, changes)


@in_english
@transaction.atomic
def quote_rerun(*, quote: Quote, edits: int, actor: User, at: datetime) -> Quote:
    """Propose a draft anew on the newest revision of its plan; what was changed by hand stays."""
    quote = locked_draft(quote, actor)
    found = rerun_of(quote)
    if found is None or not quote.proposed:
        raise QuoteRefused("This draft does not know how it was proposed: begin a new quote instead.")
    if found.run is not None and not is_current(found.design, found.run):
        raise QuoteRefused("The design was sized before something changed: size it again first.")
    options = quote.proposed["options"]
    done = quote_price(
        quote=quote, terms=terms_of(quote), lines=found.lines, scope=scope_of(quote), edits=edits,
        actor=actor, at=at,
    )  # fmt: skip
    done.design, done.run = found.design, found.run
    done.proposed = {"options": options, "lines": proposed_json(found.proposed, {})["lines"]}
    done.save(update_fields=["design", "run", "proposed"])
    log(shop=quote.job.shop, job=quote.job, actor=actor, verb="quote proposed anew", detail=str(quote), at=at)
    return done


def moved_words(quote: Quote) -> list[str]:
    """Return what moved under a quote that is out: survey or catalog, a newer revision, parts' costs.

    Only for who may see costs.
    """
    design = design_in_full(quote.design_id)
    words = []
    if quote.run is not None and not is_current(design, quote.run):
        words.append("The survey, the vehicle or the catalog's data changed since it was sized.")
    newest = _newest(quote)
    if newest.pk != quote.design_id:
        words.append(f"There is a newer design: {newest}.")
    dearer = [
        f"{line.part.name} {money_text(line.unit_cost, quote.job.shop.currency)} → "
        f"{money_text(line.part.cost, quote.job.shop.currency)}"
        for line in quote.lines.all()
        if line.part is not None and line.part.cost and line.part.cost != line.unit_cost
    ]
    if dearer:
        more = f" and {len(dearer) - 4} more" if len(dearer) > 4 else ""
        words.append(f"Costs moved: {'; '.join(dearer[:4])}{more}.")
    return words


def _newest(quote: Quote) -> Design:
    """Return the newest revision of the quote's plan."""
    same = quote.job.designs.filter(option=quote.design.option).order_by("-number").first()
    return same or quote.design


@dataclass(frozen=True, slots=True)
class _Fate:
    """One line: as it stands, as it would stand, how it would be proposed, and what a hand keeps of it."""

    line: LineDraft | None
    done: LineDraft | None
    will: LineDraft | None
    by_hand: bool


def _merged(
    base: Sequence[LineDraft], ours: Sequence[LineDraft], fresh: Sequence[LineDraft], rates: Rates
) -> list[_Fate]:
    """Return the fate of every line, done ones priced; lines that come anew are last."""
    was, now, will = _by_key(base), _by_key(ours), _by_key(fresh)
    fates = [_one(was.get(key), line, will.get(key)) for key, line in now.items()]
    new = [line for key, line in will.items() if key not in now and key not in was]
    fates += [_Fate(None, line, line, by_hand=False) for line in new]
    again = iter(priced([fate.done for fate in fates if fate.done], rates))
    return [replace(fate, done=_stored(next(again))) if fate.done else fate for fate in fates]


def _one(was: LineDraft | None, line: LineDraft, will: LineDraft | None) -> _Fate:
    """Return what becomes of one line that stands in the draft; one added by hand just stays."""
    if was is None:
        return _Fate(line, line, None, by_hand=False)
    moving = _moving(line)
    touched = {name for name in moving if getattr(line, name) != getattr(was, name)}
    if will is None:
        return _Fate(line, line if touched else None, None, by_hand=bool(touched))
    moved = {name for name in moving if getattr(will, name) != getattr(was, name)}
    done = replace(line, **{name: getattr(will, name) for name in moved - touched})
    return _Fate(line, done, will, by_hand=bool(moved & touched))


def _moving(line: LineDraft) -> tuple[str, ...]:
    """Return what of a line is anybody's to change; the rest follows from it: a part's price from its cost,
    the sums of a share from the parts.
    """
    if money.is_share(line.kind, line.unit):
        return tuple(name for name in _MOVING if name != "unit_cost")
    return _MOVING if line.kind == LineKind.PART else (*_MOVING, "unit_price")


def _change(fate: _Fate, currency: str) -> LineChange | None:
    """Return how a line's fate is said; None where nothing happens to it."""
    stands = _words(fate.line, currency) if fate.line else ""
    now = _words(fate.done, currency) if fate.done else ""
    text = (fate.done or fate.line or fate.will).text  # type: ignore[union-attr]  # one of them is there
    if fate.line is None:
        return LineChange("added", text, "", now)
    if fate.done is None:
        return LineChange("removed", text, stands, "")
    if fate.by_hand:
        proposed = f"proposed now: {_words(fate.will, currency)}" if fate.will else "no longer proposed"
        return LineChange("kept", text, stands, now, f"Changed by hand, so it stays; {proposed}.")
    is_same = now == stands and fate.done.text == fate.line.text
    return None if is_same else LineChange("changed", text, stands, now)


def _stored(line: LineDraft) -> LineDraft:
    """Return a line with the decimals its columns keep, so that like is compared with like."""
    digits = {name: getattr(line, name) for name in _PLACES if getattr(line, name) is not None}
    return replace(
        line, **{name: value.quantize(_PLACES[name], ROUND_HALF_UP) for name, value in digits.items()}
    )


def _by_key(lines: Iterable[LineDraft]) -> dict[tuple[str, str, int], LineDraft]:
    """Return lines by what they are; the second of a kind has a number of its own."""
    found: dict[tuple[str, str, int], LineDraft] = {}
    for line in lines:
        about = line.about
        found[*about, sum(key[:2] == about for key in found)] = line
    return found


def _words(line: LineDraft, currency: str) -> str:
    quantity = f"{line.quantity:f}"
    quantity = quantity.rstrip("0").rstrip(".") if "." in quantity else quantity
    return f"{quantity} {line.unit} at {money_text(line.unit_price, currency)}"
