"""Draws bar codes as stickers show them, by libraries that share nothing with the decoder under test."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import barcode
import numpy as np
import segno
from barcode.writer import ImageWriter
from PIL import Image
from ppf.datamatrix import DataMatrix

_CELL: int = 8  # pixels of one cell of a square code


def bars(kind: str, text: str, **facts: Any) -> Image.Image:
    """Return a code of bars: code128, code39, ean13, itf, gs1_128."""
    drawn = barcode.get_barcode_class(kind)(text, writer=ImageWriter(), **facts)
    return drawn.render({"write_text": False, "module_height": 20}).convert("L")


def qr(text: str) -> Image.Image:
    """Return a QR code."""
    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(out, kind="png", scale=_CELL)
    return Image.open(out).convert("L")


def data_matrix(text: str) -> Image.Image:
    """Return a Data Matrix with its quiet zone."""
    cells = np.pad(np.array(DataMatrix(text).matrix, dtype=np.uint8), 2)
    dark = np.kron(cells, np.ones((_CELL, _CELL), np.uint8))
    return Image.fromarray(255 - 255 * dark)


def png(*codes: Image.Image) -> bytes:
    """Return a photo of a sticker with these codes one above the other."""
    out = io.BytesIO()
    _sticker(codes).save(out, "PNG")
    return out.getvalue()


def _sticker(codes: tuple[Image.Image, ...]) -> Image.Image:
    wide, high = max(code.width for code in codes) + 120, sum(code.height + 60 for code in codes) + 60
    page, top = Image.new("L", (wide, high), 255), 60
    for code in codes:
        page.paste(code, ((wide - code.width) // 2, top))
        top += code.height + 60
    return page


def film(path: Path, code: Image.Image, size: tuple[int, int] = (1280, 720)) -> Path:
    """Write a second of film of a code, tilted and noisy, for the camera that Chromium makes up."""
    page = Image.new("L", size, 150)
    page.paste(
        code.resize((code.width, code.height)),
        (size[0] // 2 - code.width // 2, size[1] // 2 - code.height // 2),
    )
    page = page.rotate(4, fillcolor=150)
    noise = np.random.default_rng(4).normal(0, 6, (size[1], size[0]))
    luma = np.clip(np.asarray(page) * 0.8 + 20 + noise, 0, 255).astype(np.uint8).tobytes()
    grey = bytes([128]) * (size[0] // 2 * (size[1] // 2) * 2)
    head = f"YUV4MPEG2 W{size[0]} H{size[1]} F10:1 Ip A1:1 C420jpeg\n".encode()
    path.write_bytes(head + (b"FRAME\n" + luma + grey) * 10)
    return path
