"""Through the command line: text, exit status, and what is left on disk."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest
from remembered import analysed

from barwright.analysis import run as running
from barwright.analysis.errors import SolveError
from barwright.analysis.run import Outcome
from barwright.cli import options
from barwright.cli.app import status

CASES = Path(__file__).parents[1] / "cases"
GOOD = str(CASES / "pump_bracket.yaml")

Capture = pytest.CaptureFixture[str]


def run_in(folder: Path, *arguments: str) -> int:
    return status(["run", *arguments, "--out", str(folder), "--no-pictures", "--hole", "table"])


def test_answer_comes_first_and_status_is_zero(
    tmp_path: Path, remembering: None, capsys: Capture
) -> None:
    assert run_in(tmp_path, GOOD) == 0
    out, err = capsys.readouterr()
    first, second, *_ = out.splitlines()
    assert first.startswith("WITHIN LIMITS")
    assert " to " in second
    assert "likely" in second
    assert second.index(" to ") < second.index("likely")
    assert "certifies nothing" in out
    assert "written:" in err
    assert out.isascii()


def test_limit_not_met_is_status_one_with_its_results(
    tmp_path: Path, remembering: None, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    def missed(*asked: Any, **how: Any) -> Outcome:
        found = analysed(*asked, **how)
        first, *others = found.findings
        return replace(found, findings=(*others, replace(first, ok=False)))

    monkeypatch.setattr(running, "analyse", missed)
    assert run_in(tmp_path, GOOD, "-q") == 1
    assert capsys.readouterr().out.startswith("OUTSIDE LIMITS")
    summary = json.loads((tmp_path / "pump_bracket" / "summary.json").read_text())
    assert summary["within_limits"] is False


def test_wrong_case_is_status_two_and_old_results_stay(
    tmp_path: Path, remembering: None, capsys: Capture
) -> None:
    case = tmp_path / "bracket.yaml"
    case.write_text(Path(GOOD).read_text())
    assert run_in(tmp_path / "results", str(case)) == 0
    before = (tmp_path / "results" / "bracket" / "summary.json").read_bytes()
    case.write_text(Path(GOOD).read_text().replace("diameter: 28 mm", "diameter: 28"))
    capsys.readouterr()
    assert run_in(tmp_path / "results", str(case)) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "bar.diameter" in err
    assert "Traceback" not in err
    assert (tmp_path / "results" / "bracket" / "summary.json").read_bytes() == before


@pytest.mark.parametrize(
    "arguments",
    [["nonsense"], ["run"], ["run", "no_such_file.yaml"], ["run", GOOD, "--model", "clay"]],
)
def test_wrong_call_is_status_two(arguments: list[str], capsys: Capture) -> None:
    assert status(arguments) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_json_is_the_summary_and_nothing_else(
    tmp_path: Path, remembering: None, capsys: Capture
) -> None:
    assert run_in(tmp_path, GOOD, "--json") == 0
    printed = json.loads(capsys.readouterr().out)
    assert printed == json.loads((tmp_path / "pump_bracket" / "summary.json").read_text())


def test_check_echoes_both_systems_and_origins(capsys: Capture) -> None:
    assert status(["check", str(CASES / "sluice_gate_pivot.yaml")]) == 0
    out = capsys.readouterr().out
    assert "1.250 in (31.75 mm)" in out
    for origin in ("typed", "default guess", "measured", "shipped table"):
        assert origin in out


def test_materials_give_their_sources(capsys: Capture) -> None:
    assert status(["materials"]) == 0
    out = capsys.readouterr().out
    assert "4140 prehard" in out
    assert "from memory" in out
    assert status(["materials", "--json"]) == 0
    tables = json.loads(capsys.readouterr().out)
    assert {"bar", "work"} == set(tables)


def test_schema_is_the_shipped_one(capsys: Capture) -> None:
    assert status(["schema"]) == 0
    shipped = json.loads((CASES / "barwright.schema.json").read_text())
    assert json.loads(capsys.readouterr().out) == shipped


def test_version_is_the_one_in_every_summary(capsys: Capture) -> None:
    assert status(["--version"]) == 0
    assert capsys.readouterr().out == f"barwright {version('barwright')}\n"


@pytest.mark.parametrize("option", ["-h", "--help"])
def test_help_lists_commands_and_statuses(option: str, capsys: Capture) -> None:
    assert status([option]) == 0
    out = " ".join(capsys.readouterr().out.split())
    for word in ("check", "run", "materials", "schema", "verify", "143 terminated"):
        assert word in out


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        (SolveError("no"), 3),
        (RuntimeError("a bug"), 70),
        (OSError(28, "No space left on device"), 74),
        (KeyboardInterrupt(), 130),
    ],
)
def test_each_failure_has_its_own_status(
    fault: BaseException,
    code: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: Capture,
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise fault

    monkeypatch.setattr(running, "analyse", fail)
    assert run_in(tmp_path, GOOD) == code
    assert "Traceback" not in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_results_that_cannot_be_made_are_status_73(
    tmp_path: Path, remembering: None, capsys: Capture
) -> None:
    (tmp_path / "results").write_text("in the way")
    assert run_in(tmp_path / "results", GOOD) == 73
    assert "cannot make" in capsys.readouterr().err


def test_title_cannot_steer_the_terminal(
    tmp_path: Path, remembering: None, capsys: Capture
) -> None:
    case = tmp_path / "case.yaml"
    text = Path(GOOD).read_text()
    title = next(line for line in text.splitlines() if line.startswith("title:"))
    case.write_text(text.replace(title, r'title: "x\e[31m[/]\u202e\u00d8"'))
    assert run_in(tmp_path, str(case), "-q") == 0
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert out.isascii()


def command(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "barwright.cli", *arguments]


def test_closed_pipe_is_quiet_and_never_reads_as_a_limit_not_met() -> None:
    with subprocess.Popen(
        command("materials"), stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdout.readline()
        child.stdout.close()
        assert child.stderr.read() == b""
        assert child.wait(timeout=30) == 74


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full")
def test_full_disk_behind_stdout_is_status_74() -> None:
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            command("schema"), stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert done.returncode == 74
    assert "Traceback" not in done.stderr


def test_ascii_console_survives_a_command() -> None:
    done = subprocess.run(
        command("materials"),
        env={**os.environ, "PYTHONIOENCODING": "ascii", "LC_ALL": "C"},
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()


@pytest.mark.parametrize("call", [["--help"], ["materials"], ["check", GOOD], ["run", "--help"]])
def test_every_command_prints_what_any_console_shows(call: list[str], capsys: Capture) -> None:
    assert status(call) == 0
    assert capsys.readouterr().out.isascii()


@pytest.mark.parametrize(("sent", "code"), [(signal.SIGTERM, 143), (signal.SIGINT, 130)])
def test_stopped_run_leaves_the_last_results(tmp_path: Path, sent: int, code: int) -> None:
    wait = (
        # A shell starts its background jobs deaf to Ctrl-C, and a child inherits that.
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
        "import sys, time; from barwright.analysis import run; from barwright.cli import app; "
        "run.analyse = lambda *a, **k: (print('here', flush=True), time.sleep(60)); "
        f"sys.argv = ['barwright', 'run', {GOOD!r}, '--out', {str(tmp_path)!r}]; app.main()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", wait], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"here\n"
        time.sleep(0.1)
        child.send_signal(sent)
        _, err = child.communicate(timeout=20)
    assert child.returncode == code
    assert b"Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_statuses_are_the_contract() -> None:
    assert (options.OK, options.OUTSIDE, options.WRONG, options.UNSOLVED) == (0, 1, 2, 3)
    assert (options.BUG, options.CANNOT_CREATE, options.CANNOT_WRITE) == (70, 73, 74)
    assert (options.INTERRUPTED, options.TERMINATED) == (130, 143)


def test_without_pictures_nothing_to_look_at_is_made_unless_asked(
    tmp_path: Path, remembering: None
) -> None:
    """The report draws on the pictures; the sheet is what the machine needs, so it stays."""
    folder = tmp_path / "pump_bracket"
    run_in(tmp_path, GOOD, "-q")
    assert not [
        name for name in ("report.html", "bar.dxf", "set_up.glb") if (folder / name).exists()
    ]
    assert (folder / "sheet.pdf").exists()
    run_in(tmp_path, GOOD, "-q", "--report")
    assert (folder / "report.html").exists()
