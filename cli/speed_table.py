"""What `speeds` prints: the cut's own speed and the pick first, then every speed and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from barwright.analysis.units import Own, said

from .console import heading, plain, say, table, wrapped

if TYPE_CHECKING:
    from barwright.analysis.speed_choice import JudgedSpeed, SpeedChoice


def answer(title: str, choice: SpeedChoice) -> None:
    """Print the verdict on the cut's own speed, the pick, the runner-up."""
    asked, pick, runner_up = choice.asked, choice.pick, choice.runner_up
    say(f"{asked.verdict.upper()} at {_rpm(asked)}, the speed of this cut: {plain(title)}")
    say(wrapped(f"{_opened(asked.reasons[0].text)}."))
    if runner_up is None:
        return
    say(wrapped(f"{_take(pick)} {_rpm(pick)} ({pick.verdict}): {choice.why}."))
    say(wrapped(f"Next: {_rpm(runner_up)} ({runner_up.verdict}): {_shortly(runner_up)}."))


def _shortly(row: JudgedSpeed) -> str:
    return plain(", ".join(reason.short for reason in row.against or row.reasons))


def _take(pick: JudgedSpeed) -> str:
    return "Least bad:" if pick.verdict == "avoid" else "Take"


def _opened(text: str) -> str:
    """A reason as the start of a sentence."""
    return plain(text[:1].upper() + text[1:])


def _rpm(row: JudgedSpeed) -> str:
    """Turns per minute; three digits are more than a belt holds."""
    turns = row.speed * 60
    return f"{turns:.3g} rpm" if turns < 100 else f"{turns:.0f} rpm"


def details(choice: SpeedChoice, own: Own) -> None:
    """Print every speed in a table, what speaks for and against each, and what holds for all."""
    from barwright.analysis.speed_choice import margin_words

    heading("Speeds (gain margin against chatter: 1 just sings)")
    rows = [("rpm", "edge along the bore", "", "gain margin", "without the edge's rubbing", "")]
    rows += [
        (
            _rpm(row).split()[0],
            said(row.surface_speed, "surface speed", own),
            row.verdict,
            margin_words(row.margins.whole),
            margin_words(row.margins.bare),
            _marks(row, choice),
        )
        for row in choice.speeds
    ]
    table(rows)
    heading("Why")
    for row in choice.speeds:
        for number, reason in enumerate(row.reasons):
            name = _rpm(row) if number == 0 else ""
            text = wrapped(f"{reason.verdict}: {plain(reason.text)}", indent=" " * 14)
            say(f"  {name:>9}   {text.lstrip()}")
    heading("Of all of them")
    for note in choice.notes:
        say(wrapped(f"{_opened(note)}."))


def _marks(row: JudgedSpeed, choice: SpeedChoice) -> str:
    """Whether a speed is the cut's own, the pick or the runner-up."""
    words = ["this cut"] if row.asked else []
    words += ["pick"] if row is choice.pick and choice.runner_up else []
    words += ["runner-up"] if row is choice.runner_up else []
    if not row.on_lathe and any(other.on_lathe for other in choice.speeds):
        words.append("not on the lathe")
    return ", ".join(words)
