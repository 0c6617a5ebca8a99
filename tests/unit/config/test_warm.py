"""What is made ready before anybody waits: bytecode where Python may not write it by itself."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

from config.warm import keep_bytecode


def test_bytecode_is_kept_for_what_is_loaded(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    source = tmp_path / "some_module.py"
    source.write_text("ANSWER = 42\n")
    spec = importlib.util.spec_from_file_location("some_module", source)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(sys, "modules", {"some_module": module, "broken": object()})
    assert not Path(module.__cached__).exists()
    assert keep_bytecode() == 1
    assert Path(module.__cached__).exists()
    assert keep_bytecode() == 0
