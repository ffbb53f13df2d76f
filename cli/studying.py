"""The command that draws everything in doubt at once."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from . import console
from .drilled import HoleOption, HoleWay, drilled
from .options import OK, OUTSIDE, CaseArgument, JsonOption, OutOption, QuietOption, print_json
from .progress import working


def study(
    case: CaseArgument,
    samples: Annotated[
        int,
        typer.Option(
            min=64, max=1_000_000, help="How many draws; more make the figures steadier."
        ),
    ] = 4096,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same figures.")] = 1,
    hole: HoleOption = HoleWay.SOLVED,
    out: OutOption = Path("results"),
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say what drives the answer, and what to measure first.

    Everything guessed or given with a range is drawn at once: bands that hold 8 times in 10, the
    chance of chatter, and what each doubt does to them. Exit status 1 where half of the draws
    or more miss a limit.
    """
    from barwright.analysis.casefile import read_case_file

    case_file = drilled(read_case_file(case), hole)
    from barwright.analysis.study import WORTH_A_PROCESS
    from barwright.analysis.study import study as drawn
    from barwright.analysis.study_record import study_summary, write_study
    from barwright.analysis.swap import new_results, results_name

    from . import study_lines

    own = case_file.case.own
    processes = min(2, os.cpu_count() or 1) if samples >= WORTH_A_PROCESS else 1
    with working(f"drawing {samples} times what is in doubt"):
        found = drawn(case_file.case, samples=samples, seed=seed, processes=processes)
    target = out / f"{results_name(case)}-study"
    with new_results(target) as fresh:
        summary = write_study(fresh, case_file, found)
        from barwright.analysis.study_picture import draw_bands, draw_drivers

        draw_drivers(summary, fresh / "drivers.png", own)
        draw_bands(summary, fresh / "bands.png", own)
    if as_json:
        print_json(study_summary(case_file, found))
    else:
        study_lines.answer(found, own)
        if not quiet:
            study_lines.details(found, own)
    console.note(f"written: {target}{os.sep}")
    raise typer.Exit(OK if found.within_limits else OUTSIDE)
