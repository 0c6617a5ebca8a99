"""Writes a shop's archive because its owner asked: in the background, for some days, every fetch logged."""

from __future__ import annotations

import hashlib
import tempfile
import uuid
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import IO, Final

from django.contrib.auth.models import User
from django.core.files.storage import default_storage
from django.db import transaction
from django.tasks import task
from django.utils import timezone

from checklists.photos.files import file_drop, file_names, file_write
from common.background import Clock, Queue, Run
from common.files import FileMissing
from common.told import in_english
from config.keep.archive import FOR_OWNERS, chunks
from config.keep.shop_export import shop_export
from config.models import ShopArchive
from jobs.models import Shop
from jobs.shop.actor import name_of
from jobs.shop.log import log
from jobs.shop.rights import require

#: An archive holds everything: it goes by itself after so long.
KEPT: Final = timedelta(days=7)
#: A file is written a moment before its record: one younger than this is left alone.
_YOUNG: Final = timedelta(days=1)
S = ShopArchive.State

ARCHIVES: Final[Queue[ShopArchive]] = Queue(
    rows=ShopArchive.objects.select_related("shop"), waiting=S.WAITING, running=S.RUNNING, failed=S.FAILED
)


@in_english
@transaction.atomic
def archive_ask(*, shop: Shop, actor: User, at: datetime) -> ShopArchive:
    """Have the shop written whole; one that is on its way already is given back."""
    require(actor, shop, "is_owner")
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)  # two clicks are one archive
    going = ShopArchive.objects.filter(shop=shop, state__in=[S.WAITING, S.RUNNING]).first()
    if going is not None:
        return going
    made = ShopArchive.objects.create(shop=shop, asked_by_name=name_of(actor), asked_at=at, touched_at=at)
    log(shop=shop, actor=actor, verb="shop archive asked for", at=at)
    transaction.on_commit(partial(_enqueue, made.pk))
    return made


@in_english
def archive_fetch(*, archive: ShopArchive, actor: User, at: datetime) -> IO[bytes]:
    """Return the file of an archive, open, and note who took it; raise FileMissing where it is gone."""
    require(actor, archive.shop, "is_owner")
    try:
        found: IO[bytes] = default_storage.open(archive.file)
    except (FileNotFoundError, ValueError) as gone:
        raise FileMissing("This archive is gone from the server. Ask for a new one.") from gone
    log(shop=archive.shop, actor=actor, verb="shop archive fetched", detail=str(archive), at=at)
    return found


def archives_of(shop: Shop) -> list[ShopArchive]:
    """Return a shop's archives, newest first."""
    return list(ShopArchive.objects.filter(shop=shop))


@task(queue_name="tidy")
def archive_task(pk: int) -> None:
    """Write one archive in the background worker."""
    archive_write(pk, clock=timezone.now)


def archive_write(pk: int, *, clock: Clock) -> None:
    """Write an archive that waits; one that does not is left alone."""
    words = "The archive could not be written. Whoever looks after the server finds the reason in its log."
    ARCHIVES.work(pk, partial(_write, clock=clock), clock=clock, words=words)


def _write(run: Run[ShopArchive], *, clock: Clock) -> None:
    archive = run.row
    name = f"{FOR_OWNERS}/{uuid.uuid4()}.zip"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shop.zip"
        counts = shop_export(archive.shop, path, at=clock())
        with path.open("rb") as source:
            digest = hashlib.file_digest(source, "sha256").hexdigest()
            source.seek(0)
            file_write(name, chunks(source))
        size = path.stat().st_size
    facts = {"file": name, "file_sha256": digest, "size": size, "rows": sum(counts.values())}
    if not run.end(S.READY, **facts):
        file_drop(name)


def archives_reap(*, at: datetime) -> int:
    """Take up archives whose worker stopped; return how many were found."""
    error = "The server stopped twice while this archive was written. Please ask for a new one."
    return ARCHIVES.take_up(error=error, at=at, enqueue=_enqueue)


def archives_drop(*, at: datetime) -> int:
    """Remove archives older than they are kept, and their files; return how many."""
    old = ShopArchive.objects.filter(asked_at__lt=at - KEPT).exclude(state=S.RUNNING)
    for archive in old:
        if archive.file:
            file_drop(archive.file)
        archive.delete()
    known = set(ShopArchive.objects.values_list("file", flat=True))
    for name in [one for one in file_names(FOR_OWNERS, older_than=at - _YOUNG) if one not in known]:
        file_drop(name)  # its worker stopped between file and record
    return len(old)


def _enqueue(pk: int) -> None:
    archive_task.enqueue(pk)
