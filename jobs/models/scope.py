"""How every record finds the shop it belongs to."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Self

from django.db import models

if TYPE_CHECKING:
    from django.contrib.auth.models import AnonymousUser, User


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
