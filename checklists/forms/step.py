"""The form of one step: built from the step's fields, read into events, in the shop's units."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop

from checklists.rules.entries import Entry, EntryRefused, checked_value, entry_id
from checklists.rules.fields import (
    CHOICE,
    LINES,
    NONE,
    NUMBER,
    PHOTO,
    SEVERAL,
    SIGNATURE,
    TICK,
    FieldSpec,
    keys_of,
)
from checklists.rules.judging import FieldMark, Mark, StepMark
from checklists.rules.reducer import NOTE, SAFETY, canonical
from common.fields import QuantityField
from common.forms import ShopForm
from common.told import told_later

CAUSES: Final = (
    ("", _("Why again?")),
    ("Read again", _("Read again, same work")),
    ("Work redone", _("Work redone, then read again")),
    ("Meter or lead was wrong", _("Meter or lead was wrong")),
    ("Typing mistake", _("Typing mistake")),
)
#: What a reason why a step does not apply asks for beside itself.
_PROOFS: Final = {
    "other": ("not_here_why", gettext_noop("Does not apply: say why, in a few words.")),
    "no_sun": (
        "not_here_visit",
        gettext_noop("Does not apply today: say for which day the visit is booked."),
    ),
    "maker_forbids": ("not_here_photo", gettext_noop("Does not apply: add a photo of what the maker says.")),
}
#: Lengths of wire are read in decimal feet on a tape, not in inches and sixteenths.
_FORM_UNITS: Final = {"m": "m_run"}


class StepForm(ShopForm, forms.Form):
    """Everything one step asks for. Nothing is required here: what is missing keeps the hold shut instead."""

    submission = forms.UUIDField(widget=forms.HiddenInput)
    note = forms.CharField(
        required=False,
        max_length=2000,
        label=_("Note"),
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Kept with this step; never deleted."),
    )

    def __init__(self, *args: Any, step: int, mark: StepMark, reads_on: str = "", **kwargs: Any) -> None:
        self.step, self.mark = step, mark
        self.reads_on = reads_on  # the day on which the safety lines are to be read; empty when they were
        kwargs.setdefault("initial", {}).setdefault("submission", uuid.uuid4())
        super().__init__(*args, **kwargs)
        for found in mark.fields:
            for name, field in _form_fields(found, self.units):
                self.fields[name] = field

    def clean(self) -> dict[str, Any]:
        """Refuse numbers that must be whole; ask why when a failed number is recorded again."""
        cleaned = super().clean()
        if self.reads_on and "safety" not in self.data:  # one box a page, also where it holds many steps
            self.add_error(None, _("Read the safety lines above first, then tick that you have read them."))
        self._ask_for_proof(cleaned)
        for found in self.mark.fields:
            value = cleaned.get(found.spec.name)
            if found.spec.kind in {TICK, PHOTO} or value in (None, ""):
                continue
            try:
                checked_value(found.spec, value)
            except EntryRefused as problem:
                self.add_error(found.spec.name, str(problem))
                continue
            if self._needs_cause(found, value) and not cleaned.get(f"cause_{found.spec.name}"):
                self.add_error(
                    f"cause_{found.spec.name}",
                    f"{found.spec.label}: the last number failed and stays on record;"
                    " say why it is read again.",
                )
        return cleaned

    def _ask_for_proof(self, cleaned: dict[str, Any]) -> None:
        """Refuse a reason why a step does not apply without what it asks for beside itself."""
        name, words = _PROOFS.get(str(cleaned.get("not_here") or ""), ("", ""))
        stands = {found.spec.name for found in self.mark.fields if found.state.is_recorded}
        given = cleaned.get(name) or name in stands or self.files.get(self.add_prefix(name))
        if name and not given and (name != "not_here_photo" or not self.prefix):
            self.add_error(None, _(words))

    @staticmethod
    def _needs_cause(found: FieldMark, value: Any) -> bool:
        changed = canonical(value) not in {canonical(each) for each in found.state.values}
        return found.spec.kind == NUMBER and found.mark is Mark.FAIL and changed

    def entries(self, *, device: str = "") -> Iterator[Entry]:
        """Return the events of what was filled in; a value that stands already makes none."""
        submission = self.cleaned_data["submission"]
        ticked = self._ticked()
        for found in self.mark.fields:
            value = self._value(found, ticked)
            if value is None or found.spec.is_photo:
                continue
            if not found.state.is_conflict and canonical(value) in {canonical(v) for v in found.state.values}:
                continue
            yield Entry(
                id=entry_id(submission, self.step, found.spec.name, value),
                step=self.step,
                field=found.spec.name,
                value=value,
                unit=found.spec.unit,
                replaces=tuple(self._seen(found, submission)),
                cause=self.cleaned_data.get(f"cause_{found.spec.name}", "") or "",
                device=device,
            )
        if self.reads_on and "safety" in self.data:
            yield Entry(
                id=entry_id(submission, self.step, "safety", self.reads_on),
                step=self.step,
                verb=SAFETY,
                value=self.reads_on,
                device=device,
            )
        note = self.cleaned_data.get("note", "").strip()
        if note:
            yield Entry(
                id=entry_id(submission, self.step, "note", note), step=self.step, verb=NOTE, value=note
            )

    def _ticked(self) -> set[str]:
        """Return the fields of this step that were ticked on the page."""
        given = set(self.data.getlist("tick"))  # type: ignore[attr-defined]  # a QueryDict of the page
        return {found.spec.name for found in self.mark.fields if self.add_prefix(found.spec.name) in given}

    def _value(self, found: FieldMark, ticked: set[str]) -> Any:
        """Return what was recorded at a field: typed first, else ticked; None when nothing was."""
        spec = found.spec
        if spec.kind == TICK:
            return True if spec.name in ticked else None
        typed = self.cleaned_data.get(spec.name)
        if typed not in (None, ""):
            return checked_value(spec, typed)
        if spec.tick is not None and spec.name in ticked:
            return checked_value(spec, spec.tick)
        return None

    def _seen(self, found: FieldMark, submission: uuid.UUID) -> Iterator[uuid.UUID]:
        """Return the values the person saw: those the page listed, and what this same form sent before."""
        for text in self.data.get(self.add_prefix(f"seen_{found.spec.name}"), "").split():
            try:
                yield uuid.UUID(text)
            except ValueError:  # a page somebody edited: nothing was seen
                continue
        for event in found.state.standing:
            if event.id == entry_id(submission, self.step, found.spec.name, event.value):
                yield event.id


def _form_fields(found: FieldMark, units: str) -> Iterator[tuple[str, forms.Field]]:
    spec = found.spec
    if spec.kind in {TICK, PHOTO}:
        return
    own = _field(spec, units)
    if spec.kind in {LINES, SEVERAL}:
        own.initial = keys_of(found.value)
    yield spec.name, own
    if spec.kind == NUMBER and found.mark is Mark.FAIL:
        yield (
            f"cause_{spec.name}",
            forms.ChoiceField(choices=CAUSES, required=False, label=told_later(f"{spec.label}: why again?")),
        )


def _field(spec: FieldSpec, units: str) -> forms.Field:
    if spec.kind == NUMBER:
        return _StepNumber(
            unit=_FORM_UNITS.get(spec.unit, spec.unit),
            units=units,
            low=spec.min,
            high=spec.max,
            required=False,
            label=spec.label,
        )
    if spec.kind == CHOICE:
        return forms.ChoiceField(
            choices=spec.choices, widget=forms.RadioSelect, required=False, label=spec.label
        )
    if spec.kind in {LINES, SEVERAL}:
        return _StepList(spec)
    if spec.kind == SIGNATURE:
        return _StepSignature(
            required=False,
            label=spec.label,
            help_text=_("Printed name: typed here, the name is the signature."),
        )
    attrs = {"type": spec.format} if spec.format in {"date", "month"} else {"autocomplete": "off"}
    return _StepText(
        max_length=spec.max_length, required=False, label=spec.label, widget=forms.TextInput(attrs=attrs)
    )


class _StepNumber(QuantityField):
    """A reading: the keypad of the page may be used for it."""

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """Return the marks by which the page finds its number fields."""
        return super().widget_attrs(widget) | {"data-pad": "", "maxlength": "60"}


class _StepList(forms.MultipleChoiceField):
    """Lines to tick, or several of a list: what is ticked as it is stored."""

    def __init__(self, spec: FieldSpec) -> None:
        none = [(NONE, spec.none_says or "None")] if spec.kind == SEVERAL else []
        self.words = dict([*none, *(spec.lines or spec.choices)])
        super().__init__(
            choices=list(self.words.items()),
            widget=forms.CheckboxSelectMultiple,
            required=False,
            label=spec.label,
        )

    def clean(self, value: Any) -> Any:
        """Return the keys in the order of the list; none of them beside others is not taken."""
        ticked = super().clean(value)
        if NONE in ticked and len(ticked) > 1:
            raise ValidationError(f"{self.label}: “{self.words[NONE]}” or what there is, not both.")
        return ",".join(key for key in self.words if key in ticked)


class _StepSignature(forms.CharField):
    """A signature by typed name; the tablet takes one that is drawn."""

    def clean(self, value: Any) -> Any:
        """Return the form a signature is stored in."""
        name = super().clean(value)
        return {"name": name, "ink": ""} if name else ""


class _StepText(forms.CharField):
    """Text, serial, date or month."""

    def clean(self, value: Any) -> Any:
        """Say which field is too long."""
        try:
            return super().clean(value)
        except ValidationError as problem:
            raise ValidationError([f"{self.label}: {message}" for message in problem.messages]) from None
