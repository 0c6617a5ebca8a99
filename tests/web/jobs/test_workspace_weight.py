"""What the roof workspace weighs on a first visit, and what each of its answers weighs."""

from __future__ import annotations

import gzip
import json
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.urls import reverse

from jobs.models import DesignPanel, Obstacle, Part
from jobs.roof.read import roof_state
from jobs.workspace import drag_cache
from jobs.workspace.state import layout_state

pytestmark = pytest.mark.django_db
KB = 1000


@pytest.fixture
def design(golden_job):
    """Return the golden design with ten panels and eight things on its roof."""
    design = golden_job.designs.get()
    design.panels.all().delete()
    part = Part.objects.get(shop=golden_job.shop, sku="P100")
    for place in range(10):
        DesignPanel.objects.create(
            design=design, part=part, number=place + 1, x_m=0.2 + 1.4 * (place // 2), y_m=0.2 + place % 2
        )
    survey = design.job.survey
    for place in range(8 - survey.obstacles.count()):
        Obstacle.objects.create(
            survey=survey,
            kind="plumbing_stack",
            x_m=1 + place,
            y_m=2,
            length_m=0.1,
            width_m=0.1,
            height_m=0.1,
        )
    return design


def file_of(address: str) -> Path:
    """Return the file behind an address below /static/; hashed names are not used in tests."""
    found = finders.find(address.split("/static/")[1].split("?")[0])
    assert found, address
    return Path(found)


def with_imports(path: Path, known: set[Path]) -> set[Path]:
    """Return a module and all that it imports."""
    if path not in known:
        known.add(path)
        for name in re.findall(r'(?:from|import)\s*\(?"(\.{1,2}/[^"]+)"', path.read_text()):
            with_imports((path.parent / name).resolve(), known)
    return known


def fonts(path: Path) -> set[Path]:
    """Return the upright fonts that Latin text fetches; the rest waits until a page needs them."""
    faces = re.findall(r"@font-face \{([^}]*)\}", path.read_text())
    upright = [one for one in faces if "italic" not in one and "Ext" not in one]
    latin = [one for one in upright if "unicode-range" not in one or "U+0000-00FF" in one]
    return {(path.parent / re.search(r'url\("([^"]+)"\)', one)[1]).resolve() for one in latin}


def test_a_first_visit_weighs_little(client_of, erin, design):
    html = client_of(erin).get(reverse("jobs:workspace", args=[design.pk])).text
    files: set[Path] = set()
    for address in re.findall(r'(?:src|href)="([^"]*/static/[^"]+)"', html):
        path = file_of(address)
        files |= with_imports(path, set()) if path.suffix == ".js" else {path}
        files |= fonts(path) if path.name == "base.css" else set()
    names = {path.name for path in files}
    assert {"main.js", "store.js", "auto_layout.js", "bootstrap-5.3.9-used.min.css"} <= names
    assert sum(path.suffix == ".woff2" for path in files) == 5
    packed = {
        path.name: path.stat().st_size
        if path.suffix == ".woff2"
        else len(gzip.compress(path.read_bytes(), 6))
        for path in files
    }
    weight = sum(packed.values()) + len(gzip.compress(html.encode(), 6))
    assert weight <= 250 * KB, sorted(packed.items(), key=lambda item: -item[1])[:8]


@pytest.mark.parametrize("name", ["workspace_live", "workspace_detail"])
@pytest.mark.parametrize("draw", [False, True])
def test_each_answer_weighs_little(client_of, erin, design, name, draw):
    layout = layout_state(roof_state(design))
    layout["strings"] = [{"controller": "A", "panels": [n, n + 1], "fuse_a": None} for n in range(1, 10, 2)]
    body = {"layout": layout, "sequence": 1, "draw": draw}
    address = reverse(f"jobs:{name}", args=[design.pk])
    wants = {"accept-encoding": "gzip"}
    answer = client_of(erin).post(address, json.dumps(body), content_type="application/json", headers=wants)
    assert answer.status_code == 200
    assert len(answer.content) <= 30 * KB


@pytest.fixture
def long_drag(monkeypatch):
    """Let a drag last as long as a busy machine needs."""
    monkeypatch.setattr(drag_cache, "KEPT_S", 1e6)


@pytest.mark.usefixtures("long_drag")
def test_a_drag_asks_the_database_little(client_of, erin, design, django_assert_max_num_queries):
    client, address = client_of(erin), reverse("jobs:workspace_live", args=[design.pk])
    body = {"layout": layout_state(roof_state(design)), "sequence": 1}
    client.post(address, json.dumps(body), content_type="application/json")
    with django_assert_max_num_queries(4):  # who, of which shop, may they see it, is it the same revision
        answer = client.post(address, json.dumps(body), content_type="application/json")
    assert answer.status_code == 200


@pytest.mark.usefixtures("long_drag")
def test_a_drop_sees_what_changed_on_the_roof_meanwhile(client_of, erin, design):
    client, address = client_of(erin), reverse("jobs:workspace_live", args=[design.pk])
    layout = layout_state(roof_state(design))
    body = {"layout": {key: layout[key] for key in ("panels", "strings")}, "sequence": 1}

    def blocks(**more):
        got = client.post(address, json.dumps(body | more), content_type="application/json").json()
        return [one["sentence"] for one in got["rules"] if one["verdict"] == "block"]

    before = blocks()
    Obstacle.objects.create(
        survey=design.job.survey, kind="dome", label="New dome", x_m=0.3, y_m=0.3, length_m=0.4, width_m=0.4,
        height_m=0.3,
    )  # fmt: skip
    assert blocks() == before  # a hand that is moving: the records rest for some seconds
    assert any("New dome" in words for words in blocks(draw=True))
    assert any("New dome" in words for words in blocks())


def test_modules_are_fetched_side_by_side(client_of, erin, design):
    """Each module named in the page saves a round trip after the module that imports it."""
    html = client_of(erin).get(reverse("jobs:workspace", args=[design.pk])).text
    named = {file_of(address) for address in re.findall(r'<link rel="modulepreload" href="([^"]+)"', html)}
    main = file_of("/static/js/workspace/main.js")
    assert main.parent / "desk.js" in named
    assert named <= with_imports(main, set()) - {main}
    for path in [main, *named]:
        statically = re.findall(r'from "(\.{1,2}/[^"]+)"', path.read_text())
        assert {(path.parent / name).resolve() for name in statically} <= named
