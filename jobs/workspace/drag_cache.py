"""Knows a design as it is read once for a whole drag: a hand asks many times a second, the records rest.

What is kept is a copy of a few seconds, bound to the state of the revision; every drop reads anew. Nothing
that is stored ever comes from it, and who may see the design is asked every time.
"""

from __future__ import annotations

import pickle
import threading
from collections import OrderedDict
from typing import Final

from django.db.models import QuerySet

from jobs.engine.stored import design_in_full
from jobs.models import Design, Part
from jobs.workspace.state import panel_parts

#: A copy is used for so long at most: survey and catalogue may have moved on. [s]
KEPT_S: Final = 10.0
MOST_KEPT: Final = 16

_kept: OrderedDict[tuple[int, int], tuple[float, bytes]] = OrderedDict()
_lock = threading.Lock()


def design_under_hand(
    designs: QuerySet[Design], pk: int, *, at_s: float, is_fresh: bool
) -> tuple[Design, dict[int, Part]]:
    """Return a design with everything, and the panels it may carry; raise Design.DoesNotExist.

    ``at_s`` is any clock that runs evenly [s]; ``is_fresh`` reads the records anew. Layouts may be tried on
    what is returned: it is nobody else's.
    """
    edit_count = designs.values_list("edit_count", flat=True).get(pk=pk)
    key = (pk, edit_count)
    with _lock:
        read_at, copy = _kept.get(key, (at_s, b""))
    if not copy or is_fresh or not 0.0 <= at_s - read_at <= KEPT_S:
        design = design_in_full(pk)
        parts = panel_parts(design.job.shop, (panel.part for panel in design.panels.all()))
        read_at, copy = at_s, pickle.dumps((design, parts))
        with _lock:
            _kept[key] = (read_at, copy)
            _kept.move_to_end(key)
            while len(_kept) > MOST_KEPT:
                _kept.popitem(last=False)
    return pickle.loads(copy)  # noqa: S301 - written by this process a moment ago


def forget() -> None:
    """Forget every copy."""
    with _lock:
        _kept.clear()
