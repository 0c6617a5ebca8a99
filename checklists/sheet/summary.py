"""The first pages of the sheet: key numbers, what was done, energy, weight, equipment."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import sizing
from checklists.plan.roles import PhaseRole, Role
from checklists.record.read import Work
from checklists.rules.install import Install
from checklists.rules.seals import seal_count
from checklists.sheet.words import PLANNED, holes_counted, is_done, texts
from common import units as trade


def key_numbers(work: Work) -> dict[str, Any]:
    """Return the numbers the customer reads first."""
    system, result, built = work.system, work.result, work.install.fitted
    return {
        "array_w": sum(placed.panel.pmp_w for placed in system.panels) or None,
        "bank_usable_wh": result.bank.usable_wh,
        "inverter_w": system.inverter.power_w if system.inverter else None,
        "holes": built.penetrations,
        "holes_planned": not holes_counted(work.install),
        "cable_holes": built.cable_holes,
        "net_added_kg": result.weight.net_added_kg,
        "height_m": _height_m(result),
        "day_wh": result.energy.e_day_wh,
    }


def sheet_texts(work: Work) -> dict[str, list[str]]:
    """Return the texts for the owner, with this vehicle's height and added weight in them."""
    units, measured_mm = work.checklist.job.shop.units, work.install.value(Role.ROAD_READY, "height_mm")
    height_m = _height_m(work.result) if measured_mm is None else measured_mm / 1000
    said = {
        "height": "not measured" if height_m is None else trade.show(height_m, "m", units),
        "weight": trade.show(work.result.weight.net_added_kg, "kg", units),
    }
    keys = ("care", "cautions", "warranty", "shut_down")
    return {key: [line.format(**said) for line in texts()[key]] for key in keys}


def _height_m(result: sizing.SystemResult) -> float | None:
    found = next((check for check in result.checks if check.key == "vehicle/height"), None)
    return None if found is None else found.value


def what_was_done(work: Work) -> list[str]:
    """Return the work in a few lines; what is not recorded yet says that it is planned."""
    return [line for line in _done(work) if line]


def _said(install: Install, line: str, *phases: PhaseRole) -> str:
    """Return a line as done where these phases are through, else as planned."""
    steps = [step for step in install.in_scope if step.phase_role in phases and not step.is_hold]
    return line if all(install.mark(step).is_done for step in steps) else f"{PLANNED}: {line}"


def _done(work: Work) -> Iterator[str]:
    system, install = work.system, work.install
    built = install.fitted
    if system.panels:
        watts = sum(placed.panel.pmp_w for placed in system.panels)
        held = (
            f"on {sum(built.feet.values())} feet with {built.foot_fasteners} screws"
            if built.foot_fasteners
            else "bonded to the roof"
        )
        line = f"{len(system.panels)} panels, {watts:g} W together, {held}."
        yield _said(install, line, PhaseRole.MOUNT, PhaseRole.MOUNT_SEAL)
    for found in work.result.controllers:
        name = next((c.name for c in system.controllers if c.id == found.id), "")
        lead = "Wired" if is_done(install, Role.STRINGS_BUILT) else f"{PLANNED}:"
        yield f"{lead} {found.ns or '–'} in series × {found.np} in parallel to controller {found.id}, {name}."
    if system.bank:
        bank = system.bank
        place = "inside" if bank.is_inside else "outside"
        line = (
            f"{bank.quantity} × {bank.unit_capacity_ah:g} Ah {bank.unit_nominal_v:g} V"
            f" {str(bank.chemistry).upper()}, {place}, behind {_main_fuse(work)}."
        )
        yield _said(install, line, PhaseRole.BATTERY, PhaseRole.BATTERY_DC)
    if system.inverter:
        line = _inverter_words(system.inverter)
        yield _said(install, line, PhaseRole.INVERTER, PhaseRole.AC_WIRING)
    yield _tested(install)


def _inverter_words(inverter: sizing.InverterInput) -> str:
    """Name the inverter; its name often says already what it is and its watts."""
    lead = "" if "inverter" in inverter.name.lower() else "Inverter "
    power = f"{inverter.power_w:g} W"
    return f"{lead}{inverter.name}." if power in inverter.name else f"{lead}{inverter.name}, {power}."


def _main_fuse(work: Work) -> str:
    names = work.checklist.facts["subjects"]["main_fuse"]
    row = next((row for row in work.result.circuits if row.id in names), None)
    return f"a {row.fuse_a:g} A main fuse" if row is not None and row.fuse_a else "its main fuse"


def _tested(install: Install) -> str:
    done = []
    proven = {Role.STRING_POLARITY, Role.POLARITY_PROVEN}
    strings = [step for step in install.in_scope if step.role in proven and step.subject]
    if strings and all(install.state(step)["polarity"].value == "correct" for step in strings):
        done.append("polarity of every string checked")
    if install.of_role(Role.SEAL_COUNT) and not seal_count(install).sentences:
        done.append("every hole sealed under and over")
    if install.value(Role.LEAK_TEST, "result") == "dry":
        done.append("leak test dry")
    if not done:
        return ""
    return f"{'; '.join(done)[:1].upper()}{'; '.join(done)[1:]}."


def energy(work: Work) -> dict[str, Any]:
    """Return the loads counted on, the months, and what is not promised."""
    system, result = work.system, work.result
    return {
        "e_dc_wh": result.energy.e_dc_wh,
        "e_ac_wh": result.energy.e_ac_wh,
        "e_idle_wh": result.energy.e_idle_wh,
        "e_day_wh": result.energy.e_day_wh,
        "autonomy_days": result.bank.autonomy_days,
        "loads": [
            {
                "name": row.name,
                "bus": str(row.bus).upper(),
                "power_w": row.power_w,
                "hours": row.hours_per_day,
                "quantity": row.quantity,
                "duty": row.duty_fraction,
                "energy_wh": row.power_w * row.duty_fraction * row.hours_per_day * row.quantity,
            }
            for row in system.loads
        ],
        "months": [
            {
                "leg": month.leg,
                "month": month.month,
                "psh_h": month.psh_h,
                "poor_wh": month.poor_day_wh,
                "harvest_wh": month.harvest_wh,
                "fine_wh": month.fine_day_wh,
                "balance_wh": month.balance_wh,
            }
            for month in result.harvest
        ],
        "k_sys": system.k_sys,
        "shade": sorted({f"{leg.name}: {leg.shade_habit} parking" for leg in system.legs}),
        "sources": sorted({month.source for month in result.harvest if month.source}),
        "guesses": sorted(system.guesses),
        "not_promised": texts()["not_promised"],
    }


def weight(work: Work) -> dict[str, Any]:
    """Return the weight ledger and the height."""
    entered, summed = work.system.weight, work.result.weight
    height = next((check for check in work.result.checks if check.key == "vehicle/height"), None)
    return {
        "label_kg": entered.label_kg if entered else None,
        "label_type": entered.label_type if entered else "",
        "label_words": label_words(entered),
        "scales": [_scale(check) for check in work.result.checks if _is_of_scales(check)],
        "fresh_water_kg": entered.fresh_water_kg if entered else None,
        "people_kg": entered.people_kg if entered else None,
        "customer_cargo_kg": entered.customer_cargo_kg if entered else None,
        "added": list(_added(work.system)),
        "removed": [{"name": name, "mass_kg": mass} for name, mass in (entered.removed if entered else ())],
        "net_added_kg": summed.net_added_kg,
        "cargo_left_kg": summed.cargo_left_kg,
        "left_fraction": summed.left_fraction,
        "height_m": height.value if height else None,
        "height_limit_m": height.limit if height else None,
        "height_verdict": str(height.verdict) if height else "",
    }


def label_words(entered: sizing.WeightInput | None) -> str:
    """Return how the cargo label was counted."""
    if entered is None or entered.label_type != "ccc":
        return "water and people still to be taken off"
    if entered.is_label_undated:
        return "no date: water and people counted as cargo"
    return "older kind, water and people already taken off"


def _is_of_scales(check: sizing.Check) -> bool:
    return check.key.startswith(("vehicle/gvwr", "vehicle/axle", "vehicle/hitch"))


def _scale(check: sizing.Check) -> dict[str, Any]:
    """Return an axle, the hitch or the whole weight with its rating; the sentence where it is not known."""
    return {
        "title": check.title,
        "value": check.value,
        "limit": check.limit,
        "unit": check.unit,
        "sentence": check.sentence,
        "verdict": str(check.verdict),
    }


def _added(system: sizing.SystemInput) -> Iterator[dict[str, Any]]:
    """Yield what was added and its mass, equipment first, then what was listed by hand."""
    if system.panels:
        mass = sum(placed.panel.mass_kg for placed in system.panels)
        yield {"name": f"{len(system.panels)} panels", "mass_kg": mass}
    for controller in system.controllers:
        yield {"name": controller.name, "mass_kg": controller.mass_kg}
    if system.bank and system.bank.unit_mass_kg:
        quantity = system.bank.quantity
        yield {"name": f"{quantity} batteries", "mass_kg": quantity * system.bank.unit_mass_kg}
    if system.inverter and system.inverter.mass_kg:
        yield {"name": system.inverter.name, "mass_kg": system.inverter.mass_kg}
    for source in system.sources:
        if source.mass_kg:
            yield {"name": source.name, "mass_kg": source.mass_kg}
    for name, mass in system.weight.added if system.weight else ():
        yield {"name": name, "mass_kg": mass}


def equipment(work: Work) -> list[dict[str, Any]]:
    """Return what was fitted, with serials as recorded; a missing one says so."""
    return [_item(work.install, item) for item in _fitted_items(work)]


def _fitted_items(work: Work) -> Iterator[Mapping[str, Any]]:
    """Yield the planned items, batteries as many as were fitted."""
    quantity = work.install.value(Role.BATTERY_TRAY, "quantity")
    batteries = 0
    for item in work.checklist.facts["equipment"]:
        if item["code"] == work.install.code_of(Role.BATTERY):
            batteries += 1
            if quantity is not None and batteries > quantity:
                continue
        yield item


def _item(install: Install, item: Mapping[str, Any]) -> dict[str, Any]:
    role = next((step.role for step in install.steps if step.code == item["code"]), "")
    step = install.step(role, item["subject"])
    is_asked = (
        step is not None
        and step.is_in_scope
        and any(spec.kind == "serial" and spec.required for spec in step.specs)
    )
    serial = install.value(role, "serial", item["subject"])
    place = install.value(Role.BATTERY_TRAY, "location") if role == Role.BATTERY else None
    return {
        "title": item["title"],
        "model": item["model"],
        "serial": serial,
        "is_missing": serial is None and is_asked,
        "is_planned": step is None or not install.mark(step).is_begun,
        "location": place.replace("_", ", ").capitalize() if place else item["location"],
        "warranty_months": item["warranty_months"],
    }
