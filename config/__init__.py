"""Settings, paths and the start; the SQLite in use is chosen here, before Django asks for it."""

from config.sqlite import use_newest

use_newest()
