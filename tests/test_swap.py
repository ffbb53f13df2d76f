"""Results change in one step or not at all."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from barwright.analysis import swap
from barwright.analysis.errors import CreateError, WriteError
from barwright.analysis.swap import folder_name, new_results


def write(target: Path, text: str) -> None:
    with new_results(target) as fresh:
        (fresh / "summary.json").write_text(text)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_first_run_makes_the_folder_and_leaves_no_litter(tmp_path: Path) -> None:
    write(tmp_path / "deep" / "case", "one")
    assert (tmp_path / "deep" / "case" / "summary.json").read_text() == "one"
    assert names(tmp_path / "deep") == ["case"]


@pytest.mark.parametrize("exchange", [True, False])
def test_next_run_replaces_the_folder_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, exchange: bool
) -> None:
    target = tmp_path / "case"
    write(target, "one")
    (target / "old_picture.png").write_text("old")
    if not exchange:
        monkeypatch.setattr(swap, "_exchanged", lambda one, other: False)
    write(target, "two")
    assert (target / "summary.json").read_text() == "two"
    assert names(target) == ["summary.json"]
    assert names(tmp_path) == ["case"]


def test_a_failed_run_leaves_the_last_results_untouched(tmp_path: Path) -> None:
    target = tmp_path / "case"
    write(target, "one")
    with pytest.raises(RuntimeError), new_results(target) as fresh:
        (fresh / "summary.json").write_text("half")
        raise RuntimeError
    assert (target / "summary.json").read_text() == "one"
    assert names(tmp_path) == ["case"]


def test_a_full_disk_is_a_write_error_and_old_results_stay(tmp_path: Path) -> None:
    target = tmp_path / "case"
    write(target, "one")
    with pytest.raises(WriteError, match="No space left on device"), new_results(target):
        raise OSError(28, "No space left on device")
    assert (target / "summary.json").read_text() == "one"


def test_a_folder_that_cannot_be_made_is_a_create_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(CreateError, match="cannot make"), new_results(tmp_path / "file" / "case"):
        pytest.fail("nothing to write into")


def test_a_link_is_refused(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "case").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(CreateError, match="is a link"), new_results(tmp_path / "case"):
        pytest.fail("would write through the link")


def test_litter_of_dead_runs_is_swept_and_of_live_ones_kept(tmp_path: Path) -> None:
    gone = subprocess.run(
        [sys.executable, "-c", "import os; print(os.getpid())"],
        capture_output=True,
        text=True,
        check=True,
    )
    dead = tmp_path / f".case.{gone.stdout.strip()}-1f.new"
    alive = tmp_path / f".case.{os.getpid()}-1f.new"
    other = tmp_path / f".other.{gone.stdout.strip()}-1f.new"
    for folder in (dead, alive, other):
        folder.mkdir()
    write(tmp_path / "case", "one")
    assert not dead.exists()
    assert alive.exists()
    assert other.exists()


def test_a_swap_cut_between_its_two_renames_is_put_back(tmp_path: Path) -> None:
    kept = tmp_path / ".case.old"
    kept.mkdir()
    (kept / "summary.json").write_text("one")
    with pytest.raises(RuntimeError), new_results(tmp_path / "case"):
        raise RuntimeError
    assert (tmp_path / "case" / "summary.json").read_text() == "one"


@pytest.mark.parametrize(
    ("name", "folder"),
    [
        ("pump_bracket", "pump_bracket"),
        ("../../etc/passwd", "etc-passwd"),
        ("/", "case"),
        ("", "case"),
        ("..", "case"),
        ("CON", "case-con"),
        ("lpt1", "case-lpt1"),
        ("a\x1b[31mb", "a-31mb"),
        ("-rf", "rf"),
        ("x" * 300, "x" * 80),
        ("two  words", "two-words"),
    ],
)
def test_no_name_escapes_or_surprises(name: str, folder: str) -> None:
    assert folder_name(name) == folder


KILLED = """
import os, signal, sys, threading, time
from pathlib import Path
from barwright.analysis.swap import new_results
threading.Timer(float(sys.argv[2]), lambda: os.kill(os.getpid(), signal.SIGKILL)).start()
for k in range(10_000):
    with new_results(Path(sys.argv[1])) as fresh:
        for name in "abc":
            (fresh / name).write_text(str(k))
"""


def test_killed_at_any_moment_readers_see_one_run(tmp_path: Path) -> None:
    """Twelve kills here; thousands in the long run of the same loop."""
    target = tmp_path / "case"
    for k in range(12):
        delay = 0.02 + 0.003 * k
        subprocess.run([sys.executable, "-c", KILLED, str(target), str(delay)], check=False)
        if target.exists():
            assert len({(target / name).read_text() for name in "abc"}) == 1
    assert target.exists()


def _no_lock(*_: object) -> None:
    raise OSError(38, "Function not implemented")


@pytest.mark.parametrize("lack", ["no locks on the disk", "no locks in Python"])
def test_where_there_are_no_locks_results_still_change_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lack: str
) -> None:
    if lack == "no locks in Python":
        monkeypatch.setattr(swap, "fcntl", None)
    else:
        monkeypatch.setattr("barwright.analysis.swap.fcntl.flock", _no_lock)
    write(tmp_path / "case", "one")
    write(tmp_path / "case", "two")
    assert (tmp_path / "case" / "summary.json").read_text() == "two"
    assert names(tmp_path) == ["case"]


class _OldLibrary:
    """A C library from before the call."""


def _none(*_: object, **__: object) -> object:
    return _OldLibrary()


@pytest.mark.parametrize("lack", ["another system", "an old library"])
def test_where_names_cannot_be_exchanged_two_renames_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lack: str
) -> None:
    if lack == "another system":
        monkeypatch.setattr("barwright.analysis.swap.sys.platform", "sunos5")
    else:
        monkeypatch.setattr("barwright.analysis.swap.ctypes.CDLL", _none)
    write(tmp_path / "case", "one")
    assert not swap._exchanged(tmp_path / "case", tmp_path / "other")
    write(tmp_path / "case", "two")
    assert (tmp_path / "case" / "summary.json").read_text() == "two"
    assert names(tmp_path) == ["case"]


def test_what_a_cut_swap_kept_goes_once_new_results_are_there(tmp_path: Path) -> None:
    write(tmp_path / "case", "one")
    (tmp_path / ".case.old").mkdir()
    write(tmp_path / "case", "two")
    assert names(tmp_path) == ["case"]


def test_the_folder_of_another_user_is_left_alone_until_it_is_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    litter = tmp_path / ".case.1-1f.new"
    litter.mkdir()

    def not_ours(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr("barwright.analysis.swap.os.kill", not_ours)
    write(tmp_path / "case", "one")
    assert litter.exists()
    monkeypatch.setattr("barwright.analysis.swap.os.kill", lambda *_: None)
    long_ago = time.time() - 2 * swap._STALE_AFTER
    os.utime(litter, (long_ago, long_ago))
    write(tmp_path / "case", "two")
    assert not litter.exists()


def test_a_file_is_replaced_with_its_permissions_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    path.write_text("old")
    path.chmod(0o640)
    swap.replace_text(path, "new")
    assert path.read_text() == "new"
    assert path.stat().st_mode & 0o777 == 0o640
    with pytest.raises(WriteError, match="cannot write"):
        swap.replace_text(tmp_path / "no" / "case.yaml", "new")
    assert names(tmp_path) == ["case.yaml"]


def test_a_folder_that_goes_while_litter_is_looked_for_is_nobodys_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another run takes its own folder away between the look and the question how old it is."""
    (tmp_path / f".case.{os.getpid()}-ff.new").mkdir()
    asked = os.kill

    def gone(pid: int, number: int) -> None:
        asked(pid, number)
        for litter in tmp_path.glob(".case.*-ff.new"):
            litter.rmdir()

    monkeypatch.setattr(os, "kill", gone)
    with new_results(tmp_path / "case") as fresh:
        (fresh / "a").write_text("1")
    assert (tmp_path / "case" / "a").read_text() == "1"
