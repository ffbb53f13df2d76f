"""The command that writes a first case file from a few answers."""

from __future__ import annotations

import sys
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from . import console
from .options import BAR_METALS, OK, WORK_METALS, JsonOption, QuietOption, print_json

if TYPE_CHECKING:
    from barwright.analysis.first_case import Answers


class UnitsChoice(StrEnum):
    """Units that the shop thinks in."""

    MM = "mm"
    INCH = "inch"


class DriveChoice(StrEnum):
    """How the bar is driven."""

    CHUCK = "chuck"
    CENTRES = "centres"


_QUESTIONS = {
    "bore": "Finished bore, with its limits",
    "length": "Length of the bore",
    "work": "Material of the work",
    "bar": "Diameter of the bar",
    "steel": "Material of the bar",
    "span": "Span, from the drive support to the tail centre",
    "depth": "Depth of the cut, on the radius",
    "feed": "Feed",
    "speed": "Spindle speed",
}
_WORDS = {"work": "grey iron", "steel": "mild steel cold drawn"}


def _asked(
    what: str, such_as: str | None = None, among: Callable[[str], list[str]] | None = None
) -> Any:
    words = f"{what}, such as {such_as}." if such_as else f"{what}."
    return typer.Option(help=words, autocompletion=among)


def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Case file to write.")] = Path(
        "my_case.yaml"
    ),
    units: Annotated[UnitsChoice | None, _asked("What the shop thinks in")] = None,
    title: Annotated[str | None, _asked("Name of the job")] = None,
    bore: Annotated[
        str | None, _asked(_QUESTIONS["bore"], "'3.000 +.002 -0 in' or '44 H7'")
    ] = None,
    length: Annotated[str | None, _asked(_QUESTIONS["length"], "'5-1/2 in'")] = None,
    work: Annotated[str | None, _asked(_QUESTIONS["work"], "'grey iron'", WORK_METALS)] = None,
    bar: Annotated[str | None, _asked(_QUESTIONS["bar"], "'2 in'")] = None,
    steel: Annotated[str | None, _asked(_QUESTIONS["steel"], "'4140 prehard'", BAR_METALS)] = None,
    span: Annotated[str | None, _asked(_QUESTIONS["span"], "'15-5/8 in'")] = None,
    drive: Annotated[DriveChoice | None, _asked("Chuck, or between centres with a dog")] = None,
    depth: Annotated[str | None, _asked(_QUESTIONS["depth"], "'8 thou'")] = None,
    feed: Annotated[str | None, _asked(_QUESTIONS["feed"], "'.006 ipr'")] = None,
    speed: Annotated[str | None, _asked(_QUESTIONS["speed"], "'70 rpm'")] = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Write a first case file from a few answers. Each line of it has a remark.

    What no option says is asked, and Enter takes what is suggested; where there is no terminal to
    ask at, the suggestion is taken. A file that is there already is left alone.
    """
    if file.exists():
        message = f"{console.plain(str(file))} is there already; give another name"
        raise typer.BadParameter(message, param_hint="FILE")
    given = {
        "bore": bore,
        "length": length,
        "work": work,
        "bar": bar,
        "steel": steel,
        "span": span,
        "depth": depth,
        "feed": feed,
        "speed": speed,
    }
    answers = _answers(title, units, drive, given)
    _write(file, answers)
    if as_json:
        print_json({"case": {"title": answers.title, "file": file.name}})
    elif not quiet:
        console.say(f"{console.plain(str(file))}: a case to start from; open it and put in yours")
    console.note(f"next: barwright check {console.plain(str(file))}")
    raise typer.Exit(OK)


def _answers(
    title: str | None,
    units: UnitsChoice | None,
    drive: DriveChoice | None,
    given: dict[str, str | None],
) -> Answers:
    from barwright.analysis.first_case import Answers, suggested

    own = units or UnitsChoice(_ask("Units, mm or inch", "mm", lambda text: UnitsChoice(text)))
    name = title if title is not None else _ask("Name of the job", "My first bore", str)
    found: dict[str, str] = {}
    for key, question in _QUESTIONS.items():
        first = _WORDS.get(key) or suggested(
            key, own.value, found.get("bore", ""), found.get("length", "")
        )
        typed = given[key]
        found[key] = (
            _ask(question, first, _checked(key)) if typed is None else _refused(key, typed)
        )
    way = drive or DriveChoice(_ask("Chuck or centres", "chuck", lambda text: DriveChoice(text)))
    return Answers(title=name, units=own.value, drive=way.value, **found)


def _ask(question: str, first: str, checked: Callable[[str], str]) -> str:
    """An answer from the terminal; what is suggested where there is none to ask."""
    if not sys.stdin.isatty():
        return first
    while True:
        said: str = typer.prompt(question, default=first, err=True)
        try:
            return checked(said.strip())
        except ValueError as error:
            console.note(f"  {error}")


def _checked(name: str) -> Callable[[str], str]:
    """A check that gives back what reads as an answer and raises ValueError at the rest."""
    from pydantic import TypeAdapter, ValidationError

    from barwright.analysis.first_case import KINDS
    from barwright.analysis.material import BarMaterialChoice, WorkMaterialChoice
    from barwright.analysis.units import parse_fit, parse_quantity

    def quantity(text: str) -> str:
        kind = KINDS[name]
        if not (parse_fit(text).nominal if kind == "fit" else parse_quantity(text, kind)) > 0:
            message = f"{console.plain(text)} is not above 0"
            raise ValueError(message)
        return text

    def material(text: str) -> str:
        choice: Any = BarMaterialChoice if name == "steel" else WorkMaterialChoice
        try:
            TypeAdapter(choice).validate_python(text)
        except ValidationError as error:
            raise ValueError(error.errors()[0]["msg"]) from None
        return text

    return quantity if name in KINDS else material


def _refused(name: str, text: str) -> str:
    """An answer from the call, refused where it does not read."""
    try:
        return _checked(name)(text)
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint=f"--{name}") from None


def _write(file: Path, answers: Answers) -> None:
    """Write the case once it is sure that `check` takes it; never over another file."""
    from barwright.analysis.casefile import Source, parse_case
    from barwright.analysis.errors import CreateError, WriteError
    from barwright.analysis.first_case import first_case

    text = first_case(answers)
    name = console.plain(str(file))
    parse_case(Source(file=name, name=name, text=text, sha256=""))
    try:
        with file.open("x", encoding="utf-8") as handle:
            handle.write(text)
    except OSError as error:
        message = f"cannot write {name}: {error.strerror or error}"
        kind = WriteError if file.exists() else CreateError
        raise kind(message) from None
