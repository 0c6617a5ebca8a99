"""Pictures: measured before they are decoded, drawn anew, stored once."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import struct
import zlib
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from checklists.models import Photo
from checklists.photos import photos
from checklists.photos.photos import PhotoRefused, photo_keep, photo_read
from jobs.shop.rights import NotAllowed


def upload(data: bytes, name: str = "p.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data)


def opened(photo) -> Image.Image:
    return Image.open(io.BytesIO(Path(photo.file.path).read_bytes()))


def jpeg(size=(80, 60), **options) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, "teal").save(out, "JPEG", **options)
    return out.getvalue()


def huge_png_header(width: int, height: int) -> bytes:
    """Return a PNG that claims this size; its pixels would fill memory, were they decoded."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 10_000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.fixture
def store(checklist, bob, now):
    def make(data: bytes):
        return photo_keep(checklist=checklist, picture=photo_read(upload(data)), actor=bob, at=now)

    return make


def test_a_photo_is_stored_as_a_plain_jpeg(store):
    photo = store(jpeg())
    kept = opened(photo)
    assert (kept.format, kept.size) == ("JPEG", (80, 60))
    assert (photo.width_px, photo.height_px, photo.taken_by_name) == (80, 60, "Bob Test")


def test_the_hashes_of_what_is_stored_are_noted(store):
    photo = store(jpeg())
    for file, noted in ((photo.file, photo.file_sha256), (photo.small, photo.small_sha256)):
        with file.open() as kept:
            assert hashlib.sha256(kept.read()).hexdigest() == noted


def test_place_and_camera_do_not_travel_along(store):
    exif = Image.Exif()
    exif[0x010F] = "Some camera"
    exif.get_ifd(0x8825)[2] = (40.0, 1.0, 2.0)
    data = jpeg(exif=exif, comment=b"private")
    assert b"Some camera" in data
    kept = Path(store(data).file.path).read_bytes()
    assert b"Some camera" not in kept
    assert b"private" not in kept
    assert not Image.open(io.BytesIO(kept)).getexif()


HEIC = Path(__file__).parents[3] / "fixtures" / "pictures" / "small.heic"


def test_a_heic_is_stored_as_a_plain_jpeg_with_the_time_the_camera_told(store):
    # Made with pillow-heif: 80 × 48, 2027-03-31 09:14:05 at -06:00, 40°30' N 105°15' W, "Some camera".
    data = HEIC.read_bytes()
    assert b"Some camera" in data
    photo = store(data)
    kept = opened(photo)
    assert (kept.format, kept.size) == ("JPEG", (80, 48))
    red, green, blue = kept.convert("RGB").getpixel((40, 24))
    assert (red < 30, abs(green - 128) < 12, abs(blue - 128) < 12) == (True, True, True)  # CSS teal
    assert photo.claimed_at == dt.datetime(2027, 3, 31, 15, 14, 5, tzinfo=dt.UTC)
    assert (photo.latitude_deg, photo.longitude_deg) == (None, None)
    assert b"Some camera" not in Path(photo.file.path).read_bytes()


def test_the_place_is_kept_beside_the_file_where_the_shop_asks_for_it(store, shop):
    shop.keeps_photo_position = True
    shop.save()
    photo = store(HEIC.read_bytes())
    assert (photo.latitude_deg, photo.longitude_deg) == (40.5, -105.25)
    assert not opened(photo).getexif()


def test_a_camera_that_names_no_zone_is_set_to_the_shops(store):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[36867] = "2027:03:31 09:14:05"
    photo = store(jpeg(exif=exif))
    assert photo.claimed_at == dt.datetime(2027, 3, 31, 15, 14, 5, tzinfo=dt.UTC)  # Denver in summer: -6 h


@pytest.mark.parametrize("words", ["0000:00:00 00:00:00", "yesterday", "", "2027-03-31 09:14:05"])
def test_a_time_that_is_none_is_no_claim(store, words):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[36867] = words
    assert store(jpeg(exif=exif)).claimed_at is None


def test_a_small_one_is_stored_beside_it(store):
    photo = store(jpeg((1600, 1200)))
    with Image.open(photo.small.path) as small:
        assert (small.format, small.size) == ("JPEG", (640, 480))


def test_a_picture_held_sideways_is_turned(store):
    exif = Image.Exif()
    exif[0x0112] = 6
    photo = store(jpeg((80, 40), exif=exif))
    assert (photo.width_px, photo.height_px) == (40, 80)


def test_a_large_picture_is_made_smaller(store):
    photo = store(jpeg((5000, 2500)))
    assert (photo.width_px, photo.height_px) == (2400, 1200)


def test_the_same_file_twice_is_one_photo(store, settings):
    assert store(jpeg()).pk == store(jpeg()).pk
    photo = Photo.objects.get()
    kept = {path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()}
    assert kept == {Path(photo.file.path), Path(photo.small.path)}


def test_a_see_through_png_gets_a_white_ground(store):
    out = io.BytesIO()
    Image.new("RGBA", (10, 10), (0, 0, 0, 0)).save(out, "PNG")
    assert opened(store(out.getvalue())).getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (huge_png_header(8000, 6000), "at most 40 megapixels"),
        (huge_png_header(60_000, 60_000), "at most 40 megapixels"),
        (b"GIF89a" + b"\0" * 40, "no photo we can read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no photo we can read"),
        (b"", "no photo we can read"),
        (b"%PDF-1.7 ...", "no photo we can read"),
        (jpeg((400, 300))[:2000], "damaged"),
        (huge_png_header(100, 100), "damaged"),
    ],
)
def test_what_is_no_sound_photo_is_refused(store, data, words):
    with pytest.raises(PhotoRefused, match=words):
        store(data)
    assert not Photo.objects.exists()


def test_a_file_over_the_limit_is_refused_before_it_is_read(checklist, bob, now, monkeypatch):
    monkeypatch.setattr(photos, "MOST_BYTES", 1024 * 1024)

    class Large:
        size = 1024 * 1024 + 1

        def read(self, most: int) -> bytes:
            raise AssertionError("must not be read")

    with pytest.raises(PhotoRefused, match=r"at most 1 MB, this one is 1\.0 MB"):
        photo_keep(checklist=checklist, picture=photo_read(Large()), actor=bob, at=now)


def test_a_size_that_lies_is_noticed(checklist, bob, now, monkeypatch):
    monkeypatch.setattr(photos, "MOST_BYTES", 1000)
    large = upload(b"x" * 5000)
    large.size = 10
    with pytest.raises(PhotoRefused, match="at most"):
        photo_keep(checklist=checklist, picture=photo_read(large), actor=bob, at=now)


def test_a_stranger_stores_nothing(checklist, charlie, now):
    with pytest.raises(NotAllowed):
        photo_keep(checklist=checklist, picture=photo_read(upload(jpeg())), actor=charlie, at=now)
