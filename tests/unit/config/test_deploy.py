"""What README, the unit files, the image and the compose file name is there: files, commands, settings."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.conf import settings
from django.core.management import get_commands

TOP = Path(settings.BASE_DIR)
DEPLOY = TOP / "config/deploy"
UNITS = sorted(DEPLOY.glob("*.service"))


def readme_block(heading: str) -> str:
    """Return the first block of commands under a heading of README."""
    section = (TOP / "README.md").read_text().split(f"## {heading}")[1]
    found = re.search(r"```sh\n(.*?)```", section, re.DOTALL)
    assert found is not None
    return found[1]


def unit(path: Path) -> dict[str, str]:
    """Return the lines of a unit file by name."""
    return dict(
        line.split("=", 1) for line in path.read_text().splitlines() if "=" in line and line[0] != "#"
    )


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    """Return the compose file as read."""
    read: dict[str, Any] = yaml.safe_load((DEPLOY / "compose.yaml").read_text())
    return read


def asked_of_the_environment() -> str:
    """Return the text of the files that may read the environment."""
    files = ("config/settings.py", "config/mail.py", "config/file_store.py", "config/deploy/gunicorn.py")
    return "".join((TOP / name).read_text() for name in files)


def test_running_it_for_a_shop_takes_ten_lines():
    lines = readme_block("Run it for your shop").splitlines()
    assert len(lines) <= 10
    assert "myshop.example" in "".join(lines)  # a name nobody can own


@pytest.mark.parametrize("heading", ["Start", "Run it for your shop"])
def test_readme_names_commands_that_are_there(heading):
    section = (TOP / "README.md").read_text().split(f"## {heading}")[1].split("\n## ")[0]
    named = set(re.findall(r"(?:manage\.py|config/go) ([a-z_]+)", section)) - {"test"}
    assert named
    assert named <= set(get_commands())
    for path in re.findall(r"config/deploy/[\w.*-]+", section):
        assert list(TOP.glob(path)), path


@pytest.mark.parametrize("path", UNITS, ids=lambda path: path.stem)
def test_a_unit_starts_what_is_there(path):
    lines = unit(path)
    assert set(re.findall(r"manage\.py (\w+)", lines["ExecStart"])) <= set(get_commands())
    assert lines["ExecStart"].startswith(f"{lines['WorkingDirectory']}/.venv/bin/python ")
    for name in re.findall(r"(\w+)=", lines["Environment"]):
        assert f'"{name}"' in asked_of_the_environment(), name
    assert f"git clone CHECKOUT {lines['WorkingDirectory']}" in readme_block("Run it for your shop")
    assert f"useradd --system --create-home {lines['User']}" in readme_block("Run it for your shop")


def test_every_service_reads_only_settings_that_are_there(compose):
    for name in ("web", "worker"):
        for key in compose["services"][name]["environment"]:
            assert f'"{key}"' in asked_of_the_environment(), key


def test_what_the_services_run_is_there(compose, client):
    services = compose["services"]
    assert services["worker"]["command"][2] in get_commands()
    (address,) = re.findall(r"127\.0\.0\.1:8000(/[\w/]+)", str(services["web"]["healthcheck"]))
    assert client.get(address).status_code == 200
    assert services["proxy"]["environment"]["UPSTREAM"] == "web:8000"
    for mount in services["proxy"]["volumes"]:
        source = mount.split(":")[0]
        assert (DEPLOY / source).exists() if source.startswith(".") else source in compose["volumes"]
    build = services["web"]["build"]
    assert (DEPLOY / build["context"] / build["dockerfile"]).exists()


def test_the_image_copies_and_installs_what_is_there():
    image = (DEPLOY / "Containerfile").read_text()
    for line in re.findall(r"^COPY (.+) \./?$", image, re.MULTILINE):
        for name in line.split():
            assert (TOP / name).exists(), name
    extras = tomllib.loads((TOP / "pyproject.toml").read_text())["project"]["optional-dependencies"]
    assert set(re.findall(r"--extra (\w+)", image)) <= set(extras)
    go = (TOP / "config/go").read_text()
    for package in ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "fontconfig"):
        assert package in image
        assert package in go


def test_the_image_leaves_data_and_secrets_of_the_checkout_out():
    left_out = (DEPLOY / "Containerfile.dockerignore").read_text().splitlines()
    never_stored = {".venv", "var", ".env", "**/.env", ".git", "**/__pycache__"}
    assert never_stored <= set(left_out)
    loaded = {
        "config",
        "jobs",
        "checklists",
        "common",
        "sizing",
        "static",
        "templates",
        "fixtures",
        "manage.py",
    }
    assert not loaded & set(left_out)


def test_kernels_of_the_image_lie_outside_the_volume():
    image = (DEPLOY / "Containerfile").read_text()
    kernels = re.findall(r"NUMBA_CACHE_DIR=(\S+)", image)[0]
    (volume,) = re.findall(r"^VOLUME (\S+)", image, re.MULTILINE)
    assert not kernels.startswith(volume)  # an upgraded image brings its own
    assert "manage.py warm" in image


def test_a_first_start_may_take_its_time_before_the_worker_gives_up(compose):
    assert compose["services"]["web"]["healthcheck"]["start_period"] == "300s"
