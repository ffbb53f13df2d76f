"""A first case from a few answers, and where things are kept."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from barwright.analysis.casefile import read_case
from barwright.analysis.first_case import suggested
from barwright.cli.app import app, status

Capture = pytest.CaptureFixture[str]
COMMANDS = [found.callback.__name__ for found in app.registered_commands if found.callback]


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("drive", ["chuck", "centres"])
def test_what_is_suggested_makes_a_case_that_check_takes(
    tmp_path: Path, units: str, drive: str, capsys: Capture
) -> None:
    file = tmp_path / "first.yaml"
    assert status(["new", str(file), "--units", units, "--drive", drive]) == 0
    said = capsys.readouterr()
    assert "first.yaml" in said.out
    assert f"next: barwright check {file}" in said.err
    assert status(["check", str(file), "-q"]) == 0
    case = read_case(file)
    assert case.bar.diameter < case.work.bore.nominal
    assert case.work.length is not None
    assert 2 * case.work.length < case.bar.span


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("bore", [0.5, 0.75, 1, 1.5, 2.5, 4, 8])
@pytest.mark.parametrize("times", [0.5, 1, 3])
def test_suggestions_hold_for_any_bore(
    tmp_path: Path, units: str, bore: float, times: float
) -> None:
    said = f"{bore * 25.4:.0f} H7" if units == "mm" else f"{bore} +.001 -0 in"
    long = f"{times * bore:g} in"
    file = tmp_path / "case.yaml"
    call = ["new", str(file), "--units", units, "--bore", said, "--length", long]
    assert status([*call, "--depth", "0.1 mm"]) == 0
    assert read_case(file).cut.depth == pytest.approx(1e-4)


def test_every_answer_given_is_in_the_case(tmp_path: Path, capsys: Capture) -> None:
    file = tmp_path / "case.yaml"
    title = 'bush "no. 2" \\ # : [x]'
    call = ["new", str(file), "--units", "inch", "--title", title, "--bore", "2.000 +.001 -0 in"]
    call += ["--length", "4 in", "--bar", "1-1/4 in", "--span", "16 in", "--steel", "4140 prehard"]
    call += ["--work", "leaded bronze", "--depth", "5 thou", "--feed", ".004 ipr"]
    assert status([*call, "--speed", "90 rpm", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"case": {"title": title, "file": "case.yaml"}}
    case = read_case(file)
    assert case.title == title
    assert (case.bar.diameter, case.bar.span) == (1.25 * 0.0254, 16 * 0.0254)
    assert (case.bar.material.name, case.work.material.name) == ("4140 prehard", "leaded bronze")
    assert (case.cut.feed, case.cut.speed) == (0.004 * 0.0254, 1.5)


@pytest.mark.parametrize(
    ("option", "value", "message"),
    [
        ("--bore", "44", "44"),
        ("--bar", "30", "has no unit"),
        ("--span", "-3 in", "-3 in"),
        ("--steel", "unobtainium", "is not in the table"),
        ("--work", "cheese", "is not in the table"),
    ],
)
def test_an_answer_that_does_not_read_is_refused_and_nothing_written(
    tmp_path: Path, option: str, value: str, message: str, capsys: Capture
) -> None:
    file = tmp_path / "case.yaml"
    assert status(["new", str(file), "--units", "mm", option, value]) == 2
    assert message in " ".join(capsys.readouterr().err.split())
    assert not file.exists()


def test_answers_that_cannot_be_together_are_said_as_check_says_them(
    tmp_path: Path, capsys: Capture
) -> None:
    file = tmp_path / "case.yaml"
    assert status(["new", str(file), "--units", "mm", "--bar", "60 mm"]) == 2
    assert "does not pass through the bore" in capsys.readouterr().err
    assert not file.exists()


def test_a_file_that_is_there_is_left_alone(tmp_path: Path, capsys: Capture) -> None:
    file = tmp_path / "case.yaml"
    file.write_text("mine")
    assert status(["new", str(file)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert file.read_text() == "mine"
    assert status(["new", str(tmp_path / "no" / "case.yaml"), "--units", "mm"]) == 73


def test_questions_on_a_terminal_are_asked_again_until_they_read(tmp_path: Path) -> None:
    near, far = pty.openpty()
    said = ["inch", "Bush", "44", "2.000 +.001 -0 in", *[""] * 9]
    os.write(near, ("\n".join(said) + "\n").encode())
    file = tmp_path / "case.yaml"
    done = subprocess.run(
        [sys.executable, "-m", "barwright.cli", "new", str(file)],
        stdin=far,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    os.close(near)
    os.close(far)
    assert done.returncode == 0, done.stderr
    assert done.stderr.count("Finished bore") == 2
    case = read_case(file)
    assert case.title == "Bush"
    assert case.work.bore.nominal == pytest.approx(2 * 0.0254)


def test_suggested_speed_follows_the_bore() -> None:
    # 0.2 m/s on 44 mm: 60 * 0.2 / (pi * 0.044) = 86.8, told to ten turns
    assert suggested("speed", "mm", "44 H7") == "90 rpm"


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_takes_h_q_and_json(command: str, capsys: Capture) -> None:
    assert status([command, "-h"]) == 0
    said = capsys.readouterr().out
    for option in ("-h", "-q", "--json"):
        assert option in said
    assert said.isascii()


def test_the_commands_promised_are_there() -> None:
    promised = "check run compare speeds plan fit study verify materials schema new where"
    assert set(promised.split()) <= set(COMMANDS)


def test_completion_knows_the_commands() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "barwright.cli"],
        env={
            **os.environ,
            "_BARWRIGHT_COMPLETE": "complete_bash",
            "COMP_WORDS": "barwright sp",
            "COMP_CWORD": "1",
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.split() == ["speeds"]


def test_where_names_what_is_kept_and_can_clear_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    monkeypatch.setenv("BARWRIGHT_CACHE", str(tmp_path))
    (tmp_path / "hole-0.npz").write_bytes(b"12345")
    (tmp_path / "mine.txt").write_text("keep")
    assert status(["where", "--json"]) == 0
    kept = json.loads(capsys.readouterr().out)["kept"]
    assert kept == {
        "folder": str(tmp_path),
        "files": 1,
        "bytes": 5,
        "moved_by": "BARWRIGHT_CACHE",
    }
    assert status(["where", "--clear", "-q"]) == 0
    said = capsys.readouterr()
    assert said.out == f"{tmp_path}\n"
    assert "1 kept files deleted" in said.err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
    assert status(["where"]) == 0
    assert str(tmp_path) in capsys.readouterr().out
