"""The shop's catalog: what a part is, what it costs, and its data sheet by kind."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned
from jobs.models.shop import money_field


class Part(ShopOwned):
    """One thing the shop buys and fits. Costs are never shown to technician or customer."""

    class Kind(models.TextChoices):
        PANEL = "panel", _("Panel")
        CONTROLLER = "controller", _("Charge controller")
        BATTERY = "battery", _("Battery")
        INVERTER = "inverter", _("Inverter")
        CHARGER = "charger", _("Charger or DC-DC")
        MOUNT = "mount", _("Mount or foot")
        CABLE = "cable", _("Cable")
        PROTECTION = "protection", _("Fuse, breaker or switch")
        SEALANT = "sealant", _("Sealant")
        OTHER = "other", _("Other")

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="parts")
    sku = models.CharField("stock code", max_length=40)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=Kind)
    unit = models.CharField(max_length=12, default="each", help_text="each, m, tube …")
    cost = money_field("0", "What the shop pays")
    supplier = models.ForeignKey(
        "jobs.Supplier", on_delete=models.PROTECT, null=True, blank=True, related_name="parts"
    )
    supplier_number = models.CharField("supplier's number", max_length=60, blank=True, default="")
    lead_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="From order to delivery; blank: as its supplier says"
    )
    pack_size = models.DecimalField(
        max_digits=9,
        decimal_places=3,
        default=Decimal(1),
        validators=[MinValueValidator(Decimal("0.001"))],
        help_text="Units in what the supplier sells at once: 100 for a roll of 100 ft",
    )
    shelf = models.CharField("place on the shelf", max_length=40, blank=True, default="")
    mass_kg = models.FloatField(default=0)
    is_serial_tracked = models.BooleanField(default=False)
    warranty_months = models.PositiveSmallIntegerField(null=True, blank=True)
    is_active = models.BooleanField(default=True)
    support_phone = models.CharField(
        "maker's support line", max_length=40, blank=True, default="", help_text="Kept on the tablet"
    )

    class Meta:
        ordering = ["kind", "name"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "sku"], name="part_sku_once_per_shop"),
            models.UniqueConstraint(
                fields=["supplier", "supplier_number"],
                condition=~Q(supplier_number=""),
                name="part_supplier_number_once",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def waits_days(self) -> int | None:
        """Return the days from order to delivery: its own, else its supplier's; None where nobody said."""
        if self.lead_days is not None:
            return self.lead_days
        return self.supplier.lead_days if self.supplier else None


class PanelSheet(ShopOwned):
    """A panel's data sheet at 1000 W/m² and 25 °C; coefficients in percent per °C, as sheets print them."""

    class BoxPlace(models.TextChoices):
        SHORT = "short", _("At a short side")
        LONG = "long", _("At a long side")
        MIDDLE = "middle", _("In the middle")

    shop_path = "part__shop"

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="panel_sheet")
    pmp_w = models.FloatField()
    vmp_v = models.FloatField()
    imp_a = models.FloatField()
    voc_v = models.FloatField()
    isc_a = models.FloatField()
    length_m = models.FloatField()
    width_m = models.FloatField()
    thickness_m = models.FloatField(default=0.035)
    beta_voc_percent_per_c = models.FloatField(null=True, blank=True)
    gamma_pmp_percent_per_c = models.FloatField(null=True, blank=True)
    alpha_isc_percent_per_c = models.FloatField(default=0.05)
    max_series_fuse_a = models.FloatField(null=True, blank=True)
    cells_in_series = models.PositiveSmallIntegerField(null=True, blank=True)
    cell_columns = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Cells along the length")
    cell_rows = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Cells across the width")
    bypass_diodes = models.PositiveSmallIntegerField(null=True, blank=True)
    is_half_cut = models.BooleanField(default=False)
    is_flexible = models.BooleanField(default=False)
    connector = models.CharField(max_length=60, blank=True, default="")
    curve = models.JSONField(null=True, blank=True, help_text="Single-diode model read from the data sheet")
    box_place = models.CharField("junction box", max_length=6, choices=BoxPlace, default=BoxPlace.SHORT)

    def __str__(self) -> str:
        return f"{self.part} data sheet"


class ControllerSheet(ShopOwned):
    """A charge controller's limits."""

    class Principle(models.TextChoices):
        MPPT = "mppt", _("MPPT")
        PWM = "pwm", _("PWM")

    shop_path = "part__shop"

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="controller_sheet")
    principle = models.CharField(max_length=4, choices=Principle, default=Principle.MPPT)
    pv_voltage_limit_v = models.FloatField()
    rated_output_a = models.FloatField()
    pv_isc_limit_a = models.FloatField(null=True, blank=True)
    start_margin_v = models.FloatField(default=5)
    run_margin_v = models.FloatField(default=1)
    pv_power_limit_w = models.FloatField(null=True, blank=True, help_text="Largest array by its maker")
    efficiency_fraction = models.FloatField(default=0.96)
    has_low_t_stop = models.BooleanField(default=False, help_text="As its data sheet states")
    low_t_stop_c = models.FloatField(null=True, blank=True, help_text="Fixed by the maker; blank: can be set")
    length_m = models.FloatField(null=True, blank=True, help_text="Outside, with its terminals")
    width_m = models.FloatField(null=True, blank=True)
    height_m = models.FloatField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.part} limits"


class BatterySheet(ShopOwned):
    """A battery's limits, each battery."""

    class Chemistry(models.TextChoices):
        LFP = "lfp", _("LFP lithium")
        AGM = "agm", _("AGM")
        GEL = "gel", _("Gel")
        FLOODED = "flooded", _("Flooded")

    shop_path = "part__shop"

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="battery_sheet")
    chemistry = models.CharField(max_length=8, choices=Chemistry)
    nominal_v = models.FloatField()
    capacity_ah = models.FloatField()
    max_charge_a = models.FloatField(null=True, blank=True)
    max_discharge_a = models.FloatField(null=True, blank=True)
    max_peak_discharge_a = models.FloatField(null=True, blank=True, help_text="For a few seconds")
    absorb_low_v = models.FloatField(null=True, blank=True, help_text="Maker's charge range, each battery")
    absorb_high_v = models.FloatField(null=True, blank=True, help_text="Maker's charge range, each battery")
    short_circuit_a = models.FloatField(
        null=True, blank=True, help_text="Prospective, maker's figure, each battery"
    )
    internal_resistance_mohm = models.FloatField(null=True, blank=True, help_text="Maker's, each battery")
    cca_a = models.FloatField(null=True, blank=True, help_text="Cold cranking amps, each battery")
    is_heated = models.BooleanField(default=False)
    heater_w = models.FloatField(default=0)
    rated_hours_h = models.FloatField(default=20, help_text="The capacity is printed at this rate")
    peukert_k = models.FloatField(null=True, blank=True, help_text="Blank: usual for the chemistry")
    length_m = models.FloatField(null=True, blank=True, help_text="Outside, with its terminals")
    width_m = models.FloatField(null=True, blank=True)
    height_m = models.FloatField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.part} limits"


class InverterSheet(ShopOwned):
    """An inverter's limits."""

    shop_path = "part__shop"

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="inverter_sheet")
    power_w = models.FloatField()
    surge_w = models.FloatField(null=True, blank=True)
    surge_s = models.FloatField(null=True, blank=True, help_text="How long it holds the surge")
    input_low_v = models.FloatField(null=True, blank=True, help_text="Lowest DC volts it works from")
    input_high_v = models.FloatField(null=True, blank=True, help_text="Highest DC volts it stands")
    idle_w = models.FloatField(default=25)
    efficiency_fraction = models.FloatField(default=0.88)
    max_fuse_a = models.FloatField(null=True, blank=True)
    is_charger = models.BooleanField(default=False)
    charge_a = models.FloatField(null=True, blank=True, help_text="Output as a charger")
    has_low_t_stop = models.BooleanField(default=False, help_text="As its data sheet states")
    low_t_stop_c = models.FloatField(null=True, blank=True, help_text="Fixed by the maker; blank: can be set")
    length_m = models.FloatField(null=True, blank=True, help_text="Outside, with its terminals")
    width_m = models.FloatField(null=True, blank=True)
    height_m = models.FloatField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.part} limits"


class ChargerSheet(ShopOwned):
    """A charger's limits: converter, DC-DC and the like."""

    class Kind(models.TextChoices):
        DC_DC = "dc_dc", _("DC-DC from the engine")
        CONVERTER = "converter", _("Converter or shore charger")
        RELAY = "relay", _("Relay or isolator, no charger")

    shop_path = "part__shop"

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="charger_sheet")
    kind = models.CharField(max_length=10, choices=Kind)
    output_a = models.FloatField()
    lockout_v = models.FloatField(null=True, blank=True)
    has_low_t_stop = models.BooleanField(default=False, help_text="As its data sheet states")
    low_t_stop_c = models.FloatField(null=True, blank=True, help_text="Fixed by the maker; blank: can be set")
    has_lithium_profile = models.BooleanField(default=True)
    input_low_v = models.FloatField(null=True, blank=True, help_text="Lowest DC volts it works from")
    input_high_v = models.FloatField(null=True, blank=True, help_text="Highest DC volts it stands")

    def __str__(self) -> str:
        return f"{self.part} limits"


class CableSheet(ShopOwned):
    """What a cable is, apart from its name: gauge, family, conductors, and what its jacket stands."""

    class Standard(models.TextChoices):
        AWG = "awg", "AWG"
        METRIC = "metric", "mm²"
        SAE = "sae", "SAE"

    class Family(models.TextChoices):
        PV_WIRE = "pv_wire", _("PV wire (UL 4703)")
        USE_2 = "use_2", _("USE-2 (UL 854)")
        SOLAR_EN = "solar_en", _("Solar cable H1Z2Z2-K (EN 50618)")
        BOAT = "boat", _("Boat cable (UL 1426)")
        BATTERY_SAE = "battery_sae", _("Battery cable SGT, SGX (SAE J1127)")
        PRIMARY_SAE = "primary_sae", _("Primary wire GPT, GXL, TXL (SAE J1128)")
        WELDING = "welding", _("Welding cable (UL 1276)")
        THHN = "thhn", _("THHN, THWN-2 (UL 83)")
        XHHW = "xhhw", _("XHHW-2 (UL 44)")
        CORD = "cord", _("Flexible cord (UL 62)")
        OTHER = "other", _("Other")

    shop_path = "part__shop"

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="cable_sheet")
    standard = models.CharField(max_length=6, choices=Standard, default=Standard.AWG)
    size = models.CharField(max_length=10, blank=True, default="", help_text="10, 2/0, 250 kcmil, 16")
    family = models.CharField(max_length=12, choices=Family, blank=True, default="")
    conductors = models.PositiveSmallIntegerField(null=True, blank=True)
    rated_v = models.FloatField(null=True, blank=True)
    insulation_c = models.FloatField(null=True, blank=True, help_text="Temperature rating, dry")

    def __str__(self) -> str:
        return f"{self.part} gauge"

    @property
    def gauge(self) -> str:
        """Return the size as it is said: 10 AWG, 16 mm², 250 kcmil; blank where nobody said."""
        words = "" if "kcmil" in self.size else str(self.get_standard_display())
        return f"{self.size} {words}".strip() if self.size else ""


class ProtectionSheet(ShopOwned):
    """What a fuse, breaker or switch carries and what it can break."""

    class Family(models.TextChoices):
        CLASS_T = "class_t", _("Class T (UL 248-15)")
        POST = "post", _("Terminal fuse at the post")
        STRIP = "strip", _("Bolt-in strip fuse")
        BOLT_SMALL = "bolt_small", _("Small bolt-down (ISO 8820-5 SF30)")
        BOLT_LARGE = "bolt_large", _("Large bolt-down (ISO 8820-5 SF51)")
        BLADE_MINI = "blade_mini", _("Mini blade (ISO 8820-3 F)")
        BLADE = "blade", _("Blade (ISO 8820-3 C)")
        BLADE_MAXI = "blade_maxi", _("Maxi blade (ISO 8820-3 E)")
        GPV = "gpv", _("gPV cylindrical 10 × 38 (IEC 60269-6)")
        BREAKER = "breaker", _("DC breaker")
        AUTO_RESET = "auto_reset", _("Breaker that resets itself")
        SWITCH = "switch", _("Switch, protects nothing")

    shop_path = "part__shop"

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="protection_sheet")
    family = models.CharField(max_length=12, choices=Family, blank=True, default="")
    rated_a = models.FloatField(null=True, blank=True)
    rated_v = models.FloatField(null=True, blank=True, help_text="DC")
    interrupt_ka = models.FloatField(null=True, blank=True, help_text="DC, at its rated volts")
    poles = models.PositiveSmallIntegerField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.part} ratings"
