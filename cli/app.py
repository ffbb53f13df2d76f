"""The commands: each reads, calls one function of `analysis`, prints, and gives its status."""

from __future__ import annotations

import os
import signal
import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from barwright.analysis import errors

from . import (
    console,
    examples,
    explaining,
    listening,
    measuring,
    places,
    planning,
    printing,
    reporting,
    running,
    starting,
    studying,
    troubleshooting,
)
from .drilled import HoleOption, HoleWay, drilled
from .options import (
    BAR_METALS,
    BUG,
    CANNOT_WRITE,
    INTERRUPTED,
    OK,
    OUTSIDE,
    TERMINATED,
    UNSOLVED,
    WRONG,
    CaseArgument,
    JsonOption,
    OutOption,
    QuietOption,
    fault,
    print_json,
    status_of,
)
from .progress import working

if TYPE_CHECKING:
    from barwright.analysis.material import BarMaterial

QUESTION = "Will this line-boring bar hold size, and what shakes it? Answers before metal is cut."
START = """See an answer:         barwright run cases/pump_bracket.yaml
From a bore to a bar:  barwright plan cases/jobs/pump_barrel.yaml
A bar that you have:   barwright new, then barwright run"""
STATUS = """Exit status: 0 within limits; 1 analysed, some limit not met; 2 the case or the call
is wrong; 3 it could not be solved; 70 a fault of barwright; 73 cannot create, 74 cannot write;
130 interrupted; 143 terminated. Of several cases the highest of any."""

app = typer.Typer(
    help=f"{QUESTION}\n\n\b\n{START}",
    epilog=STATUS,
    no_args_is_help=True,
    invoke_without_command=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)

# Typer has no public name for the base of its usage errors.
_WrongCall: Any = typer.BadParameter.__mro__[2]


@app.callback()
def top(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version and leave.")
    ] = False,
) -> None:
    """Will this line-boring bar hold size, and what shakes it? Answers before metal is cut."""
    if version:
        from importlib.metadata import version as installed

        console.say(f"barwright {installed('barwright')}")
        raise typer.Exit(OK)


class SupportChoice(StrEnum):
    """How the bar is driven."""

    CHUCK = "chuck"
    COLLET = "collet"
    CENTRES = "centres"


@app.command()
def check(case: CaseArgument, quiet: QuietOption = False, as_json: JsonOption = False) -> None:
    """Read a case and say back what was read. In both unit systems; solves nothing."""
    from barwright.analysis.casefile import read_case_file

    case_file = read_case_file(case)
    if as_json:
        from barwright.analysis.record import inputs

        print_json({"title": case_file.case.title, "inputs": inputs(case_file)})
        return
    console.say(f"{console.plain(case_file.case.title)}: read, and it fits together.")
    if not quiet:
        console.origins(case_file, only_guesses=False)
    console.note(f"next: barwright run {case}")


app.command()(running.run)
app.command()(starting.new)


@app.command()
def speeds(
    case: CaseArgument,
    hole: HoleOption = HoleWay.SOLVED,
    out: OutOption = Path("results"),
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Judge each speed: good, caution or avoid, and why. Which one of the lathe's to take.

    Exit status 1 where the cut's own speed is one to avoid.
    """
    from barwright.analysis.casefile import read_case_file

    case_file = drilled(read_case_file(case), hole)
    from barwright.analysis.speed_choice import choose_speed
    from barwright.analysis.speed_record import speeds_summary, write_speeds
    from barwright.analysis.swap import new_results, results_name

    from . import speed_table

    with working("judging the speeds"):
        choice = choose_speed(case_file.case)
    target = out / f"{results_name(case)}-speeds"
    found = speeds_summary(case_file, choice)
    with new_results(target) as fresh:
        write_speeds(fresh, case_file, choice)
        from barwright.analysis.speed_strip import draw_speed_strip

        draw_speed_strip(found, fresh / "speeds.png", case_file.case.own)
    if as_json:
        print_json(found)
    else:
        speed_table.answer(case_file.case.title, choice)
        if not quiet:
            speed_table.details(choice, case_file.case.own)
    console.note(f"written: {target}{os.sep}")
    raise typer.Exit(OUTSIDE if choice.asked.verdict == "avoid" else OK)


@app.command()
def compare(
    case: CaseArgument,
    support: Annotated[
        list[SupportChoice] | None, typer.Option(help="How the bar is driven; may be repeated.")
    ] = None,
    material: Annotated[
        list[str] | None,
        typer.Option(help="A material of the table; may be repeated.", autocompletion=BAR_METALS),
    ] = None,
    diameter: Annotated[
        list[str] | None, typer.Option(help="Of the bar, such as '1 in'; may be repeated.")
    ] = None,
    span: Annotated[
        list[str] | None,
        typer.Option(help="On the case's own support, such as '380 mm'; may be repeated."),
    ] = None,
    projection: Annotated[
        list[str] | None, typer.Option(help="Of the bit, such as '6 mm'; may be repeated.")
    ] = None,
    hole: HoleOption = HoleWay.SOLVED,
    out: OutOption = Path("results"),
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Put supports, steels and sizes side by side, best first. Every combination, and why.

    Without options: chuck and centres, in the case's own steel, mild steel and 4140. All on the
    same carriage travel. Exit status 1 where no combination meets every limit.
    """
    from barwright.analysis.casefile import read_case_file

    case_file = drilled(read_case_file(case), hole)
    lengths = {"--diameter": diameter, "--span": span, "--projection": projection}
    diameters, spans, projections = (_lengths(name, texts) for name, texts in lengths.items())
    metals = [_metal(name) for name in material or ()]
    from barwright.analysis.compare import compare as side_by_side
    from barwright.analysis.compare_record import comparison_summary, write_comparison
    from barwright.analysis.swap import new_results, results_name

    from . import compare_table

    own = case_file.case.own
    with working("solving every combination"):
        found = side_by_side(
            case_file.case,
            supports=[one.value for one in support or ()],
            materials=metals,
            diameters=diameters,
            spans=spans,
            projections=projections,
            inch=own == "inch",
            processes=min(2, os.cpu_count() or 1),
        )
    target = out / f"{results_name(case)}-compare"
    plain_data = comparison_summary(case_file, found)
    with new_results(target) as fresh:
        write_comparison(fresh, case_file, found)
        from barwright.analysis.compare_picture import draw_comparison

        draw_comparison(plain_data, fresh / "compare.png", own)
    if as_json:
        print_json(plain_data)
    else:
        compare_table.answer(found, own)
        if not quiet:
            compare_table.details(found, own)
    console.note(f"written: {target}{os.sep}")
    raise typer.Exit(OK if found.any_ok else OUTSIDE)


def _lengths(name: str, texts: list[str] | None) -> list[float]:
    """Lengths as the shop says them, each above nothing."""
    from barwright.analysis.units import UnitError, parse_quantity

    found = []
    for text in texts or ():
        try:
            found.append(float(parse_quantity(text, "length")))
        except UnitError as error:
            raise typer.BadParameter(str(error), param_hint=name) from None
        if found[-1] <= 0:
            message = f"{text} is not above 0"
            raise typer.BadParameter(message, param_hint=name)
    return found


def _metal(name: str) -> BarMaterial:
    """A material of the table by any of its names."""
    from pydantic import TypeAdapter, ValidationError

    from barwright.analysis.material import BarMaterialChoice

    try:
        metal: BarMaterial = TypeAdapter(BarMaterialChoice).validate_python(name)
    except ValidationError as error:
        message = error.errors()[0]["msg"]
        raise typer.BadParameter(message, param_hint="--material") from None
    return metal


app.command()(listening.tap)
app.command()(measuring.fit)
app.command()(measuring.log)
app.command()(troubleshooting.trouble)
app.command()(planning.plan)
app.command()(printing.sheet)
app.command()(reporting.report)
app.command()(studying.study)
app.command()(explaining.explain)


app.command()(places.where)


@app.command()
def materials(quiet: QuietOption = False, as_json: JsonOption = False) -> None:
    """Print what bars and work are made of. Each value with its range and source."""
    from barwright.analysis.material import bar_materials, work_materials

    tables = {"bar": bar_materials(), "work": work_materials()}
    if as_json:
        print_json(
            {name: [m.model_dump(mode="json") for m in t.values()] for name, t in tables.items()}
        )
        return
    console.materials(tables, names_only=quiet)


@app.command()
def schema(
    of_job: Annotated[bool, typer.Option("--job", help="Of a job file instead.")] = False,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Print the JSON Schema of a case file. For editors that complete and check.

    --quiet and --json change nothing here.
    """
    del quiet, as_json  # taken so that every command takes them
    if of_job:
        from barwright.analysis.jobfile import job_schema

        print_json(job_schema())
        return
    from barwright.analysis.casefile import case_schema

    print_json(case_schema())


@app.command()
def verify(quiet: QuietOption = False, as_json: JsonOption = False) -> None:
    """Rerun the published checks on this machine. Source, expected, got, difference."""
    from barwright.analysis.verification import run_checks

    with working("running the checks"):
        results = run_checks()
    if as_json:
        print_json({"checks": [console.check_row(result) for result in results]})
    else:
        console.checks(results, count_only=quiet)
    raise typer.Exit(OK if all(result.ok for result in results) else UNSOLVED)


examples.put_in(app)


def _terminated(_signal: int, _frame: object) -> NoReturn:
    raise SystemExit(TERMINATED)


def main() -> None:
    """Run the command line and leave with a status that means one thing."""
    # The dense parts are small: threads of the linear algebra cost far more than they bring.
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    signal.signal(signal.SIGTERM, _terminated)
    sys.exit(status())


def status(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit status; every failure has its own."""
    try:
        code = app(arguments, prog_name="barwright", standalone_mode=False)
        sys.stdout.flush()
    except errors.BarwrightError as error:
        return _failed(error)
    except (KeyboardInterrupt, typer.Abort):
        console.note("interrupted; earlier results are untouched")
        return INTERRUPTED
    except typer.Exit as left:
        return left.exit_code
    except _WrongCall as error:
        error.show()
        return WRONG
    except OSError as error:
        console.note(f"cannot write: {error.strerror or error}")
        return CANNOT_WRITE
    except MemoryError:
        console.note("there is not enough memory for this; a solid takes most, a beam little")
        return UNSOLVED
    except Exception as error:
        return _bug(error)
    return code if isinstance(code, int) else OK


def _failed(error: errors.BarwrightError) -> int:
    if isinstance(error, console.ClosedPipeError):
        # Python would complain of the pipe once more as it leaves.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return CANNOT_WRITE
    if isinstance(error, errors.CaseError) and sys.stderr.isatty():
        console.note(error.with_lines())
    else:
        console.note(str(error))
    return status_of(error)


def _bug(error: Exception) -> int:
    if os.environ.get("BARWRIGHT_DEBUG"):
        raise error
    console.note(
        f"{fault(error)}\n"
        "Nothing was changed. BARWRIGHT_DEBUG=1 shows where; please report it with the case."
    )
    return BUG
