"""Knows the technician's walk: every step of the install on a tablet, as a careful person would fill it in.

What a page asks is read from the page: kind of field, what is expected, which band is accepted. Only what a
page cannot know (readings, names, lots) comes from the tables here.
"""

from __future__ import annotations

import datetime as dt
import io
import itertools
import re
from typing import Any, Final

from PIL import Image

from tests.browser.walk_pages import Walker

#: What a careful technician reads or finds, as typed; None leaves an optional field blank.
READINGS: Final[dict[str, str | None]] = {
    "A2.damage": None, "A3.odometer_km": None, "A4.not_working": None, "A5.rest_v": "12.6",
    "A5.soc_percent": None, "A8.moisture_percent": "12", "A8.soft_area_m2": None, "A8.place": None,
    "B4.bus_v": "0.1", "B4.inverter_v": "0.1", "B7.meter_id": "M-07",
    "C2.feet_on_rafter": "0", "C3.offset_x_mm": "5 mm", "C3.offset_y_mm": "-3/16",
    "D1.under_lot": "B118", "D1.over_lot": "L204", "D1.temp_air_c": "64", "D1.rh_percent": "45",
    "D2.depth_stop_mm": "3/4", "D3.temp_air_c": "18 °C", "D4.length_mm": "1 1/2", "D6.torque_nm": "8 N·m",
    "D7.temp_air_c": "18 °C", "D9.resistance_ohm": "0.03", "D11.patched": "0", "D12.cable_holes_sealed": "1",
    "E2.panel_end": "Four Millimeter Series A", "E2.lead_end": "four millimeter series a",
    "E4.span_mm": "400 mm", "E5.fuse_a": None, "E6.hole_mm": "1", "E6.range_low_mm": "5 mm",
    "E6.range_high_mm": "9 mm", "E6.cable_mm": "7 mm", "E6.torque_nm": "3 N·m", "E8.voc_v": "47.2",
    "F1.run_len_m:C2": "10.4 m", "F4.rating_v": "150", "F4.rating_a": "60", "F5.gap_mm": "6",
    "G1.date_code": None, "G1.rest_v": "13.2", "G4.family": "Class T", "G4.distance_mm": "6",
    "G6.maker_nm": None, "G10.area_mm2": "13.3", "G11.resistance_mohm": "5",
    "H2.across_v": "0.2", "H3.breaker_a": "15", "H5.trip_ms": None, "H6.transfer_ms": None,
    "H6.load_w": "1200", "H6.load_min": "10", "H7.area_mm2": "13.3", "H8.licensed_name": "Lee Wright",
    "H8.licence_no": "EL 4471", "I1.float_v": "13.5", "I1.low_t_stop_c": "5 °C",
    "J1.second_person": "Tess Second",
    "K1.sun_meter_id": None, "K2.g_wm2": "820", "K2.t_cell_c": "48 °C", "K3.voc_v": "45.0",
    "K4.isc_a": "8.45", "K6.resistance_mohm": "2", "K7.battery_v": "13.3", "K7.battery_a": "40",
    "K9.combiner_v": "40", "K9.controller_v": "39.3", "K9.pv_a": "15", "K11.load_w": "1500",
    "K11.rise_k": "12 K", "K12.cutoff_v": "11.5", "K13.peak_a": None, "L1.temp_air_c": "16 °C",
    "L1.cure_h": "24", "L2.moisture_percent": "12", "M1.labels": "14", "M4.label_kg": None,
}  # fmt: skip
CHOICES: Final = {"D4.kind": "#14", "D4.remedy": None, "I2.fate": "replaced", "K7.reason": None}
#: One of each make of step page is looked at by axe; the others are made of the same parts.
LOOKED_AT: Final = frozenset(
    ["A1", "A3", "A5", "C1", "D1", "D3", "D12", "E5", "F1", "G6", "H8", "I1", "I6", "J2", "J3", "K5", "L5"]
)
# Fields of the step that is shown, as a person sees them.
_READ: Final = """() => [...document.querySelectorAll('#record .field')].map((field) => {
  const input = field.querySelector('.input-row input');
  const radios = [...field.querySelectorAll('input[type=radio]')];
  const row = field.querySelector('.input-row');
  const name = field.id.replace('field-', '');
  const file = field.querySelector('input[type=file]');
  return {
    name,
    kind: file ? 'photo' : radios.length ? 'choice' : input ? 'text' : 'tick',
    type: input?.type ?? '',
    is_open: !field.querySelector('details.change'),
    is_done: Boolean(field.querySelector('.standing, .tick-on')) && !field.matches('.field-fail'),
    is_optional: Boolean(field.querySelector('.field-optional')) && !file,
    choices: radios.map((radio) => [radio.value, radio.closest('label').innerText.trim()]),
    strong: [...field.querySelectorAll('.field-band strong')].map((one) => one.innerText.trim()),
    says: field.querySelector('.field-band')?.innerText ?? '',
    all: field.querySelector('.tick-words')?.innerText.match(/^All (\\d+)$/)?.[1] ?? null,
    low: row?.dataset.low ?? null,
    high: row?.dataset.high ?? null,
    photos: (field.querySelector('.field-optional')?.innerText ?? '')
      .match(/\\d+(?= of|\\s+photo)/g)?.map(Number),
  };
})"""
_shade = itertools.count(1)


def photo() -> dict[str, Any]:
    """Return a picture nobody took before."""
    out = io.BytesIO()
    Image.new("RGB", (64, 48), f"#{next(_shade) * 4099 % 0xFFFFFF:06x}").save(out, "JPEG")
    return {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def code_of(walker: Walker) -> tuple[str, str]:
    """Return code and title of the step that is shown."""
    code = walker.page.locator(".step-head-code").inner_text().strip()
    return code, walker.page.locator("h1").inner_text().removeprefix(code).strip()


def fill_step(walker: Walker, code: str, title: str, *, without: frozenset[str] = frozenset()) -> None:
    """Fill in everything the step still asks for: words and numbers, then pictures, then ticks."""
    fields = [one for one in walker.page.evaluate(_READ) if not one["is_done"] and one["name"] not in without]
    for one in fields:
        _fill(walker, code, title, one)
    pictures = [one for one in fields if one["kind"] == "photo" and one["photos"]]
    for one in pictures:
        have, asked = one["photos"]
        if asked > have:
            with walker.arriving():  # pictures are sent as soon as they are taken
                walker.page.locator(f'input[type=file][name="{one["name"]}"]').set_input_files(
                    [photo() for _ in range(asked - have)]
                )
    for one in fields:
        if one["kind"] == "tick":
            with walker.arriving():
                walker.page.locator(f'button.tick[value="{one["name"]}"]').click()


def _fill(walker: Walker, code: str, title: str, one: dict[str, Any]) -> None:
    if one["kind"] == "choice":
        value = _choice(code, one)
        if value is not None:
            walker.page.locator(f'[name="{one["name"]}"][value="{value}"]').check()
    elif one["kind"] == "text":
        text = _text(code, title, one)
        if text is not None:
            walker.page.locator(f'input[name="{one["name"]}"]').fill(text)


def _choice(code: str, one: dict[str, Any]) -> str | None:
    key = f"{code}.{one['name']}"
    if key in CHOICES:
        return CHOICES[key]
    expected = one["strong"][0] if one["says"].startswith("Expected") else ""
    return next((value for value, words in one["choices"] if words == expected), one["choices"][0][0])


def _text(code: str, title: str, one: dict[str, Any]) -> str | None:
    key = f"{code}.{one['name']}"
    subject = re.match(r"[^:]*: (C\d+)", title)
    own = f"{key}:{subject[1]}" if subject else ""
    if own in READINGS:
        return READINGS[own]
    if key in READINGS:
        return READINGS[key]
    if one["type"] == "date":
        return f"{dt.date.today() + dt.timedelta(days=-30 if 'calibrated' in one['name'] else 30):%Y-%m-%d}"
    if one["type"] == "month":
        return f"{dt.date.today().year + 1}-06"
    if one["all"]:
        return str(one["all"])
    if one["says"].startswith("Expected"):
        return str(one["strong"][0]).replace(",", "")
    if one["low"] and one["high"]:
        return f"{(float(one['low']) + float(one['high'])) / 2:g}"
    if one["low"]:
        return f"{float(one['low']) + 1:g}"
    if one["is_optional"]:
        return None
    return f"SN {code} {title}"[:40] if "serial" in one["name"] else "as it should be"
