"""Writes one shop whole, rows and files, into an archive that another installation can take in."""

from __future__ import annotations

import json
import zipfile
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from django.core.files.storage import default_storage
from django.db import models

from config.keep.archive import chunks, whole_file, write_member
from config.keep.rows import frozen_rows, lines_from, migrations_of
from config.keep.shop_rows import USER, line, links, models_of_a_shop, rows_of
from config.version import VERSION
from jobs.models import Shop

MANIFEST: Final = "shop.json"
FORM: Final = 1


def shop_export(shop: Shop, path: Path, *, at: datetime) -> dict[str, int]:
    """Write the archive of a shop; return how many rows by model. Nothing half-written stays.

    Passwords, PINs, links' tokens and letters stay behind: nobody can sign in by what is in it. Files whose
    bytes are gone are listed in it as missing.
    """
    with whole_file(path) as partial, zipfile.ZipFile(partial, "w", zipfile.ZIP_DEFLATED) as archive:
        return _fill(archive, shop, at)


def _fill(archive: zipfile.ZipFile, shop: Shop, at: datetime) -> dict[str, int]:
    counts: dict[str, int] = {}
    hashes: dict[str, str] = {}
    people: set[int] = set()
    names: list[str] = []
    with frozen_rows() as using:
        migrations = migrations_of(using)
        user_model, *own = models_of_a_shop()
        for model in own:
            lines = []
            for text in lines_from(rows_of(model, shop, using).order_by("pk")):
                told = _without_secrets(json.loads(text))
                people |= {told[column] for column, label in links(model) if label == USER and told[column]}
                names += [told[name] for name in _file_columns(model) if told[name]]
                lines.append(line(told))
            counts[model._meta.label_lower] = len(lines)
            _write_lines(archive, model._meta.label_lower, lines, hashes)
        users = user_model._base_manager.using(using).filter(pk__in=people).order_by("pk")
        texts = [line(_nobody(json.loads(text))) for text in lines_from(users)]
    counts[USER] = len(texts)
    _write_lines(archive, USER, texts, hashes)
    missing = [name for name in names if not _copied(archive, name, hashes)]
    told = {
        "form": FORM,
        "shop": shop.name,
        "version": VERSION,
        "at": at.isoformat(),
        "migrations": migrations,
    }
    told |= {"rows": counts, "sha256": hashes, "missing": missing}
    archive.writestr(MANIFEST, json.dumps(told, indent=1, ensure_ascii=False))
    return counts


def _file_columns(model: type[models.Model]) -> list[str]:
    return [one.attname for one in model._meta.concrete_fields if isinstance(one, models.FileField)]


def _without_secrets(told: dict[str, Any]) -> dict[str, Any]:
    """Return a row without the token that would open a customer's link."""
    if "token_sha256" in told:
        told["token_sha256"] = ""
    return told


def _nobody(told: dict[str, Any]) -> dict[str, Any]:
    """Return a person who cannot sign in until a password is set anew, and rules nothing."""
    return told | {"password": "!", "is_superuser": False, "is_staff": False, "last_login": None}


def _copied(archive: zipfile.ZipFile, name: str, hashes: dict[str, str]) -> bool:
    try:
        with default_storage.open(name) as source:
            write_member(archive, f"files/{name}", chunks(source), hashes)
    except FileNotFoundError:
        return False
    return True


def _write_lines(archive: zipfile.ZipFile, label: str, lines: list[str], hashes: dict[str, str]) -> None:
    write_member(archive, f"rows/{label}.jsonl", (text.encode() for text in lines), hashes)
