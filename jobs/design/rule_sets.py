"""Which circuits of a stored answer the rule sets disagree about, laid out side by side."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import sizing
from jobs.engine.system import input_from_json, question_json
from jobs.models import SizingRun

_METHODS: Final = {
    sizing.StringFuseMethod.NFPA_70: "NFPA 70",
    sizing.StringFuseMethod.IEC_62548: "IEC 62548",
    sizing.StringFuseMethod.IEC_60364_7_712: "IEC 60364-7-712",
}


@dataclass(frozen=True, slots=True)
class RuleSets:
    """The rule sets' titles, circuits they disagree about, and the string-fuse sums where those differ."""

    titles: tuple[tuple[str, bool], ...]  # title, whether the design is judged by it
    circuits: tuple[sizing.CircuitComparison, ...]
    n_circuits: int
    string_fuses: tuple[tuple[str, sizing.StringFuse], ...]

    @property
    def disagree(self) -> bool:
        """Return whether there is anything to compare."""
        return bool(self.circuits or self.string_fuses)


def rule_sets_of(run: SizingRun) -> RuleSets | None:
    """Return the comparison of a stored question; None where an older engine answered it.

    Nothing is stored: the question is, and the same engine always answers the same. A process remembers the
    questions it compared last.
    """
    if run.engine_version != sizing.ENGINE_VERSION:
        return None
    return _compared(json.dumps(question_json(run)))


@lru_cache(maxsize=256)
def _compared(question: str) -> RuleSets:
    system = input_from_json(json.loads(question))
    found = sizing.compare_rule_sets(system)
    fuses = next((each.string_fuses for each in found if each.string_fuses), ())
    differ = len({(each.is_required, each.rating_a) for each in fuses}) > 1
    return RuleSets(
        titles=tuple((sizing.rule_set_title(each), each is system.rule_set) for each in sizing.RuleSet),
        circuits=tuple(each for each in found if each.disagrees),
        n_circuits=len(found),
        string_fuses=tuple((_METHODS[each.method], each) for each in fuses) if differ else (),
    )
