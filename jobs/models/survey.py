"""Knows what was found on the vehicle: roof, things on it, ways for wire, loads, travel, equipment."""

from __future__ import annotations

from django.db import models

from jobs.models.scope import ShopOwned


class ConfidenceChoice(models.TextChoices):
    """How a fact was got."""

    MEASURED = "measured", "Measured"
    SCALED = "scaled", "Scaled from a drawing"
    GUESS = "guess", "Guess"


class Survey(ShopOwned):
    """One vehicle as found for one job. Lengths in metres, temperatures in °C; blank means not known yet.

    ``guessed_fields`` names the fields a person marked as a guess: every result that rests on one says so.
    """

    class Material(models.TextChoices):
        UNKNOWN = "unknown", "Unknown"
        EPDM = "epdm", "EPDM rubber"
        TPO = "tpo", "TPO"
        PVC = "pvc", "PVC"
        FIBREGLASS = "fibreglass", "Fibreglass"
        ALUMINIUM = "aluminium", "Aluminium"
        STEEL = "steel", "Painted steel"
        COATED = "coated", "Coated or mixed"

    class RafterKind(models.TextChoices):
        WOOD = "wood", "Wood"
        ALUMINIUM = "aluminium", "Aluminium tube"
        STEEL = "steel", "Steel arch or rib"
        NONE = "none", "None found"

    class GlandKind(models.TextChoices):
        GLAND_BOX = "gland_box", "Gland box on the roof"
        FRIDGE_VENT = "fridge_vent", "Fridge vent"
        PLUMBING_STACK = "plumbing_stack", "Beside a plumbing stack"
        FACTORY_PORT = "factory_port", "Factory port"
        SIDE_WALL = "side_wall", "Side wall"
        CAB_OVER = "cab_over", "Cab-over"

    class Profile(models.TextChoices):
        WEEKENDER = "weekender", "Weekender"
        SEASONAL = "seasonal", "Seasonal, 3-6 months"
        SNOWBIRD = "snowbird", "Snowbird (winter south)"
        SUMMER_NORTH = "summer_north", "Summer north"
        FULL_TIME = "full_time", "Full-time"
        SKI = "ski", "Ski or winter work"
        EVENT = "event", "Event or tailgate"
        STORED = "stored", "Stored, maintenance only"

    shop_path = "job__shop"

    job = models.OneToOneField("jobs.Job", on_delete=models.CASCADE, related_name="survey")
    surveyed_by_name = models.CharField(max_length=150, blank=True, default="")
    surveyed_on_date = models.DateField(null=True, blank=True)
    guessed_fields = models.JSONField(default=list, blank=True)

    roof_length_m = models.FloatField(null=True, blank=True)
    roof_width_m = models.FloatField(
        null=True, blank=True, help_text="Flat width, where the edge radius starts"
    )
    edge_radius_mm = models.FloatField(null=True, blank=True)
    crown_mm = models.FloatField(null=True, blank=True)
    material = models.CharField(max_length=12, choices=Material, default=Material.UNKNOWN)
    roof_age_years = models.FloatField(null=True, blank=True)
    is_coated = models.BooleanField(default=False)
    deck_thickness_mm = models.FloatField(null=True, blank=True, default=9.5)
    rafter_spacing_mm = models.FloatField(null=True, blank=True, default=406)
    rafter_first_mm = models.FloatField(null=True, blank=True, help_text="First rafter, from the rear edge")
    rafter_kind = models.CharField(max_length=12, choices=RafterKind, default=RafterKind.WOOD)
    max_person_kg = models.FloatField(null=True, blank=True, default=113)
    walkway_width_mm = models.FloatField(default=400)
    edge_clearance_mm = models.FloatField(default=150)
    front_clearance_mm = models.FloatField(default=300)

    gland_x_m = models.FloatField(null=True, blank=True)
    gland_y_m = models.FloatField(null=True, blank=True)
    gland_kind = models.CharField(max_length=20, choices=GlandKind, default=GlandKind.GLAND_BOX)
    gland_screws = models.PositiveSmallIntegerField(default=8)
    cable_holes = models.PositiveSmallIntegerField(default=1)

    v_nominal_v = models.PositiveSmallIntegerField(
        default=12, choices=[(12, "12 V"), (24, "24 V"), (48, "48 V")]
    )
    tmin_travel_c = models.FloatField(null=True, blank=True)
    tmin_storage_c = models.FloatField(null=True, blank=True)
    tmax_c = models.FloatField(default=42)
    battery_tmin_c = models.FloatField(null=True, blank=True, help_text="Coldest the battery itself gets")
    battery_is_inside = models.BooleanField(default=True)

    profile = models.CharField(max_length=20, choices=Profile, default=Profile.SEASONAL)
    autonomy_days = models.FloatField(default=1.5)
    design_month = models.PositiveSmallIntegerField(null=True, blank=True)
    k_sys = models.FloatField(default=0.75, help_text="All system losses together")
    people_count = models.PositiveSmallIntegerField(default=2)
    people_on_board_kg = models.FloatField(null=True, blank=True)
    customer_cargo_kg = models.FloatField(null=True, blank=True)
    fresh_water_carried_l = models.FloatField(null=True, blank=True)
    notes = models.TextField(blank=True, default="")

    def __str__(self) -> str:
        return f"Survey of {self.job}"


class Obstacle(ShopOwned):
    """A thing on the roof. Corner nearest the rear right, metres from the rear right roof corner."""

    class Kind(models.TextChoices):
        AIR_CONDITIONER = "air_conditioner", "Air conditioner"
        AIR_CONDITIONER_LOW = "air_conditioner_low", "Air conditioner, low profile"
        VENT = "vent", "Powered vent"
        VENT_RAIN_COVER = "vent_rain_cover", "Vent with rain cover"
        SKYLIGHT = "skylight", "Skylight or shower dome"
        PLUMBING_STACK = "plumbing_stack", "Plumbing stack cap"
        FRIDGE_VENT = "fridge_vent", "Fridge roof vent"
        ANTENNA = "antenna", "TV antenna"
        DOME = "dome", "Satellite dome or dish"
        FLAT_TERMINAL = "flat_terminal", "Flat internet terminal"
        LADDER = "ladder", "Ladder top"
        AWNING = "awning", "Awning head"
        RACK = "rack", "Luggage rack or rail"
        EXISTING_PANEL = "existing_panel", "Solar already there"
        SEAM = "seam", "Cap seam or gutter"
        OTHER = "other", "Other"

    class Swing(models.TextChoices):
        NONE = "", "Does not open"
        FRONT = "front", "Towards the front"
        REAR = "rear", "Towards the rear"
        LEFT = "left", "Towards the left"
        RIGHT = "right", "Towards the right"

    shop_path = "survey__job__shop"

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="obstacles")
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

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.label or self.get_kind_display()


class WireLeg(ShopOwned):
    """One stretch of a wire's way, one way along the path, metres. Legs of one circuit add up."""

    class Place(models.TextChoices):
        ROOF = "roof", "Roof"
        DROP = "drop", "Drop"
        CABINET = "cabinet", "Cabinet"
        FLOOR = "floor", "Floor"

    shop_path = "survey__job__shop"

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="wire_legs")
    circuit = models.CharField(max_length=3, help_text="Circuit of the schedule, C1 to C17")
    place = models.CharField(max_length=10, choices=Place)
    length_m = models.FloatField(help_text="Path along the wire, one way")
    confidence = models.CharField(max_length=10, choices=ConfidenceChoice, default=ConfidenceChoice.GUESS)
    difficulty = models.PositiveSmallIntegerField(default=2)
    bundle_count = models.PositiveSmallIntegerField(default=2)
    is_near_heat = models.BooleanField(default=False)
    note = models.CharField(max_length=160, blank=True, default="")

    class Meta:
        ordering = ["circuit", "pk"]

    def __str__(self) -> str:
        return f"{self.circuit} {self.get_place_display()}"


class LoadItem(ShopOwned):
    """One appliance of the load audit: running power, duty, hours a day, count."""

    class Bus(models.TextChoices):
        DC = "dc", "DC"
        AC = "ac", "AC"

    shop_path = "survey__job__shop"

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="loads")
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

    def __str__(self) -> str:
        return self.name

    @property
    def energy_wh(self) -> float:
        """Return the energy of a day [Wh]."""
        return self.power_w * self.duty_fraction * self.hours_per_day * self.quantity


class TravelStop(ShopOwned):
    """A place and the months spent there."""

    class Shade(models.TextChoices):
        OPEN = "open", "Open sky"
        MIXED = "mixed", "Some trees"
        WOODS = "woods", "Woods"

    shop_path = "survey__job__shop"

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="stops")
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

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.place


class ExistingItem(ShopOwned):
    """Equipment found on the vehicle, and what happens to it."""

    class Kind(models.TextChoices):
        BATTERY = "battery", "Battery"
        CONVERTER = "converter", "Converter or charger"
        INVERTER = "inverter", "Inverter"
        INVERTER_CHARGER = "inverter_charger", "Inverter-charger"
        GENERATOR = "generator", "Generator"
        SHORE = "shore", "Shore service"
        ALTERNATOR = "alternator", "Alternator"
        DC_DC = "dc_dc", "DC-DC charger"
        ISOLATOR = "isolator", "Isolator or relay"
        TOW_WIRE = "tow_wire", "Tow charge wire"
        CONTROLLER = "controller", "Charge controller"
        PANEL = "panel", "Solar panel"
        OTHER = "other", "Other"

    class Fate(models.TextChoices):
        KEEP = "keep", "Keep"
        REMOVE = "remove", "Remove"
        DISABLE = "disable", "Disable"
        REPLACE = "replace", "Replace"

    shop_path = "survey__job__shop"

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="existing_items")
    kind = models.CharField(max_length=20, choices=Kind)
    name = models.CharField(max_length=120, blank=True, default="")
    rating_a = models.FloatField(null=True, blank=True)
    rating_w = models.FloatField(null=True, blank=True)
    voltage_v = models.FloatField(null=True, blank=True)
    mass_kg = models.FloatField(null=True, blank=True, help_text="All of them together")
    quantity = models.PositiveSmallIntegerField(default=1)
    fate = models.CharField(max_length=10, choices=Fate, default=Fate.KEEP)
    low_t_stop_c = models.FloatField(null=True, blank=True)
    equalises = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name or self.get_kind_display()
