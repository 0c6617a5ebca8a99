"""Bombs and files that are two things at once: refused, or drawn anew without a byte that came in."""

from __future__ import annotations

import ctypes
import io
import tempfile
import zipfile
from pathlib import Path

import pytest
from PIL import Image

from checklists.photos import drawing, worker
from checklists.photos.drawing import PhotoRefused, draw
from tests.unit.checklists.bad_pictures import MARK, bombs, png, polyglots, sound, zeros

MB = 1024 * 1024
#: What the web process may grow by, whatever is sent. [bytes]
MOST_GROWTH = 50 * MB
#: Sound or nearly so, and a second or more of work each.
SLOW = {"jpeg of 2,000 scans at 36 Mpx", "png of black, 39.9 Mpx", "png of 64 bits a pixel"}


def opened(data: bytes) -> drawing.Drawn | None:
    """Return what became of a file, None where it was refused."""
    with tempfile.TemporaryFile() as file:
        file.write(data)
        file.flush()
        try:
            return draw(file)
        except PhotoRefused:
            return None


def memory(word: str) -> int:
    """Return VmRSS or VmHWM of this process. [bytes]"""
    line = next(row for row in Path("/proc/self/status").read_text().splitlines() if row.startswith(word))
    return int(line.split()[1]) * 1024


class Growth:
    """How much this process grew at its largest, whatever it gave back since."""

    def __enter__(self):
        ctypes.CDLL(None).malloc_trim(0)  # what an earlier test gave back would hide growth
        self.before = memory("VmRSS")
        Path("/proc/self/clear_refs").write_text("5")  # the high-water mark begins anew: proc(5)
        return self

    def __exit__(self, *_):
        self.most = memory("VmHWM") - self.before


def assert_clean(drawn: drawing.Drawn, words: str) -> None:
    for data in (drawn.picture, drawn.small):
        with Image.open(io.BytesIO(data)) as kept:
            kept.load()
            assert kept.format == "JPEG", words
            assert max(kept.size) <= worker.LONGEST_SIDE_PX, words
            assert not kept.getexif(), words
            assert set(kept.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}, words
        for trace in (MARK, b"<script", b"<svg", b"%PDF-", b"GIF89a", b"PE\0\0"):
            assert trace not in data, words
        assert data.endswith(b"\xff\xd9"), words
        assert not zipfile.is_zipfile(io.BytesIO(data)), words


@pytest.mark.parametrize("is_full", [False, pytest.param(True, marks=pytest.mark.full)])
def test_fifty_bombs_are_refused_or_drawn_clean_and_the_site_does_not_grow(is_full, request):
    if is_full and "full" not in request.config.option.markexpr:
        pytest.skip("the slowest three are run by hand: pytest -m full")
    made = bombs()
    assert len(made) == 50
    made = made if is_full else {name: data for name, data in made.items() if name not in SLOW}
    opened(sound("JPEG"))
    with Growth() as growth:
        results = {name: opened(data) for name, data in made.items()}
    assert growth.most <= MOST_GROWTH, f"{growth.most / MB:.0f} MB"
    for name, drawn in results.items():
        if drawn is not None:
            assert_clean(drawn, name)
    kept = {name for name, drawn in results.items() if drawn}
    assert kept <= {
        "png with 200 MB of rows for 10 kB", "png of black, 39.9 Mpx", "png of 64 bits a pixel",
        "png of two milliard frames", "png of 300 frames", "webp of 200 frames",
        "jpeg with 5,000 comments", "jpeg with a note that points at itself",
    }, kept  # fmt: skip
    assert len(kept) >= 4, "what is sound at heart is kept"


def test_sixty_files_that_are_two_things_come_out_as_a_picture_only():
    made = polyglots()
    assert len(made) == 60
    assert all(MARK in data for data in made.values())
    results = {name: opened(data) for name, data in made.items()}
    for name, drawn in results.items():
        if drawn is not None:
            assert_clean(drawn, name)
    refused = {name for name, drawn in results.items() if drawn is None}
    assert {name for name in refused if "in front" not in name} == set()
    assert len([name for name in refused if "in front" in name]) == 6


def test_the_measure_sees_a_picture_that_is_opened_in_this_process():
    data = io.BytesIO(png(6000, 6000, rows=zeros()))
    with Growth() as growth, Image.open(data) as image:
        image.load()
    assert growth.most > 90 * MB  # 36 Mpx of three bytes


def test_a_picture_that_asks_for_too_much_ends_its_own_process_only(monkeypatch):
    first = drawing._worker.process.pid if opened(sound("JPEG")) and drawing._worker else 0
    statuses = {9: "SIGKILL", 24: "SIGXCPU", 3 << 8: "out of memory", 11: "SIGSEGV"}
    for status in statuses:
        monkeypatch.setattr(drawing, "_asked", lambda *_, status=status: status)
        with pytest.raises((PhotoRefused, drawing.PhotoNotDrawn)), tempfile.TemporaryFile() as file:
            draw(file)
    monkeypatch.undo()
    assert opened(sound("JPEG"))
    assert drawing._worker.process.pid == first


def test_a_worker_that_was_killed_is_replaced():
    assert opened(sound("JPEG"))
    drawing._worker.process.kill()
    drawing._worker.process.wait()
    assert opened(sound("JPEG"))


@pytest.mark.parametrize(
    "answer",
    [
        b"", b"{}\n", b"[]\n", b"no json", b'{"picture": 3, "small": 3, "width": 9, "height": 9}\nGIF89a',
        b'{"picture": 4, "small": 4, "width": 9, "height": 90000}\n\xff\xd8\xff0\xff\xd8\xff0',
        b'{"picture": 4, "small": 9, "width": 9, "height": 9}\n\xff\xd8\xff0\xff\xd8\xff0',
        b'{"picture": "4", "small": 4, "width": 9, "height": 9}\n\xff\xd8\xff0\xff\xd8\xff0',
        b'{"picture": 4, "small": 4, "width": null, "height": 9}\n\xff\xd8\xff0\xff\xd8\xff0',
    ],
)  # fmt: skip
def test_an_answer_that_cannot_be_one_is_not_believed(answer):
    with pytest.raises(PhotoRefused, match="damaged"):
        drawing._believed(answer)


def test_a_position_that_is_none_is_dropped():
    answer = b'{"picture": 4, "small": 4, "width": 9, "height": 9, "position": [900, 2]}\n'
    assert drawing._believed(answer + b"\xff\xd8\xff0" * 2).position is None
