"""One shop out of an installation and into another: every row and file, nobody's sign-in, all or nothing.

The second installation is played by the first: its people get other addresses, so every key of the archive
is taken and has to move.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import zipfile

import pytest
from django.contrib.auth.models import User
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db.backends.base.base import BaseDatabaseWrapper

from common.guard import door_opened
from config.keep import shop_import as importing
from config.keep.rows import stored_models
from config.keep.shop_export import shop_export
from config.keep.shop_import import ImportRefused, shop_import
from config.keep.shop_rows import links, models_of_a_shop, renamed, rows_of, unplaced_models
from jobs.design.revision import design_size
from jobs.engine.stored import design_in_full, is_current, latest_run
from jobs.models import Customer, Design, GuestLink, Job, Membership, Quote, RoofPhoto, Shop

AT = dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def archive(tmp_path, settings, request, monkeypatch, django_db_blocker, charlie):
    """Return the archive of a shop with a job being built and a photo; its people have moved away since."""
    real = django_db_blocker._real_ensure_connection
    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", real)
    settings.MEDIA_ROOT = tmp_path / "media"
    quote = request.getfixturevalue("accepted_quote")
    survey = quote.job.survey
    name = default_storage.save("roofs/2026/11/a.jpg", ContentFile(b"\xff\xd8 roof"))
    survey.roof_photo = RoofPhoto.objects.create(
        survey=survey, file=name, width_px=4, height_px=3, added_at=AT
    )
    quote.job.assigned_to.add(Membership.objects.get(role="owner", shop=quote.job.shop).user)
    path = tmp_path / "shop.zip"
    shop_export(quote.job.shop, path, at=AT)
    RoofPhoto.objects.all().delete()  # a key of its own kind: here for good, or not at all
    for user in User.objects.exclude(pk=charlie.pk):
        User.objects.filter(pk=user.pk).update(email=f"was-{user.email}", username=f"was-{user.username}")
    return path


def counts(shop) -> dict[str, int]:
    """Return how many rows of each model a shop has."""
    return {m._meta.label: rows_of(m, shop, "default").count() for m in models_of_a_shop()[1:]}


def test_every_model_is_a_shops_or_said_to_be_nobodys():
    assert unplaced_models() == set()


def test_a_shop_comes_in_beside_another_with_all_it_has(archive, shop):
    before = counts(shop)
    new = shop_import(archive)
    assert new.pk != shop.pk
    assert counts(shop) | {"jobs.RoofPhoto": 1} == counts(new) == before | {"jobs.RoofPhoto": 1}
    assert sum(before.values()) > 300
    photo = RoofPhoto.objects.get()
    assert photo.survey.job.shop == new
    assert photo.file.name != "roofs/2026/11/a.jpg"  # that name was taken
    with photo.file.open() as stored:
        assert stored.read() == b"\xff\xd8 roof"
    assert Job.objects.get(shop=new, number="2026-001").assigned_to.get().email == "alice@shop.example"


def test_no_row_names_a_row_of_another_shop(archive, shop):
    new = shop_import(archive)
    every = {model._meta.label_lower: model for model in models_of_a_shop()}
    for model in models_of_a_shop()[1:]:
        for column, label in links(model):
            named = set(
                rows_of(model, new, "default").exclude(**{column: None}).values_list(column, flat=True)
            )
            if label == "auth.user":
                assert not named - set(User.objects.filter(membership__shop=new).values_list("pk", flat=True))
            elif named:
                own = set(rows_of(every[label], new, "default").values_list("pk", flat=True))
                assert not named - own, (model, column)


def test_stored_answers_still_fit_and_come_out_the_same(archive, shop, now):
    old = Design.objects.filter(job__shop=shop, job__number="2026-001").first()
    new_shop = shop_import(archive)
    new = Design.objects.get(job__shop=new_shop, job__number="2026-001", number=old.number)
    assert is_current(design_in_full(new.pk), latest_run(new))
    Design.objects.filter(pk=new.pk).update(state=Design.State.DRAFT)
    stored = {check["key"]: check["value"] for check in latest_run(new).result["checks"]}
    again = design_size(design=new, actor=Membership.objects.get(shop=new_shop, role="owner").user, at=now)
    assert {check["key"]: check["value"] for check in again.result["checks"]} == stored


def test_nobody_signs_in_by_what_is_in_it(archive, shop):
    new = shop_import(archive)
    assert not any(m.user.has_usable_password() for m in new.memberships.select_related("user"))
    tokens = set(GuestLink.objects.filter(job__shop=shop).values_list("token_sha256", flat=True))
    text = b"".join(zipfile.ZipFile(archive).read(name) for name in zipfile.ZipFile(archive).namelist())
    assert tokens
    assert not any(token.encode() in text for token in tokens)


def test_nothing_of_the_other_shop_is_in_it(archive, charlie):
    text = b"".join(zipfile.ZipFile(archive).read(name) for name in zipfile.ZipFile(archive).namelist())
    assert b"Other Coach" not in text
    assert b"charlie@" not in text


def test_an_empty_installation_keeps_every_key(archive, shop):
    told = [json.loads(line) for line in zipfile.ZipFile(archive).read("rows/jobs.job.jsonl").splitlines()]
    with door_opened():  # rows name one another: the keys are looked at when all are gone
        for model in stored_models():
            model._base_manager.all()._raw_delete("default")
    shop_import(archive)
    assert list(Job.objects.order_by("pk").values_list("pk", flat=True)) == [row["id"] for row in told]
    assert Quote.objects.get(state="accepted").total > 0


def changed(path, change) -> None:
    """Write an archive anew with its members changed."""
    with zipfile.ZipFile(path) as read:
        members = {name: read.read(name) for name in read.namelist()}
    change(members)
    with zipfile.ZipFile(path, "w") as written:
        for name, content in members.items():
            written.writestr(name, content)


def _told(members, **facts) -> None:
    members["shop.json"] = json.dumps(json.loads(members["shop.json"]) | facts).encode()


def _hashed(members, name, content) -> None:
    members[name] = content
    hashes = json.loads(members["shop.json"])["sha256"] | {name: hashlib.sha256(content).hexdigest()}
    _told(members, sha256=hashes)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda m: m.update({"rows/jobs.job.jsonl": b""}), "damaged"),
        (lambda m: m.pop("shop.json"), "damaged"),
        (lambda m: _told(m, form=9), "form 9"),
        (lambda m: _told(m, migrations=["jobs.9999_later"]), "one release"),
        (lambda m: _hashed(m, "files/../../out.txt", b"x"), "outside of its folder"),
        (lambda m: _hashed(m, "rows/jobs.job.jsonl", b""), "do not fit|lacks rows"),
        (lambda m: _hashed(m, "rows/jobs.survey.jsonl", b'{"id": 1}\n'), "do not fit|damaged"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_changes(archive, shop, change, words, tmp_path):
    changed(archive, change)
    files = sorted((tmp_path / "media").rglob("*.*"))
    with pytest.raises(ImportRefused, match=words):
        shop_import(archive)
    assert Shop.objects.count() == 3  # Alice's, Charlie's, the demo's
    assert sorted((tmp_path / "media").rglob("*.*")) == files


def test_people_who_sign_in_here_and_a_shop_that_is_here_are_refused(archive, charlie):
    shop_import(archive)
    with pytest.raises(ImportRefused, match="has a sign-in here already"):
        shop_import(archive)
    for user in User.objects.all():
        User.objects.filter(pk=user.pk).update(email=f"x{user.pk}@x.example", username=f"x{user.pk}")
    with pytest.raises(ImportRefused, match="in this installation already"):
        shop_import(archive)


def test_the_commands_say_what_they_did_and_refuse(archive, shop, charlie, tmp_path, capsys):
    call_command("shop_export", str(tmp_path / "out.zip"), shop="Other Coach Solar")
    assert "rows of Other Coach Solar" in capsys.readouterr().out
    with pytest.raises(CommandError, match="--shop"):
        call_command("shop_export", str(tmp_path / "all.zip"))
    with pytest.raises(CommandError, match="has a sign-in here already"):
        call_command("shop_import", str(tmp_path / "out.zip"))
    call_command("shop_import", str(archive))
    assert "is here" in capsys.readouterr().out


def test_a_file_that_cannot_be_stored_leaves_nothing(archive, monkeypatch):
    monkeypatch.setattr(importing, "set_sequences", lambda registry: (_ for _ in ()).throw(OSError("full")))
    before = Customer.objects.count()
    with pytest.raises(ImportRefused, match="full"):
        shop_import(archive)
    assert Customer.objects.count() == before


def test_keys_inside_answers_move_and_nothing_else():
    def shift(label, key):
        return key + {"jobs.designsource": 100, "jobs.obstacle": 20, "jobs.existingitem": 5}[label]

    assert renamed("source:3/cold, source:existing-4, obstacle:7", shift) == (
        "source:103/cold, source:existing-9, obstacle:27"
    )
    told = {"sources": [{"id": "3", "n": 3}], "facts": {"source": {"3": 1}}, "string": {"3": "resource:3"}}
    moved = {
        "sources": [{"id": "103", "n": 3}],
        "facts": {"source": {"103": 1}},
        "string": {"3": "resource:3"},
    }
    assert renamed(told, shift) == moved


def test_parts_named_in_proposed_lines_move_with_the_catalog():
    told = {"lines": [{"part_id": 3, "quantity": "4"}, {"part_id": None}], "options": {"miles": "3"}}
    asked = []

    def shift(label, key):
        asked.append(label)
        return key + 100

    assert renamed(told, shift, ("proposed",)) == {
        "lines": [{"part_id": 103, "quantity": "4"}, {"part_id": None}], "options": {"miles": "3"},
    }  # fmt: skip
    assert asked == ["jobs.part"]
