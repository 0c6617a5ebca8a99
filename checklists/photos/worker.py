"""Opens a picture that nobody trusts, in a process of its own, short of memory and time.

``drawing`` runs this file as ``python -I worker.py``, cut off from the site: it imports Pillow and nothing of
ours. It stays ready on its socket and forks once a picture (one thread, small: a fork is safe and takes
milliseconds), so that no picture meets what another one left behind. Where the site dies, the socket closes
and this ends.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import resource
import signal
import socket
import sys
import warnings
from typing import IO, Any, Final

from PIL import Image, ImageOps, UnidentifiedImageError

FORMATS: Final = ("JPEG", "PNG", "WEBP", "HEIF")
MOST_PIXELS: Final = 40_000_000
#: Longest side kept: enough to read a fuse's print, small enough to send. [px]
LONGEST_SIDE_PX: Final = 2400
#: Longest side of the small one: lists on a tablet, and a third of a page at 150 dots an inch. [px]
SMALL_SIDE_PX: Final = 640
QUALITY: Final = 85
#: Address space of one picture's process. The heaviest sound picture of 40 Mpx asks for about half. [bytes]
MOST_MEMORY: Final = 1 << 30
MOST_CPU_S: Final = 20
MOST_WALL_S: Final = 60
MOST_OUTPUT: Final = 12 * 1024 * 1024
OUT_OF_MEMORY: Final = 3
_FAILED: Final = 70
_ORIENTATION, _EXIF_PART, _GPS_PART = 0x0112, 0x8769, 0x8825
_TAKEN, _TAKEN_ZONE = 36867, 36881


class Refused(Exception):
    """The picture is not kept; says why."""


def main() -> None:
    """Draw one picture after another, as asked on standard input, which is a socket."""
    import pi_heif  # the site itself, which knows this file by its limits, needs no decoder

    os.nice(10)  # whoever waits for a page goes first
    pi_heif.register_heif_opener(thumbnails=False)
    Image.preinit()
    with socket.socket(fileno=0) as line:
        while True:
            note, files, _, _ = socket.recv_fds(line, 1, 2)
            if not note:
                return
            line.sendall(b"%d\n" % _in_a_child(*files))


def _in_a_child(source: int, target: int) -> int:
    """Draw in a fork and return how it ended, as waitpid tells it."""
    child = os.fork()
    if child == 0:
        code = _FAILED
        try:
            os.close(0)  # whatever takes this process over cannot speak for it
            _limit()
            code = _answer(source, target)
        finally:
            os._exit(code)
    os.close(source)
    os.close(target)
    return os.waitpid(child, 0)[1]


def _limit() -> None:
    """Give up memory, time and disk for good: none of these can be raised again."""
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_CPU_S, MOST_CPU_S + 2))
    resource.setrlimit(resource.RLIMIT_FSIZE, (MOST_OUTPUT, MOST_OUTPUT))
    if sys.platform == "linux":  # elsewhere the system refuses to set it
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    signal.alarm(MOST_WALL_S)


def _answer(source: int, target: int) -> int:
    """Write a line of facts and two pictures, or a line that says why there are none."""
    os.lseek(source, 0, os.SEEK_SET)
    with open(source, "rb") as untrusted, open(target, "wb") as out:
        try:
            facts, picture, small = draw(untrusted)
        except Refused as problem:
            out.write(json.dumps({"refused": str(problem)}).encode() + b"\n")
            return 0
        except MemoryError:
            return OUT_OF_MEMORY
        facts |= {"picture": len(picture), "small": len(small)}
        out.write(json.dumps(facts).encode() + b"\n" + picture + small)
    return 0


def draw(source: IO[bytes]) -> tuple[dict[str, Any], bytes, bytes]:
    """Return facts, picture and small picture: upright JPEGs of ours without a byte that came in.

    Raise Refused for what is no sound photo of at most MOST_PIXELS; the size is looked at before a single
    pixel is decoded.
    """
    warnings.simplefilter("ignore")
    try:
        opened = Image.open(source, formats=FORMATS)
        if opened.width * opened.height > MOST_PIXELS:
            raise Refused(
                f"The photo must have at most {MOST_PIXELS // 1_000_000} megapixels,"
                f" this one is {opened.width} × {opened.height}."
            )
        facts = _facts(opened)
        image = _upright(_shrunk(opened, LONGEST_SIDE_PX))
    except UnidentifiedImageError:
        raise Refused("This file is no photo we can read: JPEG, PNG, WebP or HEIC.") from None
    except Image.DecompressionBombError:
        raise Refused(f"The photo must have at most {MOST_PIXELS // 1_000_000} megapixels.") from None
    except (OSError, ValueError, SyntaxError, EOFError, RuntimeError):
        raise Refused("This photo is damaged: please take it again.") from None
    plain = _on_white(image)
    facts |= {"width": plain.width, "height": plain.height}
    picture = _encoded(plain)
    plain.thumbnail((SMALL_SIDE_PX, SMALL_SIDE_PX), reducing_gap=1.2)
    return facts, picture, _encoded(plain)


def _shrunk(image: Image.Image, longest_px: int) -> Image.Image:
    """Return the decoded picture, at most so long; a JPEG is decoded small from the start."""
    if image.mode in {"P", "PA", "1"}:  # these shrink badly
        image = image.convert("RGBA")
    image.thumbnail((longest_px, longest_px))
    image.load()
    return image


def _upright(image: Image.Image) -> Image.Image:
    """Return the picture as it was held; a damaged note about that is not the picture's fault."""
    try:
        ImageOps.exif_transpose(image, in_place=True)
    except Exception:
        return image
    return image


def _on_white(image: Image.Image) -> Image.Image:
    """Return a plain picture: nothing see-through, no color profile, no text inside the file."""
    if not image.has_transparency_data:
        return image if image.mode == "RGB" else image.convert("RGB")
    with_alpha = image.convert("RGBA")
    plain = Image.new("RGB", image.size, "white")
    plain.paste(with_alpha, mask=with_alpha.getchannel("A"))
    return plain


def _encoded(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.info.clear()
    image.save(out, "JPEG", quality=QUALITY)  # optimize: 3 % fewer bytes, 3 times as long
    return out.getvalue()


def _facts(image: Image.Image) -> dict[str, Any]:
    """Return when and where the camera says it was; a claim, and no claim where it is not readable."""
    facts: dict[str, Any] = {}
    with contextlib.suppress(Exception):
        exif = image.getexif()
        with contextlib.suppress(Exception):
            part = exif.get_ifd(_EXIF_PART)
            facts["taken"] = f"{part[_TAKEN]}"[:40]
            facts["zone"] = f"{part.get(_TAKEN_ZONE, '')}"[:10]
        with contextlib.suppress(Exception):
            gps = exif.get_ifd(_GPS_PART)
            facts["position"] = [_degrees(gps[2], gps[1] == "S"), _degrees(gps[4], gps[3] == "W")]
    return facts


def _degrees(parts: Any, is_below: bool) -> float:
    """Return degrees, minutes and seconds as one number, south and west below zero."""
    degrees, minutes, seconds = (float(part) for part in parts)
    return (degrees + minutes / 60 + seconds / 3600) * (-1 if is_below else 1)


if __name__ == "__main__":
    main()
