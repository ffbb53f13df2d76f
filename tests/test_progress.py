"""A sign of life on a terminal, after half a second, and nothing of it in a pipe."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
import time
from pathlib import Path

import pytest
from terminals import on_terminal

from barwright.cli import progress as signs
from barwright.cli.app import status as status_of
from barwright.cli.progress import Progress, working

CASE = str(Path(__file__).parents[1] / "cases" / "pump_bracket.yaml")


def long_run(folder: Path) -> list[str]:
    return ["run", CASE, "-q", "--no-pictures", "--hole", "table", "--out", str(folder)]


def one_in_another() -> None:
    with working("working on a case"):
        time.sleep(0.3)
        with working("solving its [hole]"):
            time.sleep(0.3)


def shown(*, pipe: bool = False, **environment: str) -> str:
    """What long work shows on standard error, which is a terminal or a pipe."""
    near, far = os.pipe() if pipe else pty.openpty()
    with pytest.MonkeyPatch.context() as patched, os.fdopen(far, "w") as stream:
        patched.setattr(signs, "PATIENCE", 0.05)
        patched.setattr(sys, "stderr", stream)
        for name, value in ({"TERM": "xterm"} | environment).items():
            patched.setenv(name, value)
        one_in_another()
    try:
        return os.read(near, 100_000).decode()
    except OSError:  # the far end of a terminal closes like this
        return ""
    finally:
        os.close(near)


def test_a_line_tells_what_and_how_far() -> None:
    progress = Progress("working on 3 cases", of=3)
    progress.done = 2
    assert progress.line().startswith("working on 3 cases: 2 of 3 done, ")


def test_a_terminal_shows_it_and_it_is_gone_before_the_answer(tmp_path: Path) -> None:
    status, out, shown = on_terminal(long_run(tmp_path))
    assert status == 0
    assert "working on pump_bracket.yaml, as a beam" in shown
    assert b"working on" not in out
    assert shown.rstrip().splitlines()[-1].startswith("\x1b[1A\x1b[2Kwritten:")
    assert "\x1b[?25h" in shown  # the cursor is there again


def test_one_line_tells_of_what_is_done_inside_another() -> None:
    lines = shown().replace("\r", "\n").splitlines()
    inner = [line for line in lines if "solving its [hole]" in line]
    assert inner
    assert not any("working on" in line for line in inner)
    assert any("working on a case" in line for line in lines)


def test_a_short_command_shows_nothing() -> None:
    status, _, shown = on_terminal(["check", CASE, "-q"])
    assert status == 0
    assert shown.replace("\r\n", "\n") == f"next: barwright run {CASE}\n"


@pytest.mark.parametrize("terminal", ["dumb", ""])
def test_a_terminal_that_cannot_take_a_line_back_is_left_alone(terminal: str) -> None:
    assert shown(TERM=terminal) == ""


def test_no_colour_where_none_is_wanted() -> None:
    assert "\x1b[3" in shown()  # colours are ESC [ 3x
    plain = shown(NO_COLOR="1")
    assert "working on" in plain
    assert "\x1b[3" not in plain


def test_a_pipe_gets_nothing_of_it() -> None:
    assert shown(pipe=True, FORCE_COLOR="1") == ""


def test_a_run_into_a_pipe_shows_no_sign_and_no_colour(
    tmp_path: Path,
    remembering: None,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    for name, value in (("TERM", "xterm"), ("FORCE_COLOR", "1")):
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(signs, "PATIENCE", 0.0)
    assert status_of(long_run(tmp_path)) == 0
    told = capfd.readouterr()
    assert "written:" in told.err
    assert "working on" not in told.err
    assert "\x1b" not in told.out + told.err


def test_help_waits_for_no_heavy_library() -> None:
    heavy = {"numpy", "scipy", "matplotlib", "pyvista", "yaml", "rich", "numba"}
    code = (
        "import sys; from barwright.cli.app import status; status(['run', '-h']); "
        f"print(sorted({heavy!r} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
