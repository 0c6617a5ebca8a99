"""Keeps a form from undoing what another tab or person saved after it was opened."""

from __future__ import annotations

import copy
import json
from typing import Any

from django import forms

from common.forms import ShopForm

_OWN = {"sure", "shown"}


class Shown(forms.CharField):
    """Carries what the page showed; it is no value of the record."""

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Return False."""
        return False


class ShownInput(forms.HiddenInput):
    """Writes what is stored now, whatever an older page sent."""

    def __init__(self, texts: dict[str, Any]) -> None:
        super().__init__()
        self.texts = texts

    def format_value(self, value: Any) -> str:
        """Return the stored texts."""
        return json.dumps(self.texts, ensure_ascii=False)


class WatchedForm(ShopForm):
    """Mix in instead of ShopForm where a stored record is edited.

    The page carries what it showed. A field nobody touched on it takes what is stored by now; a field that
    was changed on it and elsewhere is refused once, with the stored value: saved again, it stands.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.meanwhile: dict[str, Any] = {}
        if not self.is_watched():
            return
        stored = {name: self._stored(name) for name in self.fields if name not in _OWN}
        self.fields["shown"] = Shown(required=False, label="", widget=ShownInput(stored))
        if self.is_bound:
            self._take_over(self.page_showed(), stored)

    def is_watched(self) -> bool:
        """Return whether there is a stored record to lose something of."""
        return bool(getattr(getattr(self, "instance", None), "pk", None))

    def page_showed(self) -> dict[str, Any]:
        """Return the texts the page says it showed; none for a record that was not stored then."""
        return _texts(self.data.get(self.add_prefix("shown")))

    def clean(self) -> dict[str, Any]:
        """Refuse what was changed here and elsewhere, once."""
        cleaned = super().clean()
        for name, text in self.meanwhile.items():
            now = self._in_words(name, text)
            self.add_error(
                name, f"Changed elsewhere to {now} since this page was opened. Save again to keep yours."
            )
        return cleaned

    def _take_over(self, shown: dict[str, Any], stored: dict[str, Any]) -> None:
        moved = {name: now for name, now in stored.items() if name in shown and shown[name] != now}
        if not moved:  # a page of many rows would copy all it was sent for each of them
            return
        data = copy.deepcopy(self.data)  # what was sent cannot be changed
        for name, now in moved.items():
            typed = self._typed(name)
            if typed == shown[name]:
                _put(data, self.add_prefix(name), now)
            elif typed != now:
                self.meanwhile[name] = now
        self.data = data

    def _stored(self, name: str) -> Any:
        field = self.fields[name]
        value = field.prepare_value(self.get_initial_for_field(field, name))
        if isinstance(field.widget, forms.CheckboxInput):
            return bool(value)
        return _plain(field.widget, field.widget.format_value(value))

    def _typed(self, name: str) -> Any:
        widget = self.fields[name].widget
        value = widget.value_from_datadict(self.data, self.files, self.add_prefix(name))
        return value if isinstance(value, bool) else _plain(widget, value)

    def _in_words(self, name: str, text: Any) -> str:
        if isinstance(text, bool):
            return "ticked" if text else "not ticked"
        choices = {str(key): str(label) for key, label in getattr(self.fields[name], "choices", ())}
        picked: list[str] = text if isinstance(text, list) else [text]
        words = [choices.get(one, one) for one in picked]
        return f"“{', '.join(words)}”" if any(words) else "blank"


def _plain(widget: forms.Widget, value: Any) -> Any:
    """Return a value of an input as text, of many choices as a sorted list; with one way to end a line."""
    many = getattr(widget, "allow_multiple_selected", False)
    if many:
        return sorted(str(one) for one in value or [])
    one = value[0] if isinstance(value, list | tuple) and value else value
    return "" if one in (None, [], ()) else str(one).replace("\r\n", "\n").strip()


def _put(data: Any, name: str, value: Any) -> None:
    if isinstance(value, list):
        data.setlist(name, value)
    elif value is False:
        data.pop(name, None)
    else:
        data[name] = "on" if value is True else value


def _texts(sent: Any) -> dict[str, Any]:
    """Return what a page says it showed; nothing where that cannot be read."""
    try:
        found = json.loads(sent or "{}")
    except (TypeError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}
