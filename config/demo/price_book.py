"""The demo's price book: invented suppliers, what cables and fuses of its catalog are, what rose lately."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from jobs.models import (
    CableSheet,
    KitItem,
    Part,
    ProtectionSheet,
    ScopeText,
    Shop,
    Supplier,
    TaskHours,
    TaxRate,
)
from jobs.parts.catalogue import part_save
from jobs.parts.costs import Because
from jobs.parts.kits import kit_item_set
from jobs.parts.suppliers import supplier_save
from jobs.quote.labour import LabourCode, labour_codes
from jobs.quote.price_book import scope_text_save, task_hours_save, tax_rate_add
from jobs.shop.settings import shop_save

#: Each with our account there, phone and days to delivery; all invented.
_SUPPLIERS: Final = {
    "Ridgeline Wire and Terminal": ("MC-2207", "555 0161", 4),
    "Tarn Solar Wholesale": ("88140", "555 0173", 9),
    "Alder Marine Electric": ("MCCS", "555 0149", 6),
}
_WIRE, _SOLAR, _MARINE = _SUPPLIERS
_FROM: Final = {
    Part.Kind.CABLE: _WIRE, Part.Kind.PANEL: _SOLAR, Part.Kind.CONTROLLER: _SOLAR, Part.Kind.BATTERY: _SOLAR,
    Part.Kind.INVERTER: _MARINE, Part.Kind.CHARGER: _MARINE, Part.Kind.PROTECTION: _MARINE,
}  # fmt: skip
_SHELF: Final = {
    Part.Kind.CABLE: "Reel rack",
    Part.Kind.PROTECTION: "Drawer 4",
    Part.Kind.SEALANT: "Cold shelf",
}
#: Family, volts DC and interrupting rating of the devices in the catalog. [A, V, kA]
_DEVICES: Final = {
    "FMAIN250": ("class_t", 250.0, 160.0, 20.0),
    "FMAIN400": ("class_t", 400.0, 160.0, 20.0),
    "FSTR": ("gpv", 25.0, 1000.0, 30.0),
    "BRK35": ("breaker", 35.0, 150.0, None),
    "SWMAIN": ("switch", 300.0, 48.0, None),
}
#: What a part cost before its supplier's latest list.
_ROSE: Final = {"PV10": "0.58", "B40": "7.90", "P200": "174.00"}


def price_book_filled(*, shop: Shop, owner: Any, at: datetime) -> None:
    """Give the catalog its suppliers, ratings and a rise or two; nothing where it has suppliers already."""
    if Supplier.objects.of_shop(shop).exists():
        return
    found = {}
    for name, (account, phone, days) in _SUPPLIERS.items():
        new = Supplier(shop=shop, name=name, account_no=account, phone=phone, lead_days=days)
        found[name] = supplier_save(supplier=new, actor=owner, at=at - timedelta(days=40))
    for part in Part.objects.of_shop(shop):
        _rise(part, owner, at)
        part.supplier = found.get(_FROM.get(Part.Kind(part.kind), ""))
        part.supplier_number = f"{part.supplier.name[:2].upper()}-{part.pk % 10000}" if part.supplier else ""
        part.shelf = _SHELF.get(Part.Kind(part.kind), "")
        part.pack_size = Decimal(500 if part.sku == "PV10" else 1)
        part_save(part=part, sheet=_sheet(part), actor=owner, at=at - timedelta(days=1))
    _said_by_the_shop(shop, owner, at - timedelta(days=10))
    _kits(shop, owner, at - timedelta(days=9))


def _kits(shop: Shop, owner: Any, at: datetime) -> None:
    """Put together what goes with the battery cable: lugs, shrink and a label, which the catalog lacks."""
    found = {}
    for sku, name, cost in (
        ("LUG40", "Lug 4/0 AWG, 3/8 in stud", "4.60"), ("SHRK1", "Adhesive shrink, 1 in", "1.15"),
        ("LBL-C", "Cable label, both ends", "0.85"),
    ):  # fmt: skip
        part = Part(shop=shop, sku=sku, name=name, kind=Part.Kind.OTHER, cost=Decimal(cost))
        found[sku] = part_save(part=part, sheet=None, actor=owner, at=at)
    head = Part.objects.of_shop(shop).get(sku="B40")
    for sku, quantity in (("LUG40", 2), ("SHRK1", 2), ("LBL-C", 1)):
        kit_item_set(
            head=head, part=found[sku], quantity=Decimal(quantity), per=KitItem.Per.LINE, actor=owner, at=at
        )


def _said_by_the_shop(shop: Shop, owner: Any, at: datetime) -> None:
    """Set what the shop has its own way: labor codes, next year's tax, a scope line, core values."""
    shop.old_battery_price, shop.old_panel_price = Decimal("-9.00"), Decimal("12.00")
    shop_save(shop=shop, changed=["old_battery_price", "old_panel_price"], actor=owner, at=at)
    start = labour_codes()["L10"]
    facts = {name: getattr(start, name) for name in LabourCode.__slots__} | {"plan_h": Decimal("2.8")}
    task_hours_save(task=TaskHours(shop=shop, **facts), actor=owner, at=at)
    own = TaskHours(
        shop=shop, code="M01", task="Roof photos, for insurers", low_h=Decimal("0.3"), plan_h=Decimal("0.5"),
        high_h=Decimal(1), scales_with="job", is_roof=True,
    )  # fmt: skip
    task_hours_save(task=own, actor=owner, at=at)
    year = at.year + 1
    for name, day, fraction in (
        ("State and county", date(at.year, 1, 1), shop.tax_fraction),
        ("State and county, from July", date(year, 7, 1), shop.tax_fraction + Decimal("0.0025")),
    ):
        tax_rate_add(rate=TaxRate(shop=shop, name=name, from_date=day, fraction=fraction), actor=owner, at=at)
    line = ScopeText(shop=shop, text="Roof photos before and after", answer="in", note="With the job sheet")
    scope_text_save(text=line, actor=owner, at=at)


def _rise(part: Part, owner: Any, at: datetime) -> None:
    if part.sku in _ROSE:
        now, part.cost = part.cost, Decimal(_ROSE[part.sku])
        part_save(part=part, sheet=None, actor=owner, at=at - timedelta(days=35))
        part.cost = now
        why = Because(why="Supplier's list of November")
        part_save(part=part, sheet=None, actor=owner, at=at - timedelta(days=12), because=why)


def _sheet(part: Part) -> CableSheet | ProtectionSheet | None:
    gauge = re.search(r"(\S+) AWG", part.name)
    if part.kind == Part.Kind.CABLE and gauge:
        is_pv = part.name.startswith("PV")
        family = CableSheet.Family.PV_WIRE if is_pv else CableSheet.Family.BATTERY_SAE
        volts, degrees = (2000.0, 90.0) if is_pv else (60.0, 125.0)
        return CableSheet(size=gauge[1], family=family, conductors=1, rated_v=volts, insulation_c=degrees)
    if part.sku in _DEVICES:
        kind, amps, volts, breaks = _DEVICES[part.sku]
        return ProtectionSheet(family=kind, rated_a=amps, rated_v=volts, interrupt_ka=breaks)
    return None
