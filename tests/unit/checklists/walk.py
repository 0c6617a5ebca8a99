"""Knows how to do a whole install well: every field of every step with a value a good job would give."""

from __future__ import annotations

import datetime as dt
import functools
import hashlib
import io
import uuid
from collections.abc import Iterator
from typing import Any

from PIL import Image

from checklists.photos.drawing import Drawn
from checklists.photos.photos import Picture, photo_keep
from checklists.record.events import events_record
from checklists.record.read import work_of
from checklists.rules.entries import Entry
from checklists.rules.install import StepInfo
from checklists.rules.reducer import SAFETY
from tests.replay import replayed

# Numbers that are neither in the plan nor in a band: what a careful technician would read.
NUMBERS = {
    "arrival_state.odometer_km": None,
    "rest_volts.rest_v": 12.6,
    "arrival_moisture.moisture_percent": 12.0,
    "proven_dead.bus_v": 0.1,
    "proven_dead.inverter_v": 0.1,
    "panel_chalked.offset_x_mm": 5.0,
    "panel_chalked.offset_y_mm": -5.0,
    "rafters.feet_on_rafter": 0,
    "sealant.temp_air_c": 18.0,
    "sealant.rh_percent": 45.0,
    "feet.depth_stop_mm": 20.0,
    "seal_under.temp_air_c": 18.0,
    "seal_over.temp_air_c": 18.0,
    "screws.length_mm": 38.0,
    "frames_fixed.torque_nm": 8.0,
    "frames_bonded.resistance_ohm": 0.03,
    "unused_holes.patched": 0,
    "seal_count.cable_holes_sealed": 1,
    "roof_leads.span_mm": 400.0,
    "gland.hole_mm": 25.0,
    "gland.range_low_mm": 5.0,
    "gland.range_high_mm": 9.0,
    "gland.cable_mm": 7.0,
    "gland.torque_nm": 3.0,
    "string_polarity.voc_v": 47.2,
    "pv_switch.rating_v": 150.0,
    "pv_switch.rating_a": 60.0,
    "controller_mounted.gap_mm": 150.0,
    "battery.rest_v": 13.2,
    "main_fuse.distance_mm": 150.0,
    "chassis_bond.area_mm2": 13.3,
    "chassis_insulation.resistance_mohm": 5.0,
    "precharge.across_v": 0.2,
    "ac_wiring.breaker_a": 15.0,
    "transfer.load_w": 1200.0,
    "transfer.load_min": 10.0,
    "inverter_bond.area_mm2": 13.3,
    "charger_settings.absorb_v": 14.2,
    "charger_settings.float_v": 13.5,
    "charger_settings.low_t_stop_c": 5.0,
    "sun.g_wm2": 820.0,
    "sun.t_cell_c": 48.0,
    "string_voc.voc_v": 45.1,
    "string_isc.isc_a": 8.46,
    "array_insulation.resistance_mohm": 2.0,
    "first_charge.battery_v": 13.3,
    "first_charge.battery_a": 40.0,
    "drop_under_sun.combiner_v": 40.0,
    "drop_under_sun.controller_v": 39.3,
    "drop_under_sun.pv_a": 15.0,
    "load_test.load_w": 1500.0,
    "load_test.rise_k": 12.0,
    "inverter_alarms.cutoff_v": 11.5,
    "cure.temp_air_c": 16.0,
    "cure.cure_h": 24.0,
    "leak_test.moisture_percent": 12.0,
    "labels.labels": 14,
    # the second list
    "right_vehicle.odometer_km": None,
    "strings_built.fuse_a": None,
    "air_conditioner_start.peak_a": None,
    "gfci_transfer.transfer_ms": None,
    "battery_before.rest_v": 12.6,
    "proven_dead.ac_v": 0.2,
    "roof_checked.moisture_percent": 12.0,
    "layout_marked.offset_x_mm": 5.0,
    "layout_marked.offset_y_mm": -5.0,
    "layout_marked.feet_on_rafter": 0,
    "cable_entry.cable_mm": 7.0,
    "cable_entry.torque_nm": 3.0,
    "cable_entry.cable_holes_sealed": 1,
    "edges_metals.patched": None,
    "polarity_proven.voc_v": 47.2,
    "pv_gear.rating_v": 150.0,
    "pv_gear.rating_a": 60.0,
    "battery_tray.pull_n": 420.0,
    "no_short.lowest_mohm": 5.0,
    "ac_wired.breaker_a": 15.0,
    "bond_continuity.resistance_ohm": 0.03,
    "bank_polarity.bank_v": 13.2,
    "battery_live.bus_v": 13.2,
    "string_tests.voc_v": 45.1,
    "string_tests.isc_a": 8.46,
    "pv_on.combiner_v": 40.0,
    "pv_on.controller_v": 39.3,
    "pv_on.pv_a": 15.0,
    "pv_on.battery_v": 13.3,
    "pv_on.battery_a": 40.0,
    "inverter_alone.output_v": 120.0,
    "inverter_alone.cutoff_v": 11.5,
    "shore_on.charger_a": 20.0,
    "charge_sum.sum_a": 60.0,
    "road_ready.height_mm": 3400.0,
    "leak_test.temp_air_c": 16.0,
    "leak_test.cure_h": 24.0,
}
TEXTS = {
    "appliances_tried.not_working": None,
    "damage_found.damage": None,
    "arrival_moisture.place": None,
    "instruments.sun_meter_id": None,
    "battery.date_code": None,
    "dead_proof.meter_id": "M-07",
    "sealant.under_lot": "B118",
    "sealant.over_lot": "L204",
    "plugs_match.panel_end": "Four Millimeter Series A",
    "plugs_match.lead_end": "four millimeter series a",
    "second_person.second_person": "Tess Second",
    "licensed_person.licensed_name": "Lee Wright",
    "licensed_person.licence_no": "EL 4471",
    "main_fuse.family": "Class T",
    "walk_round.damage": None,
    "works_before.not_working_words": None,
    "roof_checked.place": None,
    "roof_checked.decided": None,
    "test_pull.decided": None,
}
CHOICES = {
    "screws.kind": "#14",
    "battery_tray": "",
    "shore_power.polarity": "correct",
    "bank_place.location": "inside",
    "screws.remedy": None,
    "first_charge.reason": None,
    "seal_under.kind": "#14",
    "seal_under.remedy": None,
    "pv_on.reason": None,
    "charge_sum.reason": None,
    "string_tests.isc_how": "tester",
    "inverter_alone.neutral": "bonded",
}
#: Fields of every step that a good job leaves alone.
LEFT = ("not_here", "not_here_why", "not_here_photo", "not_here_visit")


def good_value(step: StepInfo, spec: Any, now: dt.datetime, actor: Any = None) -> Any:
    """Return what a good job records at a field; None leaves it blank."""
    key = f"{step.role}.{spec.name}"
    if spec.name in LEFT:
        return None
    if spec.kind == "tick":
        return True
    if spec.kind == "lines":
        return ",".join(name for name, _ in spec.lines)
    if spec.kind == "several":
        return "none"
    if spec.kind == "signature":
        return {"name": "Pat Customer", "ink": ""}
    if key == "licensed_person.licensed_name":
        return "Lee Wright" if actor is None else actor.get_full_name()
    if spec.kind == "number":
        return _good_number(key, spec)
    if spec.kind == "serial":
        return f"SN-{step.code}-{step.subject_name or 1}"
    if spec.kind == "choice":
        return CHOICES.get(key, spec.expected or (spec.accept or (spec.choices[0][0],))[0])
    if spec.format == "date":
        return f"{now:%Y-%m-%d}"
    if spec.format == "month":
        return f"{now.year + 1}-06"
    return TEXTS.get(key, spec.expected or "as it should be")


def _good_number(key: str, spec: Any) -> float | int | None:
    if key in NUMBERS:
        return NUMBERS[key]
    if spec.tick is not None:
        return int(spec.tick)
    if spec.expected is not None:
        return spec.expected
    if spec.low is not None and spec.high is not None:
        return (spec.low + spec.high) / 2
    if spec.low is not None:
        return spec.low + 1
    return None if not spec.required else spec.min


def picture(colour: str = "navy", size: tuple[int, int] = (64, 48)) -> io.BytesIO:
    """Return a small JPEG as an upload."""
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG")
    out.size = out.tell()  # type: ignore[attr-defined]
    out.seek(0)
    return out


@functools.cache
def drawn() -> Drawn:
    """Return a picture as if it had been drawn: drawing is tested with the photos, and takes its time."""
    data = picture().getvalue()
    return Drawn(data, data, 64, 48)


def complete(
    checklist: Any, actor: Any, now: dt.datetime, *, only: str = "ABCDEFGHIJKLM", skip: tuple[str, ...] = ()
) -> None:
    """Record every phase in order, a good value everywhere; ``skip`` leaves steps out by role."""
    what = f"complete {checklist.pk} {actor.pk} {now} {only} {skip}"
    replayed(what, lambda: _complete(checklist, actor, now, only, skip))
    checklist.refresh_from_db()


def _complete(checklist: Any, actor: Any, now: dt.datetime, only: str, skip: tuple[str, ...]) -> None:
    shades = iter(range(1, 10_000))
    work = work_of(checklist)
    for steps in _rounds(work, only, skip):
        entries = list(_lines_read(checklist, steps, now))
        for step in steps:
            entries += list(_entries(checklist, work.install, step, actor, now, shades))
        if entries:
            work = events_record(
                checklist=checklist, entries=entries, actor=actor, at=now, refuse_locked=True, seen=work
            ).work


def read_lines(checklist: Any, actor: Any, now: dt.datetime, days: list[str]) -> None:
    """Record that somebody has read the safety lines of every phase on these days."""

    def read() -> None:
        first = {
            step.phase: step for step in reversed(work_of(checklist).install.in_scope) if step.traits.safety
        }
        entries = [
            Entry(id=uuid.uuid4(), step=step.pk, verb=SAFETY, value=day)
            for step in first.values()
            for day in days
        ]
        events_record(checklist=checklist, entries=entries, actor=actor, at=now)

    replayed(f"read {checklist.pk} {actor.pk} {now} {days}", read)


def _rounds(work: Any, only: str, skip: tuple[str, ...]) -> Iterator[list[StepInfo]]:
    """Yield the steps that can be done in one go: none waits for another of the same round."""
    for letter in only:
        found: list[StepInfo] = []
        for step in work.install.of_phase(letter):
            if step.role in skip:
                continue
            if {each.pk for each in work.holds.needs(step).steps} & {each.pk for each in found}:
                yield found
                found = []
            found.append(step)
        yield found


def _lines_read(checklist: Any, steps: list[StepInfo], now: dt.datetime) -> Iterator[Entry]:
    """Yield that the safety lines of a phase were read, where the list asks for it."""
    if steps and checklist.template_version != "1" and steps[0].traits.safety:
        yield Entry(id=uuid.uuid4(), step=steps[0].pk, verb=SAFETY, value=f"{now:%Y-%m-%d}")


def _entries(
    checklist: Any, install: Any, step: StepInfo, actor: Any, now: dt.datetime, shades: Iterator[int]
) -> Iterator[Entry]:
    for spec in install.specs(step):
        if spec.is_photo:
            for _ in range(spec.count if spec.required else 0):
                photo = photo_keep(
                    checklist=checklist,
                    picture=Picture(hashlib.sha256(b"%d" % next(shades)).hexdigest(), drawn()),
                    actor=actor,
                    at=now,
                )
                yield Entry(id=uuid.uuid4(), step=step.pk, field=spec.name, photo=photo.pk)
            continue
        value = good_value(step, spec, now, actor)
        if value is not None:
            yield Entry(id=uuid.uuid4(), step=step.pk, field=spec.name, value=value)
