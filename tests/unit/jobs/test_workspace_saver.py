"""How the workspace's script stores a layout: a refused one once, a server out of reach ever less often.

The clock is a stand-in: every wait is written down and then over at once.
"""

from __future__ import annotations

from tests.js import ROOT, needs_node, run_js

pytestmark = needs_node
WORKSPACE = ROOT / "static" / "js" / "workspace"
SCRIPT = """
const waits = [], timers = [], states = [];
let sent = 0, key = 1;
globalThis.addEventListener = () => {};
globalThis.document = { body: { getAttribute: () => '{"X-CSRFToken": "t"}' } };
globalThis.setTimeout = (act, rest) => { waits.push(rest); timers.push(act); return timers.length; };
globalThis.clearTimeout = (timer) => { if (timer) timers[timer - 1] = null; };
globalThis.fetch = async () => {
  const status = data.statuses[Math.min(sent, data.statuses.length - 1)];
  sent += 1;
  if (!status) throw new TypeError("no network");
  const body = status === 200 ? { edit_count: 1 } : { error: "Panel 4: too far." };
  return { ok: status === 200, status, json: async () => body };
};
const { Saver } = await import(data.module);
const store = {
  layout: {}, seen: 0, isDirty: true, get key() { return key; },
  stored() { this.isDirty = false; },
};
const saver = new Saver("/save", store, (name, words) => states.push([name, words ?? ""]), () => {});
const run = async (most) => {
  for (let n = 0; n < most; n += 1) {
    const act = timers.findLast(Boolean);
    if (!act) break;
    timers[timers.lastIndexOf(act)] = null;
    await act();
  }
};
saver.soon(0);
await run(data.turns ?? 30);
if (data.settle) for (let n = 0; n < 5; n += 1) await saver.settled();
saver.soon(0);
await run(data.turns ?? 30);
const before = sent;
if (data.change) { key += 1; saver.soon(0); await run(1); }
answer({ sent, before, waits, states, isDirty: store.isDirty });
"""


def saved(statuses, **more):
    """Return what the script did while the server answered so."""
    module = (WORKSPACE / "talk.js").as_uri()
    return run_js(SCRIPT, {"statuses": statuses, "module": module, **more}, folder=WORKSPACE)


def test_a_good_layout_is_stored_once():
    assert saved([200])["sent"] == 1


def test_a_refused_layout_is_sent_once_however_often_it_is_asked_for():
    got = saved([422], settle=True)
    assert got["sent"] == 1
    assert [words for name, words in got["states"] if name == "refused"] == ["Panel 4: too far."]


def test_a_layout_that_may_not_be_stored_is_sent_once():
    assert saved([403], settle=True)["sent"] == 1


def test_a_change_after_a_refusal_is_sent():
    got = saved([422, 200], settle=True, change=True)
    assert (got["before"], got["sent"], got["isDirty"]) == (1, 2, False)


def test_a_server_out_of_reach_is_asked_ever_less_often():
    for statuses in ([0], [503]):
        waits = [rest for rest in saved(statuses, turns=6)["waits"] if rest]
        assert waits[:4] == [4000, 8000, 16000, 32000]
        assert max(waits) <= 64000


def test_waiting_for_it_to_be_stored_ends_when_the_server_is_out_of_reach():
    got = saved([0], turns=1, settle=True)
    assert got["sent"] <= 8  # one each time somebody asked, not twenty
