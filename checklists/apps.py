"""Opens the install record when a customer accepts a quote."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig


class ChecklistsConfig(AppConfig):
    name = "checklists"

    def ready(self) -> None:
        """Listen for accepted quotes."""
        from jobs.quote.accepted import quote_accepted

        quote_accepted.connect(open_checklist, dispatch_uid="checklists.open")


def open_checklist(sender: Any, *, quote: Any, at: Any, **_: Any) -> None:
    """Open the install record inside the accepting transaction; if this fails, the acceptance fails too."""
    from checklists.office.opening import checklist_open

    checklist_open(quote=quote, at=at)
