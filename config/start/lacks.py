"""Looks at each thing an installation needs, and says what to do where it is missing."""

from __future__ import annotations

import tempfile
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import DatabaseError

from checklists.photos.files import is_folder
from common.pdf import INSTALL_LINE, check_pdf_library
from config.checks import sqlite_words
from config.guard.set_up import missing
from config.health.probes import look
from jobs.models import Membership


class Line(NamedTuple):
    """What was found about one thing; ``is_ok`` is None for what may be so on purpose."""

    name: str
    is_ok: bool | None
    words: str


def look_at_all(*, at: datetime) -> list[Line]:
    """Return a line for each thing, in the order an operator mends them."""
    lines = [look_one() for look_one in (_settings, _folders, _papers, _static, _kernels)]
    for found in look(at=at):
        is_ok: bool | None = found.is_ok
        if found.name == "workers" and not found.is_ok:
            is_ok = None  # they start with the server
        lines.append(Line(found.name, is_ok, found.words))
    return lines + [look_one() for look_one in (_sqlite, _guards, _owner, _address, _mail)]


def _settings() -> Line:
    if settings.HAS_OWN_SECRET or settings.SETTINGS_FILE.exists():
        return Line("settings", True, str(settings.SETTINGS_FILE))
    return Line("settings", False, "no settings file: run manage.py start")


def _folders() -> Line:
    if not is_folder():
        return _bucket()
    for folder in (settings.VAR_DIR, Path(settings.MEDIA_ROOT)):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                pass
        except OSError as problem:
            return Line("folders", False, f"{folder} cannot be written to ({problem.strerror})")
    return Line("folders", True, f"{settings.VAR_DIR} and {settings.MEDIA_ROOT} can be written to")


def _bucket() -> Line:
    try:
        default_storage.delete(default_storage.save("check/install.txt", ContentFile(b"can be written")))
    except OSError as problem:
        return Line("files", False, f"{problem.strerror}: look at FILES_BUCKET, FILES_ENDPOINT and their key")
    return Line("files", True, "the bucket can be written to")


def _papers() -> Line:
    is_ready = not check_pdf_library()
    return Line("PDF papers", is_ready, "can be made" if is_ready else INSTALL_LINE)


def _static() -> Line:
    manifest = settings.STATIC_ROOT / "staticfiles.json"
    is_there = settings.DEBUG or manifest.exists()
    return Line("static files", is_there, "collected" if is_there else "run manage.py collectstatic")


def _kernels() -> Line:
    is_there = any(settings.KERNELS_DIR.rglob("*.nbi"))
    words = "compiled" if is_there else "not compiled yet: the first roof takes a minute; run manage.py warm"
    return Line("shade kernels", True if is_there else None, words)


def _sqlite() -> Line:
    words = sqlite_words()
    return Line("database library", not words, words or "keeps every commit")


def _guards() -> Line:
    lost = missing()
    words = f"{len(lost)} missing: run manage.py migrate" if lost else "log and shops are kept apart"
    return Line("database guards", not lost, words)


def _owner() -> Line:
    try:
        count = Membership.objects.filter(role=Membership.Role.OWNER, is_active=True).count()
    except DatabaseError:
        return Line("owner", False, "cannot be looked up: run manage.py migrate")
    if count:
        return Line("owner", True, f"{count} can sign in")
    if settings.FIRST_RUN_CODE.exists():  # the browser does the rest
        return Line("owner", None, f"no shop yet: open {settings.SITE_URL}/first-run/ with the code")
    return Line("owner", False, "no shop yet: run manage.py start")


def _address() -> Line:
    if settings.DEBUG:
        return Line("address", False, "DEBUG is on: faults show the program's inside to everybody")
    if settings.IS_HTTPS:
        return Line("address", True, settings.SITE_URL)
    return Line("address", None, f"{settings.SITE_URL}: tablets keep jobs only over HTTPS or on localhost")


def _mail() -> Line:
    if settings.MAIL_IS_SET_UP:
        return Line("mail", True, f"from {settings.DEFAULT_FROM_EMAIL}")
    return Line(
        "mail", None, "no server set (MAIL_HOST): links are copied by hand, passwords cannot be reset"
    )
