"""The vehicle: what it is, what it weighs and what it may carry."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned


class Vehicle(ShopOwned):
    """One motorhome, trailer, van or camper. Lengths in meters, masses in kilograms."""

    class Kind(models.TextChoices):
        CLASS_A = "class_a", _("Class A motorhome")
        CLASS_B = "class_b", _("Class B van")
        CLASS_C = "class_c", _("Class B+ / C motorhome")
        TRAVEL_TRAILER = "travel_trailer", _("Travel trailer")
        FIFTH_WHEEL = "fifth_wheel", _("Fifth wheel")
        TOY_HAULER = "toy_hauler", _("Toy hauler")
        TRUCK_CAMPER = "truck_camper", _("Truck camper")
        SMALL_TRAILER = "small_trailer", _("Small trailer or teardrop")
        LIFTING_ROOF = "lifting_roof", _("Folding or lifting roof")
        BUS = "bus", _("Bus conversion")

    class LabelType(models.TextChoices):
        OCCC = "occc", _("“Occupant and cargo carrying capacity” (OCCC)")
        CARGO = "cargo", _("“Cargo carrying capacity”, and it says that water is cargo")
        CCC = "ccc", _("“Cargo carrying capacity” (CCC), and nothing of water")

    class Hitch(models.TextChoices):
        BY_KIND = "", _("As usual for this kind")
        TONGUE = "tongue", _("Tongue on a ball (10% to 15% of the trailer)")
        PIN = "pin", _("Pin of a fifth wheel (15% to 25%)")
        CARAVAN = "caravan", _("Coupling of a European caravan (5% to 7%)")

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="vehicles")
    customer = models.ForeignKey("jobs.Customer", on_delete=models.PROTECT, related_name="vehicles")
    kind = models.CharField(max_length=20, choices=Kind)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    make_text = models.CharField("make and model", max_length=120, blank=True, default="")
    vin = models.CharField("VIN or serial", max_length=17, blank=True, default="")
    plate = models.CharField(max_length=20, blank=True, default="")
    length_m = models.FloatField(null=True, blank=True, help_text="Outside length")
    gvwr_kg = models.FloatField(null=True, blank=True)
    gawr_front_kg = models.FloatField(null=True, blank=True)
    gawr_rear_kg = models.FloatField(null=True, blank=True)
    gawr_tag_kg = models.FloatField(null=True, blank=True, help_text="Third (tag) axle")
    hitch = models.CharField(max_length=8, choices=Hitch, blank=True, default=Hitch.BY_KIND)
    hitch_limit_kg = models.FloatField(
        null=True, blank=True, help_text="Lowest plate of hitch, pin, coupling"
    )
    uvw_kg = models.FloatField(null=True, blank=True)
    cargo_label_kg = models.FloatField(null=True, blank=True, help_text="OCCC or CCC from the label")
    cargo_label_type = models.CharField(max_length=5, choices=LabelType, default=LabelType.OCCC)
    scale_ticket_date = models.DateField(null=True, blank=True)
    scale_front_kg = models.FloatField(null=True, blank=True, help_text="Front axle, hitch or pin as weighed")
    scale_rear_kg = models.FloatField(null=True, blank=True)
    scale_is_loaded = models.BooleanField(null=True, blank=True, help_text="Weighed ready for the road")
    wheelbase_m = models.FloatField(null=True, blank=True, help_text="Or hitch to axle")
    rear_overhang_m = models.FloatField(
        null=True, blank=True, help_text="Rear (drive) axle to the rear edge of the roof"
    )
    tag_spacing_m = models.FloatField(null=True, blank=True, help_text="Drive axle to tag axle")
    fresh_water_l = models.FloatField(null=True, blank=True)
    overall_height_m = models.FloatField(null=True, blank=True, help_text="Highest point now")
    height_limit_m = models.FloatField(default=4.05, help_text="Warn above this")
    roof_warranty_until = models.DateField(null=True, blank=True)
    is_lived_in = models.BooleanField(default=False)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-created_at", "-pk"]
        indexes = [models.Index(fields=["shop", "vin"]), models.Index(fields=["shop", "plate"])]

    def __str__(self) -> str:
        return f"{self.year or ''} {self.make_text or self.get_kind_display()}".strip()

    @property
    def vin_tail(self) -> str:
        """Return the last six characters of the VIN, as printed on every page."""
        return self.vin[-6:]

    @property
    def is_towed(self) -> bool:
        """Return whether people ride elsewhere (their mass is not on this vehicle)."""
        return self.kind in {
            self.Kind.TRAVEL_TRAILER,
            self.Kind.FIFTH_WHEEL,
            self.Kind.TOY_HAULER,
            self.Kind.SMALL_TRAILER,
            self.Kind.LIFTING_ROOF,
        }
