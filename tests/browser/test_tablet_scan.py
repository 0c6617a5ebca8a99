"""Serial numbers read from bar codes without a network: every kind, from a photo and through the camera.

The codes are drawn by segno, python-barcode and ppf.datamatrix, which share nothing with the decoder. The
server is stopped before the first code is read: what decodes must have come with the shell.
"""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser import codes
from tests.browser.tablet_kit import Server, Tablet
from tests.browser.test_tablet_shell import MEASURE, shell  # noqa: F401
from tests.browser.turns import ONE_AT_A_TIME
from tests.unit.checklists.conftest import entry, media, record  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)

FAKE_CAMERA = "--use-fake-device-for-media-stream"

#: What is drawn → what the person is offered. EAN-13: the last digit is the check digit of ISO/IEC 15420
#: (3 × the digits at even places and 1 × the others make 87: 3 short of 90). GS1-128: AI (01) is the item,
#: AI (21) its serial (GS1 General Specifications).
STICKERS = {
    "Code 128": (lambda: codes.bars("code128", "PVM-2024-0007731"), ["PVM-2024-0007731"]),
    "Code 39": (lambda: codes.bars("code39", "SN4471-B", add_checksum=False), ["SN4471-B"]),
    "EAN-13": (lambda: codes.bars("ean13", "201234567890"), ["2012345678903"]),
    "ITF": (lambda: codes.bars("itf", "0012345678"), ["0012345678"]),
    "GS1-128": (
        lambda: codes.bars("gs1_128", "010950600013435221SN42"),
        ["SN42", "(01)09506000134352(21)SN42"],
    ),
    "QR": (lambda: codes.qr("LFP100-22-118"), ["LFP100-22-118"]),
    "Data Matrix": (lambda: codes.data_matrix("CTRL 60A 0099"), ["CTRL 60A 0099"]),
}


def serial_step(checklist: Any) -> Any:
    """Let the first step, which is never locked, ask for a serial; return it."""
    with ONE_AT_A_TIME:
        step = checklist.steps.filter(is_in_scope=True).order_by("pk").first()
        step.fields = [*step.fields, {"name": "serial", "kind": "serial", "label": "Serial"}]
        step.save()
    return step


def go_to(page: Any, step: Any) -> None:
    """Show a step, its safety lines read."""
    page.evaluate("(where) => { location.hash = where; }", f"#/job/{step.checklist.job_id}/step/{step.pk}")
    page.locator(".step-head-code", has_text=step.code).wait_for()
    read = page.locator(".safety-read")
    if read.count():
        read.click()
    page.get_by_role("button", name="Scan Serial").click()


@pytest.fixture
def server(checklist, tmp_path, bob, client_of):
    """Return the site on a file, running."""
    session = client_of(bob).cookies["sessionid"].value  # before the database is copied
    step = serial_step(checklist)
    made = Server(tmp_path)
    made.session, made.step = session, step
    try:
        made.start()
        yield made
    finally:
        made.stop()


@pytest.fixture
def cut_off(server, playwright, tmp_path, checklist):
    """Return a way to a tablet with the job on it, at a step that asks for a serial, its server gone."""
    tablets = []

    def make(*flags: str) -> Any:
        tablet = Tablet(playwright, tmp_path / "profile", server.url, server.session)
        tablet.flags = list(flags)
        tablets.append(tablet)
        tablet.open()
        tablet.take(checklist.job_id)
        server.stop()
        assert tablet.is_cut_off()
        go_to(tablet.page, server.step)
        return tablet.page

    yield make
    for tablet in tablets:
        tablet.kill()


def offered(page: Any) -> list[str]:
    """Return the numbers on offer."""
    return page.locator(".scan-use .id").all_inner_texts()


def show(page: Any, picture: bytes) -> None:
    """Hand a photo to the scanner."""
    page.locator("#scan-photo").set_input_files(
        {"name": "sticker.png", "mimeType": "image/png", "buffer": picture}
    )


def test_every_kind_is_read_from_a_photo_without_camera_and_network(cut_off, checklist):
    page = cut_off(FAKE_CAMERA, "--use-fake-ui-for-media-stream=deny")
    page.get_by_text("The camera is not allowed here.").wait_for()
    seen: list[str] = []
    for name, (draw, wanted) in STICKERS.items():
        show(page, codes.png(draw()))
        page.wait_for_function(
            "(count) => document.querySelectorAll('.scan-use').length >= count", arg=len(seen + wanted)
        )
        assert offered(page)[len(seen) :] == wanted, name
        seen += wanted
    assert page.evaluate(MEASURE) == []
    show(page, codes.png(codes.bars("code128", "A").crop((0, 0, 20, 20))))
    page.get_by_text("No code was found in this photo.").wait_for()
    page.get_by_role("button", name="Use LFP100-22-118").click()
    page.locator(".standing-value", has_text="LFP100-22-118").wait_for()
    assert not page.locator("dialog").count()
    assert page.evaluate("() => document.documentElement.dataset.cspViolations || ''") == ""
    kept = page.evaluate(KEPT)
    assert [(one["field"], one["value"]) for one in kept] == [("serial", "LFP100-22-118")]


KEPT = """async () => {
  const open = indexedDB.open('coachlight');
  const db = await new Promise((ok) => { open.onsuccess = () => ok(open.result); });
  const asked = db.transaction('events').objectStore('events').getAll();
  const found = await new Promise((ok) => { asked.onsuccess = () => ok(asked.result); });
  db.close();
  return found.filter((one) => one.verb === 'record');
}"""


def test_a_sticker_with_two_codes_offers_both_and_a_bad_one_is_refused_as_if_typed(cut_off):
    page = cut_off()
    page.get_by_text("No camera was found.").or_(page.get_by_text("The camera is not allowed")).wait_for()
    long = "HTTPS://EXAMPLE.COM/" + "7" * 50  # 70 characters: a serial has at most 60
    show(page, codes.png(codes.bars("code128", "SN-0042"), codes.qr(long)))
    page.locator(".scan-use").nth(1).wait_for()
    assert sorted(offered(page)) == sorted(["SN-0042", long])
    page.get_by_role("button", name=f"Use {long}").click()
    page.get_by_text("at most 60 characters").wait_for()
    assert page.evaluate(KEPT) == []
    page.get_by_role("button", name="Scan Serial").click()
    page.get_by_role("button", name="Type it instead").click()
    page.get_by_role("textbox", name="Serial", exact=True).fill("SN-0042")
    page.get_by_role("button", name="Save Serial").click()
    page.locator(".standing-value", has_text="SN-0042").wait_for()


def test_the_camera_reads_by_itself(cut_off, tmp_path):
    film = codes.film(tmp_path / "sticker.y4m", codes.bars("code128", "PVM-2024-0007731"))
    page = cut_off(FAKE_CAMERA, "--use-fake-ui-for-media-stream", f"--use-file-for-fake-video-capture={film}")
    page.get_by_role("button", name="Use PVM-2024-0007731").wait_for()
    assert offered(page) == ["PVM-2024-0007731"]
    assert page.evaluate(MEASURE) == []
    page.get_by_role("button", name="Use PVM-2024-0007731").click()
    page.locator(".standing-value", has_text="PVM-2024-0007731").wait_for()
    assert not page.locator("video").count()


#: A detector and a camera such as a phone's browser has: the light can be switched.
OWN = """
globalThis.asked = [];
globalThis.BarcodeDetector = class {
  static async getSupportedFormats() { return FORMATS; }
  constructor(options) { asked.push(options.formats.length); }
  async detect() { return [{ rawValue: 'BY-THE-BROWSER', format: 'code_128' }]; }
};
globalThis.lit = [];
const canvas = document.createElement('canvas');
navigator.mediaDevices.getUserMedia = async () => {
  const stream = canvas.captureStream(10);
  canvas.getContext('2d').fillRect(0, 0, 9, 9);
  const [track] = stream.getVideoTracks();
  track.getCapabilities = () => ({ torch: true });
  track.applyConstraints = async ({ advanced: [{ torch }] }) => { lit.push(torch); };
  return stream;
};
"""
FORMATS = ["code_128", "code_39", "ean_13", "ean_8", "itf", "data_matrix", "qr_code"]


@pytest.mark.parametrize("lacks", ["", "data_matrix"])
def test_the_browsers_own_detector_is_taken_where_it_reads_all_we_need(checklist, request, lacks):
    step = serial_step(checklist)
    shell = request.getfixturevalue("shell")  # noqa: F811  taken along with that serial
    formats = [name for name in FORMATS if name != lacks]
    shell.page.add_init_script(OWN.replace("FORMATS", json.dumps(formats)))
    loaded: list[str] = []
    shell.page.on("worker", lambda worker: loaded.append(worker.url))
    shell.page.reload()
    go_to(shell.page, step)
    light = shell.page.get_by_role("button", name="Light")
    light.click()
    assert light.get_attribute("aria-pressed") == "true"
    assert shell.page.evaluate("() => lit") == [True]
    if lacks:  # the decoder of the shell is started instead
        assert [url for url in loaded if "scan/worker" in url]
        assert shell.page.evaluate("() => asked") == []
        return
    shell.page.get_by_role("button", name="Use BY-THE-BROWSER").wait_for()
    assert shell.page.evaluate("() => asked.length") == 1
    assert not [url for url in loaded if "scan/worker" in url]


def serial_table(checklist: Any) -> Any:
    """Let the first step, which is never locked, be asked for three panels as one table; return it."""
    with ONE_AT_A_TIME:
        step = checklist.steps.filter(is_in_scope=True).order_by("pk").first()
        first = step.pk
        for number in (1, 2, 3):
            step.pk, step.subject = None, f"panel:{number}"
            step.fields = [{"name": "serial", "kind": "serial", "label": "Serial"}]
            step.save()
        return checklist.steps.get(pk=first)


def test_in_a_table_one_sticker_follows_the_other(checklist, request):
    step = serial_table(checklist)
    shell = request.getfixturevalue("shell")  # noqa: F811
    one_by_one = "return [{ rawValue: `SN-${reads.length}`, format: 'code_128' }];"
    own = OWN.replace("FORMATS", json.dumps(FORMATS))
    own = own.replace("return [{ rawValue: 'BY-THE-BROWSER', format: 'code_128' }];", one_by_one)
    shell.page.add_init_script("globalThis.reads = [];" + own)
    page = shell.page
    page.reload()
    shell.go(f"/step/{step.pk}")
    if page.locator(".safety-read").count():
        page.locator(".safety-read").click()
    page.get_by_role("button", name="Panel 1, Serial: empty").click()
    page.get_by_role("button", name="Scan Serial").click()
    for number in range(3):  # one tap each from here
        page.get_by_role("button", name=f"Use SN-{number}").click()
        page.evaluate("() => reads.push(0)")
    expect(page.locator("dialog")).to_have_count(0)
    for number in range(3):
        page.get_by_role("button", name=re.compile(f"Panel {number + 1}, Serial: .*SN-{number}")).wait_for()
