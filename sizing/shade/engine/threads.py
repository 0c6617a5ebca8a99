"""How many threads work on one question: one, unless the program is told otherwise at its start.

A kernel that runs in pieces takes every so many rows of the grid; no row reads what another writes, and sums
over rows are made afterwards in one order, so the number of threads changes no bit of an answer.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import Any

MOST_THREADS = 8
_told = {"threads": 1}


def use_threads(count: int) -> None:
    """Have every question of this process worked on by so many threads.

    Parameters
    ----------
    count : int
        From 1, which is what holds before anything is said, to 8. [-]

    Returns
    -------
    None
        Nothing. To be said once at the start: it is no part of a question and changes no answer.

    Raises
    ------
    ValueError
        If the number is outside that range.

    References
    ----------
    .. [1] No source; more threads help one question and take the processors from the others.
    """
    if not 1 <= count <= MOST_THREADS:
        raise ValueError(f"the shade engine runs in 1 to {MOST_THREADS} threads, not {count}")
    _told["threads"] = count


def in_pieces(kernel: Callable[..., None], *asked: Any) -> None:
    """Run ``kernel(*asked, piece, pieces)`` for every piece: the first here, others on free threads."""
    pieces = _told["threads"]
    others = [_pool(pieces - 1).submit(kernel, *asked, piece, pieces) for piece in range(1, pieces)]
    kernel(*asked, 0, pieces)
    for piece, other in enumerate(others, 1):
        if other.cancel():  # all threads busy with other questions: nobody has begun it
            kernel(*asked, piece, pieces)
        else:
            other.result()


@cache
def _pool(threads: int) -> ThreadPoolExecutor:
    return ThreadPoolExecutor(threads, thread_name_prefix="shade")


if hasattr(os, "register_at_fork"):  # a child has none of its parent's threads
    os.register_at_fork(after_in_child=_pool.cache_clear)
