"""Picture of a comparison: a row for each variant, its margin and its stiffness as bands.

Drawn from the plain data of `compare.json`. A full band meets every limit, an open one does not;
nothing hangs on colour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil, floor, log, log10
from pathlib import Path
from typing import Any, Literal

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from .paper import FAINT, INK, QUIET, picture, short, whole_sheet
from .units import show

Own = Literal["mm", "inch"]
UNITS: dict[Own, dict[str, tuple[float, str]]] = {
    "mm": {"stiffness": (1e6, "N/um"), "length": (1e-6, "um")},
    "inch": {"stiffness": (4.4482216152605 / 25.4e-6, "lbf/thou"), "length": (25.4e-6, "thou")},
}
MOST_ROWS = 16
ROW, HEAD, FOOT, WIDTH = 66, 176, 150, 1600
MARGIN, STIFFNESS = (535, 365), (945, 215)
STRENGTH = 1215
LEAST, MOST = 0.03, 100.0


def draw_comparison(found: Mapping[str, Any], path: Path, system: Own = "mm") -> None:
    """Draw the variants of a `compare.json`, at most 16 of them, and keep the picture."""
    rows = _shown(found["variants"])
    height = HEAD + ROW * len(rows) + FOOT
    with picture(path, WIDTH, height) as figure:
        axes = whole_sheet(figure, left=0, right=WIDTH, bottom=height, top=0)
        bottom = HEAD + ROW * len(rows)
        unit, name = UNITS[system]["stiffness"]
        least, most = _stiffness_ends(rows, unit)
        _heading(axes, found, len(rows), name)
        _scale(axes, MARGIN, (LEAST, MOST), bottom)
        _singing(axes, bottom, float(found["margin_wanted"]))
        _scale(axes, STIFFNESS, (least, most), bottom)
        for number, row in enumerate(rows):
            top = HEAD + ROW * number
            _set_up(axes, top, row, system)
            _band(axes, top, row, "gain_margin", 1.0, MARGIN, (LEAST, MOST))
            _band(axes, top, row, "stiffness_radial_N_per_m", unit, STIFFNESS, (least, most))
            _strength(axes, top, row)
            _size(axes, top, row, *UNITS[system]["length"])
        _key(axes, bottom)


def _shown(rows: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The best rows, and the case as given among them."""
    kept = list(rows[:MOST_ROWS])
    own = [row for row in rows if row["this_case"]]
    if own and own[0] not in kept:
        kept[-1] = own[0]
    return kept


def _stiffness_ends(rows: Sequence[Mapping[str, Any]], unit: float) -> tuple[float, float]:
    """Round ends of a logarithmic scale that holds every stiffness, in a unit."""
    bands = [row["stiffness_radial_N_per_m"] for row in rows] or [{"low": 1e6, "high": 2e6}]
    low = min(band["low"] for band in bands) / unit
    high = max(band["high"] for band in bands) / unit
    return _round(low * 0.9, up=False), _round(high * 1.1, up=True)


def _round(value: float, *, up: bool) -> float:
    """Next of 1, 2, 5 times a power of ten."""
    power = 10.0 ** floor(log10(value))
    steps = [step * power for step in (1.0, 2.0, 5.0, 10.0)]
    if up:
        return min(step for step in steps if step >= value)
    return max(step for step in steps if step <= value)


def place(value: float, at: tuple[int, int], ends: tuple[float, float]) -> float:
    """Where a value stands on a logarithmic scale, dots, held at its ends.

    Examples
    --------
    >>> place(10.0, (100, 200), (1.0, 100.0)), place(1e9, (100, 200), (1.0, 100.0))
    (200.0, 300.0)
    """
    held = min(max(value, ends[0]), ends[1])
    return at[0] + at[1] * log(held / ends[0]) / log(ends[1] / ends[0])


def _heading(axes: Axes, found: Mapping[str, Any], shown: int, unit: str) -> None:
    every = len(found["variants"])
    count = f"the first {shown} of {every}" if every > shown else f"{every} set-ups"
    title = short(found["case"]["title"], 70)
    axes.text(40, 44, "Which set-up, best first", fontsize=18, weight="bold", va="center")
    axes.text(40, 80, f"{title}; {count}", fontsize=13, va="center", color=QUIET)
    for x, text, align in (
        (40, "rank and set-up", "left"),
        (MARGIN[0] + MARGIN[1] / 2, "gain margin against chatter", "center"),
        (STIFFNESS[0] + STIFFNESS[1] / 2, f"stiffness at the edge, {unit}", "center"),
        (STRENGTH, "strength at hole", "left"),
        (WIDTH - 40, "bore off by", "right"),
    ):
        axes.text(x, HEAD - 52, text, fontsize=12.5, va="center", ha=align, weight="bold")


def _scale(axes: Axes, at: tuple[int, int], ends: tuple[float, float], bottom: float) -> None:
    """Hair lines at powers of ten, or at 1, 2 and 5 where those are few."""
    decades = range(ceil(log10(ends[0]) - 1e-9), floor(log10(ends[1]) + 1e-9) + 1)
    marks = [10.0**k for k in decades]
    if len(marks) < 3:
        first = floor(log10(ends[0]))
        every = [s * 10.0**k for k in range(first, first + 4) for s in (1.0, 2.0, 5.0)]
        marks = [m for m in every if ends[0] * 0.999 <= m <= ends[1] * 1.001]
    for value in marks:
        x = place(value, at, ends)
        axes.plot([x, x], [HEAD, bottom], color=FAINT, lw=0.9, zorder=1)
        axes.text(x, HEAD - 16, f"{value:g}", fontsize=11, ha="center", va="center")


def _singing(axes: Axes, bottom: float, wanted: float) -> None:
    """Heavy line where it just sings, a dashed one at the margin that is wanted."""
    x = place(1.0, MARGIN, (LEAST, MOST))
    axes.plot([x, x], [HEAD, bottom], color=INK, lw=2, zorder=2)
    axes.text(x - 8, bottom + 18, "sings", fontsize=11.5, ha="right", va="center")
    axes.text(x + 8, bottom + 18, "quiet", fontsize=11.5, ha="left", va="center")
    if wanted != 1.0:
        x = place(wanted, MARGIN, (LEAST, MOST))
        axes.plot([x, x], [HEAD, bottom], color=INK, lw=1.4, ls=(0, (4, 3)), zorder=2)
        text = f"wanted {wanted:.3g}"
        axes.text(x, bottom + 38, text, fontsize=11.5, ha="center", va="center")


def _set_up(axes: Axes, top: float, row: Mapping[str, Any], system: Own) -> None:
    middle = top + ROW / 2
    axes.plot([40, WIDTH - 40], [top, top], color=FAINT, lw=0.8, zorder=0)
    rank = f"{row['rank']}{'=' if row['tied'] else ''}"
    axes.text(40, middle, rank, fontsize=16, weight="bold", va="center")
    own = ", this case" if row["this_case"] else ""
    name = f"{row['support']}, {short(row['material'], 28)}{own}"
    axes.text(100, middle - 12, name, fontsize=13, weight="bold", va="center")
    sizes = [show(row[key], "length", system) for key in ("diameter_m", "span_m", "projection_m")]
    text = f"{sizes[0]} bar, {sizes[1]} span, bit out {sizes[2]}"
    axes.text(100, middle + 14, text, fontsize=11.5, va="center", color=QUIET)


def _band(
    axes: Axes,
    top: float,
    row: Mapping[str, Any],
    key: str,
    unit: float,
    at: tuple[int, int],
    ends: tuple[float, float],
) -> None:
    """Band from low to high with a diamond at the likely value; full where limits are met."""
    y = top + ROW / 2
    values = [row[key][end] for end in ("low", "likely", "high")]
    low, likely, high = (10 * ends[1] if isinstance(v, str) else v / unit for v in values)
    left, right = place(low, at, ends), place(high, at, ends)
    face, mark = ("#6b6b6b", "white") if row["within_limits"] else ("white", INK)
    axes.add_patch(
        Rectangle((left, y - 9), right - left, 18, facecolor=face, edgecolor=INK, zorder=3)
    )
    if ends[0] < likely < ends[1]:
        axes.plot([place(likely, at, ends)], [y], marker="D", ms=9, mfc=mark, mec=INK, zorder=4)
    for beyond, x, way in ((low < ends[0], left - 7, "<"), (high > ends[1], right + 7, ">")):
        if beyond:
            axes.plot([x], [y], marker=way, ms=8, color=INK, zorder=4)


def _strength(axes: Axes, top: float, row: Mapping[str, Any]) -> None:
    """Margins on yield and against fatigue at the hole, as bands."""
    y = top + ROW / 2
    for y_at, name in ((y - 12, "yield"), (y + 14, "fatigue")):
        margin = row.get(f"{name}_margin")
        said = f"{name} not judged"
        if margin is not None:
            said = f"{name} {_most_100(margin['low'])} to {_most_100(margin['high'])}"
        axes.text(STRENGTH, y_at, said, fontsize=11.5, va="center")


def _most_100(margin: float | str) -> str:
    return "over 100" if isinstance(margin, str) or margin > 100 else _two(margin)


def _size(axes: Axes, top: float, row: Mapping[str, Any], unit: float, name: str) -> None:
    """Size error, the band first."""
    error, y = row["size_error_m"], top + ROW / 2
    low, likely, high = (_two(error[end] / unit) for end in ("low", "likely", "high"))
    for y_at, text, size, ink in (
        (y - 12, f"{low} to {high} {name}", 12.5, INK),
        (y + 14, f"likely {likely}", 11.5, QUIET),
    ):
        axes.text(WIDTH - 40, y_at, text, fontsize=size, ha="right", va="center", color=ink)


def _two(value: float) -> str:
    """Two digits, never as a power of ten."""
    return f"{float(f'{value:.2g}'):g}"


def _key(axes: Axes, bottom: float) -> None:
    y = bottom + 76
    for x, face, mark, text in (
        (40, "#6b6b6b", "white", "meets every limit of the case"),
        (480, "white", INK, "misses a limit; low to high, likely at the diamond"),
    ):
        axes.add_patch(Rectangle((x, y - 9), 60, 18, facecolor=face, edgecolor=INK))
        axes.plot([x + 30], [y], marker="D", ms=9, mfc=mark, mec=INK)
        axes.text(x + 74, y, text, fontsize=12, va="center")
    axes.text(
        40,
        y + 38,
        "The band is what is guessed of supports, damping and force, nearly the same in every "
        "row: the ratio of two rows is known far better than either.",
        fontsize=12,
        va="center",
        color=QUIET,
    )
