"""The command that explains a word of the output, or a key of a case."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from . import console
from .options import OK, JsonOption, QuietOption, print_json

if TYPE_CHECKING:
    from barwright.analysis.explanation import Explanation

MOST = 6
_HEADINGS = {"means": "", "found": "How: ", "written": "", "asked": "", "do": "What to do: "}


def _offered(incomplete: str) -> list[str]:
    """What a shell offers: each name as one word, for any shell takes that."""
    from barwright.analysis.explanation import names_known

    words = (name.lower().replace(" ", "_") for name in names_known())
    return [word for word in words if word.startswith(incomplete)]


def explain(
    word: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="WORD...",
            help="A word of the output or a key of a case, such as gain margin or "
            "tilt_stiffness; left out, the words are listed.",
            autocompletion=_offered,
        ),
    ] = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Explain a word of the output or a key of a case. What it is, and what to do."""
    from barwright.analysis.explanation import explained, near, words

    asked = " ".join(word or ())
    found = explained(asked) if asked else words()
    if not found:
        alike = ", ".join(near(asked))
        message = f"`{console.plain(asked)}` is not a word that is explained; " + (
            f"did you mean {alike}?" if alike else "`barwright explain` lists those that are"
        )
        raise typer.BadParameter(message)
    if as_json:
        print_json({"words": [{"name": one.name, **dict(one.parts)} for one in found]})
    elif asked:
        _print(found, means_alone=quiet)
    else:
        console.table([(one.name, ", ".join(one.also)) for one in found])
        console.note("next: barwright explain gain margin")
    raise typer.Exit(OK)


def _print(found: Sequence[Explanation], *, means_alone: bool) -> None:
    for number, one in enumerate(found[:MOST]):
        (console.heading if number else console.say)(one.name)
        for part, text in one.parts[: 1 if means_alone else None]:
            console.say(console.wrapped(_HEADINGS[part] + text))
    if len(found) > MOST:
        others = ", ".join(one.name for one in found[MOST:])
        console.say(console.wrapped(f"Also: {others}.", indent=""))
