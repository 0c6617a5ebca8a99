"""Draws the demo's photos: a roof with panels in plain shapes and the words of the step; never a real one."""

from __future__ import annotations

import functools
import hashlib
import io
from typing import Final

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageDraw

from checklists.photos.photos import Picture, photo_read

WIDTH, HEIGHT = 800, 600
#: Skies by time of day, and roofs from white to weathered.
_SKIES: Final = ("#a9c6d8", "#c7d3d6", "#e2cfae", "#9fb3c2")
_ROOFS: Final = ("#e9e6dd", "#dcd8cc", "#d3d0c6", "#efece4")
_PANEL, _LINE, _INK = "#20364c", "#5d7890", "#26302f"


@functools.cache
def photo_of(code: str, title: str, number: int) -> Picture:
    """Return the picture of one step, drawn anew by the same limited process as every photo."""
    shade = hashlib.sha256(f"{code} {title} {number}".encode()).digest()
    image = Image.new("RGB", (WIDTH, HEIGHT), _SKIES[shade[0] % len(_SKIES)])
    pen = ImageDraw.Draw(image)
    pen.polygon([(60, 520), (180, 190), (640, 190), (760, 520)], fill=_ROOFS[shade[1] % len(_ROOFS)])
    for place in range(1 + shade[2] % 3):
        _panel(pen, 215 + 135 * place, 230 + shade[3] % 40)
    pen.ellipse([(90 + 2 * shade[4], 430), (150 + 2 * shade[4], 470)], outline=_INK, width=4)
    pen.rectangle([(0, 540), (WIDTH, HEIGHT)], fill=_INK)
    pen.text((18, 552), f"Demo drawing  {code} {title}, {number}"[:70], fill="#f4f1ea", font_size=22)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=70)
    return photo_read(SimpleUploadedFile("demo.jpg", out.getvalue()))


def _panel(pen: ImageDraw.ImageDraw, x: int, y: int) -> None:
    pen.polygon([(x, y), (x + 110, y), (x + 118, y + 190), (x - 8, y + 190)], fill=_PANEL)
    for step in range(1, 5):
        pen.line([(x - 2 * step, y + 38 * step), (x + 110 + 2 * step, y + 38 * step)], fill=_LINE, width=2)
    pen.line([(x + 55, y), (x + 55, y + 190)], fill=_LINE, width=2)
