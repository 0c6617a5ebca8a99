"""Cuts the power while SQLite writes: what the disk may hold then is made up, opened, and looked at.

What was synced before the cut is there. Of what was written since, any sectors may be there or not. With
``synchronous=FULL`` the log is synced before a commit is answered; with ``NORMAL`` only at checkpoints
(https://www.sqlite.org/pragma.html#pragma_synchronous). A checkpoint syncs the log, writes pages into the
database, syncs that, and only then the log is begun anew
(https://www.sqlite.org/fileformat.html, 4.3 and 4.4).
"""

from __future__ import annotations

import contextlib
import hashlib
import random
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

SECTOR = 512
ALIAS = "cut"
#: A transaction writes so many rows into each of two tables, and a row is so long. [bytes]
ROWS, LENGTH = 6, 4000
TABLES = ("one", "two")


@dataclass
class Disk:
    """What both files hold at one moment."""

    database: bytes = b""
    log: bytes = b""


@dataclass
class Cuts:
    """Writes transactions with the app's settings, cuts the power in each, and notes what is wrong."""

    folder: Path
    options: dict[str, Any]
    cuts: int = 1  # per transaction
    is_whole: bool = True  # False: a build broken on purpose, each row committed for itself
    seed: int = 0
    made: Counter[str] = field(default_factory=Counter)
    found: list[str] = field(default_factory=list)

    def run(self, transactions: int) -> Cuts:
        """Write so many transactions and cut within each."""
        chance = random.Random(self.seed)
        with self._connected() as connection:
            is_full = self._pragma(connection, "synchronous") >= 2
            before = synced = self._disk()
            for number in range(1, transactions + 1):
                self._write(connection, number)
                after = self._disk()
                for _ in range(self.cuts):
                    self._cut_in_log(before if is_full else synced, after, number, chance)
                if after.database != before.database:
                    for _ in range(2 * self.cuts):
                        self._cut_in_checkpoint(before, after, number, chance)
                    synced = after
                before = after
        return self

    @contextlib.contextmanager
    def _connected(self) -> Any:
        """Open the file as the app opens its own, with two tables in it that are safe already."""
        from django.db import connections

        own = connections["default"].settings_dict
        connections.databases[ALIAS] = {**own, "NAME": str(self._live), "OPTIONS": self.options}
        try:
            connection = connections[ALIAS]
            with connection.cursor() as cursor:
                for name in TABLES:
                    cursor.execute(f"CREATE TABLE {name} (number INTEGER, place INTEGER, words TEXT)")
                cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            yield connection
        finally:
            connections[ALIAS].close()
            del connections[ALIAS], connections.databases[ALIAS]

    @property
    def _live(self) -> Path:
        return self.folder / "live.sqlite3"

    def _write(self, connection: Any, number: int) -> None:
        from django.db import transaction

        scope = transaction.atomic(using=ALIAS) if self.is_whole else contextlib.nullcontext()
        with scope, connection.cursor() as cursor:
            for place in range(ROWS):
                for name in TABLES:
                    row = (number, place, _words(name, number, place))
                    cursor.execute(f"INSERT INTO {name} VALUES (%s, %s, %s)", row)

    def _disk(self) -> Disk:
        log = Path(f"{self._live}-wal")
        return Disk(self._live.read_bytes(), log.read_bytes() if log.exists() else b"")

    def _cut_in_log(self, synced: Disk, after: Disk, number: int, chance: random.Random) -> None:
        """Cut while a transaction was appended: cut off at any byte, or any sectors of it are there."""
        if chance.random() < 0.5:
            begin = _first_difference(synced.log, after.log)
            at = chance.randint(begin, max(begin, len(after.log)))
            log, kind = after.log[:at] + synced.log[at:], "cut off"
        else:
            log, kind = _mixed(synced.log, after.log, chance), "torn"
        self.made[kind] += 1
        self._look(Disk(synced.database, log), number - 1, number)

    def _cut_in_checkpoint(self, before: Disk, after: Disk, number: int, chance: random.Random) -> None:
        """Cut while the log was copied into the database: the commit was safe, if not yet answered."""
        self.made["checkpoint"] += 1
        self._look(Disk(_mixed(before.database, after.database, chance), after.log), number, number)

    def _look(self, disk: Disk, least: int, most: int) -> None:
        """Open what the disk holds: sound, every answered transaction whole, no half one."""
        path = self.folder / "cut.sqlite3"
        path.write_bytes(disk.database)
        Path(f"{path}-wal").write_bytes(disk.log)
        Path(f"{path}-shm").unlink(missing_ok=True)
        from django.db.backends.sqlite3.base import Database

        try:
            with contextlib.closing(Database.connect(path)) as link:
                self._wrong(link.execute("PRAGMA integrity_check").fetchall() == [("ok",)], "damaged")
                stored = {name: _stored(link, name) for name in TABLES}
        except Database.DatabaseError as problem:
            self.found.append(f"damaged: {problem}")
            return
        one, two = stored.values()
        numbers = set(one) | set(two)
        half = {number for number in numbers if not one.get(number, 0) == two.get(number, 0) == ROWS}
        self._wrong(not half, f"half {sorted(half)}")
        self._wrong(set(range(1, least + 1)) <= numbers, f"lost {least - len(numbers)} of {least}")
        self._wrong(not numbers or max(numbers) <= most, "from the future")

    def _wrong(self, is_right: bool, words: str) -> None:
        if not is_right:
            self.found.append(words)

    def _pragma(self, connection: Any, name: str) -> int:
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA {name}")
            return int(cursor.fetchone()[0])


def _words(table: str, number: int, place: int) -> str:
    """Return what a row says: another text for each, so that one in a wrong place is seen."""
    return hashlib.sha256(f"{table} {number} {place}".encode()).hexdigest() * (LENGTH // 64)


def _stored(link: Any, table: str) -> dict[int, int]:
    """Return how many sound rows each transaction has in a table."""
    rows = link.execute(f"SELECT number, place, words FROM {table}").fetchall()
    return Counter(number for number, place, words in rows if words == _words(table, number, place))


def _first_difference(old: bytes, new: bytes) -> int:
    """Return where two texts begin to differ."""
    for at in range(0, min(len(old), len(new)), SECTOR):
        if old[at : at + SECTOR] != new[at : at + SECTOR]:
            return at
    return min(len(old), len(new))


def _mixed(old: bytes, new: bytes, chance: random.Random) -> bytes:
    """Return the old bytes with any of the new sectors; where neither was written, nothing was."""
    share = chance.random()
    length = max(len(old), len(new))
    parts = []
    for at in range(0, length, SECTOR):
        source = new if chance.random() < share else old
        parts.append(source[at : at + SECTOR].ljust(min(SECTOR, length - at), b"\0"))
    return b"".join(parts)
