"""What `run --history` prints: the bore cut turn by turn, as a second opinion on the margin."""

from __future__ import annotations

from math import degrees
from typing import TYPE_CHECKING

from barwright.analysis.units import Own, roughly, said, show
from barwright.analysis.wording import set_by_both

from .console import heading, say, table, two_digits, wrapped

if TYPE_CHECKING:
    from barwright.analysis.cutting_history import History, Pass
    from barwright.analysis.run import Outcome
    from barwright.analysis.witness import Witness

NEAR = 0.1
UNSEEN = 1e-7
"""A length that no gauge in a shop can see, m."""
TOO_FAR = 5e-3
"""As in `cutting_steps`, which would load its compiler to say it."""


def answer(outcome: Outcome) -> None:
    """Print in one sentence whether it sings when cut turn by turn; nothing if it was not cut."""
    found = outcome.history
    if found is None:
        return
    sharp, rubbing = _sound(found.sharp), _sound(found.rubbing)
    both = f"it {rubbing} whether the edge rubs or not"
    if sharp != rubbing:
        both = f"with an edge that does not rub it {sharp}; with the likely rubbing it {rubbing}"
    say(wrapped(f"Cut turn by turn, a second opinion: {both}; {_agreement(outcome, found)}."))


def _sound(history: History) -> str:
    from barwright.analysis.witness import worst_sound

    worst = worst_sound(history)
    if worst == "runs away":
        return f"runs away in turn {history.passes[-1].turns} of pass {len(history.passes)}"
    return "is quiet" if worst == "quiet" else worst


def _agreement(outcome: Outcome, found: Witness) -> str:
    """Whether the witness and the likely margins, with and without rubbing, say the same."""
    from barwright.analysis.witness import worst_sound

    margins = (outcome.chatter.margin["likely"], outcome.chatter.bare)
    sings = [worst_sound(history) != "quiet" for history in (found.rubbing, found.sharp)]
    differ = [
        margin for margin, sung in zip(margins, sings, strict=True) if (margin < 1.0) != sung
    ]
    if not differ:
        return "the likely gain margin says the same"
    if all(abs(margin - 1.0) < NEAR for margin in differ):
        return "the likely gain margin is too near 1 to call"
    return "the likely gain margin says otherwise, so take the worse of the two"


def details(outcome: Outcome, own: Own) -> None:
    """Print each pass as it came out, and what was assumed; nothing if it was not cut."""
    found = outcome.history
    if found is None:
        return
    heading(f"Cut turn by turn: the first {found.turns} turns of each pass, at the likely guesses")
    rows: list[tuple[str, ...]] = [
        ("", "bore after", "vibration, rms", "off centre", "oval by", "")
    ]
    for name, history in found.histories.items():
        words = "edge does not rub" if name == "sharp" else "edge rubs"
        rows += [_row(k, one, words, found, own) for k, one in enumerate(history.passes)]
    table(rows)
    lines = [
        _run_away(found, own),
        _copied(found),
        _depths(outcome, found, own),
        _assumed(found, own),
    ]
    for line in filter(None, lines):
        say(wrapped(line))


def _run_away(found: Witness, own: Own) -> str:
    passes = [one for history in found.histories.values() for one in history.passes]
    if not any(one.ran_away for one in passes):
        return ""
    return (
        f"Runs away: the edge swings more than {roughly(TOO_FAR, 'length', own)}, so no bore is "
        "left to speak of. This cut cannot be made on this bar: take a stiffer bar, a shorter "
        "span, or far less feed."
    )


def _row(place: int, one: Pass, words: str, found: Witness, own: Own) -> tuple[str, ...]:
    from barwright.analysis.witness import late_vibration, sound_of

    name = f"pass {place + 1}, {words}"
    if one.ran_away:
        return name, "none", "", "", "", f"runs away in turn {one.turns}"
    return (
        name,
        show(float(found.planned[place]) - one.short_of_size, "length", own),
        _small(late_vibration(one), own),
        _small(one.eccentricity, own),
        _small(one.ovality, own),
        sound_of(one),
    )


def _small(value: float, own: Own) -> str:
    """A small length, two digits; what no gauge in a shop can see is said so."""
    if value < UNSEEN:
        return "under 0.1 um" if own == "mm" else "under 0.004 thou"
    return roughly(value, "length", own)


def _copied(found: Witness) -> str:
    firsts = [history.passes[0] for history in found.histories.values()]
    shares = [one.eccentricity_copied for one in firsts if not one.ran_away]
    if not shares:
        return ""
    low, high = (f"{two_digits(100 * share):g}" for share in (min(shares), max(shares)))
    return (
        f"Of the old bore's off-centre the first pass leaves "
        f"{low if low == high else f'{low} to {high}'} %."
    )


def _depths(outcome: Outcome, found: Witness, own: Own) -> str:
    """Say so where the passes are not the cut that the margin is for."""
    planned, depth = float(outcome.passes.passes[0].advance), float(outcome.case.cut.depth)
    if not found.start_known or abs(planned / depth - 1.0) < NEAR:
        return ""
    return (
        f"The passes are set out by {set_by_both(planned, own)} each; the margin is for the "
        f"case's depth of {set_by_both(depth, own)}."
    )


def _assumed(found: Witness, own: Own) -> str:
    ports = ""
    if found.ports:
        each = "a gap" if found.ports == 1 else f"{found.ports} gaps"
        wide = " each" if found.ports > 1 else ""
        ports = f", {each} in the wall {degrees(found.port_width):.0f} degrees wide{wide}"
    old = (
        "" if found.start_known else "; the old bore is not given, so one pass at the case's depth"
    )
    return (
        f"Assumed: the old bore {said(found.eccentricity, 'length', own)} off centre{ports}, a "
        f"light knock at the start of each pass{old}. Vibration is what changes along the bit "
        "from one turn to the next. All this stands on the same guesses as the margin and is no "
        "surer."
    )
