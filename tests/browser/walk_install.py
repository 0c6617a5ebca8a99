"""Knows the technician's walk: every step of the install on a tablet, as a careful person would fill it in.

What a page asks is read from the page: kind of field, what is expected, which band is accepted. Only what a
page cannot know (readings, names, lots) comes from the tables here, by role and field.
"""

from __future__ import annotations

import datetime as dt
import io
import itertools
from dataclasses import dataclass
from typing import Any, Final

from PIL import Image

from checklists.plan.roles import roles_of
from checklists.plan.templates import newest_version
from tests.browser.walk_pages import Walker

#: What a careful technician reads or finds, as typed; None leaves an optional field blank.
READINGS: Final[dict[str, str | None]] = {
    "right_vehicle.odometer_km": None, "walk_round.damage": None, "works_before.not_working_words": None,
    "battery_before.rest_v": "12.6", "custody.signed": "Nell Pardee",
    "proven_dead.meter": "M-07", "proven_dead.bus_v": "0.1", "proven_dead.inverter_v": "0.1",
    "proven_dead.ac_v": "0.2",
    "roof_checked.moisture_percent": "12", "roof_checked.place": None,
    "roof_checked.decided": None, "test_pull.decided": None,
    "layout_marked.offset_x_mm": "5 mm", "layout_marked.offset_y_mm": "-3/16",
    "layout_marked.feet_on_rafter": "0", "home_run_length.run_len_m:C2": "10.4 m",
    "sealant.under_lot": "B118", "sealant.over_lot": "L204", "sealant.temp_air_c": "64",
    "sealant.rh_percent": "45", "feet.depth_stop_mm": "3/4", "seal_under.temp_air_c": "18 °C",
    "cable_entry.cable_mm": "7 mm", "cable_entry.torque_nm": "3 N·m", "edges_metals.patched": None,
    "frames_fixed.torque_nm": "8 N·m", "seal_over.temp_air_c": "18 °C",
    "strings_built.fuse_a": None, "polarity_proven.voc_v": "47.2",
    "pv_gear.rating_v": "150", "pv_gear.rating_a": "60", "torque_pv.maker_nm": None,
    "battery.rest_v": "13.2", "battery_tray.pull_n": "95 lbf",
    "main_fuse.family": "Class T", "main_fuse.distance_mm": "6", "torque.maker_nm": None,
    "no_short.lowest_mohm": "5", "licensed_person.licensed_name": "Lena Test",
    "licensed_person.licence_no": "EL 4471", "ac_wired.breaker_a": "15",
    "bond_continuity.resistance_ohm": "0.03", "second_person.second_person": "Tess Second",
    "bank_polarity.bank_v": "13.2", "precharge.across_v": "0.2", "battery_live.bus_v": "13.2",
    "charger_settings.float_v": "13.5", "charger_settings.low_t_stop_c": "5 °C",
    "sun.g_wm2": "820", "sun.t_cell_c": "48 °C", "string_tests.voc_v": "45.0", "string_tests.isc_a": "8.45",
    "array_insulation.resistance_mohm": "2",
    "pv_on.combiner_v": "40", "pv_on.controller_v": "39.3", "pv_on.pv_a": "15", "pv_on.battery_v": "13.3",
    "pv_on.battery_a": "40",
    "inverter_alone.output_v": "120", "inverter_alone.cutoff_v": "11.5", "shore_on.charger_a": "20",
    "gfci_transfer.transfer_ms": None, "air_conditioner_start.peak_a": None,
    "charge_sum.sum_a": "60", "load_test.load_w": "1500", "load_test.rise_k": "12 K",
    "leak_test.temp_air_c": "16 °C", "leak_test.cure_h": "24", "leak_test.moisture_percent": "12",
    "road_ready.height_mm": "3400 mm", "papers.label_kg": None,
}  # fmt: skip
CHOICES: Final[dict[str, str | None]] = {
    "battery_before.rest_time": "from_4", "seal_under.kind": "#14", "seal_under.remedy": None,
    "feet.bit": "9/64", "old_converter.fate": "replaced", "string_tests.isc_how": "tester",
    "pv_on.reason": None, "charge_sum.reason": None, "licensed_person.confirmed": "self",
}  # fmt: skip
#: One of each make of step page is looked at by axe; the others are made of the same parts.
LOOKED_AT: Final = frozenset(
    [
        "right_vehicle", "works_before", "battery_before", "custody", "locked_out", "roof_checked",
        "home_run_length", "sealant", "seal_under", "seal_count", "wire_runs", "torque", "licensed_person",
        "labels", "go", "charger_settings", "string_tests", "charge_sum", "release",
    ]
)  # fmt: skip
# Fields as a person sees them: of the step that is shown, or those the rows of a table have in common.
_READ: Final = """() => [...document.querySelectorAll('#record .field')].map((field) => {
  const input = field.querySelector('.input-row input');
  const radios = [...field.querySelectorAll('input[type=radio]')];
  const boxes = [...field.querySelectorAll('.choices input[type=checkbox]')];
  const row = field.querySelector('.input-row');
  const file = field.querySelector('input[type=file]');
  const tick = field.querySelector('button.tick');
  return {
    name: field.id.replace('field-', ''),
    key: file?.name ?? radios[0]?.name ?? boxes[0]?.name ?? input?.name ?? tick?.value,
    kind: file ? 'photo' : radios.length ? 'choice' : boxes.length ? 'list' : input ? 'text' : 'tick',
    type: input?.type ?? '',
    is_done: Boolean(field.querySelector('.standing, .tick-on')) && !field.matches('.field-fail'),
    is_optional: Boolean(field.querySelector('.field-optional')) && !file,
    choices: radios.map((radio) => [radio.value, radio.closest('label').innerText.trim()]),
    boxes: boxes.map((box) => box.value),
    strong: [...field.querySelectorAll('.field-band strong')].map((one) => one.innerText.trim()),
    says: field.querySelector('.field-band')?.innerText ?? '',
    all: field.querySelector('.tick-words')?.innerText.match(/^All (\\d+)$/)?.[1] ?? null,
    low: row?.dataset.low ?? null,
    high: row?.dataset.high ?? null,
    photos: (field.querySelector('.field-optional')?.innerText ?? '')
      .match(/\\d+(?= of|\\s+photo)/g)?.map(Number),
  };
})"""
# The cells of a table that wait for something, row by row, and rows with something on a page of their own.
_CELLS: Final = """() => [...document.querySelectorAll('.step-table tbody tr')].map((row) => ({
  title: row.querySelector('th').innerText.trim(),
  page: row.querySelector('th a').getAttribute('href'),
  is_apart: [...row.querySelectorAll('td a')].some((link) => /open/.test(link.innerText)),
  cells: [...row.querySelectorAll('td input:not([type=hidden]), td select')].map((input) => ({
    key: input.type === 'checkbox' ? input.value : input.name,
    name: (input.type === 'checkbox' ? input.value : input.name).replace(/^r\\d+-/, ''),
    kind: input.type === 'checkbox' ? 'tick' : input.matches('select') ? 'choice' : 'text',
    type: input.type,
    is_done: input.type === 'checkbox' ? input.checked : Boolean(input.value),
    is_optional: false,
    choices: [...(input.options ?? [])].filter((one) => one.value).map((one) => [one.value, one.text]),
    strong: [],
    says: '',
    all: null,
    low: input.closest('.input-row')?.dataset.low ?? null,
    high: input.closest('.input-row')?.dataset.high ?? null,
  })),
}))"""
_shade = itertools.count(1)


def photo() -> dict[str, Any]:
    """Return a picture nobody took before."""
    out = io.BytesIO()
    Image.new("RGB", (64, 48), f"#{next(_shade) * 4099 % 0xFFFFFF:06x}").save(out, "JPEG")
    return {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


@dataclass(frozen=True)
class Shown:
    """The step or the table that is shown: what it is for, and its title."""

    role: str
    code: str
    title: str
    is_table: bool


def shown(walker: Walker) -> Shown:
    """Return which step is shown."""
    code = walker.page.locator(".step-head-code").inner_text().strip()
    title = walker.page.locator("h1").inner_text().removeprefix(code).strip()
    is_table = walker.page.locator(".step-table").count() > 0
    return Shown(roles_of(newest_version()).of(code), code, title, is_table)


def fill(walker: Walker, *, without: tuple[str, ...] = (), **other: str) -> None:
    """Fill in everything the page still asks for but fields whose names begin with one of ``without``.

    ``other`` says what is read otherwise than usual.
    """
    what = shown(walker)
    read_safety(walker)
    if what.is_table:
        fill_table(walker, what, other)
    fill_fields(walker, what.role, without, other)


def read_safety(walker: Walker) -> None:
    """Tick that the safety lines were read, where this person has not read them today."""
    box = walker.page.locator('input[name="safety"]')
    if box.count():
        box.check()


def fill_table(walker: Walker, what: Shown, other: dict[str, str]) -> None:
    """Fill the cells: as planned where a plan can say it, the others by hand; then what has its own page."""
    planned = walker.page.locator("button.as-planned")
    if planned.count():
        walker.press(planned.inner_text().strip())
        read_safety(walker)
    rows = walker.page.evaluate(_CELLS)
    for row in rows:
        for cell in row["cells"]:
            if not cell["is_done"]:
                _fill_cell(walker, what.role, row["title"], cell, other)
    walker.press("Save all and stay")
    for row in rows:
        if row["is_apart"]:
            table = walker.page.url.removeprefix(walker.site)
            walker.open(row["page"])
            fill_fields(walker, what.role, (), other)
            walker.press("Save and stay")
            walker.open(table)


def _fill_cell(walker: Walker, role: str, title: str, cell: dict[str, Any], other: dict[str, str]) -> None:
    if cell["kind"] == "tick":
        walker.page.locator(f'input[name="tick"][value="{cell["key"]}"]').check()
    elif cell["kind"] == "choice":
        value = other.get(cell["name"]) or _choice(role, cell)
        if value is not None:
            walker.page.locator(f'select[name="{cell["key"]}"]').select_option(value)
    else:
        text = other.get(cell["name"]) or _text(role, title, cell)
        if text is not None:
            walker.page.locator(f'input[name="{cell["key"]}"]').fill(text)


def fill_fields(walker: Walker, role: str, without: tuple[str, ...], other: dict[str, str]) -> None:
    """Fill in the fields of a step: words and numbers, then pictures, then ticks."""
    left = ("not_here", *without)  # what does not apply is not said of anything here
    found = walker.page.evaluate(_READ)
    fields = [one for one in found if not one["is_done"] and not one["name"].startswith(left)]
    title = shown(walker).title.partition(":")[2].strip()
    for one in fields:
        _fill(walker, role, title, one, other)
    for one in fields:
        if one["kind"] == "photo" and one["photos"]:
            have, asked = one["photos"]
            if asked > have:
                with walker.arriving():  # pictures are sent as soon as they are taken
                    walker.page.locator(f'input[type=file][name="{one["key"]}"]').set_input_files(
                        [photo() for _ in range(asked - have)]
                    )
    for one in fields:
        if one["kind"] == "tick":
            read_safety(walker)
            with walker.arriving():
                walker.page.locator(f'button.tick[value="{one["key"]}"]').click()


def _fill(walker: Walker, role: str, title: str, one: dict[str, Any], other: dict[str, str]) -> None:
    page = walker.page
    if one["kind"] == "choice":
        value = other.get(one["name"]) or _choice(role, one)
        if value is not None:
            page.locator(f'[name="{one["key"]}"][value="{value}"]').check()
    elif one["kind"] == "list":  # of several, nothing is found; of lines, all are done
        for value in ["none"] if "none" in one["boxes"] else one["boxes"]:
            page.locator(f'[name="{one["key"]}"][value="{value}"]').check()
    elif one["kind"] == "text":
        text = other.get(one["name"]) or _text(role, title, one)
        if text is not None:
            page.locator(f'input[name="{one["key"]}"]').fill(text)


def _choice(role: str, one: dict[str, Any]) -> str | None:
    key = f"{role}.{one['name']}"
    if key in CHOICES:
        return CHOICES[key]
    expected = one["strong"][0] if one["says"].startswith("Expected") else ""
    return next((value for value, words in one["choices"] if words == expected), one["choices"][0][0])


def _text(role: str, title: str, one: dict[str, Any]) -> str | None:
    key = f"{role}.{one['name']}"
    own = f"{key}:{title[:2]}"
    for known in (own, key):
        if known in READINGS:
            return READINGS[known]
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
    return f"SN {role} {title}"[:40] if "serial" in one["name"] else "as it should be"
