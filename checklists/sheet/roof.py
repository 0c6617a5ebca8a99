"""The roof pages of the sheet: hole counts, the seal record foot by foot, the leak test."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from checklists.plan.roles import Role
from checklists.rules.install import Install, StepInfo
from checklists.rules.readings import drive_release
from checklists.rules.seals import seal_count
from checklists.sheet.words import holes_counted, recorded_rows, when

#: Steps whose values tell whether the roof is tight.
LEAK_TESTED: Final = frozenset(
    {Role.ROOF_CHECKED, Role.ARRIVAL_MOISTURE, Role.CURE, Role.LEAK_TEST, Role.TOP_UP}
)


def holes(install: Install) -> dict[str, Any]:
    """Return the count of holes by panel and gland box."""
    count = seal_count(install)
    return {
        "made": count.made,
        "under": count.under,
        "over": count.over,
        "cable_holes": count.cable_holes,
        "cable_holes_sealed": count.cable_holes_sealed,
        "unused": count.unused,
        "patched": count.patched,
        "verdict": "block" if count.sentences else str(count.check.verdict),
        "sentences": list(count.sentences),
        "groups": [
            {"title": group.title, "made": group.made, "under": group.under, "over": group.over}
            | {"is_planned": not _is_counted(install, group.name)}
            for group in count.groups
        ],
        "is_planned": not holes_counted(install),
        "cable_holes_planned": install.value(Role.CABLE_ENTRY, "cable_holes") is None,
    }


def _is_counted(install: Install, group: str) -> bool:
    """Return whether the holes of a panel or of the gland box were counted on the roof."""
    if group == "gland":
        return install.value(Role.SEAL_UNDER, "gland_screws", "gland:box") is not None
    return holes_counted(install, group)


def seal_record(install: Install, zone: str) -> dict[str, Any]:
    """Return when, how warm and with what each foot and the gland box were sealed."""
    return {
        "sealants": [
            {
                "side": side,
                "family": _choice(install, Role.SEALANT, f"{key}_family"),
                "lot": install.value(Role.SEALANT, f"{key}_lot"),
                "expiry": install.value(Role.SEALANT, f"{key}_expiry"),
            }
            for side, key in (("Under", "under"), ("Over", "over"))
        ],
        "temp_air_c": install.value(Role.SEALANT, "temp_air_c"),
        "rh_percent": install.value(Role.SEALANT, "rh_percent"),
        "rows": list(_seal_rows(install, zone)),
    }


def _seal_rows(install: Install, zone: str) -> Iterator[dict[str, Any]]:
    for name, feet in install.fitted.feet.items():
        subject = f"panel:{name}"
        photos = _photos(install, Role.FOOT_PHOTOS, subject) or _photos(install, Role.SEAL_OVER, subject)
        for number in range(1, feet + 1):
            yield _seal_row(
                install,
                zone,
                subject,
                f"Panel {name}, foot {number}",
                f"foot_{number}",
                photos[number - 1 : number],
            )
    if install.fitted.gland_screws:
        yield _seal_row(install, zone, "gland:box", "Gland box", "holes", [])


def _seal_row(
    install: Install, zone: str, subject: str, title: str, name: str, photos: list[str]
) -> dict[str, Any]:
    under, over = install.step(Role.SEAL_UNDER, subject), install.step(Role.SEAL_OVER, subject)
    return {
        "title": title,
        "made": install.fitted.gland_screws if subject == "gland:box" else install.fitted.fasteners_per_foot,
        "is_planned": not _is_counted(install, "gland" if subject == "gland:box" else subject[6:]),
        "under": install.value(Role.SEAL_UNDER, name, subject),
        "under_at": _at(install, under, name, zone),
        "under_temp_c": _temp_c(install, Role.SEAL_UNDER, subject),
        "over": install.value(Role.SEAL_OVER, name, subject),
        "over_at": _at(install, over, name, zone),
        "over_temp_c": _temp_c(install, Role.SEAL_OVER, subject),
        "photos": photos,
    }


def leak_test(install: Install, zone: str, units: str) -> dict[str, Any]:
    """Return the leak test, the cure hours before it, and from when the vehicle may be driven."""
    sealed = [
        install.state(step).last_at
        for role in (Role.SEAL_OVER, Role.FIXTURES_SEALED)
        for step in install.of_role(role)
    ]
    at, words = drive_release(install, max((each for each in sealed if each), default=None))
    return {
        "rows": recorded_rows(install, LEAK_TESTED, units),
        "drive_release": when(at, zone),
        "drive_release_why": words,
    }


def _temp_c(install: Install, role: Role, subject: str) -> float | None:
    """Return the air temperature at a seal: its own, or the one entered for the whole round."""
    own: float | None = install.value(role, "temp_air_c", subject)
    return own if own is not None else install.value(role, "temp_air_c")


def _at(install: Install, step: StepInfo | None, name: str, zone: str) -> str:
    """Return when a seal was made: by the tablet's clock put right, as it may be sent hours later."""
    if step is None:
        return ""
    moments = [event.done_at or event.received_at for event in install.state(step)[name].standing]
    return when(max((each for each in moments if each), default=None), zone)


def _photos(install: Install, role: Role, subject: str) -> list[str]:
    step = install.step(role, subject)
    return [] if step is None else [str(name) for name in install.state(step)["photo"].photos]


def _choice(install: Install, role: Role, name: str) -> str:
    step = install.step(role)
    value = install.value(role, name)
    if step is None or value is None:
        return ""
    spec = next(spec for spec in step.specs if spec.name == name)
    return spec.choice_label(value)
