"""Money never passes through binary floating point: the source is read for it.

In files that are money alone no float may stand at all. Elsewhere in the web's code no word of money may meet
one: be made of one, be turned into one, be annotated as one, be rounded by ``round`` or be counted with one.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
#: Files that hold money and nothing else.
MONEY_ALONE = (
    "common/currency.py", "jobs/models/money.py", "jobs/quote/money.py",
    "jobs/quote/lines.py", "jobs/quote/draft.py", "jobs/quote/agreed.py",
    "jobs/quote/prices.py", "jobs/quote/change_order.py", "jobs/quote/change_document.py",
    "jobs/forms/amounts.py", "jobs/forms/quote_lines.py", "jobs/forms/prices.py",
    *sorted(str(path.relative_to(ROOT)) for path in ROOT.glob("jobs/ledger/*.py")),
)  # fmt: skip
#: Where money is written, read and shown beside quantities.
ROOMS = (
    "jobs/quote", "jobs/ledger", "jobs/models", "jobs/forms", "jobs/views", "jobs/board", "jobs/shop",
    "jobs/parts", "jobs/customers", "jobs/schedule", "checklists/office", "config/demo",
)  # fmt: skip
#: Words that name money wherever they stand in a name.
_MONEY = re.compile(
    r"(^|_)(price|prices|cost|costs|amount|amounts|total|subtotal|tax|taxes|deposit|balance|paid|owed|credit"
    r"|fee|markup|margin|discount)(_|$)"
)
#: Names that hold one of the words and mean something else: quantities of the engine.
_NO_MONEY = re.compile(r"_(w|wh|v|a|m|mm|kg|k|c|h|s|ohm|mps|fraction_used)$|^total_h$|^array_margin")


def _is_float(node: ast.AST) -> bool:
    """Return whether a node makes a float: a literal with a point, or a call of ``float``."""
    if isinstance(node, ast.Constant):
        return isinstance(node.value, float)
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "float"


def _names(node: ast.AST) -> Iterator[str]:
    """Yield the money words a piece of code names."""
    for one in ast.walk(node):
        name = one.attr if isinstance(one, ast.Attribute) else one.id if isinstance(one, ast.Name) else ""
        if name and _MONEY.search(name) and not _NO_MONEY.search(name):
            yield name


def _meets(node: ast.AST) -> bool:
    """Return whether money and a float meet in this node."""
    match node:
        case ast.Call(func=ast.Name(id="float" | "round"), args=args):
            return any(True for arg in args for _ in _names(arg))
        case ast.BinOp(left=left, right=right):
            return any(_is_float(side) for side in (left, right)) and any(_names(node))
        case ast.Compare(left=left, comparators=others):
            return any(_is_float(side) for side in (left, *others)) and any(_names(node))
        case ast.AnnAssign(target=target, annotation=annotation):
            told = {one.id for one in ast.walk(annotation) if isinstance(one, ast.Name)}
            return "float" in told and any(_names(target))
        case ast.Assign(targets=targets, value=value):
            return _is_float(value) and any(name for target in targets for name in _names(target))
        case ast.keyword(arg=str(name), value=value):
            return _is_float(value) and bool(_MONEY.search(name)) and not _NO_MONEY.search(name)
        case ast.arg(arg=name, annotation=ast.AST() as annotation):
            told = {one.id for one in ast.walk(annotation) if isinstance(one, ast.Name)}
            return "float" in told and bool(_MONEY.search(name)) and not _NO_MONEY.search(name)
    return False


def floats(source: str) -> list[int]:
    """Return the lines of a file of money in which a float stands."""
    tree = ast.parse(source)
    return [
        node.lineno
        for node in ast.walk(tree)
        if (isinstance(node, ast.Constant) and isinstance(node.value, float))
        or (isinstance(node, ast.Name) and node.id in {"float", "round"})
        or (isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "math")
    ]


def meetings(source: str) -> list[int]:
    """Return the lines in which money meets a float."""
    return [getattr(node, "lineno", 0) for node in ast.walk(ast.parse(source)) if _meets(node)]


@pytest.mark.parametrize("name", MONEY_ALONE)
def test_no_float_stands_in_a_file_of_money(name):
    assert floats((ROOT / name).read_text()) == []


@pytest.mark.parametrize("room", ROOMS)
def test_money_meets_no_float_anywhere(room):
    found = {
        str(path.relative_to(ROOT)): lines
        for path in sorted((ROOT / room).rglob("*.py"))
        if "migrations" not in path.parts and (lines := meetings(path.read_text()))
    }
    assert found == {}


@pytest.mark.parametrize(
    "source",
    [
        "float(quote.total)", "round(line.amount, 2)", "total = 0.0", "price: float = 0", "price * 1.5",
        "line.unit_cost > 0.5", "Line(amount=1.5)", "def f(deposit: float): ...",
        "x = float(sum(a.tax for a in b))",
    ],
)  # fmt: skip
def test_a_float_is_seen_in_every_form(source):
    assert meetings(source)


def test_quantities_and_exact_numbers_are_left_alone():
    assert not meetings("row.total_wh * 1.5\nDecimal(quote.total) * Decimal('1.5')\nround(volts, 2)")


#: Printed sums: what stands for money in a template must go through ``|money``.
_SHOWN = re.compile(
    r"\{\{\s*([\w.]*\b(total|subtotal|amount|tax|deposit|unit_price|unit_cost|cost|price|deposit_paid"
    r"|owed_total|owed_deposit|new_total|direct_cost)|[\w.]*(totals|sums)\.(?!tax_text|margin_fraction)\w+)"
    r"\s*(\|(?!(?:[^}]*\|)?money)[^}]*)?\}\}"
)


def test_templates_print_money_with_its_currency():
    found = {
        f"{path.relative_to(ROOT)}: {hit.group()}"
        for folder in ("jobs", "pdf")
        for path in sorted((ROOT / "templates" / folder).rglob("*.html"))
        for hit in _SHOWN.finditer(path.read_text())
    }
    assert found == set()
