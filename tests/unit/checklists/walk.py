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
from tests.replay import replayed

# Numbers that are neither in the plan nor in a band: what a careful technician would read.
NUMBERS = {
    "A3.odometer_km": None,
    "A5.rest_v": 12.6,
    "A8.moisture_percent": 12.0,
    "B4.bus_v": 0.1,
    "B4.inverter_v": 0.1,
    "C3.offset_x_mm": 5.0,
    "C3.offset_y_mm": -5.0,
    "C2.feet_on_rafter": 0,
    "D1.temp_air_c": 18.0,
    "D1.rh_percent": 45.0,
    "D2.depth_stop_mm": 20.0,
    "D3.temp_air_c": 18.0,
    "D7.temp_air_c": 18.0,
    "D4.length_mm": 38.0,
    "D6.torque_nm": 8.0,
    "D9.resistance_ohm": 0.03,
    "D11.patched": 0,
    "D12.cable_holes_sealed": 1,
    "E4.span_mm": 400.0,
    "E6.hole_mm": 25.0,
    "E6.range_low_mm": 5.0,
    "E6.range_high_mm": 9.0,
    "E6.cable_mm": 7.0,
    "E6.torque_nm": 3.0,
    "E8.voc_v": 47.2,
    "F4.rating_v": 150.0,
    "F4.rating_a": 60.0,
    "F5.gap_mm": 150.0,
    "G1.rest_v": 13.2,
    "G4.distance_mm": 150.0,
    "G10.area_mm2": 13.3,
    "G11.resistance_mohm": 5.0,
    "H2.across_v": 0.2,
    "H3.breaker_a": 15.0,
    "H6.load_w": 1200.0,
    "H6.load_min": 10.0,
    "H7.area_mm2": 13.3,
    "I1.absorb_v": 14.2,
    "I1.float_v": 13.5,
    "I1.low_t_stop_c": 5.0,
    "K2.g_wm2": 820.0,
    "K2.t_cell_c": 48.0,
    "K3.voc_v": 45.1,
    "K4.isc_a": 8.46,
    "K6.resistance_mohm": 2.0,
    "K7.battery_v": 13.3,
    "K7.battery_a": 40.0,
    "K9.combiner_v": 40.0,
    "K9.controller_v": 39.3,
    "K9.pv_a": 15.0,
    "K11.load_w": 1500.0,
    "K11.rise_k": 12.0,
    "K12.cutoff_v": 11.5,
    "L1.temp_air_c": 16.0,
    "L1.cure_h": 24.0,
    "L2.moisture_percent": 12.0,
    "M1.labels": 14,
}
TEXTS = {
    "A4.not_working": None,
    "A2.damage": None,
    "A8.place": None,
    "K1.sun_meter_id": None,
    "G1.date_code": None,
    "B7.meter_id": "M-07",
    "D1.under_lot": "B118",
    "D1.over_lot": "L204",
    "E2.panel_end": "Four Millimetre Series A",
    "E2.lead_end": "four millimetre series a",
    "J1.second_person": "Tess Second",
    "H8.licensed_name": "Lee Wright",
    "H8.licence_no": "EL 4471",
    "G4.family": "Class T",
}
CHOICES = {
    "D4.kind": "#14",
    "G2": "",
    "A7.polarity": "correct",
    "G3.location": "inside",
    "D4.remedy": None,
    "K7.reason": None,
}


def good_value(step: StepInfo, spec: Any, now: dt.datetime) -> Any:
    """Return what a good job records at a field; None leaves it blank."""
    key = f"{step.code}.{spec.name}"
    if spec.kind == "tick":
        return True
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
    """Record every phase in order, a good value everywhere; ``skip`` leaves steps out by code."""
    what = f"complete {checklist.pk} {actor.pk} {now} {only} {skip}"
    replayed(what, lambda: _complete(checklist, actor, now, only, skip))
    checklist.refresh_from_db()


def _complete(checklist: Any, actor: Any, now: dt.datetime, only: str, skip: tuple[str, ...]) -> None:
    shades = iter(range(1, 10_000))
    work = work_of(checklist)
    for letter in only:
        entries = []
        for step in work.install.of_phase(letter):
            if step.code in skip:
                continue
            entries += list(_entries(checklist, work.install, step, actor, now, shades))
        if entries:
            work = events_record(
                checklist=checklist, entries=entries, actor=actor, at=now, refuse_locked=True, seen=work
            ).work


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
        value = good_value(step, spec, now)
        if value is not None:
            yield Entry(id=uuid.uuid4(), step=step.pk, field=spec.name, value=value)
