"""The shop's catalog: what a part is, what it costs, and its data sheet by kind."""

from __future__ import annotations

from django.db import models
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
    mass_kg = models.FloatField(default=0)
    is_serial_tracked = models.BooleanField(default=False)
    warranty_months = models.PositiveSmallIntegerField(null=True, blank=True)
    is_active = models.BooleanField(default=True)
    support_phone = models.CharField(
        "maker's support line", max_length=40, blank=True, default="", help_text="Kept on the tablet"
    )

    class Meta:
        ordering = ["kind", "name"]
        constraints = [models.UniqueConstraint(fields=["shop", "sku"], name="part_sku_once_per_shop")]

    def __str__(self) -> str:
        return self.name


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

    def __str__(self) -> str:
        return f"{self.part} limits"


class InverterSheet(ShopOwned):
    """An inverter's limits."""

    shop_path = "part__shop"

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="inverter_sheet")
    power_w = models.FloatField()
    surge_w = models.FloatField(null=True, blank=True)
    idle_w = models.FloatField(default=25)
    efficiency_fraction = models.FloatField(default=0.88)
    max_fuse_a = models.FloatField(null=True, blank=True)
    is_charger = models.BooleanField(default=False)
    charge_a = models.FloatField(null=True, blank=True, help_text="Output as a charger")
    has_low_t_stop = models.BooleanField(default=False, help_text="As its data sheet states")
    low_t_stop_c = models.FloatField(null=True, blank=True, help_text="Fixed by the maker; blank: can be set")

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

    def __str__(self) -> str:
        return f"{self.part} limits"
