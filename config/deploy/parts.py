"""What the product is made of: versions with hashes, licenses and a list of parts, written in one go.

``python -m config.deploy.parts`` writes, beside this file:

- ``requirements.txt`` and ``requirements-dev.txt``: every package with the hashes it may have, for
  ``pip install --require-hashes``;
- ``sbom.json``: the same as a software bill of materials (CycloneDX 1.6), licenses and links included.

``python -m config.deploy.parts licenses`` prints a line a package, with the license as the package tells it.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any, Final

from config.version import VERSION

HERE: Final = Path(__file__).parent
REQUIREMENTS: Final = {"requirements.txt": [], "requirements-dev.txt": ["--group", "dev"]}
SBOM: Final = HERE / "sbom.json"
_PIN: Final = re.compile(r"^([a-z0-9._-]+)==([^ ;]+)", re.MULTILINE)
#: Told in a file beside the package, not in what it says of itself.
_TOLD_ELSEWHERE: Final = {"pysqlite3": "Zlib"}
_NAME: Final = re.compile(r"[A-Za-z0-9._-]+")


def pins(path: Path) -> dict[str, str]:
    """Return the version of every package of a file of requirements."""
    return dict(_PIN.findall(path.read_text()))


def license_of(name: str) -> str:
    """Return a package's license as it tells it: an expression, else a classifier, else its first line."""
    try:
        told = distribution(name).metadata
    except PackageNotFoundError:  # for another system
        return "not installed here"
    classified = [
        each.rpartition(" :: ")[2] for each in told.get_all("Classifier") or () if each[:9] == "License :"
    ]
    return (
        told.get("License-Expression")
        or " and ".join(each for each in classified if each != "OSI Approved")
        or (told.get("License") or _TOLD_ELSEWHERE.get(name, "not told")).strip().splitlines()[0]
    )


def bill() -> dict[str, Any]:
    """Return the bill of materials of what runs at a shop: packages, and what was taken into ``static``."""
    found = pins(HERE / "requirements.txt")
    product = {"type": "application", "bom-ref": "coachlight", "name": "coachlight", "version": VERSION}
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": {"component": product},
        "components": [
            *(_package(name, version) for name, version in sorted(found.items())),
            *_vendored(),
        ],
        "dependencies": [
            {"ref": _url(name, version), "dependsOn": sorted(_needs(name, found))}
            for name, version in sorted(found.items())
        ],
    }  # fmt: skip


def _url(name: str, version: str) -> str:
    return f"pkg:pypi/{name}@{version}"


def _package(name: str, version: str) -> dict[str, Any]:
    url = _url(name, version)
    licenses = [{"license": {"name": license_of(name)}}]
    return {
        "type": "library", "bom-ref": url, "name": name, "version": version, "purl": url, "licenses": licenses
    }  # fmt: skip


def _needs(name: str, among: dict[str, str]) -> Iterator[str]:
    try:
        told = distribution(name).requires or ()
    except PackageNotFoundError:
        return
    for one in {_NAME.match(each)[0].lower().replace("_", "-") for each in told}:  # type: ignore[index]
        if one in among:
            yield _url(one, among[one])


def _vendored() -> Iterator[dict[str, Any]]:
    """Yield what stands in static/vendor with a version in its name."""
    seen = set()
    for path in sorted((HERE.parents[1] / "static" / "vendor").rglob("*-[0-9]*")):
        match = re.match(r"([a-z0-9_-]+?)-(\d+(?:\.\d+)+)", path.name)
        if match and match.groups() not in seen:
            seen.add(match.groups())
            name, version = match.groups()
            yield {"type": "library", "bom-ref": f"static/{name}@{version}", "name": name, "version": version}


def write() -> None:
    """Write the requirements and the bill anew."""
    for name, options in REQUIREMENTS.items():
        command = [
            "uv", "export", "-q", "--no-header", "--no-annotate", "--no-emit-project", "--all-extras",
            *options, "-o", str(HERE / name),
        ]  # fmt: skip
        subprocess.run(command, check=True, cwd=HERE.parents[1])  # noqa: S603  our own command
    SBOM.write_text(json.dumps(bill(), indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    if sys.argv[1:] == ["licenses"]:
        for name, version in sorted(pins(HERE / "requirements-dev.txt").items()):
            print(f"{name} {version}: {license_of(name)}")
    else:
        write()
