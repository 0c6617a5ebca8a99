"""Papers: size, running head, embedded faces, and that nothing outside our folders is read."""

from __future__ import annotations

import io
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pikepdf
import pypdf
import pytest

from common import pdf

LETTER_PT, A4_PT = (612, 792), (595, 842)  # 8.5 × 11 in; 210 × 297 mm, ISO 216
HEAD = {
    "vehicle": "2019 trailer",
    "vin_tail": "003456",
    "job_number": "2026-001",
    "revision": 2,
    "code": "a1b2c3d4",
}


def paper(**context: Any) -> bytes:
    """Return the bare paper."""
    shop = SimpleNamespace(name="Łukasz & Sons", units="imperial", paper=context.pop("paper", "letter"))
    return pdf.pdf_bytes("pdf/base.html", {"shop": shop, "head": HEAD, **context}, title="A job sheet ✓")


@pytest.mark.parametrize(("size", "points"), [("letter", LETTER_PT), ("a4", A4_PT)])
def test_the_shop_chooses_the_paper(size, points):
    box = pypdf.PdfReader(io.BytesIO(paper(paper=size))).pages[0].mediabox
    assert (round(box.width), round(box.height)) == points


def test_head_foot_and_page_count_are_printed():
    text = pypdf.PdfReader(io.BytesIO(paper())).pages[0].extract_text()
    for words in ("Łukasz & Sons", "003456", "2026-001", "a1b2c3d4", "Page 1 of 1", "licensed practice"):
        assert words in text


def test_it_is_made_as_pdf_a_3a_with_every_face_embedded():
    with pikepdf.open(io.BytesIO(paper())) as made:
        meta = made.open_metadata()
        assert (meta["pdfaid:part"], meta["pdfaid:conformance"]) == ("3", "A")
        assert made.Root.MarkInfo.Marked
        assert str(made.Root.Lang) == "en"
        names = {str(font.BaseFont) for font in made.pages[0].Resources.Font.values()}
    assert names
    assert all(any(face in name for face in ("Source-Sans", "Zilla", "Plex")) for name in names)


def test_the_same_words_make_the_same_file():
    assert paper() == paper()


def test_a_watermark_and_an_attachment_come_along():
    part = pdf.PdfAttachment("job.json", b'{"a": 1}', "The record")
    shop = SimpleNamespace(name="S", units="metric", paper="a4")
    made = pdf.pdf_bytes(
        "pdf/base.html", {"shop": shop, "watermark": "Not released"}, title="t", attachments=[part]
    )
    reader = pypdf.PdfReader(io.BytesIO(made))
    assert reader.attachments["job.json"] == [b'{"a": 1}']
    assert "NOT RELEASED" in reader.pages[0].extract_text().upper()


@pytest.mark.parametrize(
    "url",
    [
        "http://example.org/x.png",
        "https://example.org/x.css",
        "file:///etc/hostname",
        "ftp://example.org/x",
        "x.png",
    ],
)
def test_other_places_are_refused(url):
    with pytest.raises(pdf.PdfFileRefused):
        pdf.allowed_file(url)


def test_a_way_round_through_dots_or_links_is_refused(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path / "media"
    settings.MEDIA_ROOT.mkdir()
    secret = tmp_path / "secret.txt"
    secret.write_text("x")
    (settings.MEDIA_ROOT / "link.txt").symlink_to(secret)
    for path in ("../secret.txt", "%2e%2e/secret.txt", "link.txt", "missing.jpg"):
        with pytest.raises(pdf.PdfFileRefused):
            pdf.allowed_file(f"{settings.MEDIA_ROOT.as_uri()}/{path}")


def test_our_own_files_are_read(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path
    photo = tmp_path / "a photo.jpg"
    photo.write_bytes(b"x")
    assert pdf.allowed_file(photo.as_uri()) == photo
    assert (
        pdf.allowed_file((Path(settings.STATICFILES_DIRS[0]) / "css/print.css").as_uri()).name == "print.css"
    )


def test_a_paper_that_names_a_foreign_file_is_not_printed():
    with pytest.raises(pdf.PdfFileRefused, match="papers load nothing"):
        pdf._print('<html lang="en"><img src="http://example.org/x.png" alt="x">', "", "pdf/a-3a", [])


def test_a_missing_library_is_one_line_with_the_cure(monkeypatch, capsys):
    import builtins

    real = builtins.__import__

    def broken(name: str, *args: Any, **kwargs: Any) -> Any:
        if name == "weasyprint":
            print("a page of advice")
            raise OSError("cannot load library 'libpango-1.0-0'")
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", broken)
    with pytest.raises(pdf.PdfLibraryMissing, match="apt-get install") as caught:
        paper()
    assert "\n" not in str(caught.value)
    assert capsys.readouterr().out == ""


def test_start_up_warns_in_one_line(monkeypatch):
    assert pdf.check_pdf_library() == []
    monkeypatch.setattr(pdf, "_LIBRARIES", ("libnowhere.so.0",))
    (warning,) = pdf.check_pdf_library()
    assert "apt-get install" in warning.msg
