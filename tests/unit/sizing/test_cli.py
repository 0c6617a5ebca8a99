"""``python -m sizing``: JSON in, JSON out; one line and exit code 2 for anything that cannot be asked."""

from __future__ import annotations

import io
import json
import os
import runpy
import subprocess
import sys

import pytest

from sizing import __main__
from sizing.cli import cli_schema
from sizing.core import reading
from sizing.files.jsonio import input_to_dict
from tests.designs import golden

#: What of the environment may turn the output into UTF-8.
UTF8_BY = {"PYTHONUTF8", "PYTHONIOENCODING", "LC_ALL", "LANG", "LC_CTYPE"}


@pytest.fixture
def design(tmp_path):
    path = tmp_path / "design.json"
    path.write_text(json.dumps(input_to_dict(golden())), encoding="utf-8")
    return path


def one_line_refusal(capsys, argv):
    assert __main__.main(argv) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.startswith("error: ")
    assert captured.err.count("\n") == 1
    return captured.err


def test_it_prints_the_result(capsys, design):
    assert __main__.main(["check", str(design)]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["rule_set"] == "marine_105c"
    assert {check["verdict"] for check in answer["checks"]} >= {"pass", "caution"}


def test_brief_prints_words(capsys, design):
    assert __main__.main(["check", str(design), "--brief"]) == 0
    out = capsys.readouterr().out
    assert "circuit:C2/drop: Loses" in out
    assert out.startswith("marine-style")


def test_it_reads_standard_input(capsys, design, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(design.read_bytes())))
    assert __main__.main(["check", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["engine_version"]


def test_a_closed_standard_input_is_an_empty_file(capsys, monkeypatch):
    monkeypatch.setattr(sys, "stdin", None)
    assert "is not JSON" in one_line_refusal(capsys, ["check", "-"])


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is not JSON"),
        (b"hello", "is not JSON"),
        (b"[]", "must be an object"),
        (b"{}", "is missing"),
        (b"\x00\xff\xfe", "UTF-8"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"v_nominal_v": NaN}', "finite"),
        (b'{"v_nominal_v": 1e400}', "finite"),
        (b'{"bad\\nname": 1}', "bad name: is not known"),
        (b'{"rule_set": "\\ud800"}', "rule_set: must be one of"),
        (b'{"rule_set": "\xed\xa0\x80"}', "rule_set: must be one of"),
        (b'{"\\ud800": 1}', "\\ud800: is not known"),
    ],
)
def test_bad_files_get_one_line(capsys, tmp_path, content, words):
    path = tmp_path / "bad.json"
    path.write_bytes(content)
    assert words in one_line_refusal(capsys, ["check", str(path)])


def test_places_that_cannot_be_read(capsys, tmp_path):
    assert "there is no file" in one_line_refusal(capsys, ["check", str(tmp_path / "none.json")])
    assert "is a folder" in one_line_refusal(capsys, ["check", str(tmp_path)])
    assert "cannot be read" in one_line_refusal(capsys, ["check", "a\0b"])
    assert "cannot be read" in one_line_refusal(capsys, ["check", "x" * 5000])


def test_wrong_arguments(capsys):
    assert "one file" in one_line_refusal(capsys, ["check"])
    assert "one file" in one_line_refusal(capsys, ["check", "a", "b"])
    assert "one file" in one_line_refusal(capsys, ["check", "--fast"])
    assert 'no command "fly"' in one_line_refusal(capsys, ["fly"])
    assert "design or result" in one_line_refusal(capsys, ["schema", "roof"])


def test_help(capsys):
    assert __main__.main(["--help"]) == 0
    assert "check" in capsys.readouterr().out
    assert __main__.main([]) == 2
    assert __main__.main(["check", "--help"]) == 0
    assert "exit codes" in capsys.readouterr().out


def test_a_fault_without_words_is_named(monkeypatch, capsys):
    def broken(self, mode):
        raise OSError

    monkeypatch.setattr(reading.Path, "open", broken)
    assert "unknown fault" in one_line_refusal(capsys, ["check", "any.json"])


class TestSchema:
    @pytest.mark.parametrize("what", ["design", "result"])
    def test_every_class_is_described(self, what, capsys):
        assert __main__.main(["schema", what]) == 0
        found = json.loads(capsys.readouterr().out)
        root = found["$ref"].rsplit("/", 1)[1]
        assert root in found["$defs"]
        assert all(part["description"] for part in found["$defs"].values())
        for part in found["$defs"].values():
            assert set(part["required"]) <= set(part["properties"])

    def test_ranges_and_units_are_in_it(self):
        parts = cli_schema.schema("design")["$defs"]
        assert parts["CircuitInput"]["properties"]["run_len_m"]["anyOf"][0] == {
            "type": "number",
            "exclusiveMinimum": 0.0,
            "maximum": 100.0,
            "description": "[m]",
        }
        assert parts["SystemInput"]["properties"]["v_nominal_v"]["enum"] == [12.0, 24.0, 36.0, 48.0]
        assert parts["CircuitInput"]["properties"]["cable_standard"]["default"] == "awg"
        assert parts["CircuitInput"]["properties"]["confidence"]["default"] == "measured"
        assert parts["WeightInput"]["properties"]["added"]["items"]["prefixItems"][1]["maximum"] == 25_000

    def test_design_is_what_is_printed_without_a_name(self, capsys):
        assert __main__.main(["schema"]) == 0
        assert "SystemInput" in capsys.readouterr().out

    def test_the_stored_schema_is_the_current_one(self):
        stored = json.loads((cli_schema.STORED).read_text(encoding="utf-8"))
        assert stored == json.loads(json.dumps(cli_schema.schema("design"))), (
            "run: python -m sizing schema > sizing/tables/design.schema.json"
        )


class TestShell:
    def run(self, *argv, **more):
        return subprocess.run(
            [sys.executable, "-m", "sizing", *argv],
            **{"capture_output": True, "text": True, "timeout": 60, "check": False, **more},
        )

    def test_it_runs_as_a_module(self, design):
        done = self.run("check", str(design))
        assert done.returncode == 0
        assert json.loads(done.stdout)["checks"]

    @pytest.mark.parametrize(
        "more",
        [{"PYTHONIOENCODING": "ascii"}, {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}],
        ids=["ascii", "C locale"],
    )
    def test_an_output_without_its_characters_gets_escapes(self, design, more):
        """An answer stays JSON of the same meaning; words keep all that the output can hold."""
        ours = {name: value for name, value in os.environ.items() if name not in UTF8_BY}
        in_ascii, in_full = ({**ours, **more}, {**ours, "PYTHONIOENCODING": "utf-8"})
        told = self.run("check", str(design), env=in_ascii)
        assert told.stderr == ""
        assert told.stdout.isascii()
        full = self.run("check", str(design), env=in_full, encoding="utf-8").stdout
        assert not full.isascii()
        assert json.loads(told.stdout) == json.loads(full)
        for argv in (
            ["check", str(design), "--brief"],
            ["schema", "result"],
            ["--help"],
            ["shade", "--help"],
        ):
            done = self.run(*argv, env=in_ascii)
            assert (done.returncode, done.stderr) == (0, ""), argv
            assert done.stdout

    @pytest.mark.parametrize("words", ["check DESIGN", "check DESIGN --brief", "schema", "--help"])
    def test_an_output_that_is_closed_or_full_has_no_traceback(self, design, words):
        asked = words.replace("DESIGN", str(design)).split()
        reader, writer = os.pipe()
        os.close(reader)
        closed = self.into(writer, asked)
        os.close(writer)
        assert (closed.returncode, closed.stderr) == (0, b"")
        with open("/dev/full", "wb") as full:
            done = self.into(full, asked)
        assert done.returncode == 2
        assert done.stderr == b"error: output: cannot be written: No space left on device\n"

    def into(self, output, argv):
        command = [sys.executable, "-m", "sizing", *argv]
        return subprocess.run(command, stdout=output, stderr=subprocess.PIPE, timeout=60, check=False)

    def test_no_output_at_all_is_no_fault(self, design):
        line = f"'{sys.executable}' -m sizing check '{design}' >&-"
        done = subprocess.run(["sh", "-c", line], stderr=subprocess.PIPE, timeout=60, check=False)
        assert (done.returncode, done.stderr) == (0, b"")

    def test_a_refusal_has_no_traceback(self):
        done = self.run("check", "none.json")
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr == 'error: file: there is no file "none.json"\n'

    def test_importing_stays_light(self):
        """Importing the face loads none of the heavy libraries."""
        code = "import sys, sizing; print({'pvlib', 'numba', 'pandas', 'scipy'} & set(sys.modules))"
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        assert done.stdout.strip() == "set()"


class TestEnds:
    def test_a_closed_pipe_ends_quietly(self, monkeypatch):
        class Closed(io.StringIO):
            def flush(self):
                raise BrokenPipeError

            def fileno(self):
                return spare

        spare = os.open(os.devnull, os.O_WRONLY)
        monkeypatch.setattr(sys, "stdout", Closed())
        monkeypatch.setattr(sys, "argv", ["sizing", "--help"])
        assert __main__._guarded() == 0
        os.close(spare)

    def test_an_interrupt_ends_quietly(self, monkeypatch):
        def interrupted(argv):
            raise KeyboardInterrupt

        monkeypatch.setattr(__main__, "main", interrupted)
        assert __main__._guarded() == 130

    def test_the_module_exits_with_the_code(self, monkeypatch, capsys):
        monkeypatch.setattr(sys, "argv", ["sizing"])
        with pytest.raises(SystemExit) as ended:
            runpy.run_path(__main__.__file__, run_name="__main__")
        assert ended.value.code == 2
