"""Customers and their vehicles as a table: a row a vehicle, the customer's columns before it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from typing import Final

from django.utils.translation import gettext as _

from jobs.forms.customer import CustomerForm
from jobs.forms.import_rows import (
    Bound,
    Column,
    Fault,
    Found,
    bind,
    cells_of,
    columns_of,
    faults_of,
    stored_texts,
)
from jobs.forms.vehicle import VehicleForm
from jobs.models import Customer, Shop, Vehicle

_OWNER, _VEHICLE = "customer", "vehicle"
#: By these three a customer is known again, in a file and on file.
_WHO: Final = ("name", "phone", "email")
Cells = dict[tuple[str, str], str]


@dataclass
class FoundCustomers(Found):
    """The customers and the vehicles to write; a vehicle names its customer."""

    customers: list[Customer] = field(default_factory=list)
    vehicles: list[Vehicle] = field(default_factory=list)


@dataclass
class _Known:
    """A customer met before: the record, the first row that spoke of them and what it said."""

    record: Customer
    vehicles: list[Vehicle]
    line: int = 0
    said: dict[str, str] = field(default_factory=dict)


def customer_columns(shop: Shop, today: date) -> list[Column]:
    """Return the columns: the customer's, then the vehicle's."""
    owner = columns_of(CustomerForm(units=shop.units), _OWNER)
    return owner + columns_of(VehicleForm(shop=shop, today=today), _VEHICLE, "Vehicle: ")


def customer_table(shop: Shop, today: date, *, has_rows: bool = True) -> list[list[str]]:
    """Return the shop's customers as rows of text, the headings first; these alone are the template."""
    columns = customer_columns(shop, today)
    rows = [[column.heading for column in columns]]
    customers = Customer.objects.of_shop(shop).prefetch_related("vehicles").order_by("name", "pk")
    for customer in customers if has_rows else ():
        texts = _named(_OWNER, stored_texts(CustomerForm(units=shop.units, instance=customer)))
        vehicles: list[Vehicle | None] = list(customer.vehicles.all())
        for vehicle in vehicles or [None]:
            form = VehicleForm(shop=shop, today=today, instance=vehicle) if vehicle else None
            both = texts | _named(_VEHICLE, stored_texts(form) if form else {})
            rows.append([both.get((column.group, column.name), "") for column in columns])
    return rows


def _named(group: str, texts: dict[str, str]) -> Cells:
    return {(group, name): text for name, text in texts.items()}


def customers_found(shop: Shop, rows: list[list[str]], today: date) -> FoundCustomers:
    """Read a table against what is on file; who and what is known is changed, the rest is new."""
    columns = customer_columns(shop, today)
    read = _Reader(shop, columns, today)
    for line, cells in cells_of(rows, columns):
        read.row(line, {(column.group, column.name): text for column, text in cells.items()})
    return read.found


class _Reader:
    """Reads row after row and keeps what was found."""

    def __init__(self, shop: Shop, columns: list[Column], today: date) -> None:
        self.shop, self.columns, self.found = shop, columns, FoundCustomers()
        self.owner_form = partial(CustomerForm, units=shop.units)
        self.vehicle_form = partial(VehicleForm, shop=shop, today=today)
        self.vins: dict[str, int] = {}
        self.known: dict[tuple[str, ...], _Known] = {}
        on_file = Customer.objects.of_shop(shop).select_related("shop").prefetch_related("vehicles")
        for customer in on_file.order_by("-pk"):  # of two that are alike the older one
            who = _key({name: getattr(customer, name) for name in _WHO})
            self.known[who] = _Known(customer, list(customer.vehicles.all()))

    def row(self, line: int, cells: Cells) -> None:
        """Read one row: whose it is, then the vehicle, if it names one."""
        said = {name: text for (group, name), text in cells.items() if group == _OWNER}
        known = self.known.setdefault(_key(said), _Known(Customer(shop=self.shop), []))
        if not known.line:
            self._owner(known, line, said)
        elif any(text and text != known.said.get(name) for name, text in said.items()):
            words = _("Not as in row {row}, which is the same customer.").format(row=known.line)
            self.found.faults.append(Fault(line, _("Whole row"), words))
        given = {name: text for (group, name), text in cells.items() if group == _VEHICLE}
        if any(given.values()):
            self._vehicle(known, line, given)

    def _owner(self, known: _Known, line: int, said: dict[str, str]) -> None:
        known.line, known.said = line, said
        bound = bind(self.owner_form, known.record, said)
        if self._told(bound, line, _OWNER, is_new=known.record.pk is None):
            known.record = bound.record
            self.found.customers.append(bound.record)

    def _vehicle(self, known: _Known, line: int, given: dict[str, str]) -> None:
        vin = "".join(given.get("vin", "").upper().split())
        if vin and self.vins.setdefault(vin, line) != line:
            words = _("{vin} stands in row {row} already.").format(vin=vin, row=self.vins[vin])
            self.found.faults.append(Fault(line, "Vehicle: VIN or maker's serial", words))
            return
        record = _again(known.vehicles, given, vin)
        if record is None:
            record = Vehicle(shop=self.shop, customer=known.record)
        else:
            known.vehicles.remove(record)  # two that look alike are two
        bound = bind(self.vehicle_form, record, given)
        if self._told(bound, line, _VEHICLE, is_new=record.pk is None):
            bound.record.customer = known.record
            self.found.vehicles.append(bound.record)

    def _told(self, bound: Bound, line: int, group: str, *, is_new: bool) -> bool:
        """Count a record and tell what is wrong; return whether there is something to write."""
        self.found.faults += faults_of(bound, line, group, self.columns)
        self.found.questions += [Fault(line, "", words) for words in bound.questions]
        if is_new:
            self.found.new += 1
        elif bound.is_changed:
            self.found.changed += 1
        else:
            self.found.same += 1
        return is_new or bound.is_changed


def _key(said: dict[str, str]) -> tuple[str, ...]:
    return tuple(" ".join(said.get(name, "").casefold().split()) for name in _WHO)


def _again(vehicles: list[Vehicle], given: dict[str, str], vin: str) -> Vehicle | None:
    """Return the vehicle of this customer that a row speaks of: by VIN, else plate, else name."""
    plate = " ".join(given.get("plate", "").upper().split())
    name = given.get("make_text", "").casefold()
    ways: tuple[Callable[[Vehicle], bool], ...] = (
        lambda one: bool(vin) and one.vin == vin,
        lambda one: bool(plate) and one.plate == plate and not (vin and one.vin),
        lambda one: not (vin or plate or one.vin or one.plate) and one.make_text.casefold() == name,
    )
    return next((one for is_it in ways for one in vehicles if is_it(one)), None)
