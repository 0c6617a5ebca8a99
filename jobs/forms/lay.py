"""Asks what an automatic layout may use and how it weighs things. Ranges are common practice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

from common.fields import NumberField
from common.forms import ShopForm, field_as
from common.told import told_later
from jobs.autolayout.question import MOST_ON_ROOF, LayoutOptions
from jobs.models import Part

#: Models ticked at first: enough to compare, few enough to answer at once.
TICKED: Final = 4


class LayoutSearchForm(ShopForm, forms.Form):
    """Models, count, what stays, and what a hole, a meter of lead and a kilogram count for."""

    use_required_attribute = False
    parts = forms.MultipleChoiceField(
        label=_("Panels from the catalog"),
        widget=forms.CheckboxSelectMultiple(attrs={"class": "form-check-input"}),
        error_messages={"required": _("Panels from the catalog: choose at least one model.")},
    )
    panels_max = forms.IntegerField(
        label=_("Most panels"),
        required=False,
        min_value=1,
        max_value=MOST_ON_ROOF,
        help_text=told_later(f"1 to {MOST_ON_ROOF}; blank: as many as fit."),
        error_messages={
            "invalid": told_later(f"Most panels: must be a whole number from 1 to {MOST_ON_ROOF}."),
            "min_value": told_later(f"Most panels: must be a whole number from 1 to {MOST_ON_ROOF}."),
            "max_value": told_later(f"Most panels: must be a whole number from 1 to {MOST_ON_ROOF}."),
        },
    )
    one_model = forms.BooleanField(label=_("One model only, so that strings stay equal"), required=False)
    on_rafters = forms.BooleanField(label=_("Only where feet find rafters near both ends"), required=False)
    keep_placed = forms.BooleanField(label=_("Keep the panels already placed"), required=False)
    hole_kwh = NumberField(
        label=_("Each roof hole counts"), unit="kWh", low=0, high=100, initial=0, required=False
    )
    wire_kwh_m = NumberField(
        label=_("A ‹meter|foot› from the gland"), unit="kWh/m", low=0, high=100, initial=0, required=False
    )
    mass_kwh_kg = NumberField(
        label=_("A ‹kilogram|pound›"), unit="kWh/kg", low=0, high=100, initial=0, required=False
    )

    def __init__(self, *args: Any, parts: Mapping[int, Part], has_rafters: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field_as(self, "parts", forms.MultipleChoiceField).choices = [
            (pk, part.name) for pk, part in parts.items()
        ]
        if not has_rafters:
            del self.fields["on_rafters"]

    def options(self) -> LayoutOptions:
        """Return what was allowed; only for a valid form."""
        got = self.cleaned_data
        return LayoutOptions(
            parts=tuple(int(key) for key in got["parts"]),
            panels_max=got["panels_max"],
            one_model=got["one_model"],
            keep_placed=got["keep_placed"],
            on_rafters=got.get("on_rafters", False),
            hole_kwh=got["hole_kwh"] or 0.0,
            wire_kwh_m=got["wire_kwh_m"] or 0.0,
            mass_kwh_kg=got["mass_kwh_kg"] or 0.0,
        )

    @property
    def wrongs(self) -> list[tuple[str, str]]:
        """Return every error with the id of its field."""
        found: list[tuple[str, str]] = []
        for name, errors in self.errors.items():
            target = self[name].auto_id if name in self.fields else ""
            found += [(target, str(words)) for words in errors]
        return found


def usual_parts(parts: Mapping[int, Part], placed: Iterable[int]) -> list[int]:
    """Return the models that are ticked at first: those on the roof, then rigid ones, the strongest first."""
    on_roof = [pk for pk in dict.fromkeys(placed) if pk in parts]
    rigid = [pk for pk, part in parts.items() if not part.panel_sheet.is_flexible and pk not in on_roof]
    rigid.sort(key=lambda pk: -parts[pk].panel_sheet.pmp_w)
    return [*on_roof, *rigid][: max(TICKED, len(on_roof))]
