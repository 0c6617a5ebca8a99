"""Counts the holes: sealed under, sealed over, made, patched; judged by the sizing engine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import sizing
from checklists.plan.roles import Role
from checklists.rules.install import Install


@dataclass(frozen=True, slots=True)
class SealGroup:
    """The holes of one panel or of the gland box."""

    name: str
    title: str
    made: int
    under: int | None
    over: int | None


@dataclass(frozen=True, slots=True)
class SealCount:
    """All holes of the job, with the judgment."""

    groups: tuple[SealGroup, ...]
    cable_holes: int
    cable_holes_sealed: int | None
    unused: int
    patched: int | None
    check: sizing.Check

    @property
    def made(self) -> int:
        """Return the holes that must be sealed."""
        return sum(group.made for group in self.groups)

    @property
    def under(self) -> int:
        """Return the holes sealed under so far."""
        return sum(group.under or 0 for group in self.groups)

    @property
    def over(self) -> int:
        """Return the holes sealed over so far."""
        return sum(group.over or 0 for group in self.groups)

    @property
    def sentences(self) -> tuple[str, ...]:
        """Return what is missing, each with where."""
        found = [
            self._missing("under", {group.title: (group.under, group.made) for group in self.groups}),
            self._missing("over", {group.title: (group.over, group.made) for group in self.groups}),
        ]
        if self.cable_holes_sealed != self.cable_holes:
            sealed = "not counted" if self.cable_holes_sealed is None else str(self.cable_holes_sealed)
            found.append(f"Cable holes: {self.cable_holes} made, {sealed} sealed")
        if (self.patched or 0) < self.unused:
            found.append(f"{self.unused} unused holes to patch, {self.patched or 0} patched")
        return tuple(words for words in found if words)

    def _missing(self, side: str, counts: Mapping[str, tuple[int | None, int]]) -> str:
        have = sum(sealed or 0 for sealed, _ in counts.values())
        if all((sealed or 0) == made for sealed, made in counts.values()):
            return ""
        where = ", ".join(
            f"{title} {made - (sealed or 0)}"
            if (sealed or 0) < made
            else f"{title} {(sealed or 0) - made} too many"
            for title, (sealed, made) in counts.items()
            if (sealed or 0) != made
        )
        if have == self.made:
            return f"Sealed {side}: {have} of {self.made}, but a count is in the wrong place ({where})"
        if have > self.made:
            return f"Sealed {side}: {have} of {self.made}, {have - self.made} too many ({where})"
        return f"Sealed {side}: {have} of {self.made}, {self.made - have} {side} missing ({where})"


def seal_count(install: Install) -> SealCount:
    """Return how many holes were made and sealed, by panel and gland box."""
    built = install.fitted
    groups = [
        SealGroup(
            name=name,
            title=f"panel {name}",
            made=feet * built.fasteners_per_foot,
            under=_sealed_at_feet(install, Role.SEAL_UNDER, name, feet),
            over=_sealed_at_feet(install, Role.SEAL_OVER, name, feet),
        )
        for name, feet in built.feet.items()
        if feet
    ]
    if built.gland_screws:
        groups.append(
            SealGroup(
                name="gland",
                title="gland box",
                made=built.gland_screws,
                under=_whole(install.value(Role.SEAL_UNDER, "holes", "gland:box")),
                over=_whole(install.value(Role.SEAL_OVER, "holes", "gland:box")),
            )
        )
    cable_sealed = _whole(install.value(Role.CABLE_ENTRY, "cable_holes_sealed"))
    return SealCount(
        groups=tuple(groups),
        cable_holes=built.cable_holes,
        cable_holes_sealed=cable_sealed,
        unused=built.unused_holes,
        patched=_whole(install.value(Role.EDGES_METALS, "patched")),
        check=sizing.seal_check(
            sizing.PenetrationResult(
                feet=sum(built.feet.values()),
                foot_fasteners=built.foot_fasteners,
                gland_screws=built.gland_screws,
                penetrations=built.penetrations,
                cable_holes=built.cable_holes,
            ),
            sealed_under=_total([group.under for group in groups]),
            sealed_over=_total([group.over for group in groups]),
            cable_holes_sealed=cable_sealed,
        ),
    )


def _sealed_at_feet(install: Install, role: Role, panel: str, feet: int) -> int | None:
    """Return the holes sealed at the feet that are there now; a foot taken away no longer counts."""
    values = [install.value(role, f"foot_{number}", f"panel:{panel}") for number in range(1, feet + 1)]
    counted = [int(value) for value in values if value is not None]
    return sum(counted) if counted else None


def _whole(value: object) -> int | None:
    return int(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _total(counts: list[int | None]) -> int | None:
    known = [count for count in counts if count is not None]
    return sum(known) if known else None
