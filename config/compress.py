"""Sends pages compressed, without opening the attack that reads secrets from the length of an answer.

The attack (BREACH, https://breachattack.com) has a browser ask for one page again and again from another
site, with words of its own that the page shows beside a secret. Against it stand three things. A request that
comes from another site and carries words is answered uncompressed. The token of forms is masked anew each
time, as Django does. And Django adds a random number of bytes to each compressed answer ("Heal The BREACH",
https://ieeexplore.ieee.org/document/9754554).
"""

from __future__ import annotations

from typing import Final

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware

#: What shrinks; pictures and PDFs are compressed in themselves.
_TEXT: Final = ("text/html", "application/json", "image/svg+xml", "text/csv", "text/plain")


class CompressText(GZipMiddleware):
    """Compress text of 200 bytes and more for who takes it."""

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        """Return the answer compressed where that helps and gives nothing away."""
        kind = response.get("Content-Type", "").partition(";")[0]
        if not isinstance(response, HttpResponse) or kind not in _TEXT or _brings_text(request):
            return response
        return super().process_response(request, response)


def _brings_text(request: HttpRequest) -> bool:
    """Return whether another site may have chosen words of this request that the page can show."""
    site = request.headers.get("Sec-Fetch-Site", "cross-site" if request.is_secure() else "none")
    has_text = request.method not in ("GET", "HEAD") or bool(request.META.get("QUERY_STRING"))
    return has_text and site not in ("same-origin", "none")
