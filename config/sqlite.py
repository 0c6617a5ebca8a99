"""Puts a SQLite without the WAL-reset fault under Django, where the machine's own is older."""

from __future__ import annotations

import sqlite3
import sys
from typing import Any, Final

try:
    import pysqlite3  # type: ignore[import-untyped]
    from pysqlite3 import dbapi2
except ImportError:  # no wheel for this machine: the library of the system stays, and a check warns of it
    pysqlite3 = None

#: Limits Django asks for: their numbers (https://www.sqlite.org/c3ref/c_limit_attached.html) and what the
#: compile options call them.
LIMITS: Final = {
    "SQLITE_LIMIT_COLUMN": (2, "MAX_COLUMN"),
    "SQLITE_LIMIT_VARIABLE_NUMBER": (9, "MAX_VARIABLE_NUMBER"),
}


def use_newest() -> None:
    """Let everything imported from now on as ``sqlite3`` be the packaged library, if that one is newer."""
    if pysqlite3 is None or pysqlite3.sqlite_version_info <= sqlite3.sqlite_version_info:
        return
    for name, (number, _) in LIMITS.items():
        setattr(pysqlite3, name, number)
    sys.modules["sqlite3"] = pysqlite3
    sys.modules["sqlite3.dbapi2"] = dbapi2


def connection_options() -> dict[str, Any]:
    """Return what Django must hand to ``connect`` so that it finds what the packaged library leaves out."""
    return {"factory": _limited()} if sys.modules["sqlite3"] is pysqlite3 else {}


def _limited() -> type:
    """Return the packaged library's connection with ``getlimit``, read from how it was compiled."""

    class Connection(dbapi2.Connection):  # type: ignore[misc]  # untyped package
        """A connection that knows its limits."""

        def getlimit(self, category: int, /) -> int:
            """Return a limit SQLite was compiled with; raise KeyError for one Django does not ask for."""
            option = dict(LIMITS.values())[category]
            compiled = dict(row[0].partition("=")[::2] for row in self.execute("PRAGMA compile_options"))
            return int(compiled[option])

    return Connection
