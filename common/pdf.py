"""Turns an HTML template into a PDF on the shop's paper size; the only file that imports WeasyPrint."""

from __future__ import annotations

import contextlib
import ctypes
import functools
import hashlib
import io
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote, urlsplit

from django.conf import settings
from django.core.checks import CheckMessage, Warning
from django.template.loader import render_to_string
from django.utils import translation

INSTALL_LINE: Final = (
    "PDFs need the Pango library, which is not on this machine; on Debian or Ubuntu run: apt-get install"
    " --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fontconfig"
)
_LIBRARIES: Final = ("libgobject-2.0.so.0", "libpango-1.0.so.0", "libpangoft2-1.0.so.0", "libharfbuzz.so.0")
_PAPERS: Final = {"letter": "letter", "a4": "A4"}


class PdfLibraryMissing(RuntimeError):
    """Pango is not installed; the message is the line that installs it."""

    def __init__(self) -> None:
        super().__init__(INSTALL_LINE)


class PdfFileRefused(RuntimeError):
    """A paper names a picture or style that is missing or lies outside our own folders."""


@dataclass(frozen=True)
class PdfAttachment:
    """A file that travels inside the PDF."""

    name: str
    content: bytes
    description: str


def pdf_bytes(
    template: str,
    context: Mapping[str, Any],
    *,
    title: str,
    variant: str = "pdf/a-3a",
    attachments: Iterable[PdfAttachment] = (),
) -> bytes:
    """Return the template as a PDF on the paper of ``context["shop"]`` (Letter unless it says A4).

    ``context`` may carry what the running head prints: ``head`` with any of ``vehicle``, ``vin_tail``,
    ``job_number``, ``revision``, ``code``; and ``watermark``, a word across every page. The same HTML gives
    the same file. Raise PdfLibraryMissing without Pango, PdfFileRefused for a file it may not read.
    """
    with translation.override(settings.LANGUAGE_CODE):  # a paper belongs to the record, whoever prints it
        html = render_to_string(template, {**context, "title": title})
    return _print(html, _paper_css(context.get("shop")), variant, list(attachments))


def _paper_css(shop: Any) -> str:
    """Return the page rule of the shop's paper."""
    return f"@page {{ size: {_PAPERS.get(str(getattr(shop, 'paper', '')), 'letter')} }}"


def _print(html: str, paper_css: str, variant: str, attachments: list[PdfAttachment]) -> bytes:
    """Return the finished PDF."""
    weasyprint = _library()
    base_url = _static_folder().as_uri() + "/"
    document = weasyprint.HTML(string=html, base_url=base_url, url_fetcher=_fetcher())
    parts = [
        weasyprint.Attachment(
            string=part.content, name=part.name, description=part.description, relationship="Data"
        )
        for part in attachments
    ]
    try:
        return document.write_pdf(  # type: ignore[no-any-return]  # untyped library
            stylesheets=[weasyprint.CSS(string=paper_css)],
            attachments=parts,
            pdf_variant=variant,
            pdf_identifier=hashlib.sha256(html.encode()).digest()[:16],
            optimize_images=True,
            dpi=150,
            jpeg_quality=75,
        )
    except weasyprint.urls.FatalURLFetchingError as refusal:  # no Exception: it would pass every handler
        raise PdfFileRefused(str(refusal)) from refusal


def _library() -> Any:
    """Return WeasyPrint; raise PdfLibraryMissing where its native parts are not installed."""
    try:
        with contextlib.redirect_stdout(io.StringIO()):  # it prints its own page of advice
            import weasyprint
            import weasyprint.urls
    except OSError:
        raise PdfLibraryMissing from None
    return weasyprint


def _static_folder() -> Path:
    """Return the folder that paths in paper templates start from (``css/print.css``)."""
    return Path(settings.STATICFILES_DIRS[0]).resolve()


def allowed_file(url: str) -> Path:
    """Return the file a paper asks for; raise PdfFileRefused unless it is one of our styles or photos."""
    parts = urlsplit(url)
    if parts.scheme != "file":
        raise PdfFileRefused(f"papers load nothing from {parts.scheme or 'nowhere'}: {url[:120]}")
    path = Path(unquote(parts.path)).resolve()
    roots = [_static_folder(), Path(settings.STATIC_ROOT).resolve(), Path(settings.MEDIA_ROOT).resolve()]
    if not any(path.is_relative_to(root) for root in roots) or not path.is_file():
        raise PdfFileRefused(f"papers may not read {path.name}: it is missing or outside our folders")
    return path


def _fetcher() -> Any:
    """Return a fetcher that reads our own folders and data: pictures, and fails loudly on anything else."""
    from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

    class OurFilesOnly(URLFetcher):  # type: ignore[misc]  # untyped library
        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            if url.startswith("data:"):
                return super().fetch(url, headers)
            try:
                path = allowed_file(url)
            except PdfFileRefused as refusal:
                raise FatalURLFetchingError(str(refusal)) from refusal
            if path.suffix == ".woff2":
                return URLFetcherResponse(url, _face(path))
            return super().fetch(path.as_uri(), headers)

    return OurFilesOnly(allowed_protocols=["file", "data"], allow_redirects=False)


@functools.cache
def _face(path: Path) -> bytes:
    """Return a typeface unpacked: WeasyPrint would do it anew for every paper, a second each time."""
    from fontTools.ttLib import woff2

    out = io.BytesIO()
    woff2.decompress(io.BytesIO(path.read_bytes()), out)
    return out.getvalue()


def require_pdf_library() -> None:
    """Raise PdfLibraryMissing where papers cannot be printed; costs next to nothing."""
    if check_pdf_library():
        raise PdfLibraryMissing


def check_pdf_library(app_configs: Any = None, **kwargs: Any) -> list[CheckMessage]:
    """Warn at start-up, in one line, where papers could not be printed."""
    if not sys.platform.startswith("linux"):
        return []  # elsewhere libraries carry other names; the first paper will tell
    for name in _LIBRARIES:
        try:
            ctypes.CDLL(name)
        except OSError:
            return [Warning(INSTALL_LINE, id="coachlight.W002")]
    return []
