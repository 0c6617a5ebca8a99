"""Times the live answer of the roof workspace: 10 panels, 8 obstacles, one panel moved each time.

``uv run --group dev python tests/bench/bench_workspace.py``. The whole answer is timed as the view gives it,
in this process and warm; a browser adds the way there and back. The goal is 150 ms (median) and 300 ms
(95 of 100) from the pointer to the number on screen.
"""

from __future__ import annotations

import json
import os
import statistics
import sys
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
PANELS, OBSTACLES, MOVES = 10, 8, 60


def main() -> None:
    """Make a roof in a database in memory, move one panel about and print the times."""
    sys.path.insert(0, str(ROOT))
    os.environ["DATABASE_URL"] = "sqlite://:memory:"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    import django

    django.setup()
    from django.conf import settings
    from django.core.management import call_command

    settings.MIGRATION_MODULES = {"jobs": None, "checklists": None}
    settings.ALLOWED_HOSTS = ["*"]
    call_command("migrate", run_syncdb=True, verbosity=0)
    call_command("loaddata", "demo_shop", verbosity=0)
    timed(roof())


def roof() -> Any:
    """Return the golden design with ten panels and eight obstacles."""
    from jobs.models import Design, DesignPanel, Obstacle, Part

    design = Design.objects.select_related("job__survey").get(job__number="2026-001")
    design.panels.all().delete()
    part = Part.objects.filter(shop=design.job.shop_id, kind="panel", panel_sheet__isnull=False).first()
    for place in range(PANELS):
        DesignPanel.objects.create(
            design=design,
            part=part,
            number=place + 1,
            x_m=0.2 + 1.4 * (place // 2),
            y_m=0.2 + 1.2 * (place % 2),
        )
    survey = design.job.survey
    things = list(survey.obstacles.all())
    for thing in things[OBSTACLES:]:
        thing.delete()
    for place in range(len(things), OBSTACLES):
        Obstacle.objects.create(
            survey=survey, kind="plumbing_stack", is_round=True, x_m=1.0 + 0.4 * place, y_m=2.0,
            length_m=0.1, width_m=0.1, height_m=0.12,
        )  # fmt: skip
    assert survey.obstacles.count() == OBSTACLES, survey.obstacles.count()
    return design


def timed(design: Any) -> None:
    """Ask the live address as a hand would and print median, 95 of 100 and size."""
    from django.test import Client

    from jobs.models import Design, Membership
    from jobs.selectors.workspace import layout_state

    client = Client()
    member = Membership.objects.filter(shop=design.job.shop_id, role="estimator").first()
    client.force_login(member.user)
    layout = layout_state(Design.objects.get(pk=design.pk))
    layout["strings"] = [
        {"controller": "A", "panels": [one, one + 1], "fuse_a": None} for one in range(1, PANELS, 2)
    ]
    sizes, times = [], []
    for step in range(MOVES + 5):
        layout["panels"][0]["x_mm"] += 10
        before = time.perf_counter()
        answer = client.post(
            f"/designs/{design.pk}/roof/live/",
            json.dumps({"layout": layout, "sequence": step}),
            content_type="application/json",
        )
        times.append((time.perf_counter() - before) * 1000)
        sizes.append(len(answer.content))
        assert answer.status_code == 200, answer.content
    warm = sorted(times[5:])
    print(f"first answer               {times[0]:8.1f} ms")
    print(f"one panel moved, median    {statistics.median(warm):8.1f} ms   goal 150 ms")
    print(f"one panel moved, 95 of 100 {warm[int(0.95 * len(warm))]:8.1f} ms   goal 300 ms")
    print(f"largest answer             {max(sizes) / 1000:8.1f} kB   goal 30 kB")
    year = json.loads(answer.content).get("year")
    print(f"year {year}")


if __name__ == "__main__":
    main()
