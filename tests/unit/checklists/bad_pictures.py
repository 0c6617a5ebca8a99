"""Knows how to make pictures nobody should open: bombs, and files that are two things at once.

Everything is made here from the open formats: PNG (ISO/IEC 15948), JPEG (ITU-T T.81), WebP (RFC 9649),
GIF89a, HEIF (ISO/IEC 23008-12), ZIP (APPNOTE 6.3), PDF (ISO 32000). A bomb is made in pieces, so that making
it needs no memory either.
"""

from __future__ import annotations

import functools
import io
import random
import struct
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

from PIL import Image

#: Stands in everything that must not come out again.
MARK = b"coachlight-payload"
MB = 1024 * 1024
HEIC = Path(__file__).parents[3] / "fixtures" / "pictures" / "small.heic"


def sound(kind: str, size: tuple[int, int] = (80, 60), colour: str = "teal", **options: object) -> bytes:
    """Return a small sound picture."""
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, kind, **options)
    return out.getvalue()


@functools.cache
def zeros(megabytes: int = 200) -> bytes:
    """Return so many megabytes of nothing, deflated: about a thousandth of it."""
    packer = zlib.compressobj(9)
    return b"".join(packer.compress(bytes(MB)) for _ in range(megabytes)) + packer.flush()


def chunk(kind: bytes, data: bytes) -> bytes:
    """Return a chunk of a PNG."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width: int, height: int, *more: bytes, rows: bytes = b"", depth: int = 8, colour: int = 2) -> bytes:
    """Return a PNG that claims this size; its pixels are whatever ``rows`` holds, or next to none."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0))
    body = chunk(b"IDAT", rows or zlib.compress(bytes(10_000)))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(more) + body + chunk(b"IEND", b"")


def jpeg_of(width: int, height: int, base: bytes = b"") -> bytes:
    """Return a JPEG whose frame header claims this size."""
    data = bytearray(base or sound("JPEG"))
    at = next(data.index(mark) for mark in (b"\xff\xc0", b"\xff\xc2") if mark in data)
    data[at + 5 : at + 9] = struct.pack(">HH", height, width)
    return bytes(data)


def riff(*chunks: tuple[bytes, bytes]) -> bytes:
    """Return a WebP of these chunks."""
    body = b"WEBP"
    for kind, data in chunks:
        body += kind + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def canvas(width: int, height: int, flags: int = 0x02) -> tuple[bytes, bytes]:
    """Return the head of an extended WebP."""
    return b"VP8X", bytes([flags, 0, 0, 0]) + struct.pack("<I", width - 1)[:3] + struct.pack(
        "<I", height - 1
    )[:3]


def moving(kind: str, frames: int, size: tuple[int, int] = (64, 64)) -> bytes:
    """Return a picture of many frames."""
    out = io.BytesIO()
    rest = [Image.new("RGB", size, (n * 37 % 256, n * 91 % 256, n % 256)) for n in range(1, frames)]
    Image.new("RGB", size).save(out, kind, save_all=True, append_images=rest, duration=10)
    return out.getvalue()


def heic_of(width: int, height: int) -> bytes:
    """Return a HEIC whose property box claims this size."""
    data = bytearray(HEIC.read_bytes())
    at = data.index(b"ispe") + 8
    data[at : at + 8] = struct.pack(">II", width, height)
    return bytes(data)


def bombs() -> dict[str, bytes]:
    """Return fifty pictures that would fill memory, disk or the day, or that are no picture at all."""
    return dict([*_png_bombs(), *_jpeg_bombs(), *_webp_and_heic_bombs(), *_other_kinds()])


def _png_bombs() -> Iterator[tuple[str, bytes]]:
    most = 2**31 - 1
    for width, height in (
        (8000, 6000), (60_000, 60_000), (most, most), (most, 1), (1, most), (6325, 6325), (40_000_001, 1),
    ):  # fmt: skip
        yield f"png {width} x {height}", png(width, height)
    yield "png of no size", png(0, 0)
    yield "png with 200 MB of rows for 10 kB", png(100, 30, rows=zeros())
    yield "png of 64 bits a pixel", png(5000, 5000, rows=zeros(), depth=16, colour=6)
    yield "png of black, 39.9 Mpx", png(6316, 6316, rows=zeros())
    yield "png with a color profile of 200 MB", png(9, 9, chunk(b"iCCP", b"p\0\0" + zeros()))
    yield "png with a text of 200 MB", png(9, 9, chunk(b"zTXt", b"t\0\0" + zeros()))
    yield "png with 50 texts of 20 MB", png(9, 9, *[chunk(b"zTXt", b"t\0\0" + zeros(20))] * 50)
    yield "png with a foreign text of 200 MB", png(9, 9, chunk(b"iTXt", b"t\0\1\0\0\0" + zeros()))
    many = chunk(b"acTL", struct.pack(">II", 2**31 - 1, 0))
    yield "png of two milliard frames", png(100, 30, many)
    yield "png of 300 frames", moving("PNG", 300)
    yield "png cut off", sound("PNG", (400, 300))[:-60]
    yield "png whose length lies", b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 2**32 - 1) + b"IHDR"
    yield "png of interlaced nothing", png(6000, 6000)[:28] + b"\1" + png(6000, 6000)[29:]


def _jpeg_bombs() -> Iterator[tuple[str, bytes]]:
    for width, height in ((65_535, 65_535), (65_535, 700), (65_535, 1), (1, 65_535), (6325, 6325), (0, 0)):
        yield f"jpeg {width} x {height}", jpeg_of(width, height)
    noise = io.BytesIO()
    Image.effect_noise((300, 200), 90).save(noise, "JPEG", quality=90, progressive=True)
    data = noise.getvalue()
    scan = data.index(b"\xff\xda")
    yield "jpeg cut off", data[: len(data) // 2]
    yield "jpeg of its head only", data[:scan]
    yield "jpeg of 2,000 scans at 36 Mpx", jpeg_of(6000, 6000, data)[:-2] + data[scan : scan + 60] * 2000
    yield "jpeg with 5,000 comments", data[:2] + (b"\xff\xfe\xff\xff" + bytes(2**16 - 3)) * 20 + data[2:]
    yield "jpeg with a note that points at itself", sound("JPEG", exif=_looping_exif())
    yield "jpeg of one byte", b"\xff"


def _looping_exif() -> bytes:
    """Return an Exif block whose first directory is its own part."""
    entry = struct.pack("<HHII", 0x8769, 4, 1, 8)
    return b"Exif\0\0II*\0\x08\0\0\0" + struct.pack("<H", 1) + entry + struct.pack("<I", 8)


def _webp_and_heic_bombs() -> Iterator[tuple[str, bytes]]:
    still = sound("WEBP", (400, 300))
    yield "webp of a canvas of 16 million squared", riff(canvas(2**24, 2**24), (b"ANIM", bytes(6)))
    yield "webp of a canvas of 16,383 squared", riff(canvas(16_383, 16_383, 0), (b"VP8 ", bytes(40)))
    lossless = b"\x2f" + struct.pack("<I", (16_383) | (16_383 << 14))
    yield "webp without loss, 16,384 squared", riff((b"VP8L", lossless + bytes(40)))
    yield "webp cut off", still[: len(still) // 2]
    yield "webp of 200 frames", moving("WEBP", 200)
    yield "heic of 2 milliard squared", heic_of(2**31 - 1, 2**31 - 1)
    yield "heic of 60,000 squared", heic_of(60_000, 60_000)
    yield "heic of 6,300 squared", heic_of(6300, 6300)
    yield "heic cut off", HEIC.read_bytes()[:300]


def _other_kinds() -> Iterator[tuple[str, bytes]]:
    laughs = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12))
    svg = f'<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a0 "ha">{laughs}]><svg>&a11;</svg>'
    yield "svg of a milliard laughs", svg.encode()
    yield "gif 65,535 squared", b"GIF89a" + struct.pack("<HH", 65_535, 65_535) + b"\0" * 40
    yield "gif of 100 frames", moving("GIF", 100)
    yield (
        "bmp 30,000 squared",
        b"BM" + struct.pack("<IIIIiiHH", 54, 0, 54, 40, 30_000, 30_000, 1, 24) + bytes(64),
    )
    yield "zip of a gigabyte", _zip_bomb()
    yield "gzip", b"\x1f\x8b\x08" + zeros()
    yield "postscript", b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n{} loop\n"
    yield "nothing", b""
    yield "a megabyte of nothing", bytes(MB)


def _zip_bomb() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file, file.open("a.jpg", "w") as inner:
        for _ in range(200):
            inner.write(bytes(MB))
    return out.getvalue()


def payloads() -> dict[str, bytes]:
    """Return what somebody might hide in a picture, each with the mark in it."""
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as file:
        file.writestr("index.html", b"<script>" + MARK + b"</script>")
    return {
        "html": b"<!doctype html><script>alert('" + MARK + b"')</script>",
        "svg": b"<svg xmlns='http://www.w3.org/2000/svg' onload='x'><title>" + MARK + b"</title></svg>",
        "pdf": b"%PDF-1.7\n1 0 obj<</JS(" + MARK + b")/S/JavaScript>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF",
        "zip": archive.getvalue(),
        "exe": b"MZ" + bytes(58) + struct.pack("<I", 64) + b"PE\0\0" + MARK,
        "gif": b"GIF89a/*" + bytes(4) + b"*/=1;" + MARK + b";",
    }


def polyglots() -> dict[str, bytes]:
    """Return sixty files that are a picture and something else."""
    carriers = {
        "jpeg, behind": lambda p: sound("JPEG") + p,
        "jpeg, as its comment": lambda p: sound("JPEG", comment=p),
        "jpeg, as its note": lambda p: sound("JPEG", exif=_noted(p)),
        "jpeg, in a part of its own": lambda p: _with_segment(p),
        "jpeg, as its profile": lambda p: sound("JPEG", icc_profile=p),
        "png, behind": lambda p: sound("PNG") + p,
        "png, in a part of its own": lambda p: png(
            10, 10, chunk(b"pLGt", p), chunk(b"tEXt", b"Comment\0" + p), rows=zlib.compress(bytes(310) + p)
        ),
        "webp, behind": lambda p: sound("WEBP") + p,
        "webp, as its notes": lambda p: sound("WEBP", exif=_noted(p), xmp=p),
        "in front of a jpeg": lambda p: p + sound("JPEG"),
    }
    return {
        f"{what} {where}": hide(payload)
        for where, hide in carriers.items()
        for what, payload in payloads().items()
    }


def _noted(payload: bytes) -> bytes:
    exif = Image.Exif()
    exif[0x010E] = payload.decode("latin-1").replace("\0", ".")
    return exif.tobytes()


def _with_segment(payload: bytes) -> bytes:
    base = sound("JPEG")
    return base[:2] + b"\xff\xef" + struct.pack(">H", len(payload) + 2) + payload + base[2:]


def random_jpeg(size: int, dice: random.Random) -> bytes:
    """Return a sound JPEG of exactly so many bytes, no two alike: a small picture and noise behind it."""
    base = sound("JPEG", colour=f"#{dice.randrange(2**24):06x}")
    return base + dice.randbytes(size - len(base))
