"""Takes one shop out of an archive into this installation, as a new shop, or not at all."""

from __future__ import annotations

import json
import secrets
import zipfile
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.apps import apps
from django.contrib.auth import get_user_model
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import IntegrityError, connection, models, transaction
from django.db.models import Max, Min

from config.keep.archive import checked_manifest, stored_files
from config.keep.rows import migrations_of, set_sequences, write_new_rows
from config.keep.shop_export import FORM, MANIFEST
from config.keep.shop_rows import USER, Shift, has_number_key, line, models_of_a_shop, row_from
from jobs.models import Shop


class ImportRefused(ValueError):
    """The shop cannot be taken in; nothing was changed."""


def shop_import(path: Path) -> Shop:
    """Take a shop in and return it; its people set their passwords anew, its customers' links are closed.

    Keys are kept where every one of a table is free here, and moved together where not. Raise ImportRefused
    for a damaged archive, another release's, people who have a sign-in here, and a shop that is here already.
    """
    stored: list[str] = []
    try:
        with zipfile.ZipFile(path) as archive:
            manifest = _checked(archive)
            _fits(archive, manifest)
            with transaction.atomic():
                shop = _taken_in(archive, manifest, stored)
    except (zipfile.BadZipFile, OSError) as problem:
        _forget(stored)
        raise ImportRefused(f"{path} is no archive of a shop, or not a whole one ({problem}).") from None
    except (IntegrityError, ValueError, KeyError) as problem:  # KeyError: a row lacks a column
        _forget(stored)
        if isinstance(problem, ImportRefused):
            raise
        raise ImportRefused(f"The rows of this archive do not fit in here ({problem}).") from None
    return shop


def _checked(archive: zipfile.ZipFile) -> dict[str, Any]:
    """Return the list of contents after every member was compared with its hash."""
    try:
        return checked_manifest(archive, MANIFEST, form=FORM, refused=ImportRefused)
    except KeyError as problem:
        raise ImportRefused(f"This archive is damaged ({problem}).") from None


def _fits(archive: zipfile.ZipFile, manifest: dict[str, Any]) -> None:
    """Raise ImportRefused where this installation cannot hold the shop."""
    if set(manifest["migrations"]) != set(migrations_of("default")):
        raise ImportRefused(
            f"This archive was made by release {manifest['version']}:"
            " bring both installations to one release."
        )
    known = {model._meta.label_lower for model in models_of_a_shop()}
    if odd := sorted(set(manifest["rows"]) ^ known):
        raise ImportRefused(f"This archive holds other tables than this release ({', '.join(odd)}).")
    users = get_user_model()._base_manager
    for told in _rows(archive, USER):
        if (
            users.filter(username=told["username"]).exists()
            or users.filter(email__iexact=told["email"]).exists()
        ):
            raise ImportRefused(f"{told['email']} has a sign-in here already.")
    for model in models_of_a_shop():
        if not has_number_key(model):
            keys = [told["id"] for told in _rows(archive, model._meta.label_lower)]
            if model._base_manager.filter(pk__in=keys[:500]).exists():
                raise ImportRefused(f"{manifest['shop']} is in this installation already.")


def _rows(archive: zipfile.ZipFile, label: str) -> Iterator[dict[str, Any]]:
    return (json.loads(text) for text in archive.read(f"rows/{label}.jsonl").decode().splitlines())


def _taken_in(archive: zipfile.ZipFile, manifest: dict[str, Any], stored: list[str]) -> Shop:
    shift, names = _shift(archive), _files(archive, manifest, stored)
    for model in models_of_a_shop():
        label = model._meta.label_lower
        moved = (row_from(model, told, shift) for told in _rows(archive, label))
        count = write_new_rows(model, (line(_here(told, names)) for told in moved))
        if count != manifest["rows"][label]:
            raise ImportRefused(f"This archive lacks rows of {label} that its list of contents tells of.")
    connection.check_constraints()
    set_sequences(apps)
    (first,) = _rows(archive, "jobs.shop")
    return Shop.objects.get(pk=shift("jobs.shop", first["id"]))


def _here(told: dict[str, Any], names: dict[str, str]) -> dict[str, Any]:
    """Return a row with the names its files have here, and a token nobody knows."""
    if "token_sha256" in told:
        told["token_sha256"] = secrets.token_hex(32)
    return told | {column: names[told[column]] for column in ("file", "small") if told.get(column) in names}


def _shift(archive: zipfile.ZipFile) -> Shift:
    """Return how keys move: not at all where all of a table are free, else behind the last one there."""
    offsets: dict[str, int] = defaultdict(int)
    for model in models_of_a_shop():
        keys = (
            [told["id"] for told in _rows(archive, model._meta.label_lower)] if has_number_key(model) else []
        )
        if keys and _is_taken(model, min(keys), max(keys)):
            last = model._base_manager.aggregate(last=Max("pk"))["last"]
            offsets[model._meta.label_lower] = max(last, max(keys)) + 1 - min(keys)
    return lambda label, key: key + offsets[label]


def _is_taken(model: type[models.Model], low: int, high: int) -> bool:
    found = model._base_manager.filter(pk__gte=low, pk__lte=high).aggregate(first=Min("pk"))
    return found["first"] is not None


def _files(archive: zipfile.ZipFile, manifest: dict[str, Any], stored: list[str]) -> dict[str, str]:
    """Store every file and return its name here by its name there."""
    names = {}
    for member, name in stored_files(manifest, refused=ImportRefused):
        names[str(name)] = default_storage.save(str(name), ContentFile(archive.read(member)))
        stored.append(names[str(name)])
    return names


def _forget(stored: list[str]) -> None:
    """Remove the files of a shop that was not taken in."""
    for name in stored:
        default_storage.delete(name)
