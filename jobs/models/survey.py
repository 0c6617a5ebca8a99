"""What was found on the vehicle as single facts; what comes in rows is in ``survey_rows``."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned


class ConfidenceChoice(models.TextChoices):
    """How a fact was got."""

    MEASURED = "measured", _("Measured")
    SCALED = "scaled", _("Scaled from a drawing")
    GUESS = "guess", _("Guess")


#: Facts a new survey starts with before anyone has looked: every result that rests on one says "guess".
STARTING_GUESSES = (
    "roof.deck",
    "roof.rafters",
    "roof.max_person",
    "site.tmax",
    "system.voltage",
    "bank.place",
)


def starting_guesses() -> list[str]:
    """Return the guesses of a survey nobody has filled in yet."""
    return list(STARTING_GUESSES)


class Survey(ShopOwned):
    """One vehicle as found for one job. Lengths in meters, temperatures in °C; blank means not known yet.

    ``guessed_fields`` names the facts a person marked as a guess: every result that rests on one says so.
    ``flags`` holds values outside the usual range that a person confirmed. ``absent_kinds`` lists
    equipment that was looked for and is not there.
    """

    class Material(models.TextChoices):
        UNKNOWN = "unknown", _("Unknown")
        EPDM = "epdm", _("EPDM rubber")
        TPO = "tpo", _("TPO")
        PVC = "pvc", _("PVC")
        FIBREGLASS = "fibreglass", _("Fiberglass")
        ALUMINIUM = "aluminium", _("Aluminum")
        STEEL = "steel", _("Painted steel")
        COATED = "coated", _("Coated or mixed")

    class RafterKind(models.TextChoices):
        WOOD = "wood", _("Wood")
        ALUMINIUM = "aluminium", _("Aluminum tube")
        STEEL = "steel", _("Steel arch or rib")
        NONE = "none", _("None found")

    class Screw(models.TextChoices):
        NO_8 = "#8", _("#8 wood screw")
        NO_10 = "#10", _("#10 wood screw")
        NO_12 = "#12", _("#12 wood screw")
        NO_14 = "#14", _("#14 wood screw")
        QUARTER_INCH = "1/4", _("1/4 in wood screw")
        M6 = "M6", _("M6 wood screw")
        OTHER = "other", _("Another fastener: give its tested pull-out in the design")

    class GlandKind(models.TextChoices):
        GLAND_BOX = "gland_box", _("Gland box on the roof")
        FRIDGE_VENT = "fridge_vent", _("Fridge vent")
        PLUMBING_STACK = "plumbing_stack", _("Beside a plumbing stack")
        FACTORY_PORT = "factory_port", _("Factory port")
        SIDE_WALL = "side_wall", _("Side wall")
        CAB_OVER = "cab_over", _("Cab-over")

    class Profile(models.TextChoices):
        WEEKENDER = "weekender", _("Weekender")
        SEASONAL = "seasonal", _("Seasonal, 3-6 months")
        SNOWBIRD = "snowbird", _("Snowbird (winter south)")
        SUMMER_NORTH = "summer_north", _("Summer north")
        FULL_TIME = "full_time", _("Full-time")
        SKI = "ski", _("Ski or winter work")
        EVENT = "event", _("Event or tailgate")
        STORED = "stored", _("Stored, maintenance only")

    class Permission(models.TextChoices):
        NOT_ASKED = "", _("Not asked yet")
        NOT_NEEDED = "not_needed", _("Not needed")
        ASKED = "asked", _("Asked for")
        IN_HAND = "in_hand", _("In hand")

    class Test(models.TextChoices):
        NOT_DONE = "", _("Not tested")
        GOOD = "good", _("Good")
        BAD = "bad", _("Fault found")

    shop_path = "job__shop"

    job = models.OneToOneField("jobs.Job", on_delete=models.CASCADE, related_name="survey")
    surveyed_by_name = models.CharField(max_length=150, blank=True, default="")
    surveyed_on_date = models.DateField(null=True, blank=True)
    guessed_fields = models.JSONField(default=starting_guesses, blank=True)
    flags = models.JSONField(default=dict, blank=True)
    photos_taken = models.JSONField(default=list, blank=True)

    roof_length_m = models.FloatField(null=True, blank=True)
    roof_width_m = models.FloatField(
        null=True, blank=True, help_text="Flat width, where the edge radius starts"
    )
    edge_radius_mm = models.FloatField(null=True, blank=True)
    crown_mm = models.FloatField(null=True, blank=True)
    material = models.CharField(max_length=12, choices=Material, default=Material.UNKNOWN)
    roof_age_years = models.FloatField(null=True, blank=True)
    is_coated = models.BooleanField(default=False)
    prior_repairs = models.TextField(blank=True, default="")
    slope_front_deg = models.FloatField(null=True, blank=True)
    has_backing = models.BooleanField(default=False, help_text="Factory backing plates marked")
    roof_depth_mm = models.FloatField(null=True, blank=True, help_text="From roof skin to ceiling")
    wires_in_roof = models.TextField(blank=True, default="")
    is_walkable = models.BooleanField(default=True)
    is_moisture_checked = models.BooleanField(default=False, help_text="Whole roof pressed and metered")
    deck_thickness_mm = models.FloatField(null=True, blank=True, default=9.5)
    rafter_spacing_mm = models.FloatField(null=True, blank=True, default=406)
    rafter_first_mm = models.FloatField(null=True, blank=True, help_text="First rafter, from the rear edge")
    rafter_kind = models.CharField(max_length=12, choices=RafterKind, default=RafterKind.WOOD)
    is_front_open = models.BooleanField(
        null=True, blank=True, help_text="Nothing ahead of the front panels breaks the wind"
    )
    foot_screw = models.CharField(max_length=5, choices=Screw, default=Screw.NO_14)
    screws_per_rafter_foot = models.PositiveSmallIntegerField(default=2)
    max_person_kg = models.FloatField(null=True, blank=True, default=113)
    walkway_width_mm = models.FloatField(default=400)
    edge_clearance_mm = models.FloatField(default=150)
    front_clearance_mm = models.FloatField(default=300)

    gland_x_m = models.FloatField(null=True, blank=True)
    gland_y_m = models.FloatField(null=True, blank=True)
    gland_kind = models.CharField(max_length=20, choices=GlandKind, default=GlandKind.GLAND_BOX)
    gland_screws = models.PositiveSmallIntegerField(default=8)
    cable_holes = models.PositiveSmallIntegerField(default=1)
    gland_cavity_mm = models.FloatField(null=True, blank=True, help_text="Clear depth below the gland")
    cable_od_mm = models.FloatField(null=True, blank=True, help_text="Outside diameter of the roof cable")
    gland_low_mm = models.FloatField(null=True, blank=True, help_text="Thinnest cable the gland seals on")
    gland_high_mm = models.FloatField(null=True, blank=True, help_text="Thickest cable the gland seals on")

    v_nominal_v = models.PositiveSmallIntegerField(
        default=12, choices=[(12, "12 V"), (24, "24 V"), (36, "36 V"), (48, "48 V")]
    )
    tmin_travel_c = models.FloatField(null=True, blank=True)
    tmin_storage_c = models.FloatField(null=True, blank=True)
    tmax_c = models.FloatField(default=42)
    battery_tmin_c = models.FloatField(null=True, blank=True, help_text="Coldest the battery itself gets")
    battery_is_inside = models.BooleanField(default=True)
    battery_is_kept_warm = models.BooleanField(
        null=True, blank=True, help_text="The vehicle is kept above freezing in storage; blank: not asked"
    )
    battery_place = models.CharField(max_length=120, blank=True, default="")
    battery_is_heated = models.BooleanField(default=False)
    battery_is_vented = models.BooleanField(default=False)
    bank_x_m = models.FloatField(
        null=True, blank=True, help_text="Middle of the bank behind the front axle or hitch"
    )
    equipment_x_m = models.FloatField(
        null=True, blank=True, help_text="Inverter, chargers, controllers behind the front axle or hitch"
    )
    gear_x_m = models.FloatField(
        null=True, blank=True, help_text="Wire, mounts and gear behind the front axle or hitch"
    )
    box_length_m = models.FloatField(null=True, blank=True, help_text="Room for the bank")
    box_width_m = models.FloatField(null=True, blank=True)
    box_height_m = models.FloatField(null=True, blank=True)
    absent_kinds = models.JSONField(default=list, blank=True)
    battery_rest_v = models.FloatField(null=True, blank=True)
    parasitic_a = models.FloatField(null=True, blank=True)
    tow_plug_v = models.FloatField(null=True, blank=True)
    shore_polarity = models.CharField(max_length=4, choices=Test, blank=True, default=Test.NOT_DONE)
    gfci_trip = models.CharField(max_length=4, choices=Test, blank=True, default=Test.NOT_DONE)

    profile = models.CharField(max_length=20, choices=Profile, default=Profile.SEASONAL)
    autonomy_days = models.FloatField(default=1.5)
    design_month = models.PositiveSmallIntegerField(null=True, blank=True)
    k_sys = models.FloatField(default=0.75, help_text="All system losses together")
    people_count = models.PositiveSmallIntegerField(default=2)
    people_on_board_kg = models.FloatField(null=True, blank=True)
    customer_cargo_kg = models.FloatField(null=True, blank=True)
    fresh_water_carried_l = models.FloatField(null=True, blank=True)
    grey_water_l = models.FloatField(null=True, blank=True)
    black_water_l = models.FloatField(null=True, blank=True)
    lp_gas_kg = models.FloatField(null=True, blank=True)
    cargo_label_date = models.DateField(null=True, blank=True)
    scale_tag_kg = models.FloatField(null=True, blank=True, help_text="Third (tag) axle as weighed")

    is_household_asked = models.BooleanField(default=False)
    household = models.TextField(blank=True, default="", help_text="Pets, children, who lives in it")
    medical_need = models.TextField(blank=True, default="", help_text="Equipment that must not stop")
    permission = models.CharField(max_length=10, choices=Permission, blank=True, default=Permission.NOT_ASKED)
    site_slope_fraction = models.FloatField(null=True, blank=True)
    site_power_a = models.FloatField(null=True, blank=True)
    site_is_sheltered = models.BooleanField(null=True, blank=True)
    site_wires = models.CharField(max_length=200, blank=True, default="", help_text="Lines overhead")
    site_rules = models.CharField(max_length=200, blank=True, default="", help_text="What the owner allows")
    work_from_time = models.TimeField(null=True, blank=True)
    work_to_time = models.TimeField(null=True, blank=True)
    notes = models.TextField(blank=True, default="")

    def __str__(self) -> str:
        return f"Survey of {self.job}"
