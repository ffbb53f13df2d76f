"""Print how long whole commands take on this machine, and how much memory they need.

Run it by hand: ``python tests/benchmarks/times.py``. Each command runs five times after one
that is not counted; the median is what to quote. A solid run is slow and runs three times.
Not a timed test: machines differ, and a noisy one would fail for no fault of the code.
"""

from __future__ import annotations

import os
import platform
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import date
from pathlib import Path

CASES = Path(__file__).parents[2] / "cases"


@dataclass(frozen=True)
class Row:
    """One command and the most it should take."""

    name: str
    arguments: tuple[str, ...]
    seconds: float
    runs: int = 5


@dataclass(frozen=True)
class Timed:
    """Wall seconds and peak megabytes of one whole process."""

    seconds: float
    megabytes: float


def rows(out: str) -> tuple[Row, ...]:
    """The commands that users wait for."""
    case = str(CASES / "pump_bracket.yaml")
    to = ("--out", out)
    return (
        Row("barwright --help", ("--help",), 0.3),
        Row("check", ("check", case), 0.6),
        Row("run, beam, no pictures", ("run", case, *to, "--no-pictures", "-q"), 1.5),
        Row("run, beam, pictures", ("run", case, *to, "-q"), 8.0),
        Row(
            "run, solid, no pictures",
            ("run", case, *to, "--no-pictures", "-q", "--model", "solid"),
            12.0,
            runs=3,
        ),
        Row(
            "study, 10 000 draws",
            ("study", case, *to, "--samples", "10000", "-q"),
            20.0,
            runs=3,
        ),
        Row("verify", ("verify",), 10.0, runs=3),
    )


def timed(arguments: tuple[str, ...]) -> Timed:
    """Run one command to its end as a process of its own."""
    command = [sys.executable, "-m", "barwright.cli", *arguments]
    started = time.perf_counter()
    pid = os.fork()
    if pid == 0:
        sink = os.open(os.devnull, os.O_WRONLY)
        os.dup2(sink, 1)
        os.dup2(sink, 2)
        os.execv(sys.executable, command)
    _, status, usage = os.wait4(pid, 0)
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        sys.exit(f"failed: {' '.join(command)}")
    return Timed(seconds=time.perf_counter() - started, megabytes=usage.ru_maxrss / 1024)


def main() -> None:
    """Time every row and print the figures beside the aim."""
    print(
        f"{date.today()}, {platform.machine()}, {os.cpu_count()} cores, "
        f"Python {platform.python_version()}, {platform.system()} {platform.release()}"
    )
    print(f"{'command':28} {'median s':>9} {'least':>7} {'most':>7} {'peak MB':>8} {'aim s':>6}")
    with tempfile.TemporaryDirectory() as out:
        for row in rows(out):
            timed(row.arguments)
            runs = [timed(row.arguments) for _ in range(row.runs)]
            seconds = [run.seconds for run in runs]
            peak = max(run.megabytes for run in runs)
            print(
                f"{row.name:28} {statistics.median(seconds):9.2f} {min(seconds):7.2f} "
                f"{max(seconds):7.2f} {peak:8.0f} {row.seconds:6.1f}"
            )


if __name__ == "__main__":
    main()
