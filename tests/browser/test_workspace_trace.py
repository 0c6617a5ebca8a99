"""Tracing from a photo in a real browser: two known points, a typed distance, a thing drawn over it."""
# ruff: noqa: F811 (fixtures of the other roof tests)

from __future__ import annotations

import io

import pytest
from PIL import Image, ImageDraw

from jobs.models import RoofPhoto
from tests.browser.barriers import barriers
from tests.browser.test_workspace_hand import design as design
from tests.browser.test_workspace_hand import opened, saved, state  # noqa: F401
from tests.browser.turns import ONE_AT_A_TIME

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    """Keep pictures of tests in a folder of their own."""
    settings.MEDIA_ROOT = tmp_path


def roof_picture():
    """Return a picture with two crosses 400 px apart and a dark hatch."""
    image = Image.new("RGB", (1000, 400), "#c9c6bb")
    pen = ImageDraw.Draw(image)
    for x in (300, 700):
        pen.line([(x - 10, 200), (x + 10, 200)], fill="black", width=3)
        pen.line([(x, 190), (x, 210)], fill="black", width=3)
    pen.rectangle([450, 100, 550, 160], fill="#444")
    out = io.BytesIO()
    image.save(out, "JPEG")
    return {"name": "roof.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def spot(page, x_px, y_px):
    """Return where a point of the picture is on the screen."""
    return page.evaluate(
        """([x, y]) => {
          const image = document.querySelector('.ws-photo image');
          const at = new DOMPoint(x, y).matrixTransform(image.getScreenCTM());
          return [at.x, at.y];
        }""",
        [x_px, y_px],
    )


def placed():
    """Return how the photo lies as stored: turn, distance, points."""
    with ONE_AT_A_TIME:
        photo = RoofPhoto.objects.get()
    return photo.turn_deg, photo.distance_m, photo.a_px, photo.b_px


def test_two_points_and_a_distance_scale_the_photo_and_a_thing_is_traced(opened, design):
    page = opened
    page.locator("label[for=ws-hand-photo]").click()
    page.locator("#ws-photo-file").set_input_files(roof_picture())
    with page.expect_response(lambda got: "/roof-photos/" in got.url):
        page.get_by_role("button", name="Put it under the plan").click()
    page.locator(".ws-photo image").wait_for(state="attached")
    page.wait_for_timeout(500)
    page.locator("#ws-stage").evaluate("(one) => one.scrollIntoView({block: 'center', behavior: 'instant'})")
    page.locator("#ws-photo-tap").click()
    for x in (300, 700):
        page.mouse.click(*spot(page, x, 200))
    field = page.locator("#ws-photo-distance_mm")
    field.fill("10'")
    field.press("Enter")
    page.wait_for_timeout(700)
    page.locator("#ws-photo-state[data-state=saved]").wait_for()
    with ONE_AT_A_TIME:
        photo = RoofPhoto.objects.get()
    # NIST SP 811 appendix B: 1 ft = 0.3048 m exactly
    assert photo.distance_m == pytest.approx(3.048)
    assert abs(photo.b_px[0] - photo.a_px[0] - 400) < 4  # a screen pixel is more than a picture's
    across = [spot(page, x, 200)[0] for x in (300, 700)]
    scale = page.evaluate("document.querySelector('.roof-plan').getScreenCTM().a")
    assert (across[1] - across[0]) / scale == pytest.approx(3048, rel=0.01)
    assert not barriers(page)

    with page.expect_response(lambda got: got.url.endswith("/place/")):
        page.locator("[data-photo-do=left]").click()
    page.locator("#ws-photo-state[data-state=saved]").wait_for()
    for _ in range(3):  # the turn, the distance, the second point
        page.locator("[data-do=undo]").click()
    with page.expect_response(lambda got: got.url.endswith("/place/")):
        pass
    page.locator("#ws-photo-state[data-state=saved]").wait_for()
    assert placed() == (0, None, photo.a_px, [])
    for _ in range(2):
        page.locator("[data-do=redo]").click()
    page.locator("#ws-stage").focus()
    page.keyboard.press("Escape")
    with page.expect_response(lambda got: got.url.endswith("/place/")):
        pass
    page.locator("#ws-photo-state[data-state=saved]").wait_for()
    assert placed() == (0, photo.distance_m, photo.a_px, photo.b_px)

    before = state(design)["obstacles"]
    page.locator("label[for=ws-hand-things]").click()
    page.locator("#ws-kind").select_option("vent")
    page.locator("#ws-thing-draw").click()
    page.mouse.move(*spot(page, 450, 160))
    page.mouse.down()
    page.mouse.move(*spot(page, 500, 130), steps=2)
    page.mouse.move(*spot(page, 550, 100), steps=2)
    page.mouse.up()
    page.wait_for_timeout(900)
    saved(page)
    (made,) = [one for one in state(design)["obstacles"] if one not in before]
    # 100 and 60 of 400 px, 3,048 mm apart; drawn to the half-inch grid and one screen pixel
    assert made["length_mm"] == pytest.approx(762, abs=35)
    assert made["width_mm"] == pytest.approx(457, abs=35)
