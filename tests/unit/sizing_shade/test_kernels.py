"""How kernels call one another."""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from pathlib import Path

import pytest

import sizing.shade

FILES = sorted(Path(sizing.shade.__file__).parent.glob("kernel_*.py"))


def bare_numbers(file: Path) -> Iterator[str]:
    """Yield every call of a kernel in that file that hands over a whole number or a truth of Python's own."""
    module = importlib.import_module(f"sizing.shade.{file.stem}")
    for call in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Name)):
            continue
        called = getattr(module, call.func.id, None)
        if not getattr(called, "__module__", "").startswith("sizing.shade.kernel_") or isinstance(
            called, type
        ):
            continue
        for given in call.args:
            value = getattr(module, given.id, None) if isinstance(given, ast.Name) else None
            value = given.value if isinstance(given, ast.Constant) else value
            if type(value) in (int, bool):
                yield f"{file.name}:{given.lineno}: {call.func.id}(… {ast.unparse(given)} …)"


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_no_kernel_is_compiled_anew_for_a_bare_number(file: Path) -> None:
    """Numba's manual, "Literally and literal dispatch": a constant in a call may have a type of its own."""
    assert list(bare_numbers(file)) == []
