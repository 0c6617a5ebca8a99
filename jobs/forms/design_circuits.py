"""What a person may type about one circuit of the schedule. Ranges are common practice, no source."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

import sizing
from common.fields import LengthField, NumberField, RunLengthField, TemperatureField
from common.forms import field_as
from common.told import told_parts
from jobs.forms.design import RowForm
from jobs.models import ConfidenceChoice, DesignCircuit
from jobs.parts.circuits import usual_insulation_c

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
#: Columns of the ampacity tables (33 CFR 183.425 table 5, NFPA 70 table 310.15(B)(16)) with usual cables.
INSULATIONS: Final = [
    (60, _("60 °C (140 °F): older house wire")),
    (75, _("75 °C (167 °F): THW")),
    (80, "80 °C (176 °F)"),
    (90, _("90 °C (194 °F): PV wire, XLPE, THHN")),
    (105, _("105 °C (221 °F): boat cable")),
    (125, _("125 °C (257 °F): XLPE battery cable")),
    (200, _("200 °C (392 °F): silicone")),
]
TERMINALS: Final = [(rated, f"{rated} °C") for rated in (60, 75, 90, 105)]  # as they are marked everywhere
_KINDS: Final = [
    ("", _("Choose a circuit")),
    *((kind.value, told_parts(kind.value, sizing.circuit_facts(kind).title)) for kind in sizing.CircuitKind),
]


class CircuitRowForm(RowForm):
    """One circuit. A blank size or fuse asks the engine to propose one."""

    MAIN: Final = ("kind", "label", "serves", "run_len_m", "confidence", "size", "fuse_a")
    #: How the cable is made and lies: less used, in a fold of its own.
    LAID: Final = (
        "insulation_c",
        "terminal_c",
        "in_raceway",
        "roof_clearance_m",
        "conductor_temp_c",
        "parallel_conductors",
    )

    kind = forms.ChoiceField(label=_("Circuit"), choices=_KINDS)
    label = forms.CharField(label=_("Label on the cable"), max_length=8, required=False)
    serves = forms.ChoiceField(label=_("Belongs to"), required=False)
    run_len_m = RunLengthField(
        label=_("Path, one way"),
        low=0.02,
        high=60,
        usual=(0.1, 20),
        required=False,
        help_text=_("Along the wire."),
    )
    confidence = forms.ChoiceField(
        label=_("Length is"),
        choices=ConfidenceChoice,
        initial=ConfidenceChoice.GUESS,
        help_text=_("A guess counts a quarter longer."),
    )
    size = forms.CharField(
        label=_("Size"),
        max_length=8,
        required=False,
        help_text=_("Blank: proposed."),
        widget=forms.TextInput(attrs={"list": "cable-sizes", "autocomplete": "off"}),
    )
    fuse_a = NumberField(
        label=_("Fuse or breaker"),
        unit="A",
        low=0.5,
        high=800,
        usual=(1, 400),
        required=False,
        help_text=_("Blank: proposed."),
    )
    cable_standard = forms.ChoiceField(
        label=_("Cable standard"), choices=DesignCircuit.Standard, initial="awg"
    )
    bundle_count = NumberField(
        label=_("Conductors bundled together"),
        low=1,
        high=60,
        usual=(1, 30),
        initial=2,
        help_text=_("That carry current."),
    )
    ambient_c = TemperatureField(
        label=_("Air temperature around the wire"), low=-40, high=90, usual=(20, 70), initial=30.0
    )
    current_a = NumberField(
        label=_("Continuous current"),
        unit="A",
        low=0,
        high=800,
        required=False,
        help_text=_("Only where the design cannot tell."),
    )
    fuse_family = forms.CharField(
        label=_("Type of fuse or breaker"),
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"list": "device-families", "autocomplete": "off"}),
    )
    fuse_voltage_v = NumberField(
        label=_("Fuse or breaker voltage rating"), unit="V", low=6, high=1500, required=False
    )
    fuse_interrupting_a = NumberField(
        label=_("Interrupting rating"), unit="A", low=10, high=300000, usual=(500, 200000), required=False
    )
    fuse_distance_m = LengthField(
        label=_("Distance from the source"), low=0, high=30, usual=(0, 2), required=False
    )
    is_sheathed = forms.BooleanField(label=_("Sheathed up to the fuse or breaker"), required=False)
    at_both_ends = forms.BooleanField(label=_("Fused at both ends"), required=False)
    has_no_protection = forms.BooleanField(
        label=_("No protection found or fitted"), required=False, help_text=_("Blocks the job.")
    )
    in_engine_space = forms.BooleanField(label=_("Near heat or in the engine space"), required=False)
    on_roof_in_sun = forms.BooleanField(label=_("On the roof in the sun"), required=False)
    is_critical = forms.BooleanField(label=_("Critical load"), required=False, initial=True)
    insulation_c = forms.TypedChoiceField(
        label=_("Insulation"),
        choices=INSULATIONS,
        coerce=int,
        initial=105,
        help_text=_("As printed on the cable."),
    )
    terminal_c = forms.TypedChoiceField(
        label=_("Terminals"),
        choices=TERMINALS,
        coerce=int,
        initial=75,
        help_text=_("The lower of both ends."),
    )
    in_raceway = forms.BooleanField(
        label=_("In conduit, loom or a bundle"),
        required=False,
        initial=True,
        help_text=_("Not ticked: in free air."),
    )
    roof_clearance_m = LengthField(
        label=_("Height above the roof"),
        low=0,
        high=1,
        usual=(0, 0.3),
        required=False,
        help_text=_("Of a cable in the sun. Blank: on the skin."),
    )
    conductor_temp_c = TemperatureField(
        label=_("Copper temperature, for the drop"),
        low=-40,
        high=150,
        usual=(20, 90),
        initial=20.0,
        help_text=_("At ‹60 °C|140 °F› it loses 16% more than at ‹20 °C|68 °F›."),
    )
    parallel_conductors = NumberField(
        label=_("Equal cables side by side"), low=1, high=6, usual=(1, 4), initial=1
    )

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
        self.fields["run_len_m"].help_text = _("From the roof drawing: changed there, under Wire.")
        self.fields["confidence"].help_text = ""

    def main_fields(self) -> list[forms.BoundField]:
        """Return the fields that always show."""
        return [self[name] for name in self.MAIN]

    def more_fields(self) -> list[forms.BoundField]:
        """Return the fields under "More"."""
        hidden = {"id", "sure", "DELETE", *self.MAIN, *self.LAID}
        return [field for field in self if field.name not in hidden]

    def laid_fields(self) -> list[forms.BoundField]:
        """Return the fields under "Cable and laying"."""
        return [self[name] for name in self.LAID]

    @property
    def laid_is_open(self) -> bool:
        """Return whether something of cable and laying is not as usual, or needs looking at."""
        return any(field.errors or self._is_odd(field) for field in self.laid_fields())

    def _is_odd(self, field: forms.BoundField) -> bool:
        """Return whether a field holds another value than a new row starts with."""
        if field.name == "insulation_c":
            return str(field.value() or "") != str(usual_insulation_c(self["kind"].value()) or "")
        return self._is_unusual(field)

    @property
    def more_is_open(self) -> bool:
        """Return whether something under "More" needs looking at."""
        return any(field.errors for field in self.more_fields())

    def clean_bundle_count(self) -> int:
        """Conductors are whole."""
        return _whole(self, "bundle_count")

    def clean_parallel_conductors(self) -> int:
        """Cables are whole."""
        return _whole(self, "parallel_conductors")

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
            self.add_error("has_no_protection", _("Choose either a fuse or no protection, not both."))
        return cleaned


def _whole(form: CircuitRowForm, name: str) -> int:
    """Return a count; refuse halves by name."""
    value = form.cleaned_data[name]
    if value != int(value):
        raise forms.ValidationError(f"{form.fields[name].label} must be whole; you typed {value:g}.")
    return int(value)
