"""Works out what can be done about a value as built that made a check worse: options with verdicts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

import sizing
from jobs.engine.system import question_of
from jobs.models import SizingRun

#: Checks of a circuit that another size or another string plan can cure.
_BY_WIRE: Final = ("/drop", "/ampacity", "/ocpd_cable", "/arrival", "/smallest")
#: Ways out in words, by the end of a check's key; common practice, no source.
_IN_WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "/ocpd_cable": ("Fit a fuse no larger than the wire carries.", "Pull a thicker wire."),
    "/protection": ("Fit the fuse or breaker before anything is energized.",),
    "/ocpd_distance": ("Move the fuse nearer to the post.", "Sheath the cable all the way to the fuse."),
    "/interrupting": ("Fit a fuse with the interrupting rating the bank asks for.",),
    "/ocpd_voltage": ("Fit a fuse rated for this DC voltage.",),
    "/cold_voc": ("Fewer panels in series.", "A controller with a higher voltage limit."),
    "/hot_run": ("One more panel in series.",),
    "/hot_start": ("One more panel in series.",),
    "/string_fuse": ("Fit the string fuse the schedule asks for.",),
    "/series_fuse": ("Fit a string fuse no larger than the panel allows.",),
    "/foot": (
        "Shift the panel so that its feet stand on rafters.",
        "Backing plates under the feet that missed.",
        "Blind fasteners with a tested value.",
    ),
    "/charge_sum": ("Limit one charger.", "Interlock two chargers.", "A larger bank."),
    "/cargo_left": ("Carry less water.", "Fewer panels or batteries.", "Weigh the vehicle on a scale."),
}


def remedies_of(run: SizingRun, found: Iterable[sizing.Deviation]) -> dict[str, list[dict[str, Any]]]:
    """Return the options for each deviation that is no longer a pass, by the key of its check."""
    worse = [each for each in found if each.after.verdict is not sizing.Verdict.PASS]
    if not worse:
        return {}
    system = question_of(run)
    by_circuit: dict[str, list[dict[str, Any]]] = {}
    out: dict[str, list[dict[str, Any]]] = {}
    for each in worse:
        options: list[dict[str, Any]] = []
        kind, _, name = each.after.subject.partition(":")
        if kind == "circuit" and each.key.endswith(_BY_WIRE):
            if name not in by_circuit:
                by_circuit[name] = _by_wire(system, name)
            options += by_circuit[name]
        options += [{"words": words} for words in _words(each.key)]
        out[each.key] = options
    return out


def _by_wire(system: sizing.SystemInput, circuit: str) -> list[dict[str, Any]]:
    try:
        options = sizing.wire_options(system, circuit)
    except sizing.InputOutOfRange:  # a circuit without a length has no other lengths either
        return []
    return [
        {
            "kind": option.kind,
            "words": _wording(option),
            "circuit": circuit,
            "gauge": "" if option.kind == "restring" else option.size_words,
            "run_len_m": option.run_len_m,
            "drop_fraction": option.drop_fraction,
            "verdict": str(option.verdict),
            "extra_copper_kg": option.extra_copper_kg,
            "reopens_strings": bool(option.reopens),
        }
        for option in options
    ]


def _wording(option: sizing.WireOption) -> str:
    """Return an option without its length and loss, which the page prints in the shop's units."""
    words = "as entered" if option.kind == "as_entered" else option.words.partition(":")[0]
    if option.kind == "as_entered":
        words = f"{option.size_words} {words}"
    return words[:1].upper() + words[1:]


def _words(key: str) -> tuple[str, ...]:
    for end, words in _IN_WORDS.items():
        if key.endswith(end) or (end == "/foot" and "/foot" in key):
            return words
    return ()
