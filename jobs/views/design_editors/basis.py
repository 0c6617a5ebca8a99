"""The form of what a whole revision rests on."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from jobs.design.basis import basis_change
from jobs.design.revision import Change
from jobs.forms.design import (
    BasisForm,
)
from jobs.views.design_editors.editor import Editor, initial_of


class BasisEditor(Editor):
    """What the whole revision rests on."""

    slug, title = "basis", "Basis"

    def build(self) -> None:
        """Make the form."""
        initial = initial_of(self.design, "option", "rule_set", "gear_mass_kg", "note")
        self.basis = BasisForm(self._bound(""), prefix="basis", units=self.shop.units, initial=initial)

    def forms(self) -> Iterable[Any]:
        """Return the one form."""
        return (self.basis,)

    def save(self, change: Change) -> None:
        """Set the basis."""
        basis_change(design=self.design, basis=self.basis.cleaned_data, change=change)
