"""The command that goes from a bore to a bar."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from . import console, printing, reporting
from .options import OK, OUTSIDE, JsonOption, OutOption, QuietOption, print_json, yaml_files
from .progress import working

JobArgument = Annotated[
    Path,
    typer.Argument(metavar="JOB", help="Job file (YAML).", autocompletion=yaml_files),
]


def plan(
    job: JobArgument,
    out: OutOption = Path("results"),
    pictures: Annotated[bool, typer.Option(help="Draw the pictures.")] = True,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Plan a job from the bore, the lathe and the steel on hand. Bar, bit, supports, passes.

    Writes a case that `barwright run` accepts, and all that a run of it leaves. Exit status 1
    where no set-up fits or some limit is not met.
    """
    from barwright.analysis.jobfile import read_job_file

    job_file = read_job_file(job)
    from barwright.analysis.plan import make_plan
    from barwright.analysis.plan_record import plan_summary, write_plan
    from barwright.analysis.swap import folder_name, new_results

    from . import plan_lines

    target = out / folder_name(job.stem)
    with working("choosing bar, bit and passes"):
        found = make_plan(job_file.job, job_file.job.own, job_file.source.name)
        with new_results(target) as fresh:
            checks = write_plan(fresh, job_file, found)
            drawn = _drawn(fresh) if pictures and found.chosen else None
            unprinted = printing.sheet_of_run(fresh) if found.chosen else None
            unmade = reporting.of_run(fresh, target) if found.chosen else []
    if as_json:
        print_json(plan_summary(job_file, found))
    else:
        plan_lines.answer(found)
        if not quiet:
            plan_lines.details(found, checks, str(target / "case.yaml"))
    for missing in filter(None, (drawn, unprinted, *unmade)):
        console.note(missing)
    paper = f"; to print: {target / 'sheet.pdf'}" if found.chosen and not unprinted else ""
    console.note(f"written: {target}{os.sep}{paper}")
    raise typer.Exit(OK if found.ok else OUTSIDE)


def _drawn(folder: Path) -> str | None:
    """Draw in a child process; a line for the user if pictures are missing."""
    from barwright.analysis.pictures import draw_in_child

    return draw_in_child(folder).note
