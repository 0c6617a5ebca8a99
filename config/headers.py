"""Says on every answer of the app which devices a browser may use for it, and that it keeps nothing."""

from __future__ import annotations

from collections.abc import Callable, MutableMapping
from typing import Final

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

#: Devices and powers of a browser that no page asks for. Names a browser does not know are passed over.
_OFF: Final = (
    "accelerometer", "ambient-light-sensor", "attribution-reporting", "autoplay", "bluetooth",
    "browsing-topics", "compute-pressure", "display-capture", "encrypted-media", "fullscreen",
    "gamepad", "geolocation", "gyroscope", "hid", "identity-credentials-get", "idle-detection",
    "interest-cohort", "keyboard-map", "local-fonts", "magnetometer", "microphone", "midi",
    "otp-credentials", "payment", "picture-in-picture", "screen-wake-lock", "serial", "storage-access",
    "usb", "web-share", "window-management", "xr-spatial-tracking",
)  # fmt: skip
#: What pages of our own may do: keys that sign in, and the button that copies a link.
_OURS: Final = ("publickey-credentials-create", "publickey-credentials-get", "clipboard-write")
NOTHING_KEPT: Final = "no-store, private"


def permissions(*, camera: bool) -> str:
    """Return the header's value; the camera is open to the tablet, which reads labels with it."""
    closed = [*_OFF, *([] if camera else ["camera"])]
    ours = [*_OURS, *(["camera"] if camera else [])]
    return ", ".join([f"{name}=()" for name in closed] + [f"{name}=(self)" for name in ours])


#: A static file asks for nothing when it is opened by itself. A script may be a worker, which has the policy
#: of its own file: the reader of bar codes runs WebAssembly and loads its module.
STATIC_POLICY: Final = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
SCRIPT_POLICY: Final = f"{STATIC_POLICY}; script-src 'self' 'wasm-unsafe-eval'; connect-src 'self'"


def static_headers(headers: MutableMapping[str, str], path: str, _url: str) -> None:
    """Put the policy on an answer of the static server."""
    headers["Content-Security-Policy"] = SCRIPT_POLICY if path.endswith((".js", ".mjs")) else STATIC_POLICY
    headers["Cross-Origin-Resource-Policy"] = "same-origin"


class PrivatePages:
    """Keep no page anywhere, unless its view says otherwise, and switch off devices nobody needs.

    Static files never come here: the static server stands in front and lets them be kept.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.closed, self.with_camera = permissions(camera=False), permissions(camera=True)

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if "Cache-Control" not in response:
            response["Cache-Control"] = NOTHING_KEPT
        is_tablet = request.path_info == reverse("checklists:tablet")
        response["Permissions-Policy"] = self.with_camera if is_tablet else self.closed
        response["Cross-Origin-Resource-Policy"] = "same-origin"
        return response
