"""The command that says what to try when a cut goes wrong."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from . import console
from .drilled import drilled
from .options import OK, SYMPTOMS, CaseArgument, JsonOption, QuietOption, print_json
from .progress import working

if TYPE_CHECKING:
    from barwright.analysis.case import Case
    from barwright.analysis.marks import Marks
    from barwright.analysis.singing import Chatter
    from barwright.analysis.trouble import Symptom, Trouble

MOST_MARKS = 10_000
SymptomArgument = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="SYMPTOM",
        help="Such as chatter or taper; left out: all of them.",
        autocompletion=SYMPTOMS,
    ),
]


def _count(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        message = f"{console.plain(text)} is not a count of marks: write one such as 146"
        raise typer.BadParameter(message) from None


MarksOption = Annotated[
    float | None,
    typer.Option(
        parser=_count,
        metavar="COUNT",
        help="Chatter marks counted once round the bore: says which part sings.",
    ),
]
RecordingOption = Annotated[
    Path | None,
    typer.Option(help="Recording (WAV) of the cut as it chatters: says which part sings."),
]
RpmOption = Annotated[
    str | None,
    typer.Option(
        "--rpm", help="With --marks or --recording: the speed as counted with a watch, '87 rpm'."
    ),
]


def trouble(
    case: CaseArgument,
    symptom: SymptomArgument = None,
    marks: MarksOption = None,
    recording: RecordingOption = None,
    rpm: RpmOption = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say what to look at and what to try when a cut goes wrong. In order, by this job's numbers.

    The case is solved first, on the beam. Nothing is written.
    """
    from barwright.analysis.casefile import read_case_file

    read = drilled(read_case_file(case)).case
    speed = _speed(marks, recording, rpm)
    heard = _heard(recording, speed or read.spindle_speed)
    from barwright.analysis import trouble as finder
    from barwright.analysis.remedy import Workshop

    wanted = _wanted(symptom, read)
    from barwright.analysis.run import analyse

    with working("solving the case and what could be tried"):
        outcome = analyse(read)
        shop = Workshop(read, outcome)
        chosen = (
            [wanted]
            if wanted
            else []
            if marks is not None or heard is not None
            else finder.possible(read)
        )
        troubles = [finder.trouble(shop, one) for one in chosen]
    found = None
    if marks is not None or heard is not None:
        from barwright.analysis.marks import read_chatter, read_marks

        if marks is not None:
            found = read_marks(read, outcome, marks, speed)
        elif heard is not None:
            found = read_chatter(read, outcome, heard.frequency, speed)
    if as_json:
        print_json(_plain_data(read.title, troubles, found))
    else:
        _print(str(case), troubles, found, listing=wanted is None, quiet=quiet)
    raise typer.Exit(OK)


def _heard(recording: Path | None, speed: float) -> Chatter | None:
    """The pitch that sings in a recording; refuses one in which nothing does."""
    if recording is None:
        return None
    from barwright.analysis.recording import read_recording
    from barwright.analysis.singing import recorded_chatter

    return recorded_chatter(read_recording(recording), speed)


def _speed(marks: float | None, recording: Path | None, rpm: str | None) -> float | None:
    """The counted speed, turns per second; refuses marks and speeds that cannot be."""
    from barwright.analysis.units import UnitError, parse_quantity

    if marks is not None and not 2 <= marks <= MOST_MARKS:
        message = f"{marks:g} is not a count of marks once round the bore: give 2 to {MOST_MARKS}"
        raise typer.BadParameter(message, param_hint="--marks")
    if marks is not None and recording is not None:
        message = "give the marks or the recording, not both"
        raise typer.BadParameter(message, param_hint="--recording")
    if rpm is None:
        return None
    if marks is None and recording is None:
        message = "a counted speed needs what was cut at it: add --marks or --recording"
        raise typer.BadParameter(message, param_hint="--rpm")
    try:
        speed = float(parse_quantity(rpm, "spindle speed"))
    except UnitError as error:
        raise typer.BadParameter(str(error), param_hint="--rpm") from None
    if speed <= 0:
        message = f"{rpm} is not above 0"
        raise typer.BadParameter(message, param_hint="--rpm")
    return speed


def _wanted(words: list[str] | None, case: Case) -> Symptom | None:
    """The symptom that was asked for, if the case can have it."""
    from barwright.analysis.trouble import lacks, symptom_named

    if not words:
        return None
    try:
        found = symptom_named(" ".join(words))
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="SYMPTOM") from None
    missing = lacks(case, found)
    if missing:
        message = f"{found.name}: the bar of this case has {missing}"
        raise typer.BadParameter(message, param_hint="SYMPTOM")
    return found


def _plain_data(title: str, troubles: list[Trouble], found: Marks | None) -> dict[str, Any]:
    from barwright.analysis.trouble_record import marks_summary, troubles_summary

    data: dict[str, Any] = {"title": title}
    if troubles:
        data["trouble"] = troubles_summary(troubles)
    return data if found is None else data | {"marks": marks_summary(found)}


def _print(
    case: str, troubles: list[Trouble], found: Marks | None, *, listing: bool, quiet: bool
) -> None:
    from . import trouble_lines

    if found is not None:
        trouble_lines.marks(found, quiet=quiet)
    if troubles and found is not None:
        console.say()
    if troubles and listing:
        trouble_lines.listed(troubles, case)
    elif troubles:
        trouble_lines.one(troubles[0], quiet=quiet)
