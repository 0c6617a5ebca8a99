"""How every record finds the shop it belongs to."""

from __future__ import annotations

import logging
from collections.abc import Collection
from typing import TYPE_CHECKING, Any, ClassVar, Final, Self

from django.db import models
from django.http import Http404

from common.guard import SEEN

if TYPE_CHECKING:
    from django.contrib.auth.models import AnonymousUser, User

_log = logging.getLogger(__name__)
#: The column that says a row's shop, by the way that leads to it.
_SAID: Final = {"shop": "shop_id", "pk": "id"}


class ShopQuerySet[Row: models.Model](models.QuerySet[Row]):
    """Rows of one shop. Every page starts from ``visible_to``: another shop's row does not exist there."""

    def of_shop(self, shop: models.Model | None) -> Self:
        """Return the rows that belong to ``shop``; none when ``shop`` is None."""
        if shop is None:
            return self.none()
        return self.filter(**{self.model.shop_path: shop.pk})  # type: ignore[attr-defined]  # Shop or ShopOwned

    def visible_to(self, user: User | AnonymousUser) -> Self:
        """Return the rows the signed-in person's shop may see; none for a stranger."""
        membership = getattr(user, "membership", None) if user.is_authenticated else None
        return self.of_shop(membership.shop if membership and membership.is_active else None)


class ShopOwned(models.Model):
    """A record of one shop; ``shop_path`` is the lookup that leads to it."""

    shop_path: ClassVar[str] = "shop"
    objects = ShopQuerySet.as_manager()

    class Meta:
        abstract = True

    @classmethod
    def from_db(
        cls, db: str | None, field_names: Collection[str], values: Collection[Any], **mode: Any
    ) -> Self:
        """Return a row; while a request of a shop is answered another shop's row is not found.

        PostgreSQL shows none (``config/guard/policies.py``); this is for SQLite, and for rows that say their
        shop themselves.
        """
        row = super().from_db(db, field_names, values, **mode)
        seen = SEEN.get()
        if seen is not None and (column := _SAID.get(cls.shop_path)):
            shop = row.__dict__.get(column, seen)
            if shop != seen:
                _log.error("a query forgot its shop: %s %s", cls._meta.label, row.pk)
                raise Http404
        return row
