"""The command that listens to recordings of taps."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from barwright.analysis import errors

from . import console
from .options import OK, UNSOLVED, WRONG, JsonOption, OutOption, QuietOption, print_json

if TYPE_CHECKING:
    from barwright.analysis.tap import TapTest

RecordingArgument = Annotated[
    list[Path], typer.Argument(metavar="FILE", help="Recordings of taps (WAV).")
]


def tap(
    files: RecordingArgument,
    out: OutOption = Path("results"),
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Find pitches and dampings in recordings of taps. A phone's will do.

    Each recording by itself. Exit status 3 where one has no tap that rings, 2 where one cannot
    be read; the others are still measured.
    """
    from barwright.analysis.tap_record import tap_summary

    tests: list[TapTest] = []
    worst = OK
    for file in files:
        try:
            test = _measured(file, out)
        except errors.CaseError as error:
            console.note(str(error))
            worst = WRONG
        except errors.SolveError as error:
            console.note(str(error))
            worst = worst or UNSOLVED
        else:
            if not as_json:
                _print(test, after=bool(tests), quiet=quiet)
            tests.append(test)
    if as_json:
        print_json({"recordings": [tap_summary(test) for test in tests]})
    raise typer.Exit(worst)


def _measured(file: Path, out: Path) -> TapTest:
    """One recording, measured, its results written."""
    from barwright.analysis.recording import read_recording
    from barwright.analysis.swap import folder_name, new_results
    from barwright.analysis.tap import measure_taps
    from barwright.analysis.tap_picture import draw_tap
    from barwright.analysis.tap_record import write_tap

    test = measure_taps(read_recording(file))
    target = out / f"{folder_name(file.stem)}-tap"
    with new_results(target) as fresh:
        write_tap(fresh, test)
        draw_tap(test, fresh / "tap.png")
    console.note(f"written: {target}{os.sep}")
    return test


def _print(test: TapTest, *, after: bool, quiet: bool) -> None:
    from . import tap_lines

    if after:
        console.say()
    tap_lines.answer(test)
    if not quiet:
        tap_lines.details(test)
