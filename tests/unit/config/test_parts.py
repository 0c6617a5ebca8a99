"""What is installed is pinned, carries hashes and is listed; advisories are compared offline."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

from config.deploy.audit import affected, audit
from config.deploy.parts import HERE, REQUIREMENTS, SBOM, license_of, pins

ROOT = Path(__file__).parents[3]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())


@pytest.mark.parametrize("name", REQUIREMENTS)
def test_requirements_are_those_pinned_with_hashes_and_no_address(name):
    text = (HERE / name).read_text()
    pinned = dict(each.split("==") for each in PROJECT["tool"]["uv"]["constraint-dependencies"])
    found = pins(HERE / name)
    assert {one: pinned[one] for one in found} == found
    entries = re.split(r"\n(?=\S)", text.strip())
    assert len(entries) == len(found)
    assert all(re.search(r"--hash=sha256:[0-9a-f]{64}", each) for each in entries)
    assert "://" not in text
    assert "index" not in text


def test_everything_declared_is_there():
    names = [
        re.match(r"[\w.-]+", each)[0].lower().replace("_", "-") for each in PROJECT["project"]["dependencies"]
    ]
    assert set(names) - pins(HERE / "requirements.txt").keys() == set()
    dev = [re.match(r"[\w.-]+", each)[0].lower() for each in PROJECT["dependency-groups"]["dev"]]
    assert set(dev) - pins(HERE / "requirements-dev.txt").keys() == set()


def test_the_bill_lists_each_with_a_license():
    told = json.loads(SBOM.read_text())
    assert (told["bomFormat"], told["specVersion"]) == ("CycloneDX", "1.6")
    packages = {one["name"]: one["version"] for one in told["components"] if "purl" in one}
    assert packages == pins(HERE / "requirements.txt")
    assert [one["name"] for one in told["components"] if "purl" in one and "not told" in str(one)] == []
    assert {"bootstrap", "htmx", "idb", "signature_pad"} <= {one["name"] for one in told["components"]}
    refs = {one["bom-ref"] for one in told["components"]}
    assert {each for one in told["dependencies"] for each in one["dependsOn"]} <= refs


def test_a_license_is_told_as_the_package_tells_it():
    assert license_of("django") == "BSD-3-Clause"
    assert license_of("no-such-package") == "not installed here"


def test_they_install_from_the_image_and_in_ci():
    for path in ("config/deploy/Containerfile", ".ci/run"):
        assert "--require-hashes" in (ROOT / path).read_text()


EVENTS = [{"introduced": "0"}, {"fixed": "2.0"}, {"introduced": "3.0"}, {"last_affected": "3.1"}]
ADVISORY = {
    "id": "PYSEC-0000-1",
    "summary": "invented",
    "affected": [
        {
            "package": {"ecosystem": "PyPI", "name": "Django"},
            "ranges": [{"type": "ECOSYSTEM", "events": EVENTS}],
            "versions": ["9.9"],
        }
    ],
}


@pytest.mark.parametrize(
    ("version", "is_hit"),
    [
        ("1.11", True),
        ("2.0", False),
        ("2.5", False),
        ("3.0.4", True),
        ("3.1", True),
        ("3.2", False),
        ("9.9", True),
    ],
)
def test_an_advisory_hits_what_its_ranges_say(version, is_hit):
    """Events as the OSV schema defines them: introduced from, fixed before, last_affected up to."""
    assert bool(list(affected(ADVISORY, {"django": version}))) is is_hit
    assert not list(affected(ADVISORY | {"withdrawn": "2026-01-01T00:00:00Z"}, {"django": version}))


def test_nothing_at_hand_is_told_apart_from_nothing_found(tmp_path):
    assert audit(tmp_path) == (0, [])
    (tmp_path / "one.json").write_text(json.dumps(ADVISORY))
    assert audit(tmp_path) == (1, [])
