"""What `compare` prints: the best set-up first, the questions answered, every row and why."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite
from typing import TYPE_CHECKING

from barwright.analysis.units import Own, rough, shop_size

from .console import heading, margins, plain, say, table, times, wrapped

if TYPE_CHECKING:
    from barwright.analysis.compare import Comparison
    from barwright.analysis.judge import Band
    from barwright.analysis.variant import Variant

MOST_ROWS = 40


def answer(comparison: Comparison, system: Own) -> None:
    """Print the best set-up and the questions."""
    from barwright.analysis.compare import changes_said, steel_said, support_said

    title = plain(comparison.case.title)
    if not comparison.rows:
        say(f"NOTHING TO COMPARE: {title}")
        say(wrapped("None of the combinations can be built. After the reasons: the case itself."))
        _refused(comparison)
        say()
    else:
        _best(comparison, title, system)
    if comparison.support is not None:
        say(wrapped(support_said(comparison.support, system)))
    say(wrapped(steel_said(comparison.steel)))
    say(wrapped(changes_said(comparison.changes)))


def _best(comparison: Comparison, title: str, system: Own) -> None:
    first, count = comparison.rows[0], sum(row.ok for row in comparison.rows)
    if count:
        say(f"{count} OF {len(comparison.rows)} SET-UPS WITHIN LIMITS: {title}")
        say(wrapped(f"Best: {_name(first, system)}: {first.reason}."))
    else:
        say(f"NONE OF {len(comparison.rows)} SET-UPS WITHIN LIMITS: {title}")
        say(wrapped(f"Least bad: {_name(first, system)}: {first.reason}."))
    own = comparison.case.bar.material.name
    if first.material.name != own:
        mine = next((row for row in comparison.rows if row.material.name == own), None)
        best = "" if mine is None else f"; the best row in that one is {_name(mine, system)}"
        say(wrapped(f"That is not the steel of the case, which is {plain(own)}{best}."))
    say(wrapped(f"Gain margin {_margins(first)} (1 just sings)."))
    level = [row for row in comparison.rows if row.rank == 1][1:]
    if level:
        names = "; ".join(_name(row, system) for row in level[:3])
        say(wrapped(f"Not told apart from it within 3 %: {names}."))


def _name(row: Variant, system: Own) -> str:
    from barwright.analysis.variant import set_up_name

    return plain(set_up_name(row.case, system))


def _margins(row: Variant) -> str:
    margin = row.chatter.margin
    low, likely, high = (times(margin[end]) for end in ("low", "likely", "high"))
    return f"{low} to {high}, likely {likely}"


def details(comparison: Comparison, system: Own) -> None:
    """Print every row, what buys most, and what cannot be built."""
    if comparison.rows:
        _rows(comparison, system)
    _changes(comparison)
    if comparison.rows:
        _refused(comparison)


def _rows(comparison: Comparison, system: Own) -> None:
    rows = comparison.rows[:MOST_ROWS]
    heading("Set-ups, best first (= not told apart within 3 %; * this case; gain margin: 1 sings)")
    _table(
        "support, steel, bar, span, gain margin, limits", (_set_up(row, system) for row in rows)
    )
    heading("Size (bands of all figures in compare.csv)")
    _table("bore off by, stiffness, weight", (_sizes(row, system) for row in rows))
    heading(
        "Strength, times over (of the hole judged at the low end, of the screws at the likely one)"
    )
    names = "yield, fatigue, hold of the screws, threads"
    _table(names, map(_strength, rows))
    heading("Chatter (likely values)")
    names = "first mode, allowed loop gain, depth limit, nose radius limit"
    _table(names, (_chatter(row, system) for row in rows))
    heading("Why")
    for row in rows:
        text = wrapped(f"{'within' if row.ok else 'OUTSIDE'}: {row.reason}", indent=" " * 9)
        say(f"  {_rank(row):<7}{text.lstrip()}")
    if len(comparison.rows) > MOST_ROWS:
        more = len(comparison.rows) - MOST_ROWS
        say(wrapped(f"and {more} more in compare.csv"))


def _table(names: str, rows: Iterable[tuple[str, ...]]) -> None:
    table([("", *names.split(", ")), *rows])


def _rank(row: Variant) -> str:
    return f"{row.rank}{'=' if row.tied else ''}{'*' if row.own else ''}"


def _set_up(row: Variant, system: Own) -> tuple[str, ...]:
    bar = row.case.bar
    return (
        _rank(row),
        row.support,
        plain(row.material.name),
        shop_size(float(bar.diameter), system),
        shop_size(float(bar.span), system),
        _margins(row),
        "within" if row.ok else "OUTSIDE",
    )


def _size(error: Band, system: Own) -> str:
    unit, name = (25.4e-6, "thou") if system == "inch" else (1e-6, "um")
    ends = (error.low, error.high, error.likely)
    low, high, likely = (f"{float(f'{value / unit:.2g}'):g}" for value in ends)
    return f"{low} to {high}, likely {likely} {name}"


def _sizes(row: Variant, system: Own) -> tuple[str, ...]:
    return (
        _rank(row),
        _size(row.size_error, system),
        rough(row.stiffness.likely, "stiffness", system),
        rough(row.weight, "mass", system),
    )


def _strength(row: Variant) -> tuple[str, ...]:
    thread = row.thread_margin
    return (
        _rank(row),
        margins(row.yield_margin),
        margins(row.fatigue_margin) if row.fatigue_margin is not None else "not judged",
        margins(row.holding.hold_margin) if row.holding.hold_margin is not None else "no screw",
        times(thread) if thread is not None else "no screw",
    )


def _chatter(row: Variant, system: Own) -> tuple[str, ...]:
    gain: float | str = row.allowed_gain if isfinite(row.allowed_gain) else "none"
    return (
        _rank(row),
        f"{row.first_mode.likely:.0f} Hz",
        _limit(gain, "stiffness", system),
        _limit(row.depth_limit, "length", system),
        _limit(row.nose_radius_limit, "length", system),
    )


def _limit(found: float | str, kind: str, system: Own) -> str:
    return found if isinstance(found, str) else rough(found, kind, system)


def _changes(comparison: Comparison) -> None:
    heading("What buys most, one change at a time (times this case)")
    rows = [("", "gain margin", "stiffness", "")]
    for change in comparison.changes:
        margin = f"{change.margin:.2f}" if change.margin < 100 else "over 100"
        said = "within limits" if change.ok else "still outside limits"
        if change.margin < 0.98 and change.stiffness > 1.0:
            said += "; firmer, but damps less"
        rows.append((change.what, margin, f"{change.stiffness:.2f}", said))
    table(rows)
    for one in comparison.barred:
        say(wrapped(f"{one.name} cannot be: {plain(one.why)}"))


def _refused(comparison: Comparison) -> None:
    if not comparison.refused:
        return
    heading("Cannot be built")
    for one in comparison.refused[:MOST_ROWS]:
        say(wrapped(f"{plain(one.name)}: {plain(one.why)}"))
    if len(comparison.refused) > MOST_ROWS:
        say(wrapped(f"and {len(comparison.refused) - MOST_ROWS} more in compare.json"))
