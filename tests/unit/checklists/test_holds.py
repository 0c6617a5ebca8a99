"""Hold points on the golden job: what keeps them shut, in words, and what opens them."""

from __future__ import annotations

import pytest

from checklists.selectors.install import work_of
from checklists.services.recording import RecordRefused
from tests.unit.checklists.walk import complete


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    """Keep pictures of a test in its own folder."""
    settings.MEDIA_ROOT = tmp_path


def test_a_good_job_opens_every_hold(checklist, lena, now):
    complete(checklist, lena, now)
    work = work_of(checklist)
    for hold in work.holds.all():
        print(hold.step.code, [item.key for item in hold.items])
    shut = {hold.step.code for hold in work.holds.all() if not hold.is_passed}
    assert shut == {"M7"}
