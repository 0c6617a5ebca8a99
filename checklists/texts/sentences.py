"""Sentences that the rules make of their parts, and how they are said in another language.

The rules write English, on server and tablet alike: overrides and hashes hold that. Only where a sentence is
shown is it matched against these forms, and each of its parts said again. Nothing is decided by it.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from typing import Final

#: Forms, the first that fits counts; ``{name}`` stands for any words, which are said again by themselves.
SENTENCES: Final = (
    "{field}: “{line}” is not ticked",
    "{field}: {count} photo missing",
    "{field}: {count} photos missing",
    "{field}: missing",
    "{field}: counts only from a lead technician or the owner",
    "{field}: counts only from the licensed person or the owner",
    "{field}: counts only from the person named, signed in",
    "{field}: done on revision {number}; the plan has changed, look again",
    "{field}: outside the band.",
    "{field}: does not match the job.",
    "{field}: recorded twice and different: {values}. Which one is right?",
    "{field}: enter the sun and the cell temperature first ({code}).",
    "{field}: enter first what the inverter's manual says ({code}).",
    "{field}: not as the manual says: inverter off, the licensed person decides.",
    "{field}: under 0.85 of what this sun should give.",
    "{field}: no expected value: the panel's data sheet lacks its coefficient.",
    "{field}: Negative: the pair is reversed. Stop, do not close the PV switch.",
    "{field}: Not read yet.",
    "{field}: {what}: worked at check-in and fails now.",
    "{field}: as at check-in.",
    "{step}: this hold has not passed",
    "{step} has not passed",
    "{step} is not done",
    "nor have {codes}",
    "nor are {codes}",
    "Change order {number} waits for the customer's signature",
    "{name} has not read the safety lines of {letter}",
    "{step} was recorded again after Go on {day} at {time} by {name}: check and give Go again",
    "{step} was recorded again after Go at {time} by {name}: check and give Go again",
    "{step} was taken back after Go on {day} at {time} by {name}: check and give Go again",
    "{step} was taken back after Go at {time} by {name}: check and give Go again",
    "{name} did the work: somebody else looks it over",
    "Batteries rest {spread} V apart; join them only within 0.05 V",
    "Serial {serial} is also recorded at “{step}”",
    "The technician has not signed",
    "The owner has not signed",
    "The licensed person has not signed",
    "The customer has not signed",
    "Insulation of the PV leads: not enough data.",
    "{have} of {count} photos, if any",
    "{have} of {count} photos",
    "{have} of {count} photo, if any",
    "{have} of {count} photo",
    "{have} photos, {count} asked for",
    "Values as built: {problem}",
    "{field}: a number is needed.",
    "{field}: a whole number is needed.",
    "{field} must be {low} to {high}.",
    "{field}: nothing was written.",
    "{field}: nothing was ticked.",
    "{field}: “{line}” comes first.",
    "{field}: a date like 2027-03-31 is needed.",
    "{field}: a month like 2027-03 is needed.",
    "{field}: the year must be 1990 to 2100.",
    "Recorded twice and different. Which one is right? Record it: both stay in the history.",
    "signed by {name}, typed name",
    "signed by {name}",
    "{code} {title}",
    "{head}: {tail}",
)
#: Parts that are said again; names, numbers and codes stay.
_SAID_AGAIN: Final = frozenset({"field", "line", "step", "what", "title", "head", "tail"})
_PART: Final = re.compile(r"\\\{(\w+)\\\}")
#: Parts that are a code of a step: “{code} {title}” would fit half of all sentences otherwise.
_CODES: Final = r"[A-Z]\d+[a-z]?"


@functools.cache
def _forms(more: tuple[str, ...]) -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Return the forms with what finds them: texts of steps with parts in them first."""
    return tuple((text, _pattern(text)) for text in (*more, *SENTENCES))


def _pattern(text: str) -> re.Pattern[str]:
    def part(found: re.Match[str]) -> str:
        name = found[1]
        return f"(?P<{name}>{_CODES if name == 'code' else '.+?'})"

    return re.compile(_PART.sub(part, re.escape(text)), re.DOTALL)


def spoken(sentence: str, said: Callable[[str], str], more: tuple[str, ...] = ()) -> str:
    """Return a sentence as ``said`` says texts: whole where known, else by its form, of ``more`` first."""
    whole = said(sentence)
    if whole != sentence or not sentence:
        return whole
    for text, pattern in _forms(more):
        found = pattern.fullmatch(sentence)
        if found is None:
            continue
        words = found.groupdict()
        parts = {
            name: spoken(part, said, more) if name in _SAID_AGAIN else part for name, part in words.items()
        }
        form = said(text)
        if form != text or parts != words:
            return form.format_map(parts)
    return sentence
