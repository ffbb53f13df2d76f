"""A sign of life on a terminal, after half a second, and nothing of it in a pipe."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from terminals import on_terminal

from barwright.cli.progress import Progress

CASE = str(Path(__file__).parents[1] / "cases" / "pump_bracket.yaml")


def long_run(folder: Path) -> list[str]:
    return ["run", CASE, "-q", "--no-pictures", "--out", str(folder)]


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


def test_one_line_tells_of_what_is_done_inside_another(tmp_path: Path) -> None:
    empty = {"BARWRIGHT_CACHE": str(tmp_path / "blocks")}
    status, _, shown = on_terminal(long_run(tmp_path / "out"), environment=empty)
    assert status == 0
    assert "solving the hole, once for its shape" in shown
    assert "working on pump_bracket.yaml, as a beam" in shown
    lines = [line for line in shown.replace("\r", "\n").splitlines() if "hole, once" in line]
    assert not any("working on" in line for line in lines)


def test_a_short_command_shows_nothing() -> None:
    status, _, shown = on_terminal(["check", CASE, "-q"])
    assert status == 0
    assert shown.replace("\r\n", "\n") == f"next: barwright run {CASE}\n"


@pytest.mark.parametrize("terminal", ["dumb", ""])
def test_a_terminal_that_cannot_take_a_line_back_is_left_alone(
    tmp_path: Path, terminal: str
) -> None:
    status, _, shown = on_terminal(long_run(tmp_path), environment={"TERM": terminal})
    assert status == 0
    assert "working on" not in shown
    assert "\x1b" not in shown


def test_no_colour_where_none_is_wanted(tmp_path: Path) -> None:
    _, _, plain = on_terminal(long_run(tmp_path), environment={"NO_COLOR": "1"})
    assert "working on" in plain
    assert "\x1b[3" not in plain  # colours are ESC [ 3x


def test_a_pipe_gets_nothing_of_it(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "barwright.cli", *long_run(tmp_path)],
        capture_output=True,
        text=True,
        env={**os.environ, "TERM": "xterm", "FORCE_COLOR": "1"},
        check=True,
    )
    assert "working on" not in done.stderr
    assert "\x1b" not in done.stdout + done.stderr


def test_help_waits_for_no_heavy_library() -> None:
    heavy = {"numpy", "scipy", "matplotlib", "pyvista", "yaml", "rich", "numba"}
    code = (
        "import sys; from barwright.cli.app import status; status(['run', '-h']); "
        f"print(sorted({heavy!r} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
