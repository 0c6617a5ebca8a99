"""Checks a whole question: every field against its range, and that names point at something."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from sizing.cable.conductors import conductor
from sizing.core.contradictions import power_gap_words
from sizing.core.inputs import CircuitInput, InputOutOfRange, PanelSpec, SystemInput
from sizing.core.reading import Form

#: How a design is read and checked; a text has at most 500 characters, a list at most 2000 entries.
DESIGN: Final = Form(SystemInput, "design", most_text=500, most_rows=2000)


def validate(system: SystemInput) -> None:
    """Refuse a question that cannot be asked; a bad design is no such question.

    Parameters
    ----------
    system : SystemInput
        One design, in SI units. [-]

    Returns
    -------
    None

    Raises
    ------
    InputOutOfRange
        If a number is not finite or outside its range, a list is too long, an id is empty or used twice,
        a name points at nothing, a size is in no table, or a data sheet contradicts itself. The message
        names the path, the limit, the unit and what came in.

    References
    ----------
    .. [1] Ranges are physical bounds of our own; sizes are those of the tables.
    """
    DESIGN.read(system)
    check_links(system)


def check_links(system: SystemInput) -> None:
    """Refuse a question whose parts contradict one another or name what is not there."""
    _check_ids(system)
    _check_links(system)
    _check_weather(system)
    for index, placed in enumerate(system.panels):
        _check_sheet(f"panels[{index}].panel", placed.panel)
    for index, circuit in enumerate(system.circuits):
        _check_size(f"circuits[{index}].size", circuit)
    if system.bank is not None and system.bank.quantity % system.bank.in_series:
        raise InputOutOfRange(
            "bank.in_series", f"must divide the {system.bank.quantity} batteries, got {system.bank.in_series}"
        )


def _check_ids(system: SystemInput) -> None:
    for name in ("panels", "strings", "controllers", "sources", "circuits"):
        seen: set[str] = set()
        for index, item in enumerate(getattr(system, name)):
            path = f"{name}[{index}].id"
            if not item.id:
                raise InputOutOfRange(path, "must not be empty")
            if item.id in seen:
                raise InputOutOfRange(path, f'must be unique, "{item.id}" is used twice')
            seen.add(item.id)


def _check_links(system: SystemInput) -> None:
    panels = {placed.id for placed in system.panels}
    controllers = {each.id for each in system.controllers}
    strings = {each.id for each in system.strings}
    taken: dict[str, str] = {}
    for index, string in enumerate(system.strings):
        _known(f"strings[{index}].controller_id", "controller", string.controller_id, controllers)
        for number, panel_id in enumerate(string.panel_ids):
            path = f"strings[{index}].panel_ids[{number}]"
            _known(path, "panel", panel_id, panels)
            if panel_id in taken:
                raise InputOutOfRange(path, f'panel "{panel_id}" is already in string "{taken[panel_id]}"')
            taken[panel_id] = string.id
    for index, placed in enumerate(system.panels):
        if placed.string_id is not None:
            _known(f"panels[{index}].string_id", "string", placed.string_id, strings)
    for index, plug in enumerate(system.plugs):
        _known(f"plugs[{index}].controller_id", "controller", plug.controller_id, controllers)
    sources = {each.id for each in system.sources}
    for index, source in enumerate(system.sources):
        if source.through:
            _known(f"sources[{index}].through", "other source", source.through, sources - {source.id})
    _check_serves(system, controllers, strings)


def _check_serves(system: SystemInput, controllers: set[str], strings: set[str]) -> None:
    known = {
        "controller": controllers,
        "string": strings,
        "source": {each.id for each in system.sources},
    }
    for index, circuit in enumerate(system.circuits):
        path, serves = f"circuits[{index}].serves", circuit.serves
        kind, colon, name = serves.partition(":")
        if colon and kind in known:
            _known(path, kind, name, known[kind])
        elif serves not in ("", "inverter", "bank", "load"):
            raise InputOutOfRange(
                path,
                'must be "", "inverter", "bank", "load", or "controller:", "string:" or "source:" '
                f'with an id, got "{serves}"',
            )


def _check_weather(system: SystemInput) -> None:
    for name in ("tmin_travel_c", "tmin_storage_c"):
        coldest_c = getattr(system, name)
        if coldest_c is not None and coldest_c > system.tmax_c:
            raise InputOutOfRange(
                name, f"must not be above tmax_c ({system.tmax_c:g} °C), got {coldest_c:g} °C"
            )


def _known(path: str, what: str, name: str, names: Iterable[str]) -> None:
    if name not in names:
        raise InputOutOfRange(path, f'there is no {what} "{name}"')


def _check_sheet(path: str, panel: PanelSpec) -> None:
    if panel.vmp_v >= panel.voc_v:
        raise InputOutOfRange(
            f"{path}.vmp_v", f"must be below voc_v ({panel.voc_v:g} V), got {panel.vmp_v:g} V"
        )
    if panel.imp_a > panel.isc_a:
        raise InputOutOfRange(
            f"{path}.imp_a", f"must be at most isc_a ({panel.isc_a:g} A), got {panel.imp_a:g} A"
        )
    words = power_gap_words(pmp_w=panel.pmp_w, vmp_v=panel.vmp_v, imp_a=panel.imp_a)
    if words is not None:
        raise InputOutOfRange(f"{path}.pmp_w", f"{words} (vmp_v {panel.vmp_v:g} V, imp_a {panel.imp_a:g} A)")


def _check_size(path: str, circuit: CircuitInput) -> None:
    if circuit.size is None:
        return
    try:
        conductor(circuit.size, circuit.cable_standard)
    except InputOutOfRange as refusal:
        raise InputOutOfRange(path, refusal.message) from None
