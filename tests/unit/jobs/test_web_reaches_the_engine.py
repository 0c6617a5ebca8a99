"""Everything the engine can be asked is typed somewhere in the web, or it is said here why not.

The types of the question are walked, so that a new field of the engine fails here until a form asks for it.
Every value of every record is changed once, by itself, and the question looked at: what moved is reached.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import types
import typing
from collections import Counter
from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any

import pytest
from django import forms
from django.db import models

from jobs.engine.stored import design_in_full
from jobs.engine.system import system_basis, system_input
from jobs.forms import design as of_design
from jobs.forms.charging import SourceRowForm
from jobs.forms.design_circuits import CircuitRowForm
from jobs.forms.part import SHEET_FORMS, PartForm
from jobs.forms.shop import ShopSettingsForm
from jobs.forms.vehicle import VehicleForm
from jobs.models import (
    Design,
    DesignBank,
    DesignCircuit,
    DesignController,
    DesignInverter,
    DesignPanel,
    DesignSource,
    DesignString,
    ExistingItem,
    Part,
    Survey,
    Vehicle,
)
from jobs.roof.read import roof_state
from jobs.shop.refusals import Refusal
from jobs.survey import PARTS
from sizing.core.inputs import SystemInput

pytestmark = pytest.mark.django_db
Leaf = tuple[str, str]  # class and field of the question
Place = tuple[str, str]  # record and column

#: What no single field of the web moves, and why.
WHY_NOT: dict[str, str] = {
    "SystemInput.settled_paths": "filled in when values as built are laid over the question, from the plan",
    "PlacedPanel.zone": "The year of shade judges each panel by the drawing; zones are for files.",
    "RoofInput.is_bonded_only": "Follows from the feet of all panels: none has any.",
    "TravelLeg.clearness_kt": "A shop that knows better than the climate grid gives peak sun hours.",
}


# --- the question -------------------------------------------------------------------------------------------


def _inner(hint: Any) -> Iterator[Any]:
    """Yield the plain types in a hint: of ``tuple[X, ...] | None`` the X."""
    origin, inside = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Annotated:
        yield from _inner(inside[0])
    elif origin in (typing.Union, types.UnionType, tuple, frozenset):
        for each in inside:
            yield from _inner(each)
    elif hint is not Ellipsis and hint is not type(None):
        yield hint


@cache
def leaves(owner: type = SystemInput) -> frozenset[Leaf]:
    """Return every field that holds a value and no further record, of a type and all that hang from it."""
    found: set[Leaf] = set()
    hints = typing.get_type_hints(owner, include_extras=True)
    for field in dataclasses.fields(owner):
        below = [each for each in _inner(hints[field.name]) if dataclasses.is_dataclass(each)]
        if below:
            found = found.union(*(leaves(each) for each in below))
        else:
            found.add((owner.__name__, field.name))
    return frozenset(found)


def values(record: Any) -> Iterator[tuple[Leaf, Any]]:
    """Yield every leaf of a question with its value, in order."""
    for field in dataclasses.fields(record):
        value = getattr(record, field.name)
        rows = value if isinstance(value, tuple) else (value,)
        if rows and all(dataclasses.is_dataclass(each) for each in rows):
            for each in rows:
                yield from values(each)
        else:
            yield (type(record).__name__, field.name), value


def flat(asked: SystemInput) -> dict[Leaf, list[Any]]:
    found: dict[Leaf, list[Any]] = {}
    for leaf, value in values(asked):
        found.setdefault(leaf, []).append(value)
    return found


# --- the records --------------------------------------------------------------------------------------------


@pytest.fixture
def design(golden_job) -> Design:
    """Return the golden design with something of every kind on it, read in full."""
    survey, design = golden_job.survey, golden_job.designs.get()
    used = ExistingItem.objects.create(survey=survey, kind="panel", age_years=9)
    kept = ExistingItem.objects.create(survey=survey, kind="converter", rating_a=45)
    design.panels.filter(number=1).update(existing=used)
    DesignSource.objects.create(design=design, existing=kept)
    Design.objects.filter(pk=design.pk).update(has_branch_plugs=True)
    design.circuits.filter(label="C2").update(fuse_a=30, fuse_family="gPV")
    Vehicle.objects.filter(pk=golden_job.vehicle_id).update(cargo_label_type="ccc", year=None)
    sheet = design.bank.part.battery_sheet
    sheet.is_heated, sheet.heater_w = True, 40.0
    sheet.save()
    sheet = design.inverter.part.inverter_sheet
    sheet.is_charger, sheet.charge_a = True, 80.0
    sheet.save()
    panel = design.panels.first().part.panel_sheet
    panel.curve = {"parameters": CURVE, "rests_on": {"voc_v": panel.voc_v}}
    panel.save()
    return design_in_full(design.pk)


CURVE = {
    "alpha_sc_a_per_c": 0.005, "a_ref_v": 0.95, "i_l_ref_a": 10.2, "i_o_ref_a": 1e-10, "r_s_ohm": 0.1,
    "r_sh_ref_ohm": 200.0, "adjust_percent": 3.0, "eg_ref_ev": 1.121, "d_eg_dt_per_c": -0.00027,
}  # fmt: skip
_SHEETS = ("panel_sheet", "controller_sheet", "battery_sheet", "inverter_sheet", "charger_sheet")


def records(design: Design) -> Iterator[models.Model]:
    """Yield every record the question is made of, as it is held by the design."""
    survey = design.job.survey
    yield from (design, survey, design.job.vehicle, design.job.shop)
    rows = [*design.panels.all(), *design.controllers.all(), *design.sources.all(), *design.strings.all()]
    rows += [design.bank, design.inverter, *design.circuits.all()]
    for row in rows:
        yield row
        for name in ("existing", "part"):
            thing = getattr(row, name, None)
            if thing is not None:
                yield thing
                yield from (found for each in _SHEETS if (found := getattr(thing, each, None)) is not None)
    for found in (survey.loads, survey.stops, survey.obstacles, survey.existing_items):
        yield from found.all()


def some(rows: Iterable[models.Model]) -> Iterator[models.Model]:
    """Yield the records, of rows that go the same ways the first few."""
    seen: Counter[tuple[type, str]] = Counter()
    for row in rows:
        key = type(row), row.kind if isinstance(row, (Part, ExistingItem)) else ""
        seen[key] += 1
        if seen[key] <= 3:
            yield row


def others(column: models.Field, value: Any) -> Iterator[Any]:
    """Yield values that a column might hold instead."""
    if column.primary_key:
        return
    if column.is_relation:
        yield from (None,) if column.null and value is not None else ()
    elif isinstance(column, models.DateField):
        yield from (dt.date(2004, 3, 1), dt.date(2015, 3, 1))
    elif column.choices:
        yield from (each for each, _ in column.flatchoices if each != value)
    elif isinstance(column, models.BooleanField):
        yield from (each for each in (True, False, None) if each != value)
    elif isinstance(column, models.JSONField):
        yield from _other_json(value)
    elif isinstance(column, models.IntegerField):
        yield from (each for each in (0, 3) if each != value)
    elif isinstance(column, models.FloatField):
        yield from (each for each in (97.0, 0.0) if each != value)
    elif isinstance(column, models.CharField):
        yield from (f"{value}~", "C3")


def _other_json(value: Any) -> Iterator[Any]:
    if isinstance(value, dict) and "parameters" in value:
        for name in value["parameters"]:
            yield {**value, "parameters": {**value["parameters"], name: 0.037}}
    elif isinstance(value, list):
        yield [4, 9]
        yield ["panels"]


def moved(design: Design) -> dict[Leaf, set[Place]]:
    """Return the columns that move each leaf of the question."""
    before, found = flat(asked(design)), {}
    for record in some(records(design)):
        for column in record._meta.concrete_fields:
            value = getattr(record, column.name)
            for other in others(column, value):
                setattr(record, column.name, other)
                try:
                    after = flat(asked(design))
                except (Refusal, ValueError, KeyError, TypeError, AttributeError, AssertionError):
                    continue  # no value this column can hold
                finally:
                    setattr(record, column.name, value)
                place = type(record).__name__, column.name
                went = {each for each in after.keys() | before.keys() if after.get(each) != before.get(each)}
                for leaf in went:
                    found.setdefault(leaf, set()).add(place)
                if went and not column.choices and not isinstance(column, models.JSONField):
                    break  # other values of it go the same way
    return found


def asked(design: Design) -> SystemInput:
    return system_input(roof_state(design), system_basis(design))


# --- the forms ----------------------------------------------------------------------------------------------

_FORMS: list[tuple[type[models.Model], type[forms.Form]]] = [
    (Design, of_design.BasisForm),
    (Design, of_design.PanelBasisForm),
    (Design, of_design.PlugsForm),
    (DesignPanel, of_design.PanelRowForm),
    (DesignController, of_design.ControllerRowForm),
    (DesignString, of_design.StringRowForm),
    (DesignBank, of_design.BankForm),
    (DesignInverter, of_design.InverterForm),
    (DesignSource, SourceRowForm),
    (DesignCircuit, CircuitRowForm),
    (Part, PartForm),
    (Vehicle, VehicleForm),
]


def typed() -> set[Place]:
    """Return every column that a form of the web asks for."""
    found = {(model.__name__, name) for model, form in _FORMS for name in form.base_fields}
    for form in (*SHEET_FORMS.values(), ShopSettingsForm):
        found |= {(form._meta.model.__name__, name) for name in form.base_fields}
    for part in PARTS.values():
        found |= {("Vehicle" if fact.on == "vehicle" else "Survey", fact.name) for fact in part.facts}
        for sheet in part.rows:
            model = Survey._meta.get_field(sheet.prefix).related_model
            found |= {(model.__name__, fact.name) for fact in sheet.facts}
    return found | BY_OTHER_MEANS.keys()


#: Columns that are set without a field of that name.
BY_OTHER_MEANS: dict[Place, str] = {
    ("Survey", "guessed_fields"): "the ticks “is a guess” beside each fact",
    ("PanelSheet", "curve"): "the module of the open list, or the model fitted to the sheet",
    ("DesignPanel", "number"): "given in order",
    ("DesignPanel", "string"): "the panels named by a string",
    ("DesignPanel", "existing"): "chosen where the survey has panels that stay",
    ("DesignString", "number"): "given in order",
}


# --- the tests ----------------------------------------------------------------------------------------------


def test_the_walk_finds_what_hangs_from_the_question():
    found = {f"{owner}.{name}" for owner, name in leaves()}
    assert {"OcpdInput.interrupting_a", "SingleDiode.r_s_ohm", "WeightInput.mass_points"} <= found
    assert "SystemInput.bank" not in found
    assert len(found) > 150


def test_every_field_of_the_question_is_asked_for_in_the_web(design):
    by, can_be_typed = moved(design), typed()
    reached = {leaf for leaf, places in by.items() if places & can_be_typed}
    missing = {f"{owner}.{name}" for owner, name in leaves() - reached}
    hidden = {f"{owner}.{name}": sorted(by[owner, name]) for owner, name in by.keys() - reached}
    assert missing == set(WHY_NOT), f"stored but asked for by no form: {hidden}"


def test_panels_without_feet_are_held_by_bond_alone(design):
    for panel in design.panels.all():
        panel.feet = 0
    assert asked(design).roof.is_bonded_only
