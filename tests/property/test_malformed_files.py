"""A file that was damaged or written by mistake: the command says so in one line, quickly, and never breaks.

Each file is a good design changed in one to three places: bytes lost, doubled or altered, values of another
kind, keys gone, doubled or misspelt, lists a hundred times as long. From a fixed seed, so that what fails
fails again; the number in the failure makes the file anew.
"""

from __future__ import annotations

import contextlib
import io
import json
import random
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from sizing import __main__
from sizing.files.jsonio import input_to_dict
from tests.designs import golden

SEED = 20_261_126
#: No file takes longer. [s]
MOST_S = 2.0
NONSENSE = (
    None, True, False, 0, -1, -0.0, 1e-320, 1e9, 10**400, 1.5, float("nan"), float("inf"), -float("inf"), "",
    "x", "12", "\ud800", "a" * 10_000, [], [[]], {}, {"": None}, [None], {"id": "p1"}, "p1", "controller:A",
)  # fmt: skip

Place = tuple[Any, Any]


def places(node: Any) -> Iterator[Place]:
    """Yield every holder in a document with each of its keys or indexes."""
    inside = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in inside:
        yield node, key
        yield from places(value)


def deep(rng: random.Random) -> Any:
    """Return a value nested beyond all reason."""
    value: Any = 1
    for _ in range(rng.randint(50, 400)):
        value = [value] if rng.random() < 0.5 else {"x": value}
    return value


def changed_value(data: dict[str, Any], rng: random.Random) -> None:
    holder, key = rng.choice(list(places(data)))
    holder[key] = rng.choice(NONSENSE)


def scaled_value(data: dict[str, Any], rng: random.Random) -> None:
    found = [one for one in places(data) if type(one[0][one[1]]) in (int, float)]
    holder, key = rng.choice(found)
    if abs(holder[key]) < 1e300:  # not what another change made of it
        holder[key] = holder[key] * rng.choice([-1, 0, 1e-6, 10, 1000, 1e12])


def lost(data: dict[str, Any], rng: random.Random) -> None:
    holder, key = rng.choice(list(places(data)))
    del holder[key]


def renamed(data: dict[str, Any], rng: random.Random) -> None:
    holder, key = rng.choice([one for one in places(data) if isinstance(one[0], dict)])
    holder[key[:-1] if rng.random() < 0.5 else key.upper()] = holder.pop(key)


def swapped(data: dict[str, Any], rng: random.Random) -> None:
    (one, a), (other, b) = rng.sample(list(places(data)), 2)
    one[a], other[b] = json.loads(json.dumps(other[b])), json.loads(json.dumps(one[a]))


def repeated(data: dict[str, Any], rng: random.Random) -> None:
    """Write a list many times over: names stand twice then."""
    found = [one for one in places(data) if isinstance(one[0][one[1]], list) and one[0][one[1]]]
    if not found:
        return
    holder, key = rng.choice(found)
    holder[key] = holder[key] * rng.choice([2, 3, 100])


def many(data: dict[str, Any], rng: random.Random) -> None:
    """Write a list of records many times over, each under a name of its own: nothing to refuse but size."""
    found = [
        one for one in places(data)
        if isinstance(one[0][one[1]], list) and one[0][one[1]] and isinstance(one[0][one[1]][0], dict)
    ]  # fmt: skip
    if not found:
        return
    holder, key = rng.choice(found)
    rows = [row for row in holder[key] if isinstance(row, dict)]
    copies = rng.choice([5, 20, 60])
    holder[key] = [
        {**row, **{name: f"{row[name]}~{number}" for name in ("id", "name") if name in row}}
        for number in range(copies)
        for row in rows
    ]


def nested(data: dict[str, Any], rng: random.Random) -> None:
    holder, key = rng.choice(list(places(data)))
    holder[key] = deep(rng)


IN_STRUCTURE: tuple[Callable[[dict[str, Any], random.Random], None], ...] = (
    changed_value, changed_value, scaled_value, scaled_value, lost, lost, renamed, swapped, repeated, many,
    nested,
)  # fmt: skip


def damaged(text: bytes, rng: random.Random) -> bytes:
    """Return a text some of whose bytes were lost, doubled or altered."""
    start = rng.randrange(len(text))
    end = min(len(text), start + rng.choice([1, 1, 2, 8, 100]))
    way = rng.randrange(6)
    if way == 0:
        return text[:start]
    if way == 1:
        return text[:start] + text[end:]
    if way == 2:
        return text[:end] + text[start:]
    if way == 3:
        return text[:start] + bytes(rng.randrange(256) for _ in range(end - start)) + text[end:]
    if way == 4:
        return (
            text[:start] + rng.choice([b'"', b"}", b"]", b",", b":", b"\x00", b"\xef\xbb\xbf"]) + text[start:]
        )
    return text[:start] + rng.choice([b"NaN", b"-Infinity", b"1e999", b"0x10", b"1.", b"'a'"]) + text[end:]


def mutated(number: int) -> bytes:
    """Return the file of this number."""
    rng = random.Random(SEED + number)
    data = json.loads(json.dumps(input_to_dict(golden())))
    text = b""
    if rng.random() < 0.75:
        for _ in range(rng.randint(1, 3)):
            rng.choice(IN_STRUCTURE)(data, rng)
    text = json.dumps(data).encode()
    if rng.random() < 0.3 and text:
        text = damaged(text, rng)
    return text


def ran(path: Path, argv: list[str]) -> tuple[int, str, str, float]:
    """Run the command in this process; return its exit code, both streams and how long it took."""
    out, err = io.StringIO(), io.StringIO()
    begun = time.process_time()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = __main__.main(["check", str(path), *argv])
    return code, out.getvalue(), err.getvalue(), time.process_time() - begun


def said_of(number: int, path: Path) -> str:
    """Return what is wrong with how the command took a file; empty where nothing is."""
    path.write_bytes(mutated(number))
    try:
        code, out, err, took_s = ran(path, ["--brief"] if number % 5 == 0 else [])
    except Exception as problem:  # the very thing that must not be
        return f"file {number}: {type(problem).__name__}: {problem}"
    if took_s > MOST_S:
        return f"file {number}: took {took_s:.1f} s"
    if code == 0:
        return "" if out and not err else f"file {number}: answered, and said {err!r}"
    if code not in (1, 2):
        return f"file {number}: exit code {code}"
    is_one_line = err.startswith("error: ") and err.count("\n") == 1 and not out
    return "" if is_one_line else f"file {number}: {err[:200]!r}"


def hold_for(numbers: range, path: Path) -> None:
    said = [words for number in numbers if (words := said_of(number, path))]
    assert not said, said[:10]


def test_a_damaged_file_gets_an_answer_or_one_line(tmp_path):
    hold_for(range(300), tmp_path / "design.json")


@pytest.mark.full
@pytest.mark.parametrize("batch", range(6))
def test_three_thousand_damaged_files(tmp_path, batch):
    hold_for(range(500 * batch, 500 * (batch + 1)), tmp_path / "design.json")


def test_the_files_are_of_both_kinds(tmp_path):
    """Some are refused and some are answered, or the test above would look at one road only."""
    path, codes = tmp_path / "design.json", set()
    for number in range(40):
        path.write_bytes(mutated(number))
        codes.add(ran(path, [])[0])
    assert codes == {0, 2}
