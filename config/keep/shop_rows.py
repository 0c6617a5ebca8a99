"""Knows which rows are one shop's, and gives them other keys where theirs are taken."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from django.contrib.auth import get_user_model
from django.db import models

from config.keep.rows import LEFT_OUT, Model, stored_models
from jobs.models import Shop, ShopOwned

#: Worth nothing elsewhere: what is worked out again, what is on its way, what lets somebody in.
NOT_TAKEN: Final = {
    "jobs.layrun", "jobs.tablerun", "jobs.outboxmail", "checklists.sumstable", "checklists.keptevents",
    "checklists.upload", "checklists.devicepin", "jobs.calendarlink",
}  # fmt: skip
#: Rows of the installation, of no shop.
OF_NO_SHOP: Final = {
    "auth.group", "auth.group_permissions", "auth.user_groups", "auth.user_user_permissions",
    "account.emailaddress", "account.emailconfirmation", "config.periodic",
    "django_tasks_database.dbtaskresult", "mfa.authenticator",
}  # fmt: skip
USER: Final = "auth.user"
_PART: Final = "jobs.part"
_THROUGH: Final = "jobs.job_assigned_to"
#: Columns that were signed or sent word for word.
WORD_FOR_WORD: Final = {"snapshot", "shown", "signature_svg", "body"}
_NAMED: Final = re.compile(r"\b(source:existing-|source:|obstacle:)(\d+)")
_MODEL_OF: Final = {
    "source:": "jobs.designsource", "source:existing-": "jobs.existingitem", "obstacle:": "jobs.obstacle",
}  # fmt: skip

Shift = Callable[[str, int], int]


def models_of_a_shop() -> list[Model]:
    """Return the models whose rows leave with a shop, people first."""
    own = [
        model
        for model in stored_models()
        if (model is Shop or issubclass(model, ShopOwned) or model._meta.label_lower == _THROUGH)
        and model._meta.label_lower not in NOT_TAKEN
    ]
    return [get_user_model(), *own]


def unplaced_models() -> set[str]:
    """Return the models nobody has said of whether they are a shop's: none, or an export would lose rows."""
    placed = {model._meta.label_lower for model in models_of_a_shop()} | NOT_TAKEN | OF_NO_SHOP | LEFT_OUT
    return {model._meta.label_lower for model in stored_models()} - placed


def rows_of(model: Model, shop: Shop, using: str) -> models.QuerySet[Any]:
    """Return a shop's rows of one model (people are found by the rows that name them)."""
    manager = model._base_manager.using(using)
    if model._meta.label_lower == _THROUGH:
        return manager.filter(job__shop=shop.pk)
    return manager.filter(**{model.shop_path: shop.pk})  # type: ignore[attr-defined]


def links(model: Model) -> Iterator[tuple[str, str]]:
    """Yield the columns that name other rows, with the model they name."""
    for field in model._meta.concrete_fields:
        if isinstance(field, models.ForeignKey):
            yield field.attname, field.related_model._meta.label_lower


def has_number_key(model: Model) -> bool:
    """Return whether keys are counted, so that another row may have the same."""
    return isinstance(model._meta.pk, models.AutoField | models.BigAutoField)


def renamed(value: Any, shift: Shift, within: tuple[str, ...] = ()) -> Any:
    """Return a stored value with the keys that its texts and answers name moved as the rows are."""
    if isinstance(value, str):
        return _NAMED.sub(lambda m: f"{m[1]}{shift(_MODEL_OF[m[1]], int(m[2]))}", value)
    if isinstance(value, list):
        return [_item(one, shift, within) for one in value]
    if isinstance(value, dict):
        is_sources = within[-1:] == ("source",)
        return {
            str(shift(_MODEL_OF["source:"], int(key)))
            if is_sources and key.isdecimal()
            else renamed(key, shift): shift(_PART, one)
            if key == "part_id" and isinstance(one, int)
            else renamed(one, shift, (*within, key))
            for key, one in value.items()
        }
    return value


def _item(one: Any, shift: Shift, within: tuple[str, ...]) -> Any:
    """Return an item of a list; sources and obstacles carry their key bare."""
    if within[-2:] == ("subjects", "source") and isinstance(one, str) and one.isdecimal():
        return str(shift(_MODEL_OF["source:"], int(one)))
    bare = {"sources": ("id", "source:"), "obstacles": ("key", "obstacle:")}.get(within[-1] if within else "")
    if bare and isinstance(one, dict) and str(one.get(bare[0], "")).isdecimal():
        one = one | {bare[0]: str(shift(_MODEL_OF[bare[1]], int(one[bare[0]])))}
    return renamed(one, shift, within)


def row_from(model: Model, told: Mapping[str, Any], shift: Shift) -> dict[str, Any]:
    """Return a row's values with every key moved."""
    moved = {**told}
    if has_number_key(model):
        moved["id"] = shift(model._meta.label_lower, told["id"])
    for column, label in links(model):
        if isinstance(told[column], int):
            moved[column] = shift(label, told[column])
    for field in model._meta.concrete_fields:
        name = field.attname
        if (
            isinstance(field, models.JSONField | models.CharField | models.TextField)
            and name not in WORD_FOR_WORD
        ):
            moved[name] = renamed(told[name], shift, (name,))
    return moved


def line(told: Mapping[str, Any]) -> str:
    """Return a row as a line of JSON."""
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")) + "\n"
