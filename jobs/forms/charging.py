"""The chargers of a design besides the sun: what each is, what it is set to, what it hangs on."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from common.fields import NumberField
from common.told import in_english
from jobs.forms.charge_fields import compensation_field, either_or_field, stop_field
from jobs.forms.design import RowForm, ThingChoice
from jobs.models import DesignSource, ExistingItem, Part
from jobs.parts.charge_links import INVERTER, is_named


class SourceRowForm(RowForm):
    """A charger besides the sun: a part, or one that stays on the vehicle."""

    FOLDS = (
        (
            _("Driven by an alternator"),
            ("alternator_rating_a", "alternator", "alternator_idle_a", "alternator_load_a", "input_v"),
        ),
        (
            _("Temperature compensation, switches and generator"),
            ("temp_comp_mv_per_c", "is_interlocked_with_solar", "either_or", "through"),
        ),
    )

    label = forms.CharField(label=_("Name printed on papers"), max_length=60, required=False)
    limited_to_a = NumberField(label=_("Output limited to"), unit="A", low=0, high=400, required=False)
    absorb_v = NumberField(
        label=_("Absorption set to"),
        unit="V",
        low=10,
        high=70,
        required=False,
        help_text=_("Blank: the shop's setting; on a kept unit: not known."),
    )
    low_t_stop_c = stop_field(
        _("To be set, or read on the unit; blank: as its data sheet or the survey says.")
    )
    temp_comp_mv_per_c = compensation_field()
    alternator_rating_a = NumberField(
        label=_("Alternator"),
        unit="A",
        low=20,
        high=600,
        usual=(60, 400),
        required=False,
        help_text=_("Its rating. Blank: the alternator of the survey."),
    )
    alternator = forms.CharField(
        label=_("Which alternator"),
        max_length=60,
        required=False,
        help_text=_("A name, if there are two. Chargers on one alternator are added up."),
    )
    alternator_idle_a = NumberField(
        label=_("Alternator output, idling hot"),
        unit="A",
        low=1,
        high=600,
        usual=(20, 250),
        required=False,
        help_text=_("Measured, or the maker's figure. Blank: a share of its rating."),
    )
    alternator_load_a = NumberField(
        label=_("Drawn by the vehicle itself"),
        unit="A",
        low=0,
        high=400,
        usual=(5, 80),
        required=False,
        help_text=_("Lights, fans and engine together, where known."),
    )
    input_v = NumberField(
        label=_("Volts, engine running"), unit="V", low=5, high=60, usual=(12.5, 29), required=False
    )
    driving_hours_per_day = NumberField(label=_("Driving a day"), unit="h", low=0, high=24, initial=0)
    shore_hours_per_day = NumberField(label=_("Shore power a day"), unit="h", low=0, high=24, initial=0)
    is_interlocked_with_solar = forms.BooleanField(
        label=_("Interlocked: never runs with solar"), required=False
    )
    either_or = either_or_field()
    through = forms.CharField(
        label=_("Charges through"),
        max_length=60,
        required=False,
        help_text=_(
            "A generator: the name of the charger it feeds, or inverter; it then counts once. Blank: the one"
            " there is. Its own name: it charges the bank by itself."
        ),
    )

    def __init__(self, *args: Any, chargers: dict[str, tuple[str, Any]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["what"] = ThingChoice(chargers, label=_("Charger"), empty_label=_("Choose a charger"))
        self.order_fields(["id", "what", "label"])

    def clean(self) -> dict[str, Any]:
        """Split the chosen thing into a part or an existing item, and give it a name."""
        cleaned = super().clean()
        what = cleaned.get("what")
        cleaned["part"] = what if isinstance(what, Part) else None
        cleaned["existing"] = what if isinstance(what, ExistingItem) else None
        if what is not None and not cleaned.get("label"):
            cleaned["label"] = in_english(str)(what)[:60]
        is_unknown = cleaned["existing"] is not None and cleaned["existing"].rating_a is None
        if is_unknown and cleaned.get("limited_to_a") is None:
            self.add_error(
                "limited_to_a", f"The rated amps of {what} are not in the survey: give a limit in A."
            )
        return cleaned


def refuse_unknown_links(rows: Iterable[SourceRowForm], *, has_inverter_charger: bool) -> bool:
    """Mark each row that charges through something that is not there; return whether all are known."""
    rows = list(rows)
    names = [row.cleaned_data.get("label", "") for row in rows] + [INVERTER] * has_inverter_charger
    known = ", ".join(f"“{name}”" for name in names if name)
    is_fine = True
    for row in rows:
        wanted = row.cleaned_data.get("through", "")
        if wanted and not any(is_named(wanted, name) for name in names):
            row.add_error("through", f"There is no charger “{wanted}” in this design: {known}.")
            is_fine = False
    return is_fine


def charger_choices(
    parts: Iterable[Part], kept: Iterable[ExistingItem], used: Iterable[DesignSource]
) -> dict[str, tuple[str, Any]]:
    """Return chargers as choices: catalog parts, what stays on the vehicle, what the design has now."""
    found: dict[str, tuple[str, Any]] = {f"part:{part.pk}": (part.name, part) for part in parts}
    found |= {f"existing:{item.pk}": (f"{item} (stays on the vehicle)", item) for item in kept}
    for source in used:
        thing = source.part or source.existing
        found.setdefault(source_key(source), (str(thing), thing))
    return found


def source_key(source: DesignSource) -> str:
    """Return the choice that stands for a source's charger."""
    return f"part:{source.part_id}" if source.part_id else f"existing:{source.existing_id}"
