"""Asks once more about values out of band before they are saved, with what the reading card says of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from checklists.forms.step import StepForm
from checklists.office.step import Doubt, field_view
from checklists.record.read import Work
from checklists.record.wording import value_text
from checklists.rules.entries import Entry
from checklists.rules.judging import Mark
from checklists.rules.reducer import RECORD
from jobs.views.access import ShopRequest


class Doubted(Exception):
    """Values out of band that nobody has looked at again: nothing is stored."""

    def __init__(self, doubts: tuple[Doubt, ...]) -> None:
        super().__init__("asked again")
        self.doubts = doubts


def refuse_doubtful(request: ShopRequest, work: Work, entries: Sequence[Entry], *, is_table: bool) -> None:
    """Refuse values out of band, unless somebody said on the page that they are what was read."""
    doubts = () if "sure" in request.POST else tuple(_doubts(request, work, entries, is_table))
    if doubts:
        raise Doubted(doubts)


def _doubts(request: ShopRequest, work: Work, entries: Sequence[Entry], is_table: bool) -> Iterator[Doubt]:
    """Yield the recorded values that are out of band; ``work`` is read with them recorded."""
    steps, units = {step.pk: step for step in work.install.steps}, request.shop.units
    for entry in entries:
        step = steps[entry.step]
        form = StepForm(step=step.pk, mark=work.install.mark(step), units=units)
        for found in form.mark.fields:
            is_asked = found.spec.name == entry.field and entry.verb == RECORD and not entry.photo
            if not is_asked or entry.field == "not_here" or found.mark not in {Mark.FAIL, Mark.CAUTION}:
                continue
            view = field_view(found, form, step, units, ())
            title = f"{step.row_title} · {found.spec.label}" if is_table else found.spec.label
            yield Doubt(title, value_text(found, found.value, units), view.says, view.hints)
