"""Hands the application to a web server."""

import logging
import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()

from config.checks import sqlite_words  # noqa: E402 - settings are there only now

if sqlite_words():  # a server runs no system checks: told in its log at the start
    logging.getLogger("coachlight").warning(sqlite_words())
