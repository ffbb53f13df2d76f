"""The main command: one case as it is read, many cases at once, or a table of variants."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from . import batch_lines, console, printing, reporting
from .batch_lines import Answered, Failed, answered, dead, failed
from .drilled import HoleOption, HoleWay, drilled
from .options import OK, OUTSIDE, JsonOption, OutOption, QuietOption, print_json, yaml_files
from .progress import Progress, working

if TYPE_CHECKING:
    from barwright.analysis.case import Case
    from barwright.analysis.casefile import CaseFile
    from barwright.analysis.run import ModelKind, Outcome
    from barwright.analysis.variant_table import Row


class ModelName(StrEnum):
    """How the bar is modelled."""

    BEAM = "beam"
    SOLID = "solid"


CasesArgument = Annotated[
    list[Path],
    typer.Argument(
        metavar="CASE", help="Case file (YAML), or several.", autocompletion=yaml_files
    ),
]
JobsOption = Annotated[
    int | None,
    typer.Option(min=1, help="Cases worked on at once; left out, one for each processor."),
]


def run(
    cases: CasesArgument,
    model: Annotated[
        ModelName,
        typer.Option(help="The bar as a beam (seconds) or as a solid (tens of seconds)."),
    ] = ModelName.BEAM,
    out: OutOption = Path("results"),
    pictures: Annotated[
        bool, typer.Option(help="Draw the pictures; without them no 3-D files either.")
    ] = True,
    report: Annotated[
        bool | None,
        typer.Option(help="Write report.html; without either word, only if pictures are drawn."),
    ] = None,
    animate: Annotated[
        bool, typer.Option("--animate", help="Leave the bent bar and its modes as GIF too.")
    ] = False,
    history: Annotated[
        bool,
        typer.Option(
            "--history", help="Cut the bore turn by turn too: a second opinion on chatter."
        ),
    ] = False,
    hole: HoleOption = HoleWay.SOLVED,
    variants: Annotated[
        Path | None,
        typer.Option(help="Table (CSV) with a variant of the case in each row; see README."),
    ] = None,
    jobs: JobsOption = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Analyse a case: size, chatter, strength, passes. The answer first, then the reasons.

    Several cases are worked on at once, each in a process of its own; what went wrong is said at
    the end, and the exit status is the highest of any case.
    """
    order = Order(
        model=model.value,
        out=out,
        history=history,
        pictures=pictures,
        report=pictures if report is None else report,
        animate=animate,
        hole=hole,
    )
    if variants is not None:
        _run_variants(cases, variants, order, jobs, quiet=quiet, as_json=as_json)
    elif len(cases) > 1:
        _run_many(cases, order, jobs, quiet=quiet, as_json=as_json)
    else:
        _run_one(cases[0], order, quiet=quiet, as_json=as_json)


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What is to be done with a case."""

    model: ModelKind
    out: Path
    history: bool = False
    pictures: bool = True
    report: bool = True
    animate: bool = False
    hole: HoleWay = HoleWay.SOLVED


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """A case that was run and whose results are written.

    Attributes
    ----------
    summary : as summary.json has it
    missing : a line on each thing that could not be drawn or printed
    """

    case_file: CaseFile
    outcome: Outcome
    summary: dict[str, Any]
    target: Path
    missing: tuple[str, ...]
    printed: bool


def finished_run(case: Path, order: Order) -> Run:
    """Analyse a case and leave its results folder."""
    from barwright.analysis.casefile import read_case_file

    case_file = drilled(read_case_file(case), order.hole)
    from barwright.analysis.record import write_record
    from barwright.analysis.run import analyse
    from barwright.analysis.swap import new_results, results_name

    with _solving(case_file.case, order.model):
        outcome = analyse(case_file.case, order.model, history=order.history)
    target = order.out / results_name(case)
    with new_results(target) as fresh:
        summary = write_record(fresh, case_file, outcome)
        undrawn = _drawn(fresh) if order.pictures else None
        unprinted = printing.sheet_of_run(fresh)
        unmade = _unmade(fresh, target, order)
    return Run(
        case_file=case_file,
        outcome=outcome,
        summary=summary,
        target=target,
        missing=tuple(filter(None, (undrawn, unprinted, *unmade))),
        printed=unprinted is None,
    )


def _solving(case: Case, model: ModelKind) -> AbstractContextManager[Progress | None]:
    """The sign of life while a case is solved: of a solid, how large it will be."""
    if model == "beam":
        return nullcontext()
    from barwright.analysis.mesh import bar_shape, expected_unknowns

    thousands = expected_unknowns(bar_shape(case)) / 1000
    return working(f"solving a solid of at least {thousands:.0f} 000 unknowns")


def _unmade(folder: Path, target: Path, order: Order) -> list[str]:
    """Leave 3-D files, drawing and report where anything to look at was asked for."""
    if not (order.pictures or order.report or order.animate):
        return []
    return reporting.of_run(folder, target, with_report=order.report, animated=order.animate)


def _drawn(folder: Path) -> str | None:
    """Draw in a child process; a line for the user if pictures are missing."""
    from barwright.analysis.pictures import draw_in_child

    return draw_in_child(folder).note


def _run_one(case: Path, order: Order, *, quiet: bool, as_json: bool) -> None:
    with working(f"working on {console.plain(case.name)}, as a {order.model}"):
        done = finished_run(case, order)
    if as_json:
        print_json(done.summary)
    else:
        _print(done, quiet=quiet)
    for missing in done.missing:
        console.note(missing)
    paper = f"; to print: {done.target / 'sheet.pdf'}" if done.printed else ""
    console.note(f"written: {done.target}{os.sep}{paper}")
    raise typer.Exit(OK if done.outcome.within_limits else OUTSIDE)


def _print(done: Run, *, quiet: bool) -> None:

    from . import (
        behaviour_lines,
        history_lines,
        pass_table,
        run_lines,
        strength_lines,
        trouble_lines,
    )

    outcome, own = done.outcome, done.case_file.case.own
    run_lines.answer(outcome, own)
    history_lines.answer(outcome)
    if quiet:
        return
    run_lines.findings(outcome.findings, own)
    pass_table.passes(outcome.passes, own)
    history_lines.details(outcome, own)
    strength_lines.details(outcome, own)
    behaviour_lines.details(outcome, own)
    run_lines.details(outcome, own)
    trouble_lines.checks(done.summary["setup_checks"], own)
    console.origins(done.case_file, only_guesses=True)
    console.cautions()


# --- many ------------------------------------------------------------------------------------


def _run_many(
    cases: Sequence[Path], order: Order, jobs: int | None, *, quiet: bool, as_json: bool
) -> None:
    _refuse_shared_folders(cases, order.out)
    found = _done([(case, order) for case in cases], _case_in_worker, jobs, "cases")
    rows = [
        one if isinstance(one, (Answered, Failed)) else dead(str(case), one)
        for case, one in zip(cases, found, strict=True)
    ]
    if as_json:
        print_json([row.summary for row in rows])
    else:
        batch_lines.answer(rows, "case")
        if not quiet:
            batch_lines.details(rows)
    for case, row in zip(cases, rows, strict=True):
        for missing in row.missing:
            console.note(f"{console.plain(str(case))}: {missing}")
    batch_lines.failures(rows)
    console.note(f"written: {order.out}{os.sep}, a folder for each case")
    raise typer.Exit(max(row.status for row in rows))


def _done(
    tasks: Sequence[Any], job: Callable[[Any], Any], jobs: int | None, what: str
) -> list[Any]:
    """What came of each task, in the order of the tasks; a word on what was done if stopped."""
    from barwright.analysis.crew import cores, done_by_crew

    found: dict[int, Any] = {}
    try:
        with working(f"working on {len(tasks)} {what}", len(tasks)) as progress:
            for number, one in done_by_crew(job, tasks, jobs or cores()):
                found[number] = one
                progress.done = len(found)
    except (KeyboardInterrupt, SystemExit):
        console.note(f"stopped with {len(found)} of {len(tasks)} {what} done")
        raise
    return [found[number] for number in range(len(tasks))]


def _refuse_shared_folders(cases: Sequence[Path], out: Path) -> None:
    """Refuse two cases that would leave their results in one folder."""
    from barwright.analysis.swap import results_name

    first: dict[str, Path] = {}
    for case in cases:
        other = first.setdefault(results_name(case).lower(), case)
        if other is not case:
            message = (
                f"{console.plain(str(other))} and {console.plain(str(case))} would both leave "
                f"their results in {out / results_name(case)}; rename one, or run it by "
                "itself with another --out"
            )
            raise typer.BadParameter(message, param_hint="CASE...")


def _case_in_worker(task: tuple[Path, Order]) -> Answered | Failed:
    """One of many cases; whatever happens comes back as what is said of it."""
    case, order = task
    try:
        done = finished_run(case, order)
        return answered(str(case), done.case_file, done.outcome, done.summary, done.missing)
    except Exception as error:
        return failed(str(case), error)


# --- variants --------------------------------------------------------------------------------


def _run_variants(
    cases: Sequence[Path],
    path: Path,
    order: Order,
    jobs: int | None,
    *,
    quiet: bool,
    as_json: bool,
) -> None:
    if len(cases) > 1:
        message = f"a table of variants belongs to one case; {len(cases)} were given"
        raise typer.BadParameter(message, param_hint="--variants")
    if order.history:
        message = "a table of variants has no bores cut turn by turn; run the one you want alone"
        raise typer.BadParameter(message, param_hint="--history")
    from barwright.analysis.casefile import read_case_file
    from barwright.analysis.swap import new_results, results_name
    from barwright.analysis.variant_record import unanswered, variants_summary, write_variants
    from barwright.analysis.variant_table import read_variants

    case_file = read_case_file(cases[0])
    table = read_variants(path, case_file)
    tasks = [(case_file, table.keys, row, order) for row in table.rows]
    rows = [
        one if isinstance(one, (Answered, Failed)) else dead(row.place, one)
        for row, one in zip(
            table.rows, _done(tasks, _variant_in_worker, jobs, "variants"), strict=True
        )
    ]
    plain_data = [
        one.summary if isinstance(one, Answered) else unanswered(row, one.said)
        for row, one in zip(table.rows, rows, strict=True)
    ]
    summary = variants_summary(case_file, table, order.model, plain_data)
    target = order.out / f"{results_name(cases[0])}-variants"
    with new_results(target) as fresh:
        write_variants(fresh, case_file, table, summary)
    if as_json:
        print_json(summary)
    else:
        batch_lines.answer(rows, "variant")
        if not quiet:
            batch_lines.details(rows)
    batch_lines.failures(rows)
    console.note(f"written: {target / 'variants.csv'}")
    raise typer.Exit(max(row.status for row in rows))


def _variant_in_worker(
    task: tuple[CaseFile, tuple[str, ...], Row, Order],
) -> Answered | Failed:
    """One of many variants; whatever happens comes back as what is said of it."""
    case_file, keys, row, order = task
    from barwright.analysis.record import summary
    from barwright.analysis.run import analyse
    from barwright.analysis.variant_record import answered as with_answers
    from barwright.analysis.variant_table import varied

    try:
        changed = drilled(varied(case_file, row), order.hole)
        outcome = analyse(changed.case, order.model)
        plain_data = with_answers(changed, keys, row, summary(changed, outcome))
        return answered(row.name, changed, outcome, plain_data)
    except Exception as error:
        return failed(row.place, error)
