"""Builds the page of one step: fields, bands, cards, neighbors, the table that goes with it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final
from uuid import UUID

import sizing
from checklists.forms.step import StepForm
from checklists.models import Deviation, StepEvent, is_apart
from checklists.office.overview import next_open_step, page_of
from checklists.plan.roles import Role
from checklists.record.circuits import circuit_rows
from checklists.record.late import late_records
from checklists.record.read import Work
from checklists.record.wording import quantity_text, value_text
from checklists.rules.fields import LINES, NUMBER
from checklists.rules.ink import ink_uri, is_ink
from checklists.rules.install import StepInfo
from checklists.rules.judging import FieldMark, Mark, StepMark, in_band, photo_words
from checklists.rules.readings import check_of_string, drive_release, sun_of
from checklists.rules.reducer import Event
from checklists.rules.seals import seal_count
from common import units as trade

#: Steps that carry a table or a picture of their own below the fields.
EXTRAS: Final[Mapping[str, str]] = {
    Role.FEET: "seals",
    Role.SEAL_UNDER: "seals",
    Role.SEAL_OVER: "seals",
    Role.UNUSED_HOLES: "seals",
    Role.SEAL_COUNT: "seals",
    Role.GLAND_BOX: "seals",
    Role.EDGES_METALS: "seals",
    Role.CHARGE_SUM: "charge_sum",
    Role.SCHEDULE_READ: "schedule",
    Role.OPEN_ITEMS: "open_items",
    Role.READINGS_COMPARED: "readings",
    Role.STRING_TESTS: "readings",
    Role.READINGS_PASS: "readings",
    Role.RELEASE: "release",
    Role.LABELS: "labels",
    Role.SIGN_OFF: "sign",
}

#: The fields by which a step says that it does not apply: the reason, then what proves it.
LEAVING: Final = ("not_here", "not_here_why", "not_here_photo", "not_here_visit")
_TABLE: Final = "checklists:table_detail"


@dataclass(frozen=True, slots=True)
class StandingValue:
    """One value that stands at a field, as printed, with who and when."""

    event: Event
    text: str
    svg: str = ""  # a drawn signature, as an address
    is_out: bool = False  # one of a dispute that is out of band by itself

    @property
    def came_late(self) -> bool:
        """Return whether it was done at another time than it reached us."""
        return is_apart(self.event.done_at, self.event.received_at)


@dataclass(frozen=True, slots=True)
class Band:
    """An acceptance band as a bar: positions in the bar's own 0-100."""

    low_x: float
    high_x: float
    value_x: float | None
    is_in: bool

    @property
    def width(self) -> float:
        """Return the length of the accepted part."""
        return round(self.high_x - self.low_x, 2)


@dataclass(frozen=True, slots=True)
class FieldView:
    """One field as the page prints it."""

    mark: FieldMark
    bound: Any
    cause: Any
    standing: tuple[StandingValue, ...]
    earlier: tuple[StandingValue, ...]
    expected: str
    accepted: str
    band: Band | None
    hints: tuple[str, ...]
    low: str = ""
    high: str = ""
    tick_words: str = ""
    unit: str = ""
    key: str = ""  # the name of its inputs on the page

    @property
    def spec(self) -> Any:
        """Return what the field asks."""
        return self.mark.spec

    @property
    def seen_key(self) -> str:
        """Return the name under which the page says which values it showed."""
        return self.key.removesuffix(self.spec.name) + f"seen_{self.spec.name}"

    @property
    def photo_words(self) -> str:
        """Return how many pictures stand here, of how many."""
        return photo_words(self.spec, len(self.mark.state.photos))

    @property
    def is_counted(self) -> bool:
        """Return whether one tap may record the whole count."""
        return bool(self.tick_words) and not self.standing

    @property
    def says(self) -> str:
        """Return what is wrong, without the name that stands above it already."""
        if self.mark.mark is Mark.CONFLICT:  # the values stand above, with their names, in the shop's units
            return "Recorded twice and different. Which one is right? Record it: both stay in the history."
        words = self.mark.sentence.removeprefix(f"{self.spec.label}: ")
        return words[:1].upper() + words[1:]

    @property
    def seen(self) -> str:
        """Return the ids of the values shown, for the form."""
        return " ".join(str(each.event.id) for each in (*self.standing, *self.earlier))

    @property
    def standing_ids(self) -> str:
        """Return the ids of what stands: two people may have ticked one thing, and one tap undoes it."""
        return " ".join(str(each.event.id) for each in self.standing)

    @property
    def is_bad(self) -> bool:
        """Return whether the value is out of band or disputed."""
        return self.mark.mark in {Mark.FAIL, Mark.CONFLICT}

    @property
    def asks(self) -> bool:
        """Return whether the input is open: nothing stands here yet, or what stands is not right."""
        is_half = self.spec.kind == LINES and self.mark.mark is Mark.MISSING
        return not self.standing or self.is_bad or is_half


@dataclass(frozen=True, slots=True)
class Doubt:
    """One value out of band, asked about once more before it is saved."""

    title: str
    value: str
    says: str
    hints: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason for which a step may not apply, and the field of what proves it, if any."""

    key: str
    words: str
    proof: FieldView | None


@dataclass(frozen=True, slots=True)
class Extra:
    """A table or a picture that belongs to the steps of one role alone."""

    template: str
    data: Any


@dataclass
class StepPage:
    """Everything the page of one step prints."""

    step: StepInfo
    mark: StepMark
    form: StepForm
    fields: tuple[FieldView, ...]
    previous: StepInfo | None
    following: StepInfo | None
    next_open: StepInfo | None
    number: int
    total: int
    design_number: int
    locks: tuple[str, ...]
    safety: tuple[str, ...]
    card: tuple[str, ...]
    hold: Any
    deviations: tuple[Deviation, ...]
    history: tuple[StepEvent, ...]
    late: Mapping[UUID, tuple[str, ...]]
    extra: Extra | None = None
    is_in_table: bool = False
    is_row: bool = False  # filled from a table, which is gone back to
    leaving: tuple[FieldView, ...] = ()  # "does not apply" and its proof, once they stand
    reasons: tuple[Reason, ...] = ()  # why it may not apply, as long as it does
    doubts: tuple[Doubt, ...] = ()
    previous_page: str = ""
    following_page: str = ""


def step_page(work: Work, step: StepInfo, form: StepForm, *, units: str) -> StepPage:
    """Return the page of one step."""
    steps = work.install.in_scope
    place = next((i for i, each in enumerate(steps) if each is step), None)
    mark, whole = work.install.mark(step), work.install.whole_state(step)
    views = [field_view(found, form, step, units, whole[found.spec.name].standing) for found in mark.fields]
    previous = steps[place - 1] if place else None
    following = steps[place + 1] if place is not None and place + 1 < len(steps) else None
    return StepPage(
        step=step,
        mark=mark,
        form=form,
        fields=tuple(each for each in views if each.spec.name not in LEAVING),
        previous=previous,
        following=following,
        next_open=next_open_step(work, step) if place is not None else None,
        number=(place or 0) + 1,
        total=len(steps),
        design_number=work.checklist.design.number,
        locks=work.holds.locks(step),
        safety=step.traits.safety,
        card=tuple(row["says"] for row in step.card if row["when"] == "always"),
        hold=work.holds.of_step(step) if step.is_hold else None,
        deviations=tuple(
            row for row in work.deviations if row.step_id == step.pk and row.state != Deviation.State.RESOLVED
        ),
        history=_history(work, step),
        late=late_records(work, only={step.pk}),
        extra=extra_of(work, step),
        is_in_table=bool(step.subject) and sum(each.code == step.code for each in steps) > 1,
        is_row=place is not None and page_of(work, step) == _TABLE,
        leaving=tuple(_leaving(views)),
        reasons=tuple(_reasons(views)),
        previous_page=_neighbor_page(work, step, previous),
        following_page=_neighbor_page(work, step, following),
    )


def _neighbor_page(work: Work, step: StepInfo, other: StepInfo | None) -> str:
    """Return the page of the step before or after: of a row the next row, of anything else its table."""
    if other is None:
        return ""
    return "checklists:step_detail" if other.code == step.code else page_of(work, other)


def _leaving(views: list[FieldView]) -> Iterator[FieldView]:
    """Yield "does not apply" once it stands, with what is asked as its proof."""
    own = [each for each in views if each.spec.name in LEAVING]
    if any(each.standing for each in own if each.spec.name == LEAVING[0]):
        yield from (each for each in own if each.standing or each.mark.mark is not Mark.BLANK)


def _reasons(views: list[FieldView]) -> Iterator[Reason]:
    """Yield the reasons for which a step may not apply, while nobody gave one."""
    named = {each.spec.name: each for each in views}
    first = named.get(LEAVING[0])
    if first is None or first.standing:
        return
    proofs = {str((each.spec.required_if or {}).get("is")): each for each in views if each is not first}
    for key, words in first.spec.choices:
        proof = proofs.get(key)
        yield Reason(key, words, proof if proof and proof.spec.name in LEAVING else None)


def extra_of(work: Work, step: StepInfo) -> Extra | None:
    """Return what is printed below the fields of a step, or of the table it stands in."""
    name = EXTRAS.get(step.role, "")
    return Extra(f"checklists/_{name}.html", _EXTRA_DATA[name](work)) if name else None


def _history(work: Work, step: StepInfo) -> tuple[StepEvent, ...]:
    """Return what was ever recorded at a step, in the order it was done."""
    own = (event for event in work.events if event.step_id == step.pk)
    return tuple(sorted(own, key=lambda event: (event.done_at, event.serial)))


def field_view(
    found: FieldMark, form: StepForm, step: StepInfo, units: str, whole: tuple[Event, ...]
) -> FieldView:
    """Return one field as a page prints it."""
    spec = found.spec
    standing = tuple(_standing_values(found, found.state.standing, units))
    earlier = tuple(event for event in whole if event.design_number < step.since_design)
    is_number = spec.kind == NUMBER
    return FieldView(
        mark=found,
        bound=form[spec.name] if spec.name in form.fields else None,
        cause=form[f"cause_{spec.name}"] if f"cause_{spec.name}" in form.fields else None,
        standing=standing,
        earlier=tuple(_standing_values(found, earlier, units)),
        expected=value_text(found, found.expected, units) if found.expected not in (None, "") else "",
        accepted=band_text(found, units) if is_number else "",
        band=_band(found) if is_number else None,
        hints=tuple(_hints(found, step)),
        low=_shown_number(found.low, spec.unit, units),
        high=_shown_number(found.high, spec.unit, units),
        tick_words=_tick_words(found),
        unit=_unit_label(spec.unit, units) if is_number else "",
        key=form.add_prefix(spec.name),
    )


def _standing_values(found: FieldMark, events: tuple[Event, ...], units: str) -> Iterator[StandingValue]:
    for event in events:
        if event.photo is None:
            text, is_out = value_text(found, event.value, units), _is_out(found, event)
            yield StandingValue(event, text, _drawn(event.value), is_out)


def _drawn(value: Any) -> str:
    """Return the address of a drawn signature; empty for anything else."""
    return ink_uri(value["ink"]) if is_ink(value) else ""


def _is_out(found: FieldMark, event: Event) -> bool:
    """Return whether one of several numbers at a field is out of its band."""
    if found.spec.kind != NUMBER or not found.state.is_conflict:
        return False
    return not in_band(event.value, found.low, found.high, exclusive_high=found.spec.exclusive_high)


def band_text(found: FieldMark, units: str) -> str:
    """Return the accepted band in words."""
    unit = found.spec.unit
    low = None if found.low is None else quantity_text(found.low, unit, units)
    high = None if found.high is None else quantity_text(found.high, unit, units)
    if low and high:
        return f"{low} to {high}"
    if low:
        return f"at least {low}"
    if high:
        return f"under {high}" if found.spec.exclusive_high else f"at most {high}"
    return ""


def _shown_number(value: float | None, unit: str, units: str) -> str:
    """Return a limit as a bare number in the unit the person types, for the warning while typing."""
    if value is None:
        return ""
    kind = trade.kind_of("m_run" if unit == "m" else unit)
    return f"{trade.convert(value, kind.si_unit, kind.display(units).unit):.6g}"


def _unit_label(unit: str, units: str) -> str:
    """Return the unit as it stands beside the input."""
    return trade.kind_of("m_run" if unit == "m" else unit).display(units).label if unit else ""


def _tick_words(found: FieldMark) -> str:
    """Return what one tap records where a tick stands for a count."""
    if found.spec.tick is None:
        return ""
    return f"All {found.spec.tick:g}"


def _band(found: FieldMark) -> Band | None:
    """Return the bar of a band; None when there is none."""
    low, high = found.low, found.high
    if low is None and high is None:
        return None
    bottom = low if low is not None else min(0.0, (high or 0.0) * 0.5)
    top = high if high is not None else max(abs(bottom) * 2, bottom + 1)
    span = max(top - bottom, 1e-9)
    start, end = bottom - span * 0.5, top + span * 0.5

    def place(value: float) -> float:
        return round(min(100.0, max(0.0, (value - start) / (end - start) * 100)), 2)

    value = found.value
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return Band(
        low_x=place(bottom) if low is not None else 0.0,
        high_x=place(top) if high is not None else 100.0,
        value_x=place(float(value)) if is_number else None,
        is_in=found.mark not in {Mark.FAIL, Mark.CAUTION},
    )


def _hints(found: FieldMark, step: StepInfo) -> Iterator[str]:
    """Yield what the reading card says about the number that stands."""
    value = found.value
    if found.spec.kind != NUMBER or not isinstance(value, int | float) or found.mark is Mark.OK:
        return
    for row in step.card:
        if row["when"] in _situations(float(value), found):
            yield row["says"]


def _situations(value: float, found: FieldMark) -> Iterator[str]:
    if value < 0:
        yield "negative"
    elif value == 0 or (isinstance(found.expected, int | float) and abs(value) < 0.05 * abs(found.expected)):
        yield "zero"
    elif found.high is not None and value > found.high:
        yield "high"
    elif found.low is not None and value < found.low:
        yield "low"
        if isinstance(found.expected, int | float) and found.expected:
            share = value / found.expected
            if abs(share - 0.5) < 0.07:
                yield "half"


def readings_table(work: Work) -> dict[str, Any]:
    """Return each string's readings against what they should be."""
    rows = []
    for string in work.install.of_role(Role.STRING_TESTS):
        if not string.subject:
            continue
        current = work.install.step(Role.STRING_ISC, string.subject) or string
        rows.append(
            {
                "title": f"String {string.subject_name}",
                "voc": check_of_string(work.install, string, "voc_v", work.system),
                "isc": check_of_string(work.install, current, "isc_a", work.system),
            }
        )
    return {"sun": sun_of(work.install), "sun_code": work.install.code_of(Role.SUN), "rows": rows}


def open_items(work: Work) -> list[Any]:
    """Return what keeps the go shut."""
    go = next((hold for hold in work.holds.all() if hold.step.role == Role.GO), None)
    return [item for item in go.items if item.step.role not in {Role.OPEN_ITEMS, Role.GO}] if go else []


def charge_sum(work: Work) -> sizing.Check | None:
    """Return the judgment on everything that can charge at once."""
    return next((check for check in work.result.checks if check.key == "bank/charge_sum"), None)


def release(work: Work) -> dict[str, Any]:
    """Return when it may be driven."""
    sealed = [
        work.install.state(step).last_at
        for role in (Role.SEAL_OVER, Role.FIXTURES_SEALED)
        for step in work.install.of_role(role)
    ]
    known = [at for at in sealed if at is not None]
    at, words = drive_release(work.install, max(known, default=None))
    return {"at": at, "words": words}


_EXTRA_DATA: Final[Mapping[str, Callable[[Work], Any]]] = {
    "seals": lambda work: seal_count(work.install),
    "charge_sum": charge_sum,
    "schedule": circuit_rows,
    "labels": lambda work: work.result.circuits,
    "open_items": open_items,
    "readings": readings_table,
    "release": release,
    "sign": lambda work: None,
}
