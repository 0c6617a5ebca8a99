"""The settings tests run with: those of the project, with debugging on as at a developer's desk."""

import os

os.environ.setdefault("DEBUG", "1")
os.environ.setdefault("SHARED_CACHE", "0")  # on PostgreSQL too: a test need not ask for the database

from config.settings import *  # noqa: F403 - all of them
