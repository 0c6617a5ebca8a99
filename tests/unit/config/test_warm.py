"""What is made ready before anybody waits: bytecode where Python may not write it by itself."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path

from config.warm import keep_bytecode


def loaded(folder: Path, name: str):
    """Return a module read from a file, and where its bytecode belongs."""
    source = folder / f"{name}.py"
    source.write_text("ANSWER = 42\n")
    spec = importlib.util.spec_from_file_location(name, source)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module, Path(importlib.util.cache_from_source(str(source)))


def test_bytecode_is_kept_for_what_is_loaded(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    module, cached = loaded(tmp_path, "some_module")
    monkeypatch.setattr(sys, "modules", {"some_module": module, "broken": object()})
    assert not cached.exists()
    keep_bytecode()
    written = cached.stat().st_mtime_ns
    keep_bytecode()
    assert cached.stat().st_mtime_ns == written
    os.utime(module.__file__, (1, 1))  # bytecode of another source is of no use to Python
    keep_bytecode()
    assert cached.stat().st_mtime_ns > written


def test_what_cannot_be_compiled_or_written_is_passed_over(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    spoilt, _ = loaded(tmp_path, "spoilt")
    Path(spoilt.__file__).write_text("ANSWER = = 42\n")
    (tmp_path / "closed").mkdir()
    closed, nowhere = loaded(tmp_path / "closed", "closed")
    nowhere.parent.write_text("a file stands where the folder would be")
    good, cached = loaded(tmp_path, "good")
    monkeypatch.setattr(sys, "modules", {"spoilt": spoilt, "closed": closed, "good": good})
    keep_bytecode()
    assert cached.exists()
    assert capsys.readouterr() == ("", "")
