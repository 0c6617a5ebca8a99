"""How a page says that a service refused: in a message on the next page, or in the form that was sent."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest

from jobs.shop.refusals import Refusal


def answered(request: HttpRequest, act: Any) -> Any:
    """Return what a service did; a refusal becomes a message on the next page and None."""
    try:
        return act()
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return None


def on_form[Made](form: Form, act: Callable[[], Made], field: str | None = None) -> Made | None:
    """Return what a service did; a refusal is said in the form, at the field it is about: None then."""
    try:
        return act()
    except Refusal as refusal:
        form.add_error(field, str(refusal))
        return None
