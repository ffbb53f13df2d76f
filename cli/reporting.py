"""The command that makes the report again, and the report and 3-D files that a run leaves."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import typer

from . import console, printing
from .options import OK, JsonOption, OutOption, QuietOption, of_disk, print_json


def report(
    source: printing.FromArgument,
    out: OutOption = Path("results"),
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Make the report of a finished run again. One file, to mail or print.

    Takes in what compare, study and speeds left beside it for the same case. Solves nothing.
    """
    folder = printing.results_of(source, out)
    from barwright.analysis.report import write_report

    path = write_report(folder)
    taken, older = _beside(folder)
    if as_json:
        found = {"report": str(path), "bytes": path.stat().st_size}
        print_json(found | {"taken_in": [str(one) for one in taken]})
    elif not quiet:
        console.say(f"{path}: opens in any browser, with no network")
        for one in taken:
            console.say(f"taken in: {one}{os.sep}")
    for what, one in older:
        console.note(
            f"left out: {one}{os.sep} is of another version of the case. Run {what} again"
        )
    printing.note_of_change(folder)
    raise typer.Exit(OK)


def _beside(folder: Path) -> tuple[list[Path], list[tuple[str, Path]]]:
    """Folders whose answers the report has, and those that are of another case, by command."""
    from barwright.analysis.finished import read_finished
    from barwright.analysis.report_beside import TAKEN_IN, beside_another, beside_run

    finished = read_finished(folder)
    taken = [there[0] for what in TAKEN_IN if (there := beside_run(finished, folder, what))]
    older = [(what, one) for what in TAKEN_IN if (one := beside_another(finished, folder, what))]
    return taken, older


def of_run(
    folder: Path, target: Path, *, with_report: bool = True, animated: bool = False
) -> list[str]:
    """Leave 3-D files, drawing of the bar and report in a fresh folder; a line for each failure.

    Whatever goes wrong with them, the numbers of the run are not lost for it.
    """
    steps: list[tuple[str, Callable[[], object]]] = [
        ("3-D files", lambda: _bodies(folder)),
        ("drawing of the bar", lambda: _drawing(folder)),
    ]
    if animated:
        steps.append(("moving pictures", lambda: _animations(folder)))
    if with_report:
        steps.append(("report", lambda: _report(folder, target)))
    return [line for what, step in steps if (line := _tried(what, step))]


def _tried(what: str, step: Callable[[], object]) -> str | None:
    try:
        step()
    except Exception as error:
        if of_disk(error) or os.environ.get("BARWRIGHT_DEBUG"):
            raise
        return f"no {what}: {type(error).__name__}: {error}"
    return None


def _bodies(folder: Path) -> None:
    from barwright.analysis.bodies import write_bodies
    from barwright.analysis.finished import read_finished

    write_bodies(read_finished(folder))


def _drawing(folder: Path) -> None:
    from barwright.analysis.bar_drawing import write_bar_drawing
    from barwright.analysis.finished import read_finished

    write_bar_drawing(read_finished(folder))


def _animations(folder: Path) -> None:
    from barwright.analysis.animation import write_animations
    from barwright.analysis.finished import read_finished

    write_animations(read_finished(folder))


def _report(folder: Path, target: Path) -> None:
    from barwright.analysis.report import write_report

    write_report(folder, target)
