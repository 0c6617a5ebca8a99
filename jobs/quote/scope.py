"""What is in, out or an allowance: the lines a new quote starts with, as the shop says them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from jobs.models import Design, ExistingItem, ScopeItem, ScopeText, Shop

_IN, _OUT, _ALLOWANCE = ScopeItem.Answer.IN, ScopeItem.Answer.OUT, ScopeItem.Answer.ALLOWANCE
_AUTO: Final = ScopeText.Answer.AUTO


@dataclass(frozen=True, slots=True)
class ScopeDraft:
    """One thing that is in, out or covered by an allowance."""

    text: str
    answer: str
    note: str = ""


def scope_list(codes: set[str], design: Design, shop: Shop) -> list[ScopeDraft]:
    """Return the scope list of a new quote; ``codes`` are the tasks it asks for."""
    takes_away = any(gone(design, kind) for kind in (ExistingItem.Kind.BATTERY, ExistingItem.Kind.PANEL))
    found = starting_scope(codes, has_panels=bool(design.panels.all()), takes_away=takes_away)
    return list(as_said(found, list(ScopeText.objects.of_shop(shop))).values())


def as_said(found: dict[str, ScopeDraft], texts: list[ScopeText]) -> dict[str, ScopeDraft]:
    """Return the lines in the shop's words, its own lines after them; what it does not print is left out."""
    said = {**found}
    for text in texts:
        key = text.key or f"own-{text.pk}"
        start = said.pop(key, None) if not text.is_shown else said.get(key)
        if not text.is_shown or (text.key and start is None):
            continue
        if text.answer == _AUTO and start:
            said[key] = ScopeDraft(text.text, start.answer, text.note or start.note)
        else:
            answer = _OUT if text.answer == _AUTO else text.answer
            said[key] = ScopeDraft(text.text, str(answer), text.note)
    return said


def gone(design: Design, kind: str) -> int:
    """Return how many things of a kind leave the vehicle."""
    fates = {ExistingItem.Fate.REMOVE, ExistingItem.Fate.REPLACE}
    items = design.job.survey.existing_items.all()
    return sum(item.quantity for item in items if item.kind == kind and item.fate in fates)


def starting_scope(codes: set[str], *, has_panels: bool, takes_away: bool) -> dict[str, ScopeDraft]:
    """Return the things people assume are in the price by key, each said to be in, out or an allowance."""
    roof = ScopeDraft("Rot and soft roof", _ALLOWANCE, "Up to the roof allowance; beyond it by change order")

    def asked(text: str, is_in: bool, note: str = "") -> ScopeDraft:
        return ScopeDraft(text, _IN if is_in else _OUT, note)

    return {
        "old_panels": asked("Removing old panels", "L02" in codes),
        "hole_patches": asked("Patching old holes", "L02" in codes),
        "reseal": asked("Resealing the roof beyond our own holes", "L04" in codes),
        "rot": roof if has_panels else asked("Rot and soft roof", False, "By change order"),
        "converter": asked("Replacing or disabling the old converter", "L17" in codes),
        "generator_start": asked("Generator start wiring", False),
        "wire_faults": asked("Faults in existing wiring", False, "By change order, itemized"),
        "tow_monitor": asked("Monitor in the tow vehicle", False),
        "licence": asked("License and permit fees", False, "Extra, if the law requires them"),
        "fridge": asked("Changing the fridge", False),
        "soft_starter": asked("Soft starter on the air conditioner", "L20" in codes),
        "second_visit": asked("Second visit", False),
        "storage": asked("Storage fees", False),
        "roof_cleaning": asked("Cleaning the roof where we work", "L03" in codes),
        "tilt_lesson": asked("Showing you how to tilt the panels", "L06" in codes),
        "disposal": asked("Hauling old parts away", takes_away),
    }
