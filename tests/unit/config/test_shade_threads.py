"""The environment's number of threads reaches the shade engine, and a bad one stops the start."""

import pytest
from django.apps import apps
from django.core.exceptions import ImproperlyConfigured

import sizing
from sizing.shade.engine import threads


def test_one_thread_unless_told(settings):
    assert settings.SHADE_THREADS == 1


def test_the_setting_is_told_to_the_engine_at_the_start(settings):
    settings.SHADE_THREADS = 2
    try:
        apps.get_app_config("config").ready()
        assert threads._told == {"threads": 2}
    finally:
        sizing.use_threads(1)


def test_a_number_that_cannot_be_stops_the_start_and_names_the_setting(settings):
    settings.SHADE_THREADS = 0
    with pytest.raises(ImproperlyConfigured, match=r"SHADE_THREADS: .* 1 to 8 threads, not 0"):
        apps.get_app_config("config").ready()
