"""What `plan` prints: whether it can be done and with what, then every part of the reason."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from barwright.analysis.units import said, show, stock_size
from barwright.analysis.wording import set_by, set_by_both

from . import pass_table, run_lines, trouble_lines
from .console import band, cautions, heading, plain, say, table, times, wrapped

if TYPE_CHECKING:
    from barwright.analysis.bar_choice import SetUp
    from barwright.analysis.case import Case
    from barwright.analysis.plan import Chosen, Plan, PlannedCut
    from barwright.analysis.units import Own


_ALIKE = 0.01
"""Share by which depth and setting of a pass may differ and be one number."""


def answer(plan: Plan) -> None:
    """Print whether the job can be done, with what, and what to expect."""
    from barwright.analysis.cut_choice import skin_of

    say(f"{_verdict(plan)}: {plain(plan.job.title)}")
    say(wrapped(f"{plan.verdict.fitness.capitalize()}: {plain(plan.verdict.why)}."))
    for line in plan.obstacles:
        say(wrapped(_sentence(line)))
    if plan.chosen is None:
        _nothing(plan)
        return
    _set_up(plan.chosen, plan.system)
    for number, cut in enumerate(plan.chosen.cuts):
        under = number == 0 and 0 < skin_of(plan.job) <= cut.cut.depth
        say(wrapped(_cut(cut, plan.system, under_skin=under)))
    _expected(plan, plan.chosen)
    for stage, one in plan.chosen.misses:
        say(
            wrapped(
                f"Not met, {stage}: {one.what} {said(one.value, one.kind, plan.system)}; limit "
                f"{said(one.limit, one.kind, plan.system)}."
            )
        )


def _verdict(plan: Plan) -> str:
    if plan.verdict.fitness == "not for a bar":
        return "NOT A JOB FOR A LINE-BORING BAR"
    if plan.chosen is None:
        return "NO SET-UP FITS"
    if not plan.ok:
        return "CAN BE SET UP, BUT NOT WITHIN LIMITS"
    return run_lines.verdict(plan.chosen.outcome).replace("WITHIN LIMITS", "CAN BE DONE")


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _nothing(plan: Plan) -> None:
    """What is in the way of every bar."""
    for bar in plan.bars:
        if bar.ok:
            say(wrapped(f"{plain(bar.name)}: it would go in by itself."))
        else:
            say(wrapped(f"{plain(bar.name)}: {'; '.join(bar.conflicts)}."))
    for line in plan.notes:
        say(wrapped(_sentence(line)))


def _set_up(chosen: Chosen, own: Own) -> None:
    set_up, case = chosen.set_up, chosen.outcome.case
    say(
        wrapped(
            f"Take {plain(chosen.bar)}, {stock_size(set_up.budget.stock, own)} of it, "
            f"{_held(set_up, case, own)}: span {stock_size(set_up.budget.span, own)}."
        )
    )
    places = [
        f"{stock_size(one.position, own)}"
        + (f" for {one.lands}" if len(set_up.budget.stations) > 1 else "")
        for one in set_up.budget.stations
    ]
    start = "the jaws" if set_up.drive == "chuck" else "the headstock centre"
    hole = "a cross-hole" if len(places) == 1 else "cross-holes"
    say(
        wrapped(
            f"Bit {stock_size(set_up.bit_size, own)} square, "
            f"{stock_size(set_up.bit_length, own)} long, in {hole} "
            f"{' and '.join(places)} from {start}, sticking out "
            f"{stock_size(case.projection, own)}."
        )
    )


def _held(set_up: SetUp, case: Case, own: Own) -> str:
    tail = f"a {case.supports.tail.kind}" if case.supports.tail else "nothing"
    if set_up.drive == "chuck":
        grip = getattr(case.supports.drive, "grip", 0.0)
        return f"{stock_size(float(grip), own)} of that in the chuck, {tail} at the tail"
    return f"between centres with a dog, {tail} at the tail"


def _cut(cut: PlannedCut, own: Own, *, under_skin: bool) -> str:
    count = len(cut.passes)
    depth, feed = float(cut.cut.depth), float(cut.cut.feed)
    skin = " (the first goes under the skin)" if under_skin else ""
    return (
        f"{cut.stage.capitalize()}: {count} pass{'' if count == 1 else 'es'} "
        f"{set_by_both(depth, own)} deep, {said(feed, 'feed', own)}, "
        f"{show(cut.case.spindle_speed, 'spindle speed')}"
        f" ({show(cut.case.surface_speed, 'surface speed', own)} along the bore){skin}."
        f"{_set_out(cut, own)}"
    )


def _set_out(cut: PlannedCut, own: Own) -> str:
    """How far the bit goes out, where whole passes and spring make it other than the depth."""
    advance, depth = float(cut.passes[-1].advance), float(cut.cut.depth)
    if set_by(advance, own) == set_by(depth, own) or abs(advance / depth - 1) < _ALIKE:
        return ""
    return f" To come to size the bit goes out by {set_by_both(advance, own)} in each."


def _expected(plan: Plan, chosen: Chosen) -> None:
    own, last = plan.system, chosen.cuts[-1].passes[-1]
    margin = chosen.outcome.chatter.margin
    minutes = sum(one.minutes or 0.0 for cut in chosen.cuts for one in cut.passes)
    stations = len(chosen.set_up.budget.stations)
    each = " at this bit station" if stations > 1 else ""
    low, likely, high = (_bore(x, own) for x in (last.bore.low, last.bore.likely, last.bore.high))
    bore = likely if low == high else f"{low} to {high}, likely {likely}"
    say(
        wrapped(f"Bore after the last pass {bore}; wanted {show(plan.job.work.bore, 'fit', own)}.")
    )
    say(
        wrapped(
            f"Bar spring by itself: {band(chosen.outcome.size_error, 'length', own)} on the "
            "diameter, which two equal last cuts cancel."
        )
    )
    say(
        wrapped(
            f"Chatter: gain margin {times(margin['low'])} to {times(margin['high'])}, likely "
            f"{times(margin['likely'])} (1 just sings){_in_roughing(chosen)}; "
            f"{chosen.outcome.chatter.reason}."
        )
    )
    doubts = run_lines.doubts(chosen.outcome)
    if plan.ok and doubts:
        say(
            wrapped(
                f"At the pessimistic end of what was guessed {' and '.join(doubts)}: "
                f"{run_lines.measure_first(chosen.outcome.case)}."
            )
        )
    say(
        wrapped(
            f"About {_duration(minutes)} of cutting{each}; setting and measuring, run-in, run-out "
            "and gaps come on top."
        )
    )


def _in_roughing(chosen: Chosen) -> str:
    found = [
        one.value
        for cut in chosen.cuts[:-1]
        for one in cut.findings
        if one.what == "gain margin against chatter"
    ]
    return f", in roughing likely {times(found[0])}" if found else ""


def _duration(minutes: float) -> str:
    return f"{minutes:.0f} minutes" if minutes < 120 else f"{minutes / 60:.2g} hours"


def _bore(size: float, own: Own) -> str:
    return f"{size * 1e3:.3f} mm" if own == "mm" else f"{size / 0.0254:.4f} in"


# --- the reasons -----------------------------------------------------------------------------


def details(plan: Plan, checks: Mapping[str, Any] | None, case: str) -> None:
    """Print length budget, clearances, bars, passes, other set-ups, checks and cautions."""
    chosen, own = plan.chosen, plan.system
    if chosen is not None:
        _budget(chosen, own)
    if plan.bars and chosen is not None:
        _bars(plan)
    if chosen is None:
        return
    _passes(chosen, own)
    _others(chosen, own)
    if checks is not None:
        trouble_lines.checks(checks["setup_checks"], own)
    heading("Also")
    for line in plan.notes:
        say(wrapped(_sentence(plain(line))))
    symptoms = 'chatter (or taper, "out of round")'
    say(wrapped(f"If it goes wrong: barwright trouble {plain(case)} {symptoms}."))
    cautions()


def _budget(chosen: Chosen, own: Own) -> None:
    budget = chosen.set_up.budget
    heading("Length budget, from the drive end to the tail end")
    rows = [(stock_size(float(part.length), own), part.name) for part in budget.parts]
    table([*rows, (stock_size(budget.span, own), "SPAN")])
    heading("Both ends of the travel (carriage moves " + stock_size(budget.travel, own) + ")")
    table(
        (
            "ok" if one.ok else "HITS",
            f"{one.end} end",
            one.what,
            f"{stock_size(one.room, own)} apart",
        )
        for one in budget.clearances
    )


def _bars(plan: Plan) -> None:
    from barwright.analysis.plan import why_bar

    heading("Bars on hand")
    for one in plan.bars:
        mark = "ok" if one.ok else "no"
        text = wrapped(f"{plain(one.name)}: {why_bar(plan, one)}.", indent=" " * 6)
        say(f"  {mark}  {text.lstrip()}")


def _passes(chosen: Chosen, own: Own) -> None:
    heading("Passes" + _for_each(chosen))
    systems: Sequence[Own] = ("mm", "inch") if own == "mm" else ("inch", "mm")
    rows: list[tuple[str, ...]] = [
        ("", "bore before", "bit out by", "over bit and bar", "bore after", "minutes in cut")
    ]
    for cut in chosen.cuts:
        for one in cut.passes:
            rows += [pass_table.row(one, system, again=system != own) for system in systems]
    table(rows)
    say(
        wrapped(
            "Over bit and bar by micrometer: bore = 2 x reading - bar diameter. Before the last "
            "pass measure the bore, cool, and move the bit out by half of what is missing."
        )
    )


def _for_each(chosen: Chosen) -> str:
    return ", the same at each bit station" if len(chosen.set_up.budget.stations) > 1 else ""


def _others(chosen: Chosen, own: Own) -> None:
    from barwright.analysis.plan import drive_words

    if not chosen.alternatives:
        return
    heading("Other set-ups, by stiffness at the bit over that of the one taken")
    table(
        (
            f"{one.ratio:.2g}",
            f"{plain(one.bar)}, {drive_words(one.set_up)}, span "
            f"{stock_size(one.set_up.budget.span, own)}",
        )
        for one in chosen.alternatives
    )
