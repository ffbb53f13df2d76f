"""Commands that turn what was measured on the lathe into what a case knows."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from . import console
from .drilled import drilled
from .options import OK, OUTSIDE, CaseArgument, JsonOption, OutOption, QuietOption, print_json
from .progress import working

if TYPE_CHECKING:
    from barwright.analysis.bar import RunOut
    from barwright.analysis.casefile import CaseFile
    from barwright.analysis.fit import SupportFit, Told
    from barwright.analysis.measured_rows import MeasuredRow
    from barwright.analysis.push import Way
    from barwright.analysis.units import Own

TapOption = Annotated[
    list[Path] | None,
    typer.Option(help="Recording (WAV) of the bar tapped sideways; may be repeated."),
]
TapUpOption = Annotated[
    list[Path] | None,
    typer.Option(help="Recording (WAV) of the bar tapped upwards; may be repeated."),
]
WriteOption = Annotated[
    bool, typer.Option("--write", help="Write what was found into the case file itself.")
]


def fit(
    case: CaseArgument,
    push: Annotated[
        Path | None, typer.Option(help="Readings of a push test (CSV); see README.")
    ] = None,
    tap: TapOption = None,
    tap_up: TapUpOption = None,
    run_out: Annotated[
        Path | None, typer.Option(help="Indicator readings along the bar (CSV).")
    ] = None,
    design: Annotated[
        bool, typer.Option("--design", help="Say which test would teach most; fit nothing.")
    ] = False,
    pull: Annotated[
        str, typer.Option(help="With --design: the largest pull you manage.")
    ] = "300 N",
    resolution: Annotated[
        str, typer.Option(help="With --design: the least your indicator can show.")
    ] = "2 um",
    test_bar: Annotated[
        list[str] | None,
        typer.Option(help="With --design: a plain bar at hand, such as '1 in x 12 in'."),
    ] = None,
    write: WriteOption = False,
    out: OutOption = Path("results"),
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Find how stiff the supports are from readings on the lathe. Damping and run-out too.

    Each value comes with its doubt. Exit status 1 where the readings cannot tell anything.
    """
    from barwright.analysis.casefile import read_case_file

    case_file = drilled(read_case_file(case))
    own = case_file.case.own
    if design:
        _design(case_file, own, pull, resolution, test_bar or [], as_json)
        raise typer.Exit(OK)
    swung = None if run_out is None else _run_out(case_file, run_out, own, as_json=as_json)
    if push is None and not tap and not tap_up:
        if swung is None:
            message = "give readings: --push FILE, --tap FILE, --tap-up FILE or --run-out FILE"
            raise typer.BadParameter(message)
        readings, told_of_it = swung
        if as_json:
            from barwright.analysis.fit_record import fit_summary

            print_json({**fit_summary(case_file, None, ()), **told_of_it})
        _keep(case_file, (), readings, write=write)
        raise typer.Exit(OK)
    with working("fitting the supports to the readings"):
        found, told = _fitted(
            case_file, push, {"sideways": tap or [], "up and down": tap_up or []}
        )
    how = " and ".join([*(["push"] if push else []), *(["tap"] if tap or tap_up else [])])
    _finish(
        case_file,
        found,
        told,
        how,
        own,
        swung,
        write=write,
        out=out,
        quiet=quiet,
        as_json=as_json,
    )
    raise typer.Exit(OK if any(one.tells for one in told) else OUTSIDE)


def _fitted(
    case_file: CaseFile, push: Path | None, taps: dict[Way, list[Path]]
) -> tuple[SupportFit, tuple[Told, ...]]:
    """What push and taps tell of springs, and what the taps tell of damping."""
    from barwright.analysis.fit import first_pitch, fit_damping, fit_supports
    from barwright.analysis.push import read_push
    from barwright.analysis.recording import read_recording
    from barwright.analysis.tap import measure_taps

    test = read_push(push) if push else None
    heard = {
        way: [measure_taps(read_recording(file)) for file in files]
        for way, files in taps.items()
        if files
    }
    pitches = [first_pitch(case_file.case, way, tests) for way, tests in heard.items()]
    found = fit_supports(case_file.case, test, pitches)
    return found, (*found.told, *fit_damping(case_file.case, pitches))


def _finish(
    case_file: CaseFile,
    found: SupportFit,
    told: tuple[Told, ...],
    how: str,
    own: Own,
    swung: tuple[RunOut, dict[str, Any]] | None,
    *,
    write: bool,
    out: Path,
    quiet: bool,
    as_json: bool,
) -> None:
    """Record, print, and write into the case if asked."""
    from barwright.analysis.fit_picture import draw_fit
    from barwright.analysis.fit_record import fit_summary, measured_rows, write_fit
    from barwright.analysis.swap import new_results, results_name

    from . import fit_lines

    rows = measured_rows(told, date.today().isoformat(), how, own)
    damping = told[len(found.told) :]
    readings, told_of_it = swung or (None, {})
    summary = {**fit_summary(case_file, found, damping), **told_of_it}
    target = out / f"{results_name(Path(case_file.source.file))}-fit"
    with new_results(target) as fresh:
        write_fit(fresh, summary, told, rows)
        draw_fit(summary, fresh / "fit.png", own)
    if as_json:
        print_json(summary)
    else:
        fit_lines.answer(case_file.case.title, told, found, own)
        if not quiet:
            fit_lines.details(told, found, rows, own)
    console.note(f"written: {target}{os.sep}")
    _keep(case_file, rows, readings, write=write)


def _run_out(
    case_file: CaseFile, path: Path, own: Own, *, as_json: bool
) -> tuple[RunOut, dict[str, Any]]:
    """Say what indicator readings along the bar mean, and as a case has them; the same as data."""
    from barwright.analysis.behaviour_record import run_out_summary
    from barwright.analysis.run_out import run_out_pattern
    from barwright.analysis.run_out_readings import read_run_out, run_out_lines, with_readings

    from . import fit_lines

    readings = read_run_out(path)
    case = with_readings(case_file.case, readings, path)
    pattern = run_out_pattern(case)
    assert pattern is not None
    lines = list(run_out_lines(readings, own))
    if not as_json:
        fit_lines.run_out(case.title, pattern, own)
        console.heading("For the case file, under bar:")
        for line in lines:
            console.say(f"  {line}")
    return readings, {"run_out": run_out_summary(pattern), "for_the_case": lines}


def _keep(
    case_file: CaseFile, rows: tuple[MeasuredRow, ...], run_out: RunOut | None, *, write: bool
) -> None:
    """Put what was measured into the case file, whole or not at all; or say how it gets there."""
    from barwright.analysis.measured_rows import with_measured, with_run_out
    from barwright.analysis.run_out_readings import run_out_lines
    from barwright.analysis.swap import replace_text

    kinds = [
        (len(rows), "measured row"),
        (len(run_out.readings) if run_out else 0, "run-out reading"),
    ]
    words = " and ".join(f"{count} {kind}{'s' * (count > 1)}" for count, kind in kinds if count)
    if not words:
        return
    if not write:
        console.note(f"next: the same command with --write puts {words} into the case")
        return
    changed, file = case_file.source, case_file.source.file
    if run_out is not None:
        block = list(run_out_lines(run_out, case_file.case.own))
        changed = with_run_out(changed, block, date.today().isoformat()).source
    if rows:
        changed = with_measured(changed, rows).source
    replace_text(Path(file), changed.text)
    console.note(f"now in {console.plain(file)}: {words}")


def _design(
    case_file: CaseFile, own: Own, pull: str, resolution: str, bars: list[str], as_json: bool
) -> None:
    from barwright.analysis.fit_design import free_places, own_bar, propose_tests
    from barwright.analysis.fit_record import design_summary
    from barwright.analysis.push import Instruments

    from . import fit_lines

    instruments = Instruments(resolution=_quantity("--resolution", resolution, "length"))
    largest = _quantity("--pull", pull, "force")
    test_bars = [_test_bar(text) for text in bars]
    with working("trying every test"):
        tests = propose_tests(case_file.case, instruments, largest, test_bars, inch=own == "inch")
    if as_json:
        print_json(design_summary(case_file, tests))
    else:
        free = free_places(case_file.case, own_bar(case_file.case), inch=own == "inch")
        fit_lines.design(case_file.case.title, tests, free, own)


def _quantity(name: str, text: str, kind: str) -> float:
    """A quantity above nothing, as the shop says it."""
    from barwright.analysis.units import UnitError, parse_quantity

    try:
        value = float(parse_quantity(text, kind))
    except UnitError as error:
        raise typer.BadParameter(str(error), param_hint=name) from None
    if not value > 0:
        message = f"{text} is not above 0"
        raise typer.BadParameter(message, param_hint=name)
    return value


def _test_bar(text: str) -> Any:
    from barwright.analysis.fit_design import TestBar

    diameter, by, span = text.partition(" x ")
    if not by:
        message = f"{console.plain(text)}: write diameter x length, such as '1 in x 12 in'"
        raise typer.BadParameter(message, param_hint="--test-bar")
    return TestBar(
        diameter=_quantity("--test-bar", diameter, "length"),
        span=_quantity("--test-bar", span, "length"),
    )


def log(
    case: CaseArgument,
    bores: Annotated[
        Path, typer.Option(help="Settings and bores measured, a row a pass (CSV); see README.")
    ],
    write: WriteOption = False,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Learn from bores measured so far and give the next setting."""
    from barwright.analysis.bore_log import learn, read_bore_log
    from barwright.analysis.bore_log_record import learnt_summary, wear_row
    from barwright.analysis.casefile import read_case_file
    from barwright.analysis.passes import short_fall_at
    from barwright.analysis.run import analyse

    from . import fit_lines

    case_file = drilled(read_case_file(case))
    found = read_bore_log(bores)
    thought = analyse(case_file.case)

    def share(before: float, depth: float) -> float:
        return short_fall_at(
            case_file.case, thought.statics, thought.force, thought.size_error, before, depth
        )

    learnt = learn(case_file.case, found, thought.passes.spring_ratio, share)
    own = case_file.case.own
    if as_json:
        print_json(learnt_summary(case_file, found, learnt))
    else:
        fit_lines.log_answer(case_file.case.title, found, learnt, own)
        if not quiet:
            fit_lines.log_details(found, learnt, own)
    if not learnt.tells:
        console.note("these bores tell nothing of the force yet, so there is nothing to write")
        return
    row = wear_row(case_file.case, learnt, date.today().isoformat())
    if write:
        _keep(case_file, (row,), None, write=True)
    else:
        console.note(f"next: --write puts this into the case: {row.text}")
