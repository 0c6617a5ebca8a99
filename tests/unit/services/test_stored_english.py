"""What services store is English, whatever language the person reads who asks."""

from __future__ import annotations

import pytest
from django.utils import translation

from tests.spoken import LANGUAGE, speak, written_in_it
from tests.unit.services.table import OF_CUSTOMERS, SERVICES
from tests.unit.services.test_rights_table import undone
from tests.unit.services.world import STAGES

#: Its subject is a text in the other language: the log tells what it was and is.
WRITES_ANOTHER_LANGUAGE = "shop_text_write"


@pytest.mark.parametrize("stage", sorted({service.stage for service in SERVICES}))
def test_a_person_of_another_language_stores_english(world, stage, monkeypatch):
    STAGES[stage](world.here)
    speak(monkeypatch)
    for service in (*SERVICES, *OF_CUSTOMERS):
        if service.stage != stage or service.name == WRITES_ANOTHER_LANGUAGE:
            continue
        with undone(), translation.override(LANGUAGE), written_in_it() as found:
            service.call(world.here, world.people["owner"], service.given(world.here))
        assert found == [], service.name
