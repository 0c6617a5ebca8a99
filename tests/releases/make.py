"""Writes the database of today's release as a file that later releases are upgraded from: run once a release.

``VAR_DIR=SOMEWHERE manage.py demo --no-serve``, then ``python tests/releases/make.py SOMEWHERE``.
"""

from __future__ import annotations

import sqlite3
import sys
import tomllib
import zipfile
from pathlib import Path

HERE = Path(__file__).parent
#: Read from the file: the package config puts another SQLite in place, which writes no dumps.
VERSION = tomllib.loads((HERE.parent.parent / "pyproject.toml").read_text())["project"]["version"]
#: Rows worth nothing on another day.
EMPTIED = (
    "django_session",
    "django_tasks_database_dbtaskresult",
    "config_workerbeat",
    "checklists_sumstable",
)
#: Files kept of each folder: enough to see that they stay.
FILES_KEPT, MOST_BYTES = 3, 20_000


def make(var: Path, target: Path) -> None:
    """Write dump and a few files of an installation into one archive."""
    database = sqlite3.connect(":memory:")
    sqlite3.connect(var / "demo.sqlite3").backup(database)
    for table in EMPTIED:
        database.execute(f"DELETE FROM {table}")
    database.execute("UPDATE auth_user SET password = '!'")
    database.commit()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_LZMA) as archive:
        archive.writestr("dump.sql", "\n".join(database.iterdump()))
        for folder in sorted((var / "demo-media").iterdir()):
            small = (one for one in sorted(folder.rglob("*.*")) if one.stat().st_size < MOST_BYTES)
            for path, _ in zip(small, range(FILES_KEPT), strict=False):
                archive.write(path, f"media/{path.relative_to(var / 'demo-media')}")


if __name__ == "__main__":
    make(Path(sys.argv[1]), HERE / f"{VERSION}.zip")
