"""The cache that several processes share: a table of the database that loses no count between two of them."""

from __future__ import annotations

import base64
import pickle
from typing import Any

from django.core.cache.backends.db import DatabaseCache
from django.db import transaction
from django.utils import timezone


class SharedCache(DatabaseCache):
    """Django's database cache, with a count that is one step and keeps its time of running out."""

    def incr(self, key: Any, delta: int = 1, version: int | None = None) -> int:
        """Add to a count; raise ValueError where there is none or it ran out."""
        from config.models import CacheRow

        name = self.make_and_validate_key(key, version=version)
        with transaction.atomic():
            rows = CacheRow.objects.select_for_update()
            row = rows.filter(pk=name, expires__gt=timezone.now()).first()
            if row is None:
                raise ValueError(f"Key {key!r} not found")
            total = int(pickle.loads(base64.b64decode(row.value))) + delta  # noqa: S301 - written by ourselves
            row.value = base64.b64encode(pickle.dumps(total, self.pickle_protocol)).decode("latin1")
            row.save(update_fields=["value"])
        return total
