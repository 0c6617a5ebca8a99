"""Lays values reported from the work over the question the plan asked.

Keys are text: ``circuit:C2.run_len_m``, ``string:1.fuse_a``, ``strings.ns``, ``roof.feet``,
``bank.quantity``, ``weight.label_kg`` and their like. A key nobody knows is refused: a value that is
written down and then not used would look as if it had been judged.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, Final

import sizing
from jobs.shop.refusals import Refusal

_CIRCUIT_FIELDS: Final = frozenset({"run_len_m", "size", "bundle_count", "cable_standard"})
_FUSE_FIELDS: Final[Mapping[str, str]] = {
    "fuse_a": "rating_a",
    "fuse_interrupting_a": "interrupting_a",
    "fuse_distance_m": "distance_to_source_m",
    "is_sheathed": "is_sheathed",
}
_ROOF_KEYS: Final = frozenset(
    {
        "feet",
        "fasteners_per_foot",
        "rafter_spacing_mm",
        "feet_on_rafter",
        "gland_screws",
        "cable_holes",
        "material",
        "screw",
    }
)


#: What lies between the batteries and the bus, in every short circuit's way.
_LEADS: Final = (
    sizing.CircuitKind.BATTERY_TO_MAIN_FUSE,
    sizing.CircuitKind.BATTERY_LINKS,
    sizing.CircuitKind.SHUNT_TO_BATTERY,
)
#: Says that the leads count for nothing, whatever was reported of them; nobody reports it.
LESS_LEADS: Final = "leads.less"


class AsBuiltKeyUnknown(Refusal):
    """A value was reported for something this design does not have."""


def fitted_sizes(result: sizing.SystemResult) -> dict[str, tuple[str, str]]:
    """Return size and standard of each cable that an answer proposed, by circuit."""
    return {
        row.id: (row.size, row.cable_standard) for row in result.circuits if row.is_proposed_size and row.size
    }


@dataclass(frozen=True, slots=True)
class Built:
    """Values as built, by key; ``fitted`` names size and standard of cables the accepted plan proposed.

    A cable left to the engine is not proposed anew for a longer run: what was accepted is what is fitted
    until somebody reads another size off the wire.

    Devices are judged by the short circuit the planned leads let through. One that came out shorter or of
    another size lets through more: then nothing of the leads is counted, so that a tablet without signal
    can tell as much as the office.
    """

    values: Mapping[str, Any]
    fitted: Mapping[str, tuple[str, str]] = field(default_factory=dict)

    def applied_to(self, system: sizing.SystemInput) -> sizing.SystemInput:
        """Return the question with the reported values in place of the planned ones."""
        for key in self.values.keys() - {LESS_LEADS}:
            self._refuse_unknown(key, system)
        paths = self._paths(system) if self.values else system.settled_paths
        circuits = tuple(self.circuit(circuit) for circuit in system.circuits)
        system = replace(system, circuits=circuits, settled_paths=paths)
        for change in (_restrung, _fuses, _roof, _bank, _weight):
            system = change(system, self.values)
        return system

    def circuit(self, circuit: sizing.CircuitInput) -> sizing.CircuitInput:
        """Return one circuit as built."""
        if circuit.size is None and circuit.id in self.fitted:
            size, standard = self.fitted[circuit.id]
            circuit = replace(circuit, size=size, cable_standard=standard)
        return _circuit(circuit, self.values)

    def _paths(self, system: sizing.SystemInput) -> tuple[tuple[str, float], ...]:
        """Return what a short circuit meets on its way to each device [Ω]: as planned, or nothing."""
        planned = as_planned(system, self.fitted)
        found = _fault_paths(planned)
        is_less = LESS_LEADS in self.values or leads_are_less(self.values, planned_leads(planned))
        return tuple((name, 0.0) for name, _ in found) if is_less else found

    def _refuse_unknown(self, key: str, system: sizing.SystemInput) -> None:
        subject, _, name = key.partition(".")
        kind, _, label = subject.partition(":")
        known = {
            "circuit": name in _CIRCUIT_FIELDS | set(_FUSE_FIELDS) | {"has_no_protection"}
            and any(circuit.id == label for circuit in system.circuits),
            "string": name == "fuse_a" and any(string.id == label for string in system.strings),
            "strings": name in {"ns", "np"},
            "roof": name in _ROOF_KEYS,
            "bank": name in {"quantity", "is_inside"},
            "weight": name == "label_kg",
        }
        if not known.get(kind, False):
            raise AsBuiltKeyUnknown(f"“{key}” was reported, but this design has nothing by that name.")


def as_planned(system: sizing.SystemInput, fitted: Mapping[str, tuple[str, str]]) -> sizing.SystemInput:
    """Return the question with the cables in it that the accepted plan proposed."""
    bare = Built({}, fitted)
    return replace(system, circuits=tuple(bare.circuit(circuit) for circuit in system.circuits))


@lru_cache(maxsize=8)
def _fault_paths(planned: sizing.SystemInput) -> tuple[tuple[str, float], ...]:
    """Return the planned paths [Ω], kept: one plan is asked about thousands of times for its tables."""
    return sizing.fault_paths(planned)


def planned_leads(planned: sizing.SystemInput) -> dict[str, float | str]:
    """Return what the leads in a short circuit's way were planned as, by the name it is reported under."""
    found = dict[str, Any]()
    for circuit in planned.circuits:
        prefix = f"circuit:{circuit.id}"
        away_m = None if circuit.ocpd is None else circuit.ocpd.distance_to_source_m
        if circuit.kind in _LEADS:
            found[f"{prefix}.run_len_m"] = circuit.run_len_m
        if circuit.kind is sizing.CircuitKind.BATTERY_TO_MAIN_FUSE:  # the way ends at the device
            known = [length for length in (away_m, circuit.run_len_m) if length is not None]
            away_m = min(known, default=None)
        found[f"{prefix}.fuse_distance_m"] = away_m
        if circuit.kind in _LEADS or away_m:
            found |= {f"{prefix}.size": circuit.size, f"{prefix}.cable_standard": circuit.cable_standard}
    return {name: value for name, value in found.items() if value is not None}


def leads_are_less(values: Mapping[str, Any], planned: Mapping[str, float | str]) -> bool:
    """Return whether a lead was reported shorter than planned, or of another size, as the tablet asks too."""
    return any(_is_less(values[name], plan) for name, plan in planned.items() if values.get(name) is not None)


def _is_less(reported: Any, plan: float | str) -> bool:
    return str(reported) != plan if isinstance(plan, str) else float(reported) < plan


def _circuit(circuit: sizing.CircuitInput, values: Mapping[str, Any]) -> sizing.CircuitInput:
    prefix = f"circuit:{circuit.id}."
    own = {key.removeprefix(prefix): value for key, value in values.items() if key.startswith(prefix)}
    changes: dict[str, Any] = {name: own[name] for name in _CIRCUIT_FIELDS & own.keys()}
    if "run_len_m" in changes:  # somebody held a tape to it
        changes["confidence"] = sizing.Confidence.MEASURED
    if "has_no_protection" in own:
        changes["has_no_ocpd"] = bool(own["has_no_protection"])
    fuse = {_FUSE_FIELDS[name]: own[name] for name in _FUSE_FIELDS.keys() & own.keys()}
    if fuse and (circuit.ocpd is not None or "rating_a" in fuse):
        planned = circuit.ocpd or sizing.OcpdInput(rating_a=fuse["rating_a"])
        changes["ocpd"] = replace(planned, **fuse)
    if changes.get("has_no_ocpd"):  # found without: what was planned is not there
        changes["ocpd"] = None
    return replace(circuit, **changes) if changes else circuit


def _fuses(system: sizing.SystemInput, values: Mapping[str, Any]) -> sizing.SystemInput:
    strings = tuple(
        replace(string, fuse_a=values.get(f"string:{string.id}.fuse_a", string.fuse_a))
        for string in system.strings
    )
    guesses = frozenset(
        name for name in system.guesses if f"{name}_m" not in values
    )  # "circuit:C2.run_len" is no longer a guess once "circuit:C2.run_len_m" was measured
    return replace(system, strings=strings, guesses=guesses)


def _restrung(system: sizing.SystemInput, values: Mapping[str, Any]) -> sizing.SystemInput:
    """Wire all panels of the first controller anew, in the order they were planned."""
    ns, np = values.get("strings.ns"), values.get("strings.np")
    if not system.controllers or (ns is None and np is None):
        return system
    label = system.controllers[0].id
    count = sum(len(string.panel_ids) for string in system.strings if string.controller_id == label)
    in_series = int(ns) if ns is not None else count // max(1, int(np or 1))
    if np is not None and in_series * int(np) != count:
        raise AsBuiltKeyUnknown(
            f"{in_series} in series × {np} in parallel does not use the {count} panels of controller {label}."
        )
    return rewired(system, label, in_series)


def rewired(system: sizing.SystemInput, label: str, ns: int) -> sizing.SystemInput:
    """Return the question with one controller's panels wired ``ns`` in series, loose panels among them."""
    mine = [string for string in system.strings if string.controller_id == label]
    kept = tuple(string for string in system.strings if string.controller_id != label)
    names = [*_panels_of(mine), *_loose_panels(system)]
    if ns < 1 or not names or len(names) % ns:
        raise AsBuiltKeyUnknown(f"{len(names)} panels cannot be wired {ns} in series without one left over.")
    groups = [tuple(names[start : start + ns]) for start in range(0, len(names), ns)]
    fuse_a = mine[0].fuse_a if mine else None
    fuse_v = mine[0].fuse_voltage_rating_v if mine else None
    strings = tuple(
        sizing.StringInput(name, label, group, fuse_a=fuse_a, fuse_voltage_rating_v=fuse_v)
        for name, group in zip(_free_names(kept), groups, strict=False)
    )
    by_panel = {panel: string.id for string in strings for panel in string.panel_ids}
    panels = tuple(
        replace(panel, string_id=by_panel.get(panel.id, panel.string_id)) for panel in system.panels
    )
    return replace(system, strings=strings + kept, panels=panels)


def _panels_of(strings: Iterable[sizing.StringInput]) -> list[str]:
    return [name for string in strings for name in string.panel_ids]


def _loose_panels(system: sizing.SystemInput) -> list[str]:
    """Return the panels that hang on no string."""
    taken = set(_panels_of(system.strings))
    return [panel.id for panel in system.panels if panel.string_id is None and panel.id not in taken]


def _free_names(kept: Iterable[sizing.StringInput]) -> Iterator[str]:
    """Yield the numbers that no string has, from 1 on."""
    taken = {string.id for string in kept}
    return (str(number) for number in itertools.count(1) if str(number) not in taken)


def _roof(system: sizing.SystemInput, values: Mapping[str, Any]) -> sizing.SystemInput:
    own = {key.removeprefix("roof."): value for key, value in values.items() if key.startswith("roof.")}
    panels = system.panels
    if "fasteners_per_foot" in own:
        panels = tuple(replace(panel, fasteners_per_foot=int(own["fasteners_per_foot"])) for panel in panels)
    if "feet" in own:
        panels = _with_feet(panels, int(own["feet"]))
    changes: dict[str, Any] = {
        name: own[name]
        for name in ("feet_on_rafter", "gland_screws", "cable_holes", "material", "screw")
        if name in own
    }
    if "rafter_spacing_mm" in own:
        changes["rafter_spacing_m"] = float(own["rafter_spacing_mm"]) / 1000
    roof = replace(system.roof, **changes) if system.roof is not None and changes else system.roof
    return replace(system, panels=panels, roof=roof)


def _with_feet(panels: tuple[sizing.PlacedPanel, ...], total: int) -> tuple[sizing.PlacedPanel, ...]:
    """Spread the counted feet over the panels: planned feet first, the difference from the first panel on."""
    if total < 0:
        raise AsBuiltKeyUnknown(f"roof.feet must be 0 or more, got {total}.")
    if not panels:
        return panels
    planned = [panel.feet for panel in panels]
    difference, step = total - sum(planned), 1 if total > sum(planned) else -1
    position = 0
    while difference:
        if planned[position % len(planned)] + step >= 0:
            planned[position % len(planned)] += step
            difference -= step
        position += 1
    return tuple(replace(panel, feet=feet) for panel, feet in zip(panels, planned, strict=True))


def _bank(system: sizing.SystemInput, values: Mapping[str, Any]) -> sizing.SystemInput:
    if system.bank is None:
        return system
    quantity = int(values.get("bank.quantity", system.bank.quantity))
    inside = bool(values.get("bank.is_inside", system.bank.is_inside))
    bank = replace(system.bank, quantity=quantity, is_inside=inside)
    if bank.short_circuit_a is not None and system.bank.quantity:  # stated for the bank as planned
        bank = replace(bank, short_circuit_a=bank.short_circuit_a * quantity / system.bank.quantity)
    if system.bank.is_inside and not inside:  # out of the heated space the air's own minimum rules
        met = (system.tmin_travel_c, system.tmin_storage_c)
        known = [temp_c for temp_c in met if temp_c is not None]
        bank = replace(bank, tmin_c=min(known) if len(known) == len(met) else None)
    return replace(system, bank=bank)


def _weight(system: sizing.SystemInput, values: Mapping[str, Any]) -> sizing.SystemInput:
    if system.weight is None or "weight.label_kg" not in values:
        return system
    return replace(system, weight=replace(system.weight, label_kg=values["weight.label_kg"]))
