"""What the survey holds in rows: roof obstacles, wire legs, loads, travel, equipment, wet spots."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned
from jobs.models.survey import ConfidenceChoice


class SurveyRow(ShopOwned):
    """A row of a survey; ``key`` is made where the row is typed, so that sending it twice keeps one row."""

    shop_path = "survey__job__shop"

    key = models.UUIDField(default=uuid.uuid4, editable=False)

    class Meta:
        abstract = True


def once_per_survey(name: str) -> models.UniqueConstraint:
    """Return the rule that a row's key occurs once in a survey."""
    return models.UniqueConstraint(fields=["survey", "key"], name=name)


class Obstacle(SurveyRow):
    """A thing on the roof. Corner nearest the rear right, meters from the rear right roof corner."""

    class Kind(models.TextChoices):
        AIR_CONDITIONER = "air_conditioner", _("Air conditioner")
        AIR_CONDITIONER_LOW = "air_conditioner_low", _("Air conditioner, low profile")
        VENT = "vent", _("Powered vent")
        VENT_RAIN_COVER = "vent_rain_cover", _("Vent with rain cover")
        SKYLIGHT = "skylight", _("Skylight or shower dome")
        PLUMBING_STACK = "plumbing_stack", _("Plumbing stack cap")
        FRIDGE_VENT = "fridge_vent", _("Fridge roof vent")
        ANTENNA = "antenna", _("TV antenna")
        DOME = "dome", _("Satellite dome or dish")
        FLAT_TERMINAL = "flat_terminal", _("Flat internet terminal")
        LADDER = "ladder", _("Ladder top")
        AWNING = "awning", _("Awning head")
        RACK = "rack", _("Luggage rack or rail")
        EXISTING_PANEL = "existing_panel", _("Existing solar panel")
        SEAM = "seam", _("Cap seam or gutter")
        OTHER = "other", _("Other")

    class Swing(models.TextChoices):
        NONE = "", _("Does not open")
        FRONT = "front", _("Toward the front")
        REAR = "rear", _("Toward the rear")
        LEFT = "left", _("Toward the left")
        RIGHT = "right", _("Toward the right")

    survey = models.ForeignKey("jobs.Survey", on_delete=models.CASCADE, related_name="obstacles")
    kind = models.CharField(max_length=24, choices=Kind)
    label = models.CharField(max_length=60, blank=True, default="")
    is_round = models.BooleanField(default=False)
    x_m = models.FloatField(help_text="From the rear edge of the roof, forward")
    y_m = models.FloatField(help_text="From the right edge of the roof, to the left")
    length_m = models.FloatField(help_text="Along the vehicle")
    width_m = models.FloatField(help_text="Across the vehicle")
    height_m = models.FloatField()
    height_open_m = models.FloatField(null=True, blank=True)
    swing = models.CharField(max_length=6, choices=Swing, blank=True, default="")
    keep_out_m = models.FloatField(default=0.1)
    will_be_removed = models.BooleanField(default=False)
    is_guess = models.BooleanField(default=False, help_text="Size is the usual one, not measured")

    class Meta:
        ordering = ["pk"]
        constraints = [once_per_survey("obstacle_key_once")]

    def __str__(self) -> str:
        return self.label or self.get_kind_display()


class WireLeg(SurveyRow):
    """One stretch of a wire's way, one way along the path, meters. Legs of one circuit add up."""

    class Place(models.TextChoices):
        ROOF = "roof", _("Roof")
        DROP = "drop", _("Drop")
        CABINET = "cabinet", _("Cabinet")
        FLOOR = "floor", _("Floor")

    survey = models.ForeignKey("jobs.Survey", on_delete=models.CASCADE, related_name="wire_legs")
    circuit = models.CharField(max_length=3, help_text="Circuit of the schedule, C1 to C17")
    place = models.CharField(max_length=10, choices=Place)
    length_m = models.FloatField(help_text="Path along the wire, one way")
    confidence = models.CharField(max_length=10, choices=ConfidenceChoice, default=ConfidenceChoice.GUESS)
    difficulty = models.PositiveSmallIntegerField(default=2)
    bundle_count = models.PositiveSmallIntegerField(default=2)
    is_near_heat = models.BooleanField(default=False)
    has_conduit = models.BooleanField(default=False, help_text="An existing conduit or duct to pull through")
    note = models.CharField(max_length=160, blank=True, default="")

    class Meta:
        ordering = ["circuit", "pk"]
        constraints = [once_per_survey("wire_leg_key_once")]

    def __str__(self) -> str:
        return f"{self.circuit} {self.get_place_display()}"


class LoadItem(SurveyRow):
    """One appliance of the load audit: running power, duty, hours a day, count."""

    class Bus(models.TextChoices):
        DC = "dc", _("DC")
        AC = "ac", _("AC")

    survey = models.ForeignKey("jobs.Survey", on_delete=models.CASCADE, related_name="loads")
    position = models.PositiveSmallIntegerField(default=0)
    name = models.CharField(max_length=100)
    bus = models.CharField(max_length=2, choices=Bus, default=Bus.DC)
    power_w = models.FloatField()
    duty_fraction = models.FloatField(default=1)
    hours_per_day = models.FloatField()
    quantity = models.FloatField(default=1)
    surge_factor = models.FloatField(default=1)
    is_critical = models.BooleanField(default=False)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [once_per_survey("load_key_once")]

    def __str__(self) -> str:
        return self.name

    @property
    def energy_wh(self) -> float:
        """Return the energy of a day [Wh]."""
        return self.power_w * self.duty_fraction * self.hours_per_day * self.quantity


class TravelStop(SurveyRow):
    """A place and the months spent there."""

    class Shade(models.TextChoices):
        OPEN = "open", _("Open sky")
        MIXED = "mixed", _("Some trees")
        WOODS = "woods", _("Woods")

    survey = models.ForeignKey("jobs.Survey", on_delete=models.CASCADE, related_name="stops")
    place = models.CharField(max_length=120)
    latitude_deg = models.FloatField()
    longitude_deg = models.FloatField(null=True, blank=True)
    months = models.JSONField(default=list, help_text="Month numbers, 1 to 12")
    shade_habit = models.CharField(max_length=6, choices=Shade, default=Shade.OPEN)
    psh_h = models.FloatField(
        "own peak sun hours",
        null=True,
        blank=True,
        help_text="kWh/m² a day on the flat; blank: from the climate grid",
    )
    nights = models.PositiveSmallIntegerField(null=True, blank=True)
    altitude_m = models.FloatField(null=True, blank=True, help_text="Blank: of the climate grid")
    tilt_deg = models.FloatField(
        null=True, blank=True, help_text="Panels tilted to the noon sun while parked here"
    )
    tilt_uptake_fraction = models.FloatField(
        null=True, blank=True, help_text="Share of days somebody does it; blank: as is usual"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [once_per_survey("stop_key_once")]

    def __str__(self) -> str:
        return self.place


class ExistingItem(SurveyRow):
    """Equipment found on the vehicle, and what happens to it."""

    class Kind(models.TextChoices):
        BATTERY = "battery", _("Battery")
        CONVERTER = "converter", _("Converter or charger")
        INVERTER = "inverter", _("Inverter")
        INVERTER_CHARGER = "inverter_charger", _("Inverter-charger")
        GENERATOR = "generator", _("Generator")
        SHORE = "shore", _("Shore service")
        ALTERNATOR = "alternator", _("Alternator")
        DC_DC = "dc_dc", _("DC-DC charger")
        ISOLATOR = "isolator", _("Isolator or relay")
        TOW_WIRE = "tow_wire", _("Tow charge wire")
        CONTROLLER = "controller", _("Charge controller")
        PANEL = "panel", _("Solar panel")
        SOLAR_PLUG = "solar_plug", _("“Solar-ready” port")
        MONITOR = "monitor", _("Battery monitor shunt")
        DISCONNECT = "disconnect", _("Battery disconnect")
        MAIN_FUSE = "main_fuse", _("Main fuse")
        DC_PANEL = "dc_panel", _("DC panel")
        AC_PANEL = "ac_panel", _("AC panel")
        BREAKAWAY = "breakaway", _("Breakaway battery (trailer brakes)")
        MOTOR = "motor", _("Slide or jack motors")
        FRIDGE = "fridge", _("Fridge")
        TANK_HEATER = "tank_heater", _("Tank heaters")
        LP_DETECTOR = "lp_detector", _("LP gas detector")
        OTHER = "other", _("Other")

    class Chemistry(models.TextChoices):
        UNKNOWN = "", _("Not known")
        FLOODED = "flooded", _("Flooded lead")
        AGM = "agm", _("AGM")
        GEL = "gel", _("Gel")
        LFP = "lfp", _("LFP lithium")

    class Fate(models.TextChoices):
        KEEP = "keep", _("Keep")
        REMOVE = "remove", _("Remove")
        DISABLE = "disable", _("Disable")
        REPLACE = "replace", _("Replace")

    survey = models.ForeignKey("jobs.Survey", on_delete=models.CASCADE, related_name="existing_items")
    kind = models.CharField(max_length=20, choices=Kind)
    name = models.CharField(max_length=120, blank=True, default="")
    rating_a = models.FloatField(null=True, blank=True)
    rating_w = models.FloatField(null=True, blank=True)
    voltage_v = models.FloatField(null=True, blank=True)
    mass_kg = models.FloatField(null=True, blank=True, help_text="All of them together")
    axle_x_m = models.FloatField(null=True, blank=True, help_text="Behind the front axle or hitch")
    quantity = models.PositiveSmallIntegerField(default=1)
    fate = models.CharField(max_length=10, choices=Fate, default=Fate.KEEP)
    low_t_stop_c = models.FloatField(
        null=True, blank=True, help_text="Charging stops below this; blank: it does not stop"
    )
    temp_comp_mv_per_c = models.FloatField(
        null=True, blank=True, help_text="Temperature compensation over the whole bank; 0: off"
    )
    chemistry = models.CharField(max_length=8, choices=Chemistry, blank=True, default=Chemistry.UNKNOWN)
    capacity_ah = models.FloatField(null=True, blank=True, help_text="Of one battery, at the 20 hour rate")
    date_code = models.CharField(max_length=30, blank=True, default="")
    place = models.CharField(max_length=80, blank=True, default="")
    profiles = models.CharField(max_length=120, blank=True, default="", help_text="Charge profiles offered")
    is_smart = models.BooleanField(default=False, help_text="Engine computer lowers the alternator")
    idle_hot_a = models.FloatField(null=True, blank=True, help_text="Alternator, idling hot")
    access = models.PositiveSmallIntegerField(null=True, blank=True, help_text="1 easy to 4 hard")
    wire_size = models.CharField(max_length=12, blank=True, default="")
    run_len_m = models.FloatField(null=True, blank=True, help_text="Path along the wire, one way")
    fuse_a = models.FloatField(null=True, blank=True)
    plug_kind = models.CharField(max_length=60, blank=True, default="")
    fuel = models.CharField(max_length=20, blank=True, default="")
    has_auto_start = models.BooleanField(default=False)
    has_surge_guard = models.BooleanField(default=False)
    spare_ways = models.PositiveSmallIntegerField(null=True, blank=True)
    has_gfci = models.BooleanField(default=False)
    connectors = models.CharField(
        max_length=120, blank=True, default="", help_text="Type and maker, both ends of the lead"
    )
    equalises = models.BooleanField(default=False)
    age_years = models.FloatField(null=True, blank=True, help_text="Of a panel that stays")
    measured_isc_a = models.FloatField(null=True, blank=True, help_text="Panel: short-circuit current")
    measured_at_w_m2 = models.FloatField(null=True, blank=True, help_text="Panel: light meanwhile")
    note = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ["pk"]
        constraints = [once_per_survey("existing_item_key_once")]

    def __str__(self) -> str:
        return self.name or self.get_kind_display()


class SoftSpot(SurveyRow):
    """A place where the roof gave way or read wet, with the meter's reading; corner as for an obstacle."""

    survey = models.ForeignKey("jobs.Survey", on_delete=models.CASCADE, related_name="soft_spots")
    x_m = models.FloatField(help_text="From the rear edge of the roof, forward")
    y_m = models.FloatField(help_text="From the right edge of the roof, to the left")
    length_m = models.FloatField(null=True, blank=True)
    width_m = models.FloatField(null=True, blank=True)
    moisture_fraction = models.FloatField(null=True, blank=True, help_text="Wood at 20% and more is wet")
    note = models.CharField(max_length=160, blank=True, default="")

    class Meta:
        ordering = ["pk"]
        constraints = [once_per_survey("soft_spot_key_once")]

    def __str__(self) -> str:
        return self.note or f"Soft spot {self.pk or ''}".strip()
