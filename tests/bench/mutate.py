"""Changes one thing at a time in a file that must not be wrong, and lists the changes no test notices.

By hand: ``uv run --group dev python tests/bench/mutate.py --count 10 checklists/rules/holds.py``; no file
means all of them, ``--seed`` makes other changes, ``--only LINE`` tries every change of a line. Each change
is tried in a process of its own, forked from one that has read the libraries; the tree is left alone, and
must not change meanwhile.
What survives is a hole, or harmless: a value the inputs cannot take, a pass that is turned down elsewhere,
words.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import importlib._bootstrap_external as loading
import os
import random
import signal
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).parents[2]
SEED: Final = "coachlight 2"
UNIT, WEB, BOOK, LAWS = "tests/unit", "tests/web", "tests/published", "tests/property"
TABLE: Final = f"{UNIT}/services/test_rights_table.py::test_who_may_comes_through_and_nobody_else"
FOREIGN: Final = f"{UNIT}/services/test_foreign_ids.py"
_RECORD: Final = [f"{UNIT}/checklists/test_{name}.py" for name in ("recording", "events_twice", "hold_table")]
_QUOTE: Final = [f"{UNIT}/jobs/test_{name}.py" for name in ("quote_terms", "quote_services")]
_BRIDGE: Final = [f"{UNIT}/jobs/test_{name}.py" for name in ("bridge_values", "sizing_bridge")]


def _sizing(*units: str, book: tuple[str, ...] = (), laws: tuple[str, ...] = ()) -> list[str]:
    """Return the tests of a file of the engine: its own first, then the laws, then the book."""
    return [
        *(f"{UNIT}/sizing/test_{name}.py" for name in (*units, "whole_designs")),
        *(f"{BOOK}/test_{name}.py" for name in book),
        *(f"{LAWS}/test_{name}.py" for name in (*laws, "missing_facts")),
    ]


_CABLE: Final = (
    "circuits",
    "ocpd",
    "fault_current",
    "device_proposal",
    "policy",
    "ampacity",
    "scenarios_wiring",
)
_CHARGE: Final = ("bank_and_chargers", "alternator", "first_charge", "scenarios_battery")
#: The files where a fault hurts people or money, each with the tests that are asked, in this order.
FILES: Final[dict[str, list[str]]] = {
    "checklists/rules/reducer.py": [f"{UNIT}/checklists/test_reducer.py", *_RECORD[1:]],
    "checklists/rules/holds.py": [_RECORD[2], f"{UNIT}/checklists/test_holds.py"],
    "checklists/rules/judging.py": [
        _RECORD[1], f"{UNIT}/checklists/test_steps.py", f"{UNIT}/checklists/test_readings.py",
        f"{UNIT}/checklists/test_holds.py", f"{UNIT}/checklists/test_tablet_rules.py", _RECORD[2],
    ],
    "checklists/record/events.py": [
        *_RECORD, FOREIGN, f"{WEB}/checklists/test_events.py", TABLE + "[opened]",
    ],
    "jobs/shop/rights.py": [f"{UNIT}/jobs/test_rights.py", TABLE + "[design]", TABLE + "[opened]"],
    "jobs/models/scope.py": [FOREIGN],
    "jobs/quote/draft.py": [*_QUOTE, TABLE + "[priced]"],
    "jobs/quote/send.py": [*_QUOTE, TABLE + "[offered]"],
    "jobs/quote/answer.py": _QUOTE,
    "jobs/quote/money.py": [f"{UNIT}/jobs/test_money.py", *_QUOTE],
    "jobs/parts/power_inputs.py": [*_BRIDGE, f"{UNIT}/jobs/test_roof_state.py"],
    "jobs/engine/system.py": _BRIDGE,
    "sizing/cable/overcurrent.py": _sizing(*_CABLE, book=("ocpd_and_currents", "fault_current")),
    "sizing/cable/ampacity.py": _sizing(
        "ampacity", "circuits",
        book=("ampacity_nec_2017", "ampacity_33cfr_e11", "ampacity_bs_7671", "ampacity_worked_cases"),
        laws=("wire",),
    ),
    "sizing/circuits/circuit_place.py": _sizing(*_CABLE, book=("fault_current",)),
    "sizing/circuits/circuit_checks.py": _sizing(*_CABLE, "rewiring", laws=("same_by_parts",)),
    "sizing/array/controller.py": _sizing(
        "scenarios_strings", "plans", book=("strings_nec_690_7",),
        laws=("same_by_parts", "strings_and_charging"),
    ),
    "sizing/battery/charging.py": _sizing(*_CHARGE, laws=("chargers", "same_by_parts")),
    "sizing/battery/bank.py": _sizing(*_CHARGE, book=("battery_sums",), laws=("chargers", "same_by_parts")),
    "sizing/battery/cold.py": _sizing(*_CHARGE, laws=("chargers", "same_by_parts")),
    "sizing/roof/mechanical.py": _sizing("feet", "scenarios_roof", book=("mechanical_sums",)),
    "sizing/roof/weight.py": _sizing("axles", "scenarios_roof"),
    "sizing/roof/axles.py": _sizing("axles", "scenarios_roof"),
}  # fmt: skip
_FLIP: Final = {
    ast.Lt: ">=", ast.LtE: ">", ast.Gt: "<=", ast.GtE: "<", ast.Eq: "!=", ast.NotEq: "==", ast.In: "not in",
    ast.NotIn: "in", ast.Is: "is not", ast.IsNot: "is",
}  # fmt: skip
_BOUNDARY: Final = {ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">"}
_ARITH: Final = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*"}
_NAMES: Final = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True)
class Change:
    """One change of a file: where, of which kind, and what stands there instead."""

    kind: str
    line: int
    start: int
    end: int
    old: str
    new: str

    def of(self, source: str) -> str:
        """Return the source with the change made."""
        return source[: self.start] + self.new + source[self.end :]

    def __str__(self) -> str:
        old, new = (" ".join(text.split())[:90] for text in (self.old, self.new))
        return f"{self.line} ({self.kind}): `{old}` → `{new}`"


class Finder:
    """Finds every change that can be made in a source."""

    def __init__(self, source: str) -> None:
        self.source, self.tree = source, ast.parse(source)
        self._starts = [0]
        for line in source.splitlines(keepends=True):
            self._starts.append(self._starts[-1] + len(line))
        self._lines = source.splitlines(keepends=True)

    def changes(self) -> list[Change]:
        """Return all changes, words for people and types left alone."""
        words = (part for node in ast.walk(self.tree) for part in _not_code(node))
        skipped = {id(one) for part in words for one in ast.walk(part)}
        return [
            change
            for node in ast.walk(self.tree)
            if id(node) not in skipped
            for change in self._of(node)
            if change.old != change.new
        ]

    def _at(self, line: int, column: int) -> int:
        return self._starts[line - 1] + len(self._lines[line - 1].encode()[:column].decode())

    def _change(self, kind: str, node: Any, new: str) -> Change:
        start, end = self._at(node.lineno, node.col_offset), self._at(node.end_lineno, node.end_col_offset)
        return Change(kind, node.lineno, start, end, self.source[start:end], new)

    def _text(self, node: ast.AST) -> str:
        return ast.unparse(node)

    def _of(self, node: ast.AST) -> Iterator[Change]:
        if isinstance(node, ast.Compare) and len(node.ops) == 1:
            yield from self._compared(node)
        elif isinstance(node, ast.BoolOp):
            yield from self._joined(node)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield self._change("unnot", node, f"bool({self._text(node.operand)})")
        elif isinstance(node, ast.BinOp) and type(node.op) in _ARITH:
            new = f"({self._text(node.left)} {_ARITH[type(node.op)]} {self._text(node.right)})"
            yield self._change("arith", node, new)
        elif isinstance(node, ast.Constant):
            yield from self._constant(node)
        elif isinstance(node, ast.Call):
            yield from self._called(node)
        elif isinstance(node, ast.If):
            yield self._change("guard-off", node.test, "False")
            yield self._change("cond-true", node.test, "True")
        elif isinstance(node, ast.IfExp):
            yield self._change("cond-true", node.test, "True")
            yield self._change("cond-false", node.test, "False")
        elif isinstance(node, ast.comprehension):
            for test in node.ifs:
                yield self._change("filter-off", test, "True")
        elif _does_something(node):
            yield self._change("stmt-off", node, "pass")
        elif isinstance(node, ast.Attribute) and self._text(node.value) == "Verdict":
            worse = {"BLOCK": "CAUTION", "CAUTION": "PASS", "PASS": "CAUTION", "NOT_ENOUGH_DATA": "PASS"}
            yield self._change("verdict", node, f"Verdict.{worse[node.attr]}")

    def _compared(self, node: ast.Compare) -> Iterator[Change]:
        left, op, right = self._text(node.left), type(node.ops[0]), self._text(node.comparators[0])
        yield self._change("flip", node, f"({left} {_FLIP[op]} {right})")
        if op in _BOUNDARY:
            yield self._change("boundary", node, f"({left} {_BOUNDARY[op]} {right})")

    def _joined(self, node: ast.BoolOp) -> Iterator[Change]:
        word, other = (" and ", " or ") if isinstance(node.op, ast.And) else (" or ", " and ")
        parts = [f"({self._text(one)})" for one in node.values]
        yield self._change("bool", node, f"({other.join(parts)})")
        for place in range(len(parts)):
            rest = parts[:place] + parts[place + 1 :]
            yield self._change("drop-operand", node, f"({word.join(rest)})")

    def _constant(self, node: ast.Constant) -> Iterator[Change]:
        value = node.value
        if isinstance(value, bool):
            yield self._change("const", node, str(not value))
        elif isinstance(value, int):
            yield self._change("const", node, str(value + 1))
        elif isinstance(value, float):
            yield self._change("const", node, repr(value * 1.1 if value else 1.0))

    def _called(self, node: ast.Call) -> Iterator[Change]:
        if isinstance(node.func, ast.Name) and node.func.id in _NAMES:
            kind = "minmax" if node.func.id in {"min", "max"} else "anyall"
            yield self._change(kind, node.func, _NAMES[node.func.id])
        if isinstance(node.func, ast.Attribute) and node.func.attr in {"filter", "exclude"}:
            yield self._change("unfilter", node, f"{self._text(node.func.value)}.all()")
        if isinstance(node.func, ast.Name) and node.func.id == "require" and len(node.args) == 3:
            whom = self._text(node.args[0]), self._text(node.args[1])
            yield self._change("permission-swap", node, f'require({whom[0]}, {whom[1]}, "is_member")')


def _does_something(node: ast.AST) -> bool:
    """Return whether a statement is a call, a yield or the setting of an attribute."""
    if isinstance(node, ast.Expr):
        return isinstance(node.value, ast.Call | ast.Yield | ast.YieldFrom)
    target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", None)
    return isinstance(node, ast.Assign | ast.AugAssign) and isinstance(target, ast.Attribute)


def _not_code(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what of a node is no code that is judged: types, formatted words, imports."""
    if isinstance(node, ast.FunctionDef):
        told = (one.annotation for one in ast.walk(node.args) if isinstance(one, ast.arg))
        yield from (one for one in told if one)
        if node.returns:
            yield node.returns
        yield from node.decorator_list
    if isinstance(node, ast.ClassDef):
        yield from node.decorator_list
    if isinstance(node, ast.AnnAssign):
        yield node.annotation
    if isinstance(node, ast.JoinedStr | ast.TypeAlias | ast.Import | ast.ImportFrom | ast.Assert):
        yield node


def chosen(source: str, name: str, count: int, seed: str) -> list[Change]:
    """Return some of the changes of a file: kinds in turn, so that no kind crowds out the others."""
    rng = random.Random(f"{seed} {name}")
    by_kind: dict[str, list[Change]] = {}
    for change in Finder(source).changes():
        by_kind.setdefault(change.kind, []).append(change)
    for changes in by_kind.values():
        rng.shuffle(changes)
    taken: list[Change] = []
    while len(taken) < count and any(by_kind.values()):
        for kind in rng.sample(sorted(by_kind), len(by_kind)):
            if by_kind[kind] and len(taken) < count:
                taken.append(by_kind[kind].pop())
    return sorted(taken, key=lambda change: change.line)


def tried(name: str, source: str, tests: list[str], most_s: float) -> str:
    """Run tests on a changed file in a process of its own; return "noticed", "survived" or "late"."""
    pid = os.fork()
    if pid == 0:
        _run(name, source, tests)
    end = time.monotonic() + most_s
    while time.monotonic() < end:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            return "survived" if os.waitstatus_to_exitcode(status) == 0 else "noticed"
        time.sleep(0.05)
    os.killpg(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return "late"


def _run(name: str, source: str, tests: list[str]) -> None:
    """Be the child: read the changed source in place of the file, run the tests, end."""
    os.setpgid(0, 0)
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    path, loader = str(ROOT / name), loading.SourceFileLoader
    usual = loader.get_code

    def get_code(self: Any, fullname: str) -> Any:
        return compile(source, path, "exec") if self.path == path else usual(self, fullname)

    loader.get_code = get_code  # type: ignore[method-assign]
    import pytest

    code = 1
    try:
        code = pytest.main(["-x", "-q", "-n", "0", "-p", "no:cacheprovider", "-p", "no:randomly", *tests])
    finally:
        os._exit(int(code))


def main(argv: list[str]) -> None:
    """Measure the files named, print a row for each and every survivor."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("files", nargs="*", default=list(FILES))
    asked.add_argument("--count", type=int, default=10)
    asked.add_argument("--seed", default=SEED)
    asked.add_argument("--most-s", type=float, default=300.0)
    asked.add_argument("--trust", action="store_true", help="do not first run the tests on the file as it is")
    asked.add_argument("--only", type=int, nargs="*", help="lines to try again")
    given = asked.parse_args(argv)
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    for library in ("django", "numpy", "pvlib", "pydantic"):  # read once for all children
        importlib.import_module(library)

    if not any(name.startswith("sizing") for name in given.files):
        importlib.import_module("sizing.system.system")

    for name in given.files:
        source, tests = (ROOT / name).read_text(), FILES[name]
        if not given.trust and tried(name, source, tests, given.most_s) != "survived":
            print(f"{name}: its tests fail or are late without any change", flush=True)
            continue
        found = chosen(source, name, given.count, given.seed)
        if given.only:
            found = [change for change in Finder(source).changes() if change.line in given.only]
        told = [(change, tried(name, change.of(source), tests, given.most_s)) for change in found]
        missed = [change for change, outcome in told if outcome == "survived"]
        print(f"| {name} | {len(told)} | {len(told) - len(missed)} | {len(missed)} |", flush=True)
        for change in missed:
            print(f"    {change}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
