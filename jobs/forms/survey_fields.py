"""Which form field takes a fact of the field sheet."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _

from common import units as trade
from common.fields import QuantityField
from common.told import Words, told_later
from jobs.survey import CIRCUITS, DIFFICULTIES, PHOTOS, Fact

MONTHS: Final = (
    (1, _("Jan")), (2, _("Feb")), (3, _("Mar")), (4, _("Apr")), (5, _("May")), (6, _("Jun")),
    (7, _("Jul")), (8, _("Aug")), (9, _("Sep")), (10, _("Oct")), (11, _("Nov")), (12, _("Dec")),
)  # fmt: skip

#: What a question that may be open is answered with.
YES_NO_UNKNOWN: Final = (("unknown", _("Not known yet")), ("true", _("Yes")), ("false", _("No")))
#: Units of which a tape or a scale shows no more digits than a page prints.
_COARSE: Final = frozenset({"ft", "in", "lb", "gal", "°F"})


class FactField(QuantityField):
    """A quantity of the sheet: its value is shown short, and stays whole while it is untouched."""

    def prepare_value(self, value: Any) -> Any:
        """Return a stored number in the shop's units, no finer than a tape or a scale shows."""
        shown = trade.kind_of(self.unit).display(self._units)
        if value is None or isinstance(value, str) or shown.label not in _COARSE:
            return super().prepare_value(value)
        return trade.show(float(value), self.unit, self._units, trim=True).replace(",", "")


class ShareField(FactField):
    """A share stored as 0 to 1 and typed in percent."""

    unit = "%"

    def _text(self, value: float) -> str:
        return super()._text(value * 100)

    def _rough(self, value: float) -> str:
        return super()._rough(value * 100)

    def prepare_value(self, value: Any) -> Any:
        """Return a stored share in percent; typed text stays as typed."""
        return value if value is None or isinstance(value, str) else super().prepare_value(value * 100)

    def to_python(self, value: Any) -> float | None:
        """Return the share of the percent typed."""
        if not isinstance(value, str):
            return None if value is None else float(value)
        percent = super().to_python(value)
        return None if percent is None else percent / 100


class WholeField(FactField):
    """A count, or a year: written without a thousands mark."""

    def _rough(self, value: float) -> str:
        return super()._rough(value).replace(",", "")

    def _text(self, value: float) -> str:
        return super()._text(value).replace(",", "")

    def to_python(self, value: Any) -> int | None:
        """Return the count typed."""
        number = super().to_python(value)
        if number is None:
            return None
        if number != int(number):
            raise ValidationError(f"{self._name()} must be a whole number; you typed {value}.", code="whole")
        return int(number)

    def _clean_bound_field(self, bound: forms.BoundField) -> int | None:
        cleaned: int | None = self.clean(bound.data)
        return cleaned


class MonthsField(forms.TypedMultipleChoiceField):
    """Months as twelve boxes, stored as their numbers."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(choices=MONTHS, coerce=int, **kwargs)


def field_for(fact: Fact, model: type[models.Model]) -> forms.Field:
    """Return the form field for a fact stored in that column; blank is allowed where the column allows it."""
    column: Any = model._meta.get_field(fact.name)
    own = _OWN.get(fact.name)
    if own is not None:
        return own(fact)
    if fact.unit is not None:
        return _quantity(fact, is_required=not column.null)
    return _plain(fact, column)


def _quantity(fact: Fact, *, is_required: bool) -> QuantityField:
    kind = ShareField if fact.is_share else WholeField if fact.is_whole else FactField
    return kind(
        unit=fact.unit,
        low=fact.possible[0],
        high=fact.possible[1],
        usual=fact.usual,
        label=told_later(fact.label),
        help_text=told_later(fact.help),
        required=is_required,
        error_messages={"required": told_later(f"{fact.label} is needed.")},
    )


def _plain(fact: Fact, column: Any) -> forms.Field:
    """Return the column's own field with the sheet's words."""
    options: dict[str, Any] = {
        "label": told_later(fact.label),
        "help_text": told_later(fact.help),
        "error_messages": {"required": told_later(f"{fact.label} is needed.")},
    }
    if isinstance(column, models.BooleanField) and column.null:
        widget = forms.NullBooleanSelect()
        widget.choices = YES_NO_UNKNOWN
        return forms.NullBooleanField(widget=widget, required=False, **options)
    if isinstance(column, models.DateField):
        options["widget"] = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    if isinstance(column, models.TimeField):
        options["widget"] = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    if isinstance(column, models.TextField):
        options["widget"] = forms.Textarea(attrs={"rows": 2})
    field: forms.Field = column.formfield(**options)
    return field


def said_later(choices: tuple[tuple[Any, str], ...]) -> list[tuple[Any, Words]]:
    """Return choices of the field sheet, whose words are English, as they are said when they are printed."""
    return [(value, told_later(words)) for value, words in choices]


def _choice(fact: Fact, choices: tuple[tuple[Any, str], ...], coerce: Any) -> forms.Field:
    return forms.TypedChoiceField(
        choices=said_later(choices),
        coerce=coerce,
        label=told_later(fact.label),
        help_text=told_later(fact.help),
    )


def _month(fact: Fact) -> forms.Field:
    return forms.TypedChoiceField(
        choices=(("", _("The worst month")), *MONTHS),
        coerce=int,
        empty_value=None,
        required=False,
        label=told_later(fact.label),
        help_text=told_later(fact.help),
    )


def _photos(fact: Fact) -> forms.Field:
    return forms.MultipleChoiceField(
        choices=said_later(PHOTOS),
        required=False,
        label=told_later(fact.label),
        help_text=told_later(fact.help),
        widget=forms.CheckboxSelectMultiple,
    )


_OWN: Final[Mapping[str, Callable[[Fact], forms.Field]]] = {
    "design_month": _month,
    "photos_taken": _photos,
    "months": lambda fact: MonthsField(
        label=told_later(fact.label),
        help_text=told_later(fact.help),
        error_messages={"required": _("Tick at least one month.")},
    ),
    "circuit": lambda fact: _choice(fact, CIRCUITS, str),
    "difficulty": lambda fact: _choice(fact, DIFFICULTIES, int),
}
