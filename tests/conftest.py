"""Knows the people and the records that tests are told with.

Alice owns a shop, Erin estimates, Lena leads, Bob installs, Ken keeps the books. Charlie owns another shop
and must never see anything of Alice's.
"""

from __future__ import annotations

import datetime as dt
import gc
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import settings

from tests.on_postgres import counters_follow, counters_reset, is_postgres
from tests.replay import replayed

settings.register_profile("no stopwatch", deadline=None)
settings.load_profile("no stopwatch")

SHOP_PEOPLE = {
    "alice": "owner",
    "erin": "estimator",
    "lena": "lead_technician",
    "bob": "technician",
    "ken": "bookkeeper",
}

PEOPLE = {*SHOP_PEOPLE, "charlie"}

#: A test of minutes that is begun last keeps the other processes waiting; two of these wait much themselves.
LONGEST = (
    "tests/browser/test_whole_job.py",
    "tests/soak/test_on_postgres.py",
    "tests/soak/test_restore.py",
    "tests/soak/test_two_devices.py",
    "tests/soak/test_web_process.py",
)
#: The golden job, and one that is not meant.
STORED_JOBS = ("2026-001", "2026-002")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Begin with the longest; leave the long forms to be run by hand: they take minutes to hours."""
    items.sort(key=lambda item: not item.nodeid.startswith(LONGEST))
    for item in items:  # records are put back only where those before them are the same: people come later
        item.fixturenames.sort(key=lambda name: name in PEOPLE)
    if "full" in config.option.markexpr:
        return
    by_hand = pytest.mark.skip(reason="the long form is run by hand: pytest -n 0 -m full")
    for item in items:
        if item.get_closest_marker("full"):
            item.add_marker(by_hand)


def pytest_collection_finish() -> None:
    """Look for garbage seldom, never among the tests found: a tenth of the time went there."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 100)


class NoMigrations:
    """Says of every app that it has no migrations, as ``--no-migrations`` does."""

    def __contains__(self, app: str) -> bool:
        return True

    def __getitem__(self, app: str) -> None:
        return None


@pytest.fixture(scope="session", autouse=True)
def quick_settings(request: pytest.FixtureRequest) -> None:
    """Leave out what guards nothing here: a million passes of a hash, a list of all static files.

    That there are no migrations is said at the start: where the first test of a process changes a setting and
    asks for its database later, the plugin's own word ends with that test.
    """
    from django.conf import settings

    if request.config.getoption("nomigrations"):
        settings.MIGRATION_MODULES = NoMigrations()
    settings.MIDDLEWARE = [
        each for each in settings.MIDDLEWARE if "FirstRun" not in each
    ]  # its own test has it
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.WHITENOISE_AUTOREFRESH = True  # else every new client looks for them all


@pytest.fixture(scope="session", autouse=True)
def flushed_through_the_door() -> None:
    """Let tests that empty the tables empty those too that are only ever added to."""
    from django.db.backends.base.operations import BaseDatabaseOperations

    from common.guard import door_opened

    flush = BaseDatabaseOperations.execute_sql_flush

    def opened(self: Any, sql_list: Any) -> None:
        with door_opened(self.connection.alias):
            flush(self, sql_list)

    BaseDatabaseOperations.execute_sql_flush = opened  # type: ignore[method-assign]


@pytest.fixture
def now() -> dt.datetime:
    """Return the moment every test happens at, unless it says otherwise."""
    return dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def nothing_cached_by_other_tests() -> None:
    """Begin with nothing counted against the one address all tests come from, and no design being dragged."""
    from django.core.cache import caches

    for each in caches.all():
        each.clear()


@pytest.fixture(autouse=True)
def numbers_begin_anew(request: pytest.FixtureRequest) -> None:
    """Draw on PostgreSQL the numbers that SQLite would: a rolled back test gives them back."""
    is_asked = request.node.get_closest_marker("django_db") or "_django_db_helper" in request.fixturenames
    if is_asked and is_postgres():
        request.getfixturevalue("_django_db_helper")
        counters_reset()


@pytest.fixture
def make_person(db: None) -> Callable[..., Any]:
    """Return a maker of people with a role in a shop."""
    from django.contrib.auth.models import User

    from jobs.models import Membership

    def make(name: str, shop: Any, role: str) -> Any:
        user = User.objects.create_user(
            name, f"{name}@shop.example", first_name=name.title(), last_name="Test"
        )
        user.membership = Membership.objects.create(user=user, shop=shop, role=role)
        return user

    return make


@pytest.fixture
def shop(db: None) -> Any:
    """Return Alice's shop: empty, imperial, default rates."""
    from jobs.models import Shop

    # Bob may take along any job, as most tests let him; test_take_along narrows it.
    return Shop.objects.create(name="Test Coach Solar", technicians_take_all=True)


@pytest.fixture
def alice(shop: Any, make_person: Callable[..., Any]) -> Any:
    """Return the owner."""
    return make_person("alice", shop, SHOP_PEOPLE["alice"])


@pytest.fixture
def erin(shop: Any, make_person: Callable[..., Any]) -> Any:
    """Return the estimator."""
    return make_person("erin", shop, SHOP_PEOPLE["erin"])


@pytest.fixture
def lena(shop: Any, make_person: Callable[..., Any]) -> Any:
    """Return the lead technician."""
    return make_person("lena", shop, SHOP_PEOPLE["lena"])


@pytest.fixture
def bob(shop: Any, make_person: Callable[..., Any]) -> Any:
    """Return the technician."""
    return make_person("bob", shop, SHOP_PEOPLE["bob"])


@pytest.fixture
def ken(shop: Any, make_person: Callable[..., Any]) -> Any:
    """Return the bookkeeper."""
    return make_person("ken", shop, SHOP_PEOPLE["ken"])


@pytest.fixture
def charlie(db: None, make_person: Callable[..., Any]) -> Any:
    """Return the stranger: the owner of another shop."""
    from jobs.models import Shop

    return make_person("charlie", Shop.objects.create(name="Other Coach Solar"), "owner")


@pytest.fixture
def client_of() -> Callable[[Any], Any]:
    """Return a maker of signed-in clients."""
    from django.test import Client

    def make(user: Any) -> Any:
        client = Client()
        client.force_login(user)
        return client

    return make


@pytest.fixture(scope="session")
def demo_records() -> dict[Any, list[Any]]:
    """Return two jobs of the demo shop and all that is no job's, read once, in the order of the file."""
    from pathlib import Path

    from django.core import serializers

    from jobs.models import Job

    text = (Path(__file__).parent.parent / "fixtures" / "demo_shop.json").read_text()
    by_model: dict[Any, list[Any]] = {}
    for record in serializers.deserialize("json", text):
        assert not any(record.m2m_data.values()), "the bulk load below knows no many-to-many rows"
        by_model.setdefault(type(record.object), []).append(record.object)
    gone: dict[Any, set[Any]] = {Job: {job.pk for job in by_model[Job] if job.number not in STORED_JOBS}}
    for model, records in by_model.items():  # a row stands behind those it names
        links = [field for field in model._meta.concrete_fields if field.is_relation]
        stay = [
            row
            for row in records
            if row.pk not in gone.get(model, ())
            and not any(getattr(row, one.attname) in gone.get(one.related_model, ()) for one in links)
        ]
        gone[model] = {row.pk for row in records} - {row.pk for row in stay}
        by_model[model] = stay
    return by_model


@pytest.fixture
def golden_job(shop: Any, demo_records: dict[Any, list[Any]]) -> Any:
    """Return job 2026-001 of the demo shop (complete survey, draft design), moved into Alice's shop."""
    from jobs.models import Job

    pk = replayed(f"golden {shop.pk}", lambda: _golden(shop, demo_records))
    return Job.objects.select_related("vehicle__customer", "shop").get(pk=pk)


def _golden(shop: Any, demo_records: dict[Any, list[Any]]) -> int:
    from copy import copy

    from django.db import transaction

    from common.guard import door_opened
    from jobs.models import Customer, Job, Membership, Part, Shop, Vehicle

    # Row by row, as the loaddata command does it, takes longer than most tests.
    with transaction.atomic():  # rows name one another: the keys are looked at when all are there
        for model, records in demo_records.items():
            model.objects.bulk_create([copy(record) for record in records])
    if is_postgres():
        counters_follow()
    demo = Shop.objects.get(name="Marrow Creek Coach Solar")
    job = Job.objects.get(shop=demo, number="2026-001")
    Membership.objects.filter(shop=demo).delete()
    with door_opened():
        for model in (Customer, Vehicle, Part, Job):
            model.objects.filter(shop=demo).update(shop=shop)
    return job.pk


@pytest.fixture
def odd_costs(golden_job: Any) -> Callable[[str], set[str]]:
    """Give everything a cost that no price or size can equal, and return a finder of such costs in a text."""
    import re
    from decimal import Decimal

    from jobs.models import Part, Shop

    costs = {f"{rank * 131 + 7}.{(rank * 37) % 90 + 3:02d}" for rank in range(1, 400)}
    for part, cost in zip(Part.objects.order_by("pk"), sorted(costs, key=Decimal), strict=False):
        Part.objects.filter(pk=part.pk).update(cost=Decimal(cost))
    Shop.objects.update(labour_cost=Decimal("63.17"), mile_cost=Decimal("0.83"))
    secret = set(Part.objects.values_list("cost", flat=True)) | {Decimal("63.17"), Decimal("126.34")}

    def found(text: str) -> set[str]:
        numbers = re.findall(r"\d[\d,]*\.\d\d(?!\d)", text)
        return {number for number in numbers if Decimal(number.replace(",", "")) in secret}

    return found


@pytest.fixture
def draft_quote(golden_job: Any, alice: Any, now: dt.datetime) -> Any:
    """Return a draft quote on the golden job's design, sized, proposed and priced by the owner."""
    from jobs.design.revision import design_size
    from jobs.models import Quote
    from jobs.quote.draft import quote_create
    from tests.quotes import nothing_missing

    def build() -> int:
        design = golden_job.designs.get()
        design_size(design=design, actor=alice, at=now)
        quote = quote_create(design=design, actor=alice, at=now)
        return nothing_missing(quote, alice, now).pk

    return Quote.objects.get(pk=replayed(f"draft {golden_job.pk} {alice.pk} {now}", build))


@pytest.fixture
def sent_quote(draft_quote: Any, alice: Any) -> Any:
    """Return the quote, sent today, with the token of its link as ``quote.token``."""
    from django.utils import timezone

    from jobs.models import Quote
    from jobs.quote.send import quote_send

    def build() -> str:
        return quote_send(quote=draft_quote, actor=alice, at=timezone.now())[1]

    token = replayed(f"sent {draft_quote.pk} {alice.pk}", build)
    quote = Quote.objects.select_related("job__shop", "design").get(pk=draft_quote.pk)
    quote.token = token
    return quote


@pytest.fixture
def accepted_quote(sent_quote: Any) -> Any:
    """Return the quote, accepted by the customer."""
    from django.utils import timezone

    from jobs.models import Quote
    from jobs.quote.answer import quote_accept

    def build() -> None:
        quote_accept(quote=sent_quote, signed_name="Nell Pardee", signature_svg="", at=timezone.now())

    replayed(f"accepted {sent_quote.pk}", build)
    quote = Quote.objects.select_related("job__shop", "design").get(pk=sent_quote.pk)
    quote.token = sent_quote.token
    return quote
