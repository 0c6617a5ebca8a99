"""The vehicle: what it is, what it weighs and what it may carry."""

from __future__ import annotations

from django.db import models

from jobs.models.scope import ShopOwned


class Vehicle(ShopOwned):
    """One motorhome, trailer, van or camper. Lengths in metres, masses in kilograms."""

    class Kind(models.TextChoices):
        CLASS_A = "class_a", "Class A motorhome"
        CLASS_B = "class_b", "Class B van"
        CLASS_C = "class_c", "Class B+ / C motorhome"
        TRAVEL_TRAILER = "travel_trailer", "Travel trailer"
        FIFTH_WHEEL = "fifth_wheel", "Fifth wheel"
        TOY_HAULER = "toy_hauler", "Toy hauler"
        TRUCK_CAMPER = "truck_camper", "Truck camper"
        SMALL_TRAILER = "small_trailer", "Small trailer or teardrop"
        LIFTING_ROOF = "lifting_roof", "Folding or lifting roof"
        BUS = "bus", "Bus conversion"

    class LabelType(models.TextChoices):
        OCCC = "occc", "OCCC or current cargo label (water and people still to come off)"
        CCC = "ccc", "Older CCC label (water and people already taken off)"

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
    uvw_kg = models.FloatField(null=True, blank=True)
    cargo_label_kg = models.FloatField(null=True, blank=True, help_text="OCCC or CCC from the label")
    cargo_label_type = models.CharField(max_length=4, choices=LabelType, default=LabelType.OCCC)
    scale_ticket_date = models.DateField(null=True, blank=True)
    scale_front_kg = models.FloatField(null=True, blank=True, help_text="Front axle, hitch or pin as weighed")
    scale_rear_kg = models.FloatField(null=True, blank=True)
    wheelbase_m = models.FloatField(null=True, blank=True, help_text="Or hitch to axle")
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
