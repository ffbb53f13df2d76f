"""The child that draws may die, hang or find the disk full; what it drew stays, whole."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from results_folders import write_folder

from barwright.analysis import pictures
from barwright.analysis.errors import WriteError
from barwright.analysis.pictures import CHARTS, Drawn, child_environment, draw_in_child

DIES = """
import os, signal, sys
from pathlib import Path
from barwright.analysis import pictures
for name in pictures.draw_all(Path(sys.argv[1])):
    if name == "{last}":
        Path(sys.argv[1], ".setup.png.part").write_bytes(b"half a picture")
        print("noise of a library", file=sys.stderr)
        os.kill(os.getpid(), signal.{signal})
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_folder(tmp_path / "run")


def child_that(monkeypatch: pytest.MonkeyPatch, code: str) -> None:
    """Let the child run `code` instead; sys.argv[1] is the folder."""
    monkeypatch.setattr(
        pictures, "child_command", lambda folder: [sys.executable, "-c", code, str(folder)]
    )


def test_child_killed_by_the_first_scene_leaves_the_charts_and_names_the_package(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    child_that(monkeypatch, DIES.format(last="end_view.png", signal="SIGSEGV"))
    drawn = draw_in_child(folder)
    assert drawn.names == CHARTS
    assert drawn.note is not None
    assert "apt-get install libosmesa6" in drawn.note
    assert "\n" not in drawn.note
    assert sorted(path.name for path in folder.glob("*.png")) == sorted(CHARTS)
    assert not list(folder.glob(".*"))
    assert capfd.readouterr() == ("", "")


def test_child_killed_among_the_charts_says_by_what(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    child_that(monkeypatch, DIES.format(last="deflection.png", signal="SIGKILL"))
    drawn = draw_in_child(folder)
    assert drawn == Drawn(
        ("deflection.png",), "only some pictures: the drawing ended with signal 9"
    )


def test_child_that_hangs_is_stopped(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    child_that(monkeypatch, "import time; time.sleep(60)")
    drawn = draw_in_child(folder, time_limit=0.5)
    stopped = "none was finished in 0.5 s, so the drawing was stopped"
    assert drawn == Drawn((), f"no pictures: {stopped}")


class SlowChild:
    """A child that finishes one picture in each stretch that it is waited for, four in all."""

    def __init__(self, command: list[str], **_: object) -> None:
        self.folder, self.left = Path(command[-1]), 4

    def wait(self, timeout: float) -> int:
        if self.left == 0:
            return 0
        self.left -= 1
        (self.folder / f"mode_{self.left}.png").write_bytes(b"a picture")
        raise subprocess.TimeoutExpired(str(self.folder), timeout)

    def poll(self) -> int:
        return 0


def test_child_that_is_slow_is_waited_for(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Looking for libraries starts children of its own.
    monkeypatch.setattr(pictures, "child_environment", dict)
    monkeypatch.setattr(subprocess, "Popen", SlowChild)
    drawn = draw_in_child(folder, time_limit=0.1)
    assert drawn == Drawn(("mode_0.png", "mode_1.png", "mode_2.png", "mode_3.png"))


def test_child_that_cannot_write_passes_the_reason_on(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    child_that(
        monkeypatch,
        "import sys; print('give.png: No space left on device', file=sys.stderr); sys.exit(74)",
    )
    with pytest.raises(WriteError, match=r"give\.png: No space left on device"):
        draw_in_child(folder)


def test_child_that_cannot_start_is_a_note_and_no_more(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pictures, "child_command", lambda folder: [str(folder / "nothing")])
    drawn = draw_in_child(folder)
    assert (
        drawn.note == "no pictures: the drawing could not be started (No such file or directory)"
    )


def test_child_that_fails_gives_its_last_line(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    child_that(monkeypatch, "raise ValueError('odd')")
    assert draw_in_child(folder).note == "no pictures: the drawing failed (ValueError: odd)"


def test_old_pictures_are_not_counted_as_drawn(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "setup.png").write_bytes(b"old")
    child_that(monkeypatch, "raise SystemExit(3)")
    assert draw_in_child(folder).names == ()


def test_memory_window_is_chosen_where_its_library_is_found() -> None:
    with_library = child_environment({"A": "1"}, find=lambda name: f"lib{name}.so.8")
    if sys.platform == "linux":
        assert with_library["VTK_DEFAULT_OPENGL_WINDOW"] == "vtkOSOpenGLRenderWindow"
    assert child_environment({"A": "1"}, find=lambda _: None) == {"A": "1"}
    typed = {"VTK_DEFAULT_OPENGL_WINDOW": "vtkEGLRenderWindow"}
    assert child_environment(typed, find=lambda name: name) == typed


@pytest.mark.slow
@pytest.mark.picture
def test_same_results_give_the_same_pictures(tmp_path: Path) -> None:
    folders = [write_folder(tmp_path / name, planes=("bit",)) for name in ("one", "two")]
    outcomes = [draw_in_child(folder) for folder in folders]
    if outcomes[0].note:
        pytest.skip(outcomes[0].note)
    assert outcomes[0].names == (*CHARTS, "setup.png", "deflected.png", "mode_1.png")
    for name in outcomes[0].names:
        assert (folders[0] / name).read_bytes() == (folders[1] / name).read_bytes(), name
