"""The command that makes the shop sheet again, and the sheet that a run leaves."""

from __future__ import annotations

import contextlib
import json
import os
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from . import console
from .options import OK, JsonOption, OutOption, QuietOption, of_disk, print_json, yaml_files

SCHEMA = "barwright.summary/1"
"""As `record` has it, which is not loaded for this: a sheet needs no solving."""
FromArgument = Annotated[
    Path,
    typer.Argument(
        metavar="CASE|RESULTS",
        help="A case that was run, or its results.",
        autocompletion=yaml_files,
    ),
]


class PaperChoice(StrEnum):
    """Paper that a sheet is made for."""

    A4 = "a4"
    LETTER = "letter"


PaperOption = Annotated[
    PaperChoice | None,
    typer.Option(help="Left out: letter for a job in inches, else a4.", case_sensitive=False),
]


def sheet(
    source: FromArgument,
    paper: PaperOption = None,
    out: OutOption = Path("results"),
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Make the shop sheet of a finished run again: one page to print. Solves nothing.

    Writes sheet.pdf and sheet.html, which say the same, into the results.
    """
    folder = results_of(source, out)
    from barwright.analysis.sheet import HTML, PDF, write_sheet

    page = write_sheet(folder, None if paper is None else paper.value)
    if as_json:
        names = {"pdf": folder / PDF, "html": folder / HTML}
        found = {name: console.plain(str(path)) for name, path in names.items()}
        print_json(found | {"paper": page.sheet.paper.name})
    elif not quiet:
        console.say(f"{folder / PDF}: one page, {page.sheet.paper.name}")
        console.say(f"{folder / HTML}: the same for a browser")
    note_of_change(folder)
    raise typer.Exit(OK)


def note_of_change(folder: Path) -> None:
    """Say so where the case of a results folder is no longer what was run."""
    from barwright.analysis.finished import read_finished
    from barwright.analysis.sheet_content import changed_case

    path = changed_case(read_finished(folder))
    if path is not None:
        with contextlib.suppress(ValueError):
            path = path.relative_to(Path.cwd())
        console.note(
            f"{path} was changed since this run: the numbers are those of before. "
            f"First: barwright run {path}"
        )


def sheet_of_run(folder: Path) -> str | None:
    """Leave a sheet in a fresh results folder; a line for the user if that failed.

    Whatever goes wrong with the paper, the numbers of the run are not lost for it; a full disk
    is another matter, for then something else may be cut short too.
    """
    try:
        from barwright.analysis.sheet import write_sheet

        write_sheet(folder)
    except Exception as error:
        if of_disk(error) or os.environ.get("BARWRIGHT_DEBUG"):
            raise
        return f"no shop sheet: {type(error).__name__}: {error}"
    return None


def results_of(source: Path, out: Path) -> Path:
    """Folder of the results that a sheet is wanted of."""
    if source.is_dir():
        _summary(source, f"{source} holds no results of a run")
        return source
    from barwright.analysis.casefile import read_case_file
    from barwright.analysis.swap import results_name

    case_file = read_case_file(source)
    folder = out / results_name(source)
    if not folder.exists() and (source.parent / "summary.json").is_file():
        folder = source.parent
    found = _summary(folder, f"{source} was not run yet: there is nothing in {folder}")
    if found["case"]["sha256"] != case_file.sha256:
        message = f"{source} was changed since it was run. First: barwright run {source}"
        raise typer.BadParameter(message, param_hint="CASE")
    return folder


def _summary(folder: Path, missing: str) -> dict[str, Any]:
    """What a run left, refused where it is not there or not whole."""
    try:
        found: Any = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    except OSError:
        message = f"{missing}. Run the case first: barwright run CASE"
        raise typer.BadParameter(message, param_hint="CASE|RESULTS") from None
    except ValueError:
        found = None
    if not isinstance(found, dict) or found.get("schema") != SCHEMA:
        message = f"{folder / 'summary.json'} is not the summary of a run. Run the case again"
        raise typer.BadParameter(message, param_hint="CASE|RESULTS")
    return found
