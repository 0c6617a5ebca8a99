"""The tablet opens and locks the same steps as the server, on the way through every job there can be."""

from __future__ import annotations

from tests.js import needs_node, run_js
from tests.unit.checklists import paper_job as paper
from tests.unit.checklists.test_gates import SCOPES, worked

WORKED = """
import { Holds } from "./rules/holds.js";
const worked = ({ job, done }, left) => {
  const state = new Map();
  const reached = new Set();
  for (;;) {
    const holds = new Holds({ job, state: new Map(state), whole: new Map(state), signedParts: data.signed });
    const open = holds.inScope.filter((step) => !holds.locks(step).length);
    for (const step of open) reached.add(step.pk);
    const fresh = open.filter((step) => !state.has(step.pk) && step.pk !== left);
    if (!fresh.length) return [...reached].sort((a, b) => a - b);
    for (const step of fresh) state.set(step.pk, done[step.pk]);
  }
};
answer(data.jobs.map((each) => each.left.map((left) => worked(each, left))));
"""


@needs_node
def test_the_tablet_reaches_the_same_steps_at_every_turn():
    """Every set of switches, worked through without the go, without all off and locked, and to the end."""
    jobs, wanted = [], []
    for scope in SCOPES:
        install = paper.job(scope)
        left = [0, *(step.pk for step in install.in_scope if step.role in {"go", "locked_out"})]
        jobs.append(paper.on_tablet(install) | {"left": left})
        wanted.append([sorted(worked(install, lambda step, pk=pk: step.pk == pk)[1]) for pk in left])
    assert run_js(WORKED, {"jobs": jobs, "signed": sorted(paper.SIGNED)}) == wanted
