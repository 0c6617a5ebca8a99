"""Knows a technician's walk over the tablet: every page as a careful person fills it, every tap counted.

What a good job records comes from the office's walk (``tests/unit/checklists/walk.py``); the control that
takes it is found by its ``data-key``. Optional values are left out.
"""

from __future__ import annotations

import datetime as dt
import io
import itertools
from pathlib import Path
from typing import Any

from PIL import Image

from checklists.record.read import work_of
from tests.browser.test_tablet_shell import Shell
from tests.browser.turns import ONE_AT_A_TIME
from tests.unit.checklists.walk import good_value

COUNT = (Path(__file__).parent / "count_taps.js").read_text()

#: What the page that is shown asks: its steps with their fields as they stand, and whether it is a table.
ASKED = """async (job) => {
  const from = (name) => import(`/static/js/tablet/${name}.js`);
  const [{ openJob }, pages, { amountText }, may] = await Promise.all(
    ["job", "screens/pages", "units", "screens/may"].map(from));
  const view = await openJob(job);
  const step = view.stepByPk.get(Number(location.hash.split("/").at(-1)));
  const page = pages.pageOf(view, step);
  const field = (one) => (spec) => ({
    pk: one.pk, name: spec.name, kind: spec.kind, unit: spec.unit, count: spec.count ?? 1,
    ordered: Boolean(spec.ordered), lines: (spec.lines ?? []).map(([key]) => key),
    have: view.state(one).fields[spec.name]?.standing.length ?? 0,
    mark: view.mark(one).fields[spec.name]?.mark ?? "",
  });
  return {
    code: page.code, isTable: pages.isTable(page), isDone: pages.isDone(view, page),
    steps: page.steps.map((one) => ({
      pk: one.pk, subject: one.subject, isOpen: may.mayRecord(view, one), mark: view.mark(one).mark,
      locks: view.locks(one), fields: view.fields(one).map(field(one)),
    })),
  };
}"""
AMOUNT = """async ([job, value, unit]) => {
  const [{ openJob }, { amountText }] =
    await Promise.all(["job", "units"].map((name) => import(`/static/js/tablet/${name}.js`)));
  return amountText((await openJob(job)).job, value, unit);
}"""
SAVES = """async () => {
  const open = indexedDB.open('coachlight');
  const db = await new Promise((ok) => { open.onsuccess = () => ok(open.result); });
  const asked = db.transaction('events').objectStore('events').getAll();
  const events = await new Promise((ok) => { asked.onsuccess = () => ok(asked.result); });
  db.close();
  return events.filter((one) => one.verb === 'record').map(({ step, at }) => [step, at]);
}"""
WORDS = """async ([job, pk, name, key]) => {
  const { openJob } = await import('/static/js/tablet/job.js');
  const view = await openJob(job);
  const spec = view.fields(view.stepByPk.get(pk)).find((one) => one.name === name);
  return spec.choices.find(([one]) => one === key)[1];
}"""
KEPT = """async ([job, pk, name, have]) => {
  const { openJob } = await import('/static/js/tablet/job.js');
  const view = await openJob(job);
  return (view.state(view.stepByPk.get(pk)).fields[name]?.standing.length ?? 0) > have;
}"""
_shade = itertools.count(1)


def photo() -> dict[str, Any]:
    """Return a picture nobody took before."""
    out = io.BytesIO()
    Image.new("RGB", (64, 48), f"#{next(_shade) * 4099 % 0xFFFFFF:06x}").save(out, "JPEG")
    return {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def good_values(checklist: Any, now: dt.datetime, read: dict[str, float]) -> dict[tuple[int, str], Any]:
    """Return what a good job records, by step and field; ``read`` says what meters show on this one."""
    install = work_of(checklist).install
    return {
        (step.pk, spec.name): read.get(f"{step.role}.{spec.name}", good_value(step, spec, now))
        for step in install.in_scope
        for spec in install.specs(step)
    }


def tools_of(checklist: Any, good: dict[tuple[int, str], Any]) -> dict[str, list[Any]]:
    """Return the tubes, meters and tools of the last job, which are the shop's still."""
    return {
        field["remember"]: [good[step.pk, field["name"]]]
        for step in checklist.steps.filter(is_in_scope=True)
        for field in step.fields
        if field.get("remember") and good.get((step.pk, field["name"])) is not None
    }


class Hand:
    """One technician with a tablet who does the whole list."""

    def __init__(self, shell: Shell, good: dict[tuple[int, str], Any]) -> None:
        self.shell, self.page, self.good = shell, shell.page, good
        self.job = shell.checklist.job_id
        self.codes: list[str] = []
        self.log: list[str] = []
        with ONE_AT_A_TIME:
            self.code_of = {step.pk: step.code for step in shell.checklist.steps.all()}

    # --- the walk ---

    def walk(self, last: str) -> dict[str, int]:
        """Do every page up to one, and return what it took."""
        self.shell.go("")
        self.page.evaluate(COUNT)
        self.tap(self.page.get_by_role("link", name="Go on"))
        while True:
            self.settle()
            asked = self.asked()
            if asked["code"] == last:
                break
            self.codes.append(asked["code"])
            assert len(self.codes) < 400, self.codes[-12:]
            try:
                self.do(asked)
            except Exception as problem:
                problem.add_note(
                    f"at {asked['code']}: {self.page.locator('main, dialog[open]').last.inner_text()}"
                )
                raise
        return self.counted()

    def counted(self) -> dict[str, int]:
        """Return taps, typed values, photos, saved lines (one a page) and saves (one a transaction)."""
        found = dict(self.page.evaluate("() => window.handCount"))
        events = self.page.evaluate(SAVES)
        codes = {self.code_of[pk] for pk, _ in events}
        saves = {(self.code_of[pk], at) for pk, at in events}
        return found | {
            "records": len(codes),
            "saves": len(saves),
            "hand": found["taps"] + found["typed"] + found["photos"],
        }

    def asked(self) -> dict[str, Any]:
        return dict(self.page.evaluate(ASKED, self.job))

    def settle(self) -> None:
        """Wait until a page that came up by itself takes taps, and nothing is being saved."""
        self.page.wait_for_function(
            "() => !document.querySelector('.page-still, [aria-busy=true]')"
            " && document.body.dataset.shown === location.hash"
        )

    def do(self, asked: dict[str, Any]) -> None:
        here = self.page.evaluate("() => location.hash")
        read = self.page.locator(".safety-read")
        if read.count():
            self.tap(read)
            read.wait_for(state="detached")
            asked = self.asked()
        locked = [step["locks"] for step in asked["steps"] if not step["isOpen"]]
        assert not locked, (asked["code"], locked)
        if asked["isTable"]:
            self.table([step for step in asked["steps"] if step["subject"]])
        for step in asked["steps"]:
            if not asked["isTable"] or not step["subject"]:
                self.single(step, here)
        self.settle()
        if self.page.evaluate("() => location.hash") == here:
            self.on(asked["code"], here)

    def on(self, code: str, here: str) -> None:
        """Go on by hand where the tablet stays: something optional is empty."""
        bar = self.page.locator(".foot-bar .btn-primary")
        assert bar.count(), (code, [s for s in self.asked()["steps"] if s["mark"] not in {"ok", "caution"}],
                             self.page.locator(".hold-shut").all_inner_texts())  # fmt: skip
        self.tap(bar)
        self.page.wait_for_function("(here) => location.hash !== here", arg=here)

    # --- one step ---

    def single(self, step: dict[str, Any], here: str) -> None:
        last = self.page.locator(f'[data-key="last-{step["pk"]}"]')
        if last.count():
            self.tap(last)
            self.settle()
            step = next(one for one in self.asked()["steps"] if one["pk"] == step["pk"])
        self.fields(step, here)
        if self.page.evaluate("() => location.hash") == here:  # what an answer asks for beside it
            now = next((one for one in self.asked()["steps"] if one["pk"] == step["pk"]), {"fields": []})
            before = {one["name"] for one in step["fields"] if one["mark"] == "missing"}
            self.fields({"fields": [one for one in now["fields"] if one["name"] not in before]}, here)

    def fields(self, step: dict[str, Any], here: str) -> None:
        for field in step["fields"]:
            if self.page.evaluate("() => location.hash") != here:
                return
            if field["mark"] != "missing" or (field["have"] and field["kind"] not in {"photo", "lines"}):
                continue
            value = self.good.get((field["pk"], field["name"]))
            key = f"{field['pk']}/{field['name']}"
            self.log.append(f"{self.code_of[field['pk']]} {field['name']}: {field['kind']}")
            getattr(self, f"_{field['kind']}")(field, key, value)
            self.settle()

    def _tick(self, _: Any, key: str, __: Any) -> None:
        self.tap(self.page.locator(f'button.tick[data-key="{key}"]'))

    def _choice(self, _: Any, key: str, value: Any) -> None:
        self.tap(self.page.locator(f'[data-key="{key}-{value}"]'))

    def _number(self, field: dict[str, Any], key: str, value: Any) -> None:
        whole = self.page.locator(f'button.tick[data-key="{key}"]')  # all holes, or as planned
        if whole.count():
            return self.tap(whole)
        if not self.page.locator("dialog[open]").count():  # the pad of the number before opens this one
            self.tap(self.page.locator(f'[data-key="pad-{key}"]'))
        self.type(field, value)
        self.page.wait_for_timeout(150)
        return None

    def _text(self, _: Any, key: str, value: Any) -> None:
        row = self.page.locator(".word-row", has=self.page.locator(f'[data-key="{key}"]'))
        row.locator("input").fill(str(value))
        row.locator("input").press("Enter")

    _serial = _text

    def _lines(self, field: dict[str, Any], key: str, _: Any) -> None:
        name = key.replace("/", "-")
        if not field["ordered"] and len(field["lines"]) > 1:
            return self.tap(self.page.locator(f'[data-key="all-{name}"]'))
        for line in field["lines"]:
            self.settle()
            self.tap(self.page.locator(f'[data-key="line-{name}-{line}"]'))
        return None

    def _several(self, _: Any, key: str, __: Any) -> None:
        self.tap(self.page.locator(f'[data-key="{key}"] .choice').first)

    def _photo(self, field: dict[str, Any], key: str, _: Any) -> None:
        for have in range(field["have"], field["count"]):
            self.settle()
            self.page.locator(f'input[type=file][data-key="{key}"]').set_input_files(photo())
            self.page.wait_for_function(KEPT, arg=[self.job, field["pk"], field["name"], have])

    def _signature(self, _: Any, key: str, __: Any) -> None:
        button = self.page.locator(f'[data-key="{key}"]')
        form = self.page.locator(".sign-form", has=button)
        self.tap(form.get_by_text("The typed name is the signature"))
        self.tap(button)

    def type(self, field: dict[str, Any], value: Any) -> None:
        """Type a number on the pad and save it."""
        pad = self.page.locator(".pad-view")
        text = self.page.evaluate(AMOUNT, [self.job, value, field["unit"]])
        if text.startswith("-"):
            pad.get_by_role("button", name="Change sign").click()
        for each in text.removeprefix("-"):
            pad.get_by_role("button", name={".": "Point"}.get(each, each), exact=True).click()
        self.tap(self.page.locator(".pad-save"))

    # --- a table ---

    def table(self, rows: list[dict[str, Any]]) -> None:
        planned = self.page.locator(".as-planned")
        if planned.count():
            self.tap(planned)
            planned.wait_for(state="detached")
        fields = [field for row in rows for field in row["fields"] if field["mark"] == "missing"]
        for field in fields:
            self.cell(field)
        save = self.page.locator(".table-save .btn-primary")
        if save.count():
            self.tap(save)
            self.page.wait_for_timeout(100)
            doubt = self.page.locator(".ask-wide")
            assert not doubt.count(), doubt.inner_text()
            save.or_(self.page.locator(".ask-wide")).first.wait_for(state="detached")
        for field in fields:
            if field["kind"] == "photo":
                self._photo(field, f"{field['pk']}/{field['name']}", None)

    def cell(self, field: dict[str, Any]) -> None:
        """Fill one cell, by the dialog that is open for it already or by a tap on it."""
        cell = self.page.locator(f'[data-key="cell-{field["pk"]}/{field["name"]}"]')
        if (
            field["kind"] == "photo"
            or not cell.count()
            or "cell-typed" in (cell.get_attribute("class") or "")
        ):
            return
        value = self.good[field["pk"], field["name"]]
        if not self.page.locator("dialog[open]").count():
            self.tap(cell)
        if field["kind"] == "tick":
            return
        dialog = self.page.locator("dialog[open]")
        dialog.wait_for()
        before = dialog.get_attribute("aria-label")
        if field["kind"] == "number":
            self.type(field, value)
        elif field["kind"] == "choice":
            words = self.page.evaluate(WORDS, [self.job, field["pk"], field["name"], value])
            self.tap(dialog.get_by_role("button", name=words, exact=True))
        else:
            dialog.locator("input").fill(str(value))
            dialog.locator("input").press("Enter")
        self.page.wait_for_function(
            "(title) => document.querySelector('dialog[open]')?.getAttribute('aria-label') !== title",
            arg=before,
        )
        self.page.wait_for_timeout(60)

    def tap(self, locator: Any) -> None:
        locator.click()
