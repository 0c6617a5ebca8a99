"""What a person may type about a design: panels, strings, power, basis. Ranges are common practice."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from common.fields import ForceField, LengthField, MassField, NumberField, PercentField
from common.forms import ShopForm
from common.told import Words
from jobs.forms.charge_fields import compensation_field, either_or_field
from jobs.models import Design, ExistingItem, Part, RuleSetChoice
from jobs.roof.bounds import REAR_MM, RIGHT_MM

CONTROLLER_LABELS = [(letter, letter) for letter in "ABCDEF"]


class ThingChoice(forms.TypedChoiceField):
    """A choice among records that were read once for the whole page."""

    def __init__(self, things: dict[str, tuple[str, Any]], **kwargs: Any) -> None:
        self.things = things
        empty = kwargs.pop("empty_label", "–")
        choices = [("", empty), *((key, words) for key, (words, _) in things.items())]
        super().__init__(choices=choices, coerce=self._thing, empty_value=None, **kwargs)

    def _thing(self, key: str) -> Any:
        if key not in self.things:
            raise ValueError(key)  # the field turns it into an error on the form
        return self.things[key][1]


def part_choices(parts: Iterable[Part]) -> dict[str, tuple[str, Part]]:
    """Return parts as choices by their key."""
    return {str(part.pk): (part.name, part) for part in parts}


class EditForm(forms.Form):
    """What every form of a design carries: the state it was opened on, and a key that is used once."""

    seen = forms.IntegerField(widget=forms.HiddenInput)
    key = forms.UUIDField(widget=forms.HiddenInput)


@dataclass(frozen=True, slots=True)
class Fold:
    """Less used fields of a row, under a title."""

    title: Words
    fields: list[forms.BoundField]
    is_open: bool


class CardForm(ShopForm, forms.Form):
    """A row drawn as a card: some fields always show, the rest in folds."""

    #: Titles of folds with the less used fields in them.
    FOLDS: ClassVar[tuple[tuple[Words, tuple[str, ...]], ...]] = ()

    def front_fields(self) -> list[forms.BoundField]:
        """Return the fields that always show."""
        folded = {"DELETE", *(name for _, names in self.FOLDS for name in names)}
        return [field for field in self.visible_fields() if field.name not in folded]

    def folds(self) -> list[Fold]:
        """Return the folds; one that holds anything unusual or wrong is open."""
        return [self._fold(title, [self[name] for name in names]) for title, names in self.FOLDS]

    def _fold(self, title: Words, fields: list[forms.BoundField]) -> Fold:
        return Fold(title, fields, any(field.errors or self._is_unusual(field) for field in fields))

    def _is_unusual(self, field: forms.BoundField) -> bool:
        """Return whether a field holds another value than a new row starts with."""
        usual, value = (field.field.prepare_value(each) for each in (field.field.initial, field.value()))
        return str(usual or "") != str(value or "")


class RowForm(CardForm):
    """One row of a table; ``id`` is the stored record, blank in a new row."""

    use_required_attribute = False
    id = forms.IntegerField(required=False, widget=forms.HiddenInput)

    @property
    def stored_id(self) -> int | None:
        """Return the record this row is about, None for a new one; the service checks whose it is."""
        typed = self.data.get(self.add_prefix("id"), "") if self.is_bound else self.initial.get("id", "")
        return int(typed) if str(typed).isdigit() else None


class PlaceField(LengthField):
    """Where a panel lies; what is stored already may come back untouched, so that others can be saved."""

    def __init__(self, limits_mm: tuple[float, float], **kwargs: Any) -> None:
        super().__init__(low=limits_mm[0] / 1000, high=limits_mm[1] / 1000, **kwargs)

    def _clean_bound_field(self, bound: forms.BoundField) -> float | None:
        shown = bound.initial
        if shown is not None and not isinstance(shown, str) and not self.has_changed(shown, bound.data):
            return float(shown)
        return super()._clean_bound_field(bound)


class PanelRowForm(RowForm):
    """A panel and where its corner nearest the rear right lies."""

    x_m = PlaceField(REAR_MM, label=_("From the rear"), usual=(0, 14))
    y_m = PlaceField(RIGHT_MM, label=_("From the right"), usual=(0, 2.6))
    is_turned = forms.BooleanField(label=_("Turned"), required=False, help_text=_("Its length lies across."))
    height_above_roof_m = LengthField(
        label=_("Above roof"), low=0, high=0.6, usual=(0.015, 0.12), initial=0.05
    )
    feet = NumberField(label=_("Feet"), low=0, high=20, usual=(4, 8), initial=4)
    fasteners_per_foot = NumberField(label=_("Screws per foot"), low=0, high=12, usual=(2, 6), initial=4)

    def __init__(
        self,
        *args: Any,
        parts: dict[str, tuple[str, Part]],
        used: dict[str, tuple[str, ExistingItem]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"] = ThingChoice(parts, label=_("Panel"), empty_label=_("Choose a panel"))
        if used:  # a survey without panels that stay asks nothing
            self.fields["existing"] = ThingChoice(
                used,
                label=_("New or used"),
                required=False,
                empty_label=_("New"),
                help_text=_("From the survey."),
            )
        self.order_fields(["id", "part", "existing"])

    def clean_feet(self) -> int:
        """Feet are whole."""
        return _whole(self, "feet")

    def clean_fasteners_per_foot(self) -> int:
        """Screws are whole."""
        return _whole(self, "fasteners_per_foot")


class PanelBasisForm(ShopForm, forms.Form):
    """How the panels are held."""

    is_glued = forms.BooleanField(
        label=_("Glued flat to the skin"),
        required=False,
        help_text=_("Cells run hotter: ‹80 °C|176 °F› is used instead of ‹70 °C|158 °F›."),
    )
    feet_on_rafter = NumberField(
        label=_("Feet screwed into rafters"),
        low=0,
        high=400,
        required=False,
        help_text=_("Out of all feet. Blank: none is counted, and the deck alone must hold."),
    )

    fastener_tested_n = ForceField(
        label=_("Tested pull-out of one fastener"),
        low=10,
        high=50000,
        usual=(200, 8000),
        required=False,
        help_text=_("By its maker or by a test pull; a quarter of it is used. Needed on sheet metal."),
    )

    def clean_feet_on_rafter(self) -> int | None:
        """Feet are whole."""
        return None if self.cleaned_data["feet_on_rafter"] is None else _whole(self, "feet_on_rafter")


class PlaceRowForm(ShopForm, forms.Form):
    """A row of equal panels from a corner on."""

    count = NumberField(label=_("How many"), low=1, high=20, initial=2)
    x_m = LengthField(label=_("First corner from the rear"), low=0, high=16, usual=(0, 14))
    y_m = LengthField(label=_("First corner from the right"), low=0, high=4, usual=(0, 2.6))
    gap_m = LengthField(label=_("Gap between"), low=0, high=5, usual=(0.02, 2), initial=0.03)
    is_along = forms.TypedChoiceField(
        label=_("Row direction"),
        choices=[("yes", _("front to rear")), ("no", _("side to side"))],
        coerce=lambda word: word == "yes",
        initial="yes",
    )
    is_turned = forms.BooleanField(
        label=_("Turned"), required=False, help_text=_("Their length lies across.")
    )

    def __init__(self, *args: Any, parts: dict[str, tuple[str, Part]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"] = ThingChoice(parts, label=_("Panel"), empty_label=_("Choose a panel"))
        self.order_fields(["part", "count"])

    def clean_count(self) -> int:
        """Panels are whole."""
        return _whole(self, "count")


def used_panel_choices(items: Iterable[ExistingItem]) -> dict[str, tuple[str, ExistingItem]]:
    """Return the panels that stay on the vehicle as choices by their key."""
    kept = [
        item for item in items if item.kind == ExistingItem.Kind.PANEL and item.fate == ExistingItem.Fate.KEEP
    ]
    return {str(item.pk): (str(item), item) for item in kept}


class ControllerRowForm(RowForm):
    """A charge controller and the letter printed on its cables."""

    label = forms.ChoiceField(label=_("Letter"), choices=[("", "–"), *CONTROLLER_LABELS])
    absorb_v = NumberField(
        label=_("Absorption set to"),
        unit="V",
        low=10,
        high=70,
        required=False,
        help_text=_("Blank: the shop's setting for the bank."),
    )
    temp_comp_mv_per_c = compensation_field()

    def __init__(self, *args: Any, parts: dict[str, tuple[str, Part]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"] = ThingChoice(parts, label=_("Controller"), empty_label=_("Choose a controller"))
        self.order_fields(["id", "part", "label"])


class StringRowForm(CardForm):
    """A string: its panels in the order they are plugged, and its controller."""

    use_required_attribute = False
    panels = forms.CharField(
        label=_("Panels in series"),
        max_length=200,
        required=False,
        help_text=_("Panel numbers in order, like 1, 2. Clear the field to remove the string."),
    )
    controller = forms.ChoiceField(label=_("Controller"), choices=CONTROLLER_LABELS, initial="A")
    fuse_a = NumberField(label=_("String fuse"), unit="A", low=1, high=100, required=False)

    def clean_panels(self) -> list[int]:
        """Return the panel numbers; refuse anything else."""
        text = self.cleaned_data["panels"].strip()
        numbers = [word for word in re.split(r"[\s,;+–-]+", text) if word]
        if not all(word.isdigit() and len(word) < 4 for word in numbers):
            raise forms.ValidationError(f"Panels in series must be numbers like 1, 2; you typed “{text}”.")
        return [int(word) for word in numbers]


class PlugsForm(ShopForm, forms.Form):
    """How strings are joined."""

    has_branch_plugs = forms.BooleanField(
        label=_("Joined in branch connectors on the roof"),
        required=False,
        help_text=_("Not ticked: a combiner box joins the strings."),
    )
    branch_plug_rating_a = NumberField(
        label=_("Branch connector rating"), unit="A", low=5, high=100, usual=(15, 50)
    )
    string_fuse_voltage_v = NumberField(
        label=_("String fuses rated for"),
        unit="V",
        low=12,
        high=1500,
        usual=(60, 1000),
        required=False,
        help_text=_("DC volts printed on them. Blank: not judged."),
    )


class BankForm(ShopForm, forms.Form):
    """The house bank: equal batteries."""

    use_required_attribute = False
    quantity = NumberField(label=_("Batteries"), low=1, high=64, usual=(1, 16), initial=1)
    in_series = NumberField(label=_("In series"), low=1, high=16, usual=(1, 8), initial=1)
    is_new = forms.BooleanField(
        label=_("New"), required=False, initial=True, help_text=_("Not ticked: it is there already.")
    )
    depth_of_discharge_fraction = PercentField(
        label=_("Depth of discharge used"),
        low="0.05",
        required=False,
        help_text=_("Blank: usual for the chemistry."),
    )

    def __init__(self, *args: Any, parts: dict[str, tuple[str, Part]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"] = ThingChoice(parts, label=_("Battery"), required=False, empty_label=_("No bank"))
        self.order_fields(["part"])

    def clean_quantity(self) -> int:
        """Batteries are whole."""
        return _whole(self, "quantity")

    def clean_in_series(self) -> int:
        """Batteries are whole."""
        return _whole(self, "in_series")

    def clean(self) -> dict[str, Any]:
        """Refuse a series count that leaves a battery over."""
        cleaned = super().clean()
        quantity, in_series = cleaned.get("quantity"), cleaned.get("in_series")
        if quantity and in_series and quantity % in_series:
            self.add_error("in_series", f"In series must divide {quantity} batteries; you typed {in_series}.")
        return cleaned

    def row(self) -> dict[str, Any] | None:
        """Return what was typed, or None where no battery is chosen."""
        return self.cleaned_data if self.cleaned_data.get("part") else None


def _charges(part: Part) -> bool:
    sheet = getattr(part, "inverter_sheet", None)
    return sheet is not None and sheet.is_charger


class InverterForm(ShopForm, forms.Form):
    """The inverter."""

    use_required_attribute = False
    hours_on_per_day = NumberField(label=_("Switched on"), unit="h", low=0, high=24, initial=24)
    is_new = forms.BooleanField(
        label=_("New"), required=False, initial=True, help_text=_("Not ticked: it is there already.")
    )
    temp_comp_mv_per_c = compensation_field()
    either_or = either_or_field()

    def __init__(self, *args: Any, parts: dict[str, tuple[str, Part]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"] = ThingChoice(
            parts, label=_("Inverter"), required=False, empty_label=_("No inverter")
        )
        self.order_fields(["part"])
        charging = [key for key, (_, part) in parts.items() if _charges(part)]
        for name in ("temp_comp_mv_per_c", "either_or"):  # a plain inverter has neither
            self.fields[name].widget.attrs |= {
                "data-only-with": self.add_prefix("part"),
                "data-only-for": " ".join(charging),
            }

    def row(self) -> dict[str, Any] | None:
        """Return what was typed, or None where no inverter is chosen."""
        return self.cleaned_data if self.cleaned_data.get("part") else None


class BasisForm(ShopForm, forms.Form):
    """What the whole revision rests on."""

    option = forms.ChoiceField(label=_("Option"), choices=Design.Option)
    rule_set = forms.ChoiceField(
        label=_("Rule set"),
        choices=RuleSetChoice,
        help_text=_("Ampacity rules every circuit is judged by; printed on every paper."),
    )
    gear_mass_kg = MassField(
        label=_("Wire, mounts and gear"),
        low=0,
        high=500,
        usual=(0, 150),
        help_text=_("Weight of everything that is not a panel, battery, inverter, controller or charger."),
    )
    note = forms.CharField(
        label=_("Note"), required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )


def _whole(form: Any, name: str) -> int:
    """Return a whole number; refuse halves by name."""
    value = form.cleaned_data[name]
    if value != int(value):
        raise forms.ValidationError(f"{form.fields[name].label} must be a whole number; you typed {value:g}.")
    return int(value)
