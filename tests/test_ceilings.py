"""What a run may ask of a machine, and what it says where that is not there."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from barwright.analysis import casefile
from barwright.cli import running
from barwright.cli.app import status

LONGEST_BAR = Path(__file__).parents[1] / "cases" / "stern_tube.yaml"


def test_too_little_memory_is_told_in_words(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def greedy(_: Path) -> None:
        raise MemoryError

    monkeypatch.setattr(casefile, "read_case_file", greedy)
    assert status(["check", str(LONGEST_BAR)]) == 3
    assert "there is not enough memory for this" in capsys.readouterr().err


def test_how_large_a_solid_will_be_is_told_while_it_is_solved() -> None:
    case = casefile.read_case(LONGEST_BAR)  # 25.4 mm by 812.8 mm, an element 0.23 of it long
    with running._solving(case, "solid") as progress:
        assert progress is not None
        # Some 22 unknowns in a cube of an element's length: 22 pi/4 32 / 0.23^3 = 45 000.
        assert progress.what == "solving a solid of at least 45 000 unknowns"
    with running._solving(case, "beam") as progress:
        assert progress is None


@pytest.mark.slow
def test_a_run_on_the_beam_stays_under_400_megabytes(tmp_path: Path) -> None:
    # A process starts with the high-water mark of the one that called it, and the tests' own is
    # higher than the limit: a small process between the two calls the run and reads its mark.
    between = (
        "import resource, subprocess, sys; "
        "assert subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL).returncode in (0, 1); "
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    words = ["run", str(LONGEST_BAR), "-q", "--hole", "table", "--no-pictures"]
    command = [sys.executable, "-m", "barwright.cli", *words, "--out", str(tmp_path)]
    done = subprocess.run(
        [sys.executable, "-I", "-S", "-c", between, *command],
        capture_output=True,
        text=True,
        check=True,
    )
    assert 40 < int(done.stdout) / 1024 < 400


@pytest.mark.slow
def test_a_solid_without_memory_is_refused_in_words(tmp_path: Path) -> None:
    code = (
        "import resource, sys; from barwright.cli.app import status; "
        "resource.setrlimit(resource.RLIMIT_AS, (700_000_000,) * 2); "
        "sys.exit(status(sys.argv[1:]))"
    )
    words = ["run", str(LONGEST_BAR), "-q", "--model", "solid", "--no-pictures", "--hole", "table"]
    done = subprocess.run(
        [sys.executable, "-c", code, *words, "--out", str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 3, done.stderr
    assert "there is not enough memory for this" in done.stderr
    assert list(tmp_path.iterdir()) == []
