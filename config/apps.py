"""Sets up at start: system checks, and how many threads a question about shade may use."""

from importlib import import_module
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

import sizing


class ConfigConfig(AppConfig):
    name = "config"

    def ready(self) -> None:
        """Register the checks; tell the shade engine its threads."""
        import_module("config.checks")
        _guard_the_database()
        try:
            sizing.use_threads(settings.SHADE_THREADS)
        except ValueError as problem:
            raise ImproperlyConfigured(f"SHADE_THREADS: {problem}") from problem


def _guard_the_database() -> None:
    """Have the database refuse what no program may do, after every migration."""
    from django.apps import apps
    from django.db.backends.signals import connection_created
    from django.db.models.signals import post_migrate, pre_migrate

    from common.guard import know_the_door, know_the_shop
    from config.guard.set_up import guards_away, guards_set

    def met(*, connection: Any, **_: Any) -> None:
        know_the_door(connection)
        know_the_shop(connection)

    connection_created.connect(met, dispatch_uid="guard.door", weak=False)
    own = apps.get_app_config("config")
    pre_migrate.connect(guards_away, sender=own, dispatch_uid="guard.away")
    post_migrate.connect(guards_set, sender=own, dispatch_uid="guard.set")
