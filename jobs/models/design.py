"""One design revision: panels on the roof, strings, controllers, bank, inverter, sources, circuits."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned
from jobs.models.shop import RuleSetChoice
from jobs.models.survey import ConfidenceChoice


class Design(ShopOwned):
    """A design revision. A frozen one is never changed: a change makes a new revision."""

    class Option(models.TextChoices):
        LANTERN = "lantern", _("Lantern")
        HEARTH = "hearth", _("Hearth")
        HARBOUR = "harbour", _("Harbor")
        OWN = "own", _("Own plan")

    class State(models.TextChoices):
        DRAFT = "draft", _("Draft")
        FROZEN = "frozen", _("Frozen")

    shop_path = "job__shop"

    job = models.ForeignKey("jobs.Job", on_delete=models.CASCADE, related_name="designs")
    number = models.PositiveSmallIntegerField()
    option = models.CharField(max_length=10, choices=Option, default=Option.HEARTH)
    state = models.CharField(max_length=8, choices=State, default=State.DRAFT)
    rule_set = models.CharField(max_length=20, choices=RuleSetChoice, default=RuleSetChoice.MARINE_105C)
    is_glued = models.BooleanField(default=False, help_text="Panels glued flat to the skin (hotter cells)")
    has_branch_plugs = models.BooleanField(
        default=False, help_text="Strings joined in branch plugs, not a combiner"
    )
    branch_plug_rating_a = models.FloatField(default=30)
    string_fuse_voltage_v = models.FloatField(null=True, blank=True, help_text="DC, printed on string fuses")
    feet_on_rafter = models.PositiveSmallIntegerField(null=True, blank=True)
    fastener_tested_n = models.FloatField(
        null=True, blank=True, help_text="Tested pull-out of one fastener; a quarter of it is used"
    )
    path_slack_fraction = models.FloatField(
        default=0.1,
        help_text="Added to drawn wire for corners, sag and drip loops; common practice, no source",
    )
    gear_mass_kg = models.FloatField(default=0, help_text="Wire, mounts and gear not listed elsewhere")
    note = models.TextField(blank=True, default="")
    created_at = models.DateTimeField(auto_now_add=True)
    created_by_name = models.CharField(max_length=150, blank=True, default="")
    edit_count = models.PositiveIntegerField(default=0, help_text="Grows with every change")
    last_edit_key = models.UUIDField(
        null=True, blank=True, help_text="Made in the form: sent twice, done once"
    )
    unsized_reason = models.TextField(
        blank=True, default="", help_text="Why the sizing face could not be asked; blank: it was"
    )
    begun_from = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="begun_after",
        help_text="The design of another job whose parts this one took",
    )  # fmt: skip
    misfits = models.JSONField(
        default=list, blank=True, help_text="What did not fit this vehicle, until somebody says they saw it"
    )

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="design_number_once_per_job")]

    def __str__(self) -> str:
        return f"Revision {self.number}, {self.get_option_display()}"

    @property
    def is_frozen(self) -> bool:
        """Return whether this revision may no longer change."""
        return self.state == self.State.FROZEN


class DesignController(ShopOwned):
    """One charge controller of a design; its label (A, B) prints on cables."""

    shop_path = "design__job__shop"

    design = models.ForeignKey(Design, on_delete=models.CASCADE, related_name="controllers")
    part = models.ForeignKey("jobs.Part", on_delete=models.PROTECT, related_name="+")
    label = models.CharField(max_length=2, default="A")
    absorb_v = models.FloatField(null=True, blank=True, help_text="To be set; blank: the shop's for the bank")
    temp_comp_mv_per_c = models.FloatField(
        null=True, blank=True, help_text="Temperature compensation over the whole bank; 0: off"
    )
    combiner_x_m = models.FloatField(null=True, blank=True, help_text="Where its strings join on the roof")
    combiner_y_m = models.FloatField(null=True, blank=True)
    home_bends_m = models.JSONField(
        default=list, blank=True, help_text="Bends (x, y) of the home run from combiner to gland"
    )

    class Meta:
        ordering = ["label"]
        constraints = [models.UniqueConstraint(fields=["design", "label"], name="controller_label_once")]

    def __str__(self) -> str:
        return f"Controller {self.label}"


class DesignString(ShopOwned):
    """Panels in series on one controller."""

    shop_path = "design__job__shop"

    design = models.ForeignKey(Design, on_delete=models.CASCADE, related_name="strings")
    controller = models.ForeignKey(DesignController, on_delete=models.CASCADE, related_name="strings")
    number = models.PositiveSmallIntegerField()
    fuse_a = models.FloatField(null=True, blank=True)
    lead_bends_m = models.JSONField(
        default=list, blank=True, help_text="Bends (x, y) of the roof leads on their way to the combiner"
    )

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["design", "number"], name="string_number_once")]

    def __str__(self) -> str:
        return f"String {self.number}"


class DesignPanel(ShopOwned):
    """A panel placed on the roof: corner nearest the rear right, meters; turned lays its length across."""

    shop_path = "design__job__shop"

    design = models.ForeignKey(Design, on_delete=models.CASCADE, related_name="panels")
    part = models.ForeignKey("jobs.Part", on_delete=models.PROTECT, related_name="+")
    number = models.PositiveSmallIntegerField()
    x_m = models.FloatField()
    y_m = models.FloatField()
    is_turned = models.BooleanField(default=False)
    box_is_far = models.BooleanField(
        default=False, help_text="Junction box at the front or left end, not the rear or right one"
    )
    height_above_roof_m = models.FloatField(default=0.05)
    feet = models.PositiveSmallIntegerField(default=4)
    fasteners_per_foot = models.PositiveSmallIntegerField(default=4)
    string = models.ForeignKey(
        DesignString, on_delete=models.SET_NULL, null=True, blank=True, related_name="panels"
    )
    position_in_string = models.PositiveSmallIntegerField(default=0)
    existing = models.ForeignKey(
        "jobs.ExistingItem",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="The used panel of the survey that this is; blank: a new one",
    )

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["design", "number"], name="panel_number_once")]

    def __str__(self) -> str:
        return f"Panel {self.number}"


class DesignBank(ShopOwned):
    """The house bank: equal batteries of one part."""

    shop_path = "design__job__shop"

    design = models.OneToOneField(Design, on_delete=models.CASCADE, related_name="bank")
    part = models.ForeignKey("jobs.Part", on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveSmallIntegerField(default=1)
    in_series = models.PositiveSmallIntegerField(default=1)
    is_new = models.BooleanField(default=True)
    depth_of_discharge_fraction = models.FloatField(
        null=True, blank=True, help_text="Planned to be used; blank: usual for the chemistry"
    )

    def __str__(self) -> str:
        return f"{self.quantity} × {self.part}"


class DesignInverter(ShopOwned):
    """The inverter of a design."""

    shop_path = "design__job__shop"

    design = models.OneToOneField(Design, on_delete=models.CASCADE, related_name="inverter")
    part = models.ForeignKey("jobs.Part", on_delete=models.PROTECT, related_name="+")
    hours_on_per_day = models.FloatField(default=24)
    is_new = models.BooleanField(default=True)
    either_or = models.CharField(
        max_length=30, blank=True, default="", help_text="As a charger: transfer switch or interlock"
    )
    temp_comp_mv_per_c = models.FloatField(
        null=True, blank=True, help_text="As a charger: compensation over the whole bank; 0: off"
    )

    def __str__(self) -> str:
        return str(self.part)


class DesignSource(ShopOwned):
    """A charger of the design besides solar: new part, or one found on the vehicle and kept."""

    shop_path = "design__job__shop"

    design = models.ForeignKey(Design, on_delete=models.CASCADE, related_name="sources")
    part = models.ForeignKey("jobs.Part", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    existing = models.ForeignKey(
        "jobs.ExistingItem", on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    label = models.CharField(max_length=60, blank=True, default="")
    absorb_v = models.FloatField(null=True, blank=True, help_text="To be set, or read on a kept unit")
    limited_to_a = models.FloatField(null=True, blank=True, help_text="Output limit set on the unit")
    alternator_rating_a = models.FloatField(null=True, blank=True)
    input_v = models.FloatField(null=True, blank=True, help_text="DC-DC: engine-running volts at its source")
    driving_hours_per_day = models.FloatField(default=0)
    shore_hours_per_day = models.FloatField(default=0)
    is_interlocked_with_solar = models.BooleanField(default=False)
    either_or = models.CharField(
        max_length=30, blank=True, default="", help_text="Transfer switch or interlock: one of its name runs"
    )
    through = models.CharField(
        max_length=60, blank=True, default="", help_text="Name of the charger it feeds, or inverter"
    )
    low_t_stop_c = models.FloatField(
        null=True, blank=True, help_text="Low-temperature cutoff, to be set or read on a kept unit"
    )
    temp_comp_mv_per_c = models.FloatField(
        null=True, blank=True, help_text="Temperature compensation over the whole bank; 0: off"
    )
    alternator = models.CharField(
        max_length=60, blank=True, default="", help_text="Which alternator; blank: the vehicle's own"
    )
    alternator_idle_a = models.FloatField(null=True, blank=True, help_text="What it gives idling hot")
    alternator_load_a = models.FloatField(null=True, blank=True, help_text="What the vehicle itself draws")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(part__isnull=False) | Q(existing__isnull=False),
                name="source_has_part_or_existing",
            )
        ]

    def __str__(self) -> str:
        return self.label or str(self.part or self.existing)


class DesignCircuit(ShopOwned):
    """One row of the circuit schedule as planned. Blank size or fuse asks the engine to propose one."""

    class Standard(models.TextChoices):
        AWG = "awg", _("AWG")
        SAE = "sae", _("SAE")
        METRIC = "metric", _("mm²")

    shop_path = "design__job__shop"

    design = models.ForeignKey(Design, on_delete=models.CASCADE, related_name="circuits")
    kind = models.CharField(max_length=3, help_text="C1 to C17")
    label = models.CharField(max_length=8, help_text="As printed on the cable, C2 or C2A")
    serves = models.CharField(
        max_length=40, blank=True, default="", help_text="controller:A, string:1, source:3, inverter, bank"
    )
    run_len_m = models.FloatField(null=True, blank=True, help_text="Path along the wire, one way")
    confidence = models.CharField(max_length=10, choices=ConfidenceChoice, default=ConfidenceChoice.GUESS)
    size = models.CharField(max_length=8, blank=True, default="", help_text="10, 2/0 … or blank")
    cable_standard = models.CharField(max_length=6, choices=Standard, default=Standard.AWG)
    fuse_a = models.FloatField(null=True, blank=True)
    fuse_family = models.CharField(max_length=60, blank=True, default="")
    fuse_voltage_v = models.FloatField(null=True, blank=True)
    fuse_interrupting_a = models.FloatField(null=True, blank=True)
    fuse_distance_m = models.FloatField(null=True, blank=True)
    is_sheathed = models.BooleanField(default=False)
    at_both_ends = models.BooleanField(default=False)
    has_no_protection = models.BooleanField(default=False)
    current_a = models.FloatField(
        null=True, blank=True, help_text="Continuous amps where the design cannot tell"
    )
    bundle_count = models.PositiveSmallIntegerField(default=2)
    ambient_c = models.FloatField(default=30)
    in_engine_space = models.BooleanField(default=False)
    on_roof_in_sun = models.BooleanField(default=False)
    is_critical = models.BooleanField(default=True)
    insulation_c = models.PositiveSmallIntegerField(default=105, help_text="As printed on the cable")
    terminal_c = models.PositiveSmallIntegerField(default=75, help_text="Lowest rating of both ends")
    in_raceway = models.BooleanField(default=True, help_text="In conduit, loom or a bundle; not in free air")
    roof_clearance_m = models.FloatField(null=True, blank=True, help_text="Above the roof skin")
    conductor_temp_c = models.FloatField(default=20, help_text="Of the copper, for the drop")
    parallel_conductors = models.PositiveSmallIntegerField(default=1, help_text="Equal cables side by side")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["design", "label"], name="circuit_label_once")]

    def __str__(self) -> str:
        return self.label


class SizingRun(ShopOwned):
    """One answer of the sizing engine, stored with what it was asked; pages and papers print this."""

    class Purpose(models.TextChoices):
        PLANNED = "planned", _("Planned")
        AS_BUILT = "as_built", _("As built")

    shop_path = "design__job__shop"

    design = models.ForeignKey(Design, on_delete=models.CASCADE, related_name="runs")
    purpose = models.CharField(max_length=10, choices=Purpose, default=Purpose.PLANNED)
    inputs = models.JSONField()
    roof = models.JSONField(
        default=dict, blank=True, help_text="The roof as surveyed that the layout was judged on"
    )
    result = models.JSONField()
    verdict = models.CharField(max_length=20)
    engine_version = models.CharField(max_length=20)
    at = models.DateTimeField()
    by_name = models.CharField(max_length=150, blank=True, default="")

    class Meta:
        ordering = ["-pk"]  # as stored: a clock that was set back must not bring an old answer to the top
        indexes = [models.Index(fields=["design", "purpose", "-id"])]

    def __str__(self) -> str:
        return f"{self.design} {self.get_purpose_display()}"
