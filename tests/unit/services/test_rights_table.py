"""Every service called directly, without a page in front of it, by everybody there can be.

A page refuses before a service does, so a guard lost inside is seen by no test of a page. Here each service
is called by each part of the shop, by an owner who left, by the owner of another shop, by a person of no shop
and by one who is not signed in. Who may, comes through; everybody else is refused and no row is written.
Beside it the other shop stands by, and a second job of the same shop: none of their rows ever changes.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import transaction

import checklists
import jobs
from jobs.customers.job import MoveRefused
from jobs.shop.rights import NotAllowed
from tests.unit.services.calls import Service
from tests.unit.services.table import FOLLOWS, OF_CUSTOMERS, SERVICES
from tests.unit.services.world import STAGES, World, rows_of_job, rows_of_shop, rows_written

PERSONS = (
    "owner", "estimator", "lead", "technician", "bookkeeper", "left", "stranger", "nobody", "signed out",
)  # fmt: skip
#: Rooms above or below the services: what a page, a form, a table row or a command does is no service.
NOT_SERVICES = ("views", "forms", "models", "migrations", "templatetags", "management")
#: Services among them: a long table is read by the forms people fill in, in the background.
SERVICES_THERE = ("jobs.forms.import_run",)


@contextmanager
def undone() -> Iterator[None]:
    """Take back what is written inside."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def trial(world: World, service: Service, person: str) -> str:
    """Call a service as a person, undone after; return what is wrong, empty if nothing."""
    with undone():
        given = service.given(world.here)
        said = outcome(world, service, person, given, rows_written())
    return said and f"{service.name} by {person}: {said}"


def outcome(world: World, service: Service, person: str, given: Any, written: int) -> str:
    may = person in service.may
    try:
        with transaction.atomic():
            service.call(world.here, world.people[person], given)
    except (NotAllowed, MoveRefused) as refusal:
        if may:
            return f"refused, though theirs to do: {refusal}"
        return f"refused, but {rows_written() - written} rows written" if rows_written() > written else ""
    except Exception as problem:
        return f"{type(problem).__name__}: {problem}"
    return "" if may else "done, though not theirs to do"


@pytest.mark.parametrize("stage", sorted({service.stage for service in SERVICES}))
def test_who_may_comes_through_and_nobody_else(world, stage):
    STAGES[stage](world.here)
    said = [
        trial(world, service, person) for service in SERVICES if service.stage == stage for person in PERSONS
    ]
    assert not [words for words in said if words]


@pytest.mark.parametrize("stage", sorted({service.stage for service in SERVICES}))
def test_the_other_shop_and_the_other_job_stay_as_they_are(world, stage):
    STAGES[stage](world.here)
    shop, neighbour = world.late.shop, world.neighbour.job
    before = rows_of_shop(shop), rows_of_job(neighbour)
    for service in (*SERVICES, *OF_CUSTOMERS):
        if service.stage != stage:
            continue
        with undone():
            service.call(world.here, world.people["owner"], service.given(world.here))
            assert (rows_of_shop(shop), rows_of_job(neighbour)) == before, service.name


def public_functions() -> Iterator[Any]:
    """Yield every public function of the rooms in which services live."""
    for package in (jobs, checklists):
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if found.name.split(".")[1] in NOT_SERVICES and found.name not in SERVICES_THERE:
                continue
            module = importlib.import_module(found.name)
            for name, one in vars(module).items():
                if inspect.isfunction(one) and one.__module__ == found.name and not name.startswith("_"):
                    yield one


def acts_for_a_person(function: Any) -> bool:
    """Return whether a function is told who acts: by the name of what it takes, or by its type."""
    for name, one in inspect.signature(function).parameters.items():
        words = str(one.annotation)
        if name in {"actor", "person", "change"} and words not in {"StepInfo", "RowChanges"}:
            return True
        if words.split(" | ")[0] in {"Actor", "Change"}:
            return True
    return False


def test_every_service_is_in_the_table():
    acting = {one.__name__ for one in public_functions() if acts_for_a_person(one)}
    told = {service.does.__name__ for service in SERVICES}
    assert acting - told - FOLLOWS.keys() == set(), "written into the table, with who may"
    assert told <= acting, "a service of the table that is told no person any more"


def test_the_table_is_of_every_part_of_a_shop():
    from jobs.models import Membership

    assert len(PERSONS[:5]) == len(Membership.Role.values)
