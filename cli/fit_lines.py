"""What `fit` and `log` print: what the readings told first, then how, then what to write down."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from barwright.analysis.fit_picture import part_words
from barwright.analysis.push import DIVISIONS_WANTED
from barwright.analysis.run_out import meaning
from barwright.analysis.units import Estimate, Own, rough, said, show

from .console import band, heading, plain, say, table, times, wrapped

if TYPE_CHECKING:
    from barwright.analysis.bore_log import BoreLog, Learnt, NextPass, Stray
    from barwright.analysis.fit import SeriesCheck, SupportFit, Told
    from barwright.analysis.fit_design import FreePlaces, ProposedTest
    from barwright.analysis.measured_rows import MeasuredRow
    from barwright.analysis.run_out import Pattern

MOST_PULL = 600.0
"""What a person pulls with a spring balance, at most, N (judgement)."""
SAFELY = (
    "Power isolated, spindle blocked, bit straight up or out; strap and balance clear of the feet."
)


def answer(title: str, told: Sequence[Told], found: SupportFit | None, own: Own) -> None:
    """Print what was told in a line, or that nothing was and what would tell."""
    learnt = [one for one in told if one.tells]
    if not learnt:
        say(f"THE READINGS CANNOT TELL: {plain(title)}")
        say(wrapped(_remedy(found, own)))
        return
    say(f"MEASURED: {plain(title)}")
    for one in learnt:
        say(wrapped(f"{part_words(one.name)}: {_narrowed(one, own)}."))
    rest = [part_words(one.name) for one in told if not one.tells]
    if rest:
        say(wrapped(f"Not told by these readings: {'; '.join(rest)}. They stay as they were."))
    if found is not None and found.disagrees:
        say(wrapped(_disagreement(found)))


def _narrowed(one: Told, own: Own) -> str:
    after, before = show(one.after, one.kind, own), show(one.before, one.kind, own)
    text = f"{after}, was thought {before}"
    return (
        f"{text}: outside what was thought possible, so look at it again" if one.far_off else text
    )


def _remedy(found: SupportFit | None, own: Own) -> str:
    if found is None or not found.series:
        return "A pitch alone does not part one support from another; add a push test."
    most = max(found.series, key=lambda one: one.divisions)
    text = f"Total movement {most.divisions:.2g} divisions of the indicator at most"
    if most.divisions >= DIVISIONS_WANTED:
        return (
            f"{text}, which is enough, but at places that do not part the supports; read close to "
            "each support as well (`barwright fit CASE --design` says which test tells most)."
        )
    return f"{text}: {_more(most, own)}."


def _disagreement(found: SupportFit) -> str:
    return (
        f"The readings scatter {found.misfit:.2g} times as much as the indicator explains: slack, "
        "a slipping strap or base, or a place written down wrong. Take them again before you "
        "trust this."
    )


def details(
    told: Sequence[Told],
    found: SupportFit | None,
    rows: Sequence[MeasuredRow],
    own: Own,
) -> None:
    """Print every unknown, every series, every pitch, and the rows for the case."""
    heading("Thought before, known after; nine in ten lie in the range")
    lines = [("", "before", "after", "doubt shrank by")]
    lines += [
        (
            part_words(one.name),
            show(one.before, one.kind, own),
            show(one.after, one.kind, own),
            f"{100 * one.learnt:.0f} %{'' if one.tells else ', not told'}",
        )
        for one in told
    ]
    table(lines)
    if found is not None:
        _hang_together(found)
        _series(found.series, own)
        _pitches(found)
    if rows:
        from barwright.analysis.measured_rows import measured_block

        heading("For the case file")
        for line in measured_block(rows).splitlines():
            say(f"  {line}")


def _hang_together(found: SupportFit) -> None:
    """Name the pair whose values are least told apart."""
    told = [k for k, one in enumerate(found.told) if one.tells]
    pairs = [(a, b) for n, a in enumerate(told) for b in told[n + 1 :]]
    if not pairs:
        return
    a, b = max(pairs, key=lambda pair: abs(found.correlation[pair]))
    size = float(found.correlation[a, b])
    if abs(size) < 0.5:
        say(wrapped("Each is told apart from the others (no correlation above 0.5)."))
        return
    one, other = (part_words(found.told[k].name) for k in (a, b))
    trade = (
        "one may be firmer and the other softer" if size < 0 else "both may be firmer or softer"
    )
    text = f"{one} and {other} are told together (correlation {size:.2g}): {trade} than found."
    say(wrapped(text[0].upper() + text[1:]))


def _series(series: Sequence[SeriesCheck], own: Own) -> None:
    if not series:
        return
    heading("Each series")
    lines = [("pulled at", "read at", "way", "to", "moved", "divisions", "")]
    lines += [
        (
            show(one.pull_at, "length", own),
            show(one.read_at, "length", own),
            one.way,
            rough(one.most_pull, "force", own),
            rough(one.movement, "length", own),
            f"{one.divisions:.2g}",
            _enough(one, own),
        )
        for one in series
    ]
    table(lines)


def _enough(one: SeriesCheck, own: Own) -> str:
    if one.divisions >= DIVISIONS_WANTED:
        return ""
    return f"thin: {_more(one, own)}"


def _more(one: SeriesCheck, own: Own) -> str:
    """What would make a series move enough."""
    pull = rough(one.wanted_pull, "force", own)
    if one.wanted_pull > MOST_PULL:
        return f"use a finer indicator (with this one it would take {pull})"
    return f"pull to {pull} or use a finer indicator"


def _pitches(found: SupportFit) -> None:
    if not found.pitches:
        return
    heading("Pitch of the bar")
    lines = [("way", "heard", "thought before", "with what was found")]
    for way, (heard, before, after) in found.pitches.items():
        lines.append((way, f"{heard:.0f} Hz", f"{before:.0f} Hz", f"{after:.0f} Hz"))
    table(lines)


def design(
    title: str, tests: Sequence[ProposedTest], free: FreePlaces, own: Own, most: int = 6
) -> None:
    """Print the tests that would tell most, the best first."""
    best = tests[0]
    say(f"TO LEARN MOST: {plain(title)}")
    say(wrapped(f"{_test_words(best, own)}."))
    rest = [part_words(one.name) for one in best.told if not one.tells]
    if rest:
        say(wrapped(f"Even this leaves as it is: {'; '.join(rest)}."))
    for line in _bare_bar(free, own):
        say(wrapped(line))
    heading("Tests foreseen: by how much each doubt would shrink")
    for number, one in enumerate(tests[:most], start=1):
        say(wrapped(f"{number}. {_test_words(one, own)}:"))
        shrunk = (f"{part_words(told.name)} {100 * told.learnt:.0f} %" for told in one.told)
        say(wrapped("; ".join(shrunk), indent=" " * 5))
    say(wrapped(SAFELY))


def _bare_bar(free: FreePlaces, own: Own) -> Iterator[str]:
    """What the places keep clear of, and where nothing is free."""
    clear = show(free.clear, "length", own)
    yield (
        f"Places keep {clear} from what holds the bar, the dog and the work: slide the work "
        "towards the tail for those up to the bit, towards the headstock for the rest."
    )
    drive, tail = (show(end, "length", own) for end in free.held)
    for place, name, reaches in (
        (free.drive, "the drive", f"what stands there reaches to {drive}"),
        (free.tail, "the tail", f"what stands there begins at {tail}"),
    ):
        if place is None:
            yield (
                f"No place close to {name} is free: {reaches}, less than {clear} from where the "
                "work or the strap at the bit would be."
            )
    if free.middle is None:
        yield "No place at the bit is free: supports and work leave no bare bar there."


def _test_words(one: ProposedTest, own: Own) -> str:
    size = f"{show(one.bar.diameter, 'length', own)} x {show(one.bar.span, 'length', own)}"
    bar = "your own bar" if one.bar.own else f"a plain {size} bar"
    places = ", ".join(show(place, "length", own) for place in one.places)
    tap = ", and tap it both ways" if one.tapped else ""
    return f"{bar}, pulled to {rough(one.pull, 'force', own)} at {places}{tap}"


def run_out(title: str, pattern: Pattern, own: Own) -> None:
    """Print what readings along the bar say of it, and what it does at the bit."""
    say(f"RUN-OUT, {pattern.name.upper()}: {plain(title)}")
    means = meaning(pattern)
    say(wrapped(f"{means[:1].upper()}{means[1:]}."))
    for one in pattern.faults:
        say(
            wrapped(
                f"{one.name}: {said(one.swing, 'length', own)} full swing where it is largest."
            )
        )
    say(wrapped(f"At the bit {band(pattern.swing_at_bit, 'length', own)} full swing."))


# --- the bore log ----------------------------------------------------------------------------


def log_answer(title: str, found: BoreLog, learnt: Learnt, own: Own) -> None:
    """Print the next setting and what it brings, then what the passes told."""
    following = learnt.next_pass
    if following is None:
        say(f"AT SIZE OR PAST IT: {plain(title)}")
        say(wrapped("The bore is at the middle of its limits or above it; set nothing further."))
    else:
        say(f"NEXT PASS: {plain(title)}")
        reading = said(following.reading, "length", own)
        say(wrapped(f"Set the micrometer over bit and bar to {reading}."))
        low, high = (show(end, "length", own) for end in (following.bore.low, following.bore.high))
        middle = said(following.bore.likely, "length", own)
        say(wrapped(f"Expect {low} to {high}, likely {middle}; nine in ten lie in that range."))
        if following.cuts > 1 or following.ends_at is not None:
            say(wrapped(_share(following, own)))
        again = following.same_again.likely - float(found.bore[-1])
        taken = rough(again, "length", own) if again > 0 else "nothing"
        say(wrapped(f"One more pass at the same setting would take {taken}."))
    if learnt.stray.widens > 1:
        say(wrapped(_widened(learnt.stray, found.bore.size > 1, own)))


def _share(following: NextPass, own: Own) -> str:
    """What the next pass takes of what is left, and what comes after it."""
    size = f"{rough(following.depth, 'length', own)} on the radius"
    if following.ends_at is not None:
        end = show(following.ends_at, "length", own)
        rest = "the last" if following.cuts == 1 else f"one of {following.cuts}"
        return f"That is {rest} of the roughing, {size}; at {end} the last cuts begin."
    share = "half" if following.cuts == 2 else f"one part in {following.cuts}"
    return (
        f"That is {share} of what is left, {size}: measure after it and take the rest as deep, "
        "for two equal last cuts cancel the spring."
    )


def _widened(stray: Stray, others: bool, own: Own) -> str:
    """Which pass is off, and what that does to the ranges."""
    off, likely = (rough(abs(size), "length", own) for size in (stray.off, stray.likely))
    side = "large" if stray.off > 0 else "small"
    rest = ", and the other passes," if others else ""
    return (
        f"Pass {stray.number} came out {off} too {side} for what setting and spring{rest} make of "
        f"it, where {likely} is likely: every range is {stray.widens:.2g} times as wide for it. "
        "Measure it again before you trust this."
    )


def _zero(zero: Estimate, own: Own) -> tuple[str, str]:
    """Whether settings cut large or small, and by how much."""
    if zero >= 0:
        return "settings cut large by", said(zero, "length", own)
    return "settings cut small by", said(Estimate(-zero, -zero.high, -zero.low), "length", own)


def _factor(found: Estimate) -> str:
    """A factor with its range, two digits."""
    return f"{times(found)} ({times(found.low)} to {times(found.high)})"


def log_details(found: BoreLog, learnt: Learnt, own: Own) -> None:
    """Print every pass against what was expected of it, and what was learnt."""
    heading("Each pass")
    lines = [("setting", "bore measured", "a run expected", "off by", "off by, once learnt")]
    off = found.bore - learnt.expected_before
    for k in range(found.bore.size):
        lines.append(
            (
                show(float(found.setting[k]), "length", own),
                show(float(found.bore[k]), "length", own),
                show(float(learnt.expected_before[k]), "length", own),
                rough(float(off[k]), "length", own),
                rough(float(learnt.left[k]), "length", own),
            )
        )
    table(lines)
    heading("Learnt; nine in ten lie in the range")
    table(
        [
            ("short-fall per depth, thought", show(learnt.ratio_before, "share")),
            ("short-fall per depth, learnt", show(learnt.ratio, "share")),
            _zero(learnt.zero, own),
            ("force over what was thought", _factor(learnt.force_factor)),
        ]
    )
    say(
        wrapped(
            "The force is told only as far as the stiffness is known: measure the supports first "
            "(`barwright fit`), or what is called force here may be give."
        )
    )
