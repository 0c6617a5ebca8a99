"""What a person may type about one circuit of the schedule. Ranges are common practice, no source."""

from __future__ import annotations

from typing import Any, Final

from django import forms

import sizing
from common.fields import LengthField, NumberField, RunLengthField, TemperatureField
from common.forms import field_as
from jobs.forms.design import RowForm
from jobs.models import ConfidenceChoice, DesignCircuit

#: Sizes of cable by standard, thin to thick: NFPA 70 (2017) chapter 9 table 8, SAE J1127/J1128, IEC 60228.
SIZES: Final = {
    "awg": ["18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0"],
    "sae": ["18", "16", "14", "12", "10", "8", "6", "4", "2", "1", "1/0", "2/0", "3/0", "4/0"],
    "metric": ["1.5", "2.5", "4", "6", "10", "16", "25", "35", "50", "70", "95", "120"],
}
#: Device families the sizing face knows by name; anything else may be typed too.
FAMILIES: Final = [
    "class T",
    "terminal fuse at the post",
    "bolt-in strip fuse",
    "small bolt-down (SF30)",
    "large bolt-down (SF51)",
    "maxi blade",
    "blade",
    "gPV",
    "PV breaker",
    "DC breaker",
]
_KINDS: Final = [
    ("", "Choose a circuit"),
    *((kind.value, f"{kind} {sizing.circuit_facts(kind).title}") for kind in sizing.CircuitKind),
]


class CircuitRowForm(RowForm):
    """One circuit. A blank size or fuse asks the engine to propose one."""

    MAIN: Final = ("kind", "label", "serves", "run_len_m", "confidence", "size", "fuse_a")

    kind = forms.ChoiceField(label="Circuit", choices=_KINDS)
    label = forms.CharField(label="Label on the cable", max_length=8, required=False)
    serves = forms.ChoiceField(label="Belongs to", required=False)
    run_len_m = RunLengthField(
        label="Path, one way", low=0.02, high=60, usual=(0.1, 20), required=False, help_text="Along the wire."
    )
    confidence = forms.ChoiceField(
        label="Length is",
        choices=ConfidenceChoice,
        initial=ConfidenceChoice.GUESS,
        help_text="A guess counts a quarter longer.",
    )
    size = forms.CharField(
        label="Size",
        max_length=8,
        required=False,
        help_text="Blank: proposed.",
        widget=forms.TextInput(attrs={"list": "cable-sizes", "autocomplete": "off"}),
    )
    fuse_a = NumberField(
        label="Fuse or breaker",
        unit="A",
        low=0.5,
        high=800,
        usual=(1, 400),
        required=False,
        help_text="Blank: proposed.",
    )
    cable_standard = forms.ChoiceField(label="Cable standard", choices=DesignCircuit.Standard, initial="awg")
    bundle_count = NumberField(
        label="Conductors lying together",
        low=1,
        high=60,
        usual=(1, 30),
        initial=2,
        help_text="That carry current.",
    )
    ambient_c = TemperatureField(label="Air round the wire", low=-40, high=90, usual=(20, 70), initial=30.0)
    current_a = NumberField(
        label="Continuous current",
        unit="A",
        low=0,
        high=800,
        required=False,
        help_text="Only where the design cannot tell.",
    )
    fuse_family = forms.CharField(
        label="Kind of device",
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"list": "device-families", "autocomplete": "off"}),
    )
    fuse_voltage_v = NumberField(label="Device voltage", unit="V", low=6, high=1500, required=False)
    fuse_interrupting_a = NumberField(
        label="Interrupting rating", unit="A", low=10, high=300000, usual=(500, 200000), required=False
    )
    fuse_distance_m = LengthField(label="Device to its source", low=0, high=30, usual=(0, 2), required=False)
    is_sheathed = forms.BooleanField(label="Sheathed up to the device", required=False)
    at_both_ends = forms.BooleanField(label="A device at both ends", required=False)
    has_no_protection = forms.BooleanField(
        label="No protection found or fitted", required=False, help_text="Blocks the job."
    )
    in_engine_space = forms.BooleanField(label="Near heat or in the engine space", required=False)
    on_roof_in_sun = forms.BooleanField(label="On the roof in the sun", required=False)
    is_critical = forms.BooleanField(label="Critical load", required=False, initial=True)

    def __init__(self, *args: Any, serves: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = {value for value, _ in serves}
        own = self.initial.get("serves", "")
        gone = [(own, f"{own} (no longer in the design)")] if own not in known else []
        field_as(self, "serves", forms.ChoiceField).choices = [*serves, *gone]

    def take_from_drawing(self) -> None:
        """Show path and its certainty without taking them: they come from the wire drawn on the roof."""
        for name in ("run_len_m", "confidence"):
            self.fields[name].disabled = True
        self.fields["run_len_m"].help_text = "From the roof drawing: changed there, under Wire."
        self.fields["confidence"].help_text = ""

    def main_fields(self) -> list[forms.BoundField]:
        """Return the fields that always show."""
        return [self[name] for name in self.MAIN]

    def more_fields(self) -> list[forms.BoundField]:
        """Return the fields under "More"."""
        hidden = {"id", "sure", "DELETE", *self.MAIN}
        return [field for field in self if field.name not in hidden]

    @property
    def more_is_open(self) -> bool:
        """Return whether something under "More" needs looking at."""
        return any(field.errors for field in self.more_fields())

    def clean_bundle_count(self) -> int:
        """Conductors are whole."""
        value = self.cleaned_data["bundle_count"]
        if value != int(value):
            raise forms.ValidationError(f"Conductors lying together must be whole; you typed {value:g}.")
        return int(value)

    def clean(self) -> dict[str, Any]:
        """Give the row a label and refuse a size its standard does not have."""
        cleaned = super().clean()
        cleaned["label"] = (cleaned.get("label") or cleaned.get("kind") or "").strip().upper()
        size, standard = (cleaned.get("size") or "").strip(), cleaned.get("cable_standard")
        cleaned["size"] = size.upper().removesuffix("AWG").removesuffix("MM²").strip().lower()
        if cleaned["size"] and standard in SIZES and cleaned["size"] not in SIZES[standard]:
            known = ", ".join(SIZES[standard])
            self.add_error("size", f"Size must be one of {known} in this standard; you typed “{size}”.")
        if cleaned.get("has_no_protection") and cleaned.get("fuse_a") is not None:
            self.add_error("has_no_protection", "There is either a fuse or no protection, not both.")
        return cleaned
