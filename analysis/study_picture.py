"""Pictures of a study: what drives the answer, and how wide each answer is.

Drawn from the plain data of `study.json`. Bars are told apart by their fill, not by colour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from .paper import FAINT, INK, QUIET, nice_step, picture, short, whole_sheet
from .units import Estimate, Own, show

WIDTH, HEAD, ROW, FOOT = 1600, 150, 62, 130
MOST_ROWS = 12
LEAST_SHARE, NOTHING = 0.01, 0.003
COLUMNS = (
    ("gain_margin", "gain margin against chatter", 640),
    ("size_error", "size of the bore", 1130),
)
ROOM = 400
SOLID, OPEN = "#6b6b6b", "white"


def draw_drivers(found: Mapping[str, Any], path: Path, system: Own = "mm") -> None:
    """Draw what drives gain margin and size: alone, and with what it acts together with."""
    rows = _leading(found["drivers"]["values"])
    height = HEAD + ROW * len(rows) + FOOT
    with picture(path, WIDTH, height) as figure:
        axes = whole_sheet(figure, left=0, right=WIDTH, bottom=height, top=0)
        axes.text(40, 44, "What drives the answer", fontsize=18, weight="bold", va="center")
        title = f"{short(found['case']['title'], 70)}; {found['draws']} draws"
        axes.text(40, 80, title, fontsize=13, va="center", color=QUIET)
        bottom = HEAD + ROW * len(rows)
        for name, words, left in COLUMNS:
            axes.text(left, HEAD - 40, words, fontsize=13, weight="bold", va="center")
            _shares(axes, left, bottom)
            for number, row in enumerate(rows):
                _bar(axes, left, HEAD + ROW * number, row[name])
        for number, row in enumerate(rows):
            _name(axes, HEAD + ROW * number, row, system)
        _drivers_key(axes, bottom)


def _leading(values: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Those that drive margin or size at all, the strongest first."""

    def most(one: Mapping[str, Any]) -> float:
        return max(float(one[name]["total"]["value"]) for name, _, _ in COLUMNS)

    return [one for one in sorted(values, key=most, reverse=True) if most(one) > LEAST_SHARE][
        :MOST_ROWS
    ]


def _shares(axes: Axes, left: float, bottom: float) -> None:
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        x = left + ROOM * share
        axes.plot([x, x], [HEAD, bottom], color=FAINT, lw=0.9, zorder=0)
        axes.text(x, HEAD - 14, f"{share:.0%}", fontsize=11, ha="center", va="center")


def _bar(axes: Axes, left: float, top: float, row: Mapping[str, Any]) -> None:
    """Full bar: alone; open bar: with the others; the thin line is the doubt of the open one."""
    y = top + ROW / 2
    total, first = (_held(row[name]["value"]) for name in ("total", "first_order"))
    if total < NOTHING:
        return
    for width, face, thick in ((total, OPEN, 26), (min(first, total), SOLID, 14)):
        box = (left, y - thick / 2), ROOM * width, thick
        axes.add_patch(Rectangle(*box, facecolor=face, edgecolor=INK, lw=1.0, zorder=2))
    ends = [left + ROOM * _held(row["total"][end]) for end in ("low", "high")]
    axes.plot(ends, [y, y], color=INK, lw=1.2, zorder=3)
    for x in ends:
        axes.plot([x, x], [y - 6, y + 6], color=INK, lw=1.2, zorder=3)


def _held(share: float) -> float:
    return min(max(share, 0.0), 1.0)


def _name(axes: Axes, top: float, row: Mapping[str, Any], system: Own) -> None:
    axes.plot([40, WIDTH - 40], [top, top], color=FAINT, lw=0.8, zorder=0)
    y = top + ROW / 2
    axes.text(40, y - 11, short(row["what"], 56), fontsize=12.5, weight="bold", va="center")
    given = show(Estimate(row["likely"], row["low"], row["high"]), row["kind"], system)
    axes.text(40, y + 13, f"{row['origin']}: {given}", fontsize=11, va="center", color=QUIET)


def _drivers_key(axes: Axes, bottom: float) -> None:
    y = bottom + 44
    axes.add_patch(Rectangle((40, y - 7), 60, 14, facecolor=SOLID, edgecolor=INK))
    axes.text(
        114, y, "share of the scatter that goes if this alone were known", fontsize=12, va="center"
    )
    axes.add_patch(Rectangle((800, y - 13), 60, 26, facecolor=OPEN, edgecolor=INK))
    text = "with what it acts together with; the line: nine in ten"
    axes.text(874, y, text, fontsize=12, va="center")
    axes.text(
        40,
        y + 42,
        "Shares of the scatter of the logarithm of each answer. What is not shown drives less "
        "than 1 %.",
        fontsize=12,
        va="center",
        color=QUIET,
    )


# --- bands -----------------------------------------------------------------------------------

PANELS = (
    ("gain_margin", "ratio", "gain margin against chatter (1 just sings)"),
    ("size_error_m", "length", "bore off size by"),
    ("first_mode_Hz", "frequency", "first mode"),
)
PANEL = 300


def draw_bands(found: Mapping[str, Any], path: Path, system: Own = "mm") -> None:
    """Draw how the draws spread over margin, size and pitch, with 8 in 10 of them dark."""
    height = 130 + PANEL * len(PANELS) + 70
    with picture(path, WIDTH, height) as figure:
        axes = whole_sheet(figure, left=0, right=WIDTH, bottom=height, top=0)
        axes.text(40, 44, "How wide the answers are", fontsize=18, weight="bold", va="center")
        axes.text(40, 80, _headline(found), fontsize=13, va="center", color=QUIET)
        for number, (name, kind, words) in enumerate(PANELS):
            _panel(axes, 120 + PANEL * number, found, name, kind, words, system)
        text = (
            "Dark: 8 draws in 10. Each bar counts the draws within an equal factor; the outermost "
            "hundredth at each end is not shown."
        )
        axes.text(40, height - 40, text, fontsize=12, va="center", color=QUIET)


def _headline(found: Mapping[str, Any]) -> str:
    chance = found["chatter_at_planned_cut"]["value"]
    title = short(found["case"]["title"], 70)
    return f"{title}; {found['draws']} draws, {chance:.0%} of them sing at the planned cut"


def _panel(
    axes: Axes,
    top: float,
    found: Mapping[str, Any],
    name: str,
    kind: str,
    words: str,
    system: Own,
) -> None:
    histogram, band = found["histograms"][name], found["bands"][name]
    axes.text(40, top + 30, words, fontsize=13.5, weight="bold", va="center")
    edges, draws = np.array(histogram["edges"]), np.array(histogram["draws"], dtype=float)
    if not draws.size or not draws.max():
        axes.text(40, top + 70, "none of the draws has one", fontsize=12, va="center")
        return
    low, high = np.log(edges[[0, -1]])
    left, room, floor, tall = 420.0, 1120.0, top + PANEL - 70, PANEL - 110

    def place(value: float) -> float:
        return left + room * float((np.log(value) - low) / (high - low))

    ends = [_end(band[part], edges) for part in ("low", "middle", "high")]
    for start, end, count in zip(edges[:-1], edges[1:], draws, strict=True):
        middle = (start * end) ** 0.5
        face = SOLID if ends[0] <= middle <= ends[2] else OPEN
        wide, high_up = place(end) - place(start), tall * count / draws.max()
        corner = (place(start), floor - high_up)
        axes.add_patch(Rectangle(corner, wide, high_up, facecolor=face, edgecolor=INK, lw=0.8))
    axes.plot([left, left + room], [floor, floor], color=INK, lw=1.2)
    _marks(axes, edges, floor, place, kind, system)
    _limits(axes, found, name, top, floor, edges, place)
    lines = [
        f"8 in 10: {_said(band['low'], kind, system)} to {_said(band['high'], kind, system)}",
        f"middle {_said(band['middle'], kind, system)}",
    ]
    for number, text in enumerate(lines):
        axes.text(40, top + 68 + 30 * number, text, fontsize=12.5, va="center")


def _end(value: float | str, edges: Any) -> float:
    return float(edges[-1]) * 10 if isinstance(value, str) else float(value)


def _said(value: float | str, kind: str, system: Own) -> str:
    if isinstance(value, str):
        return value
    digits = 3 if kind == "frequency" else 2
    return show(float(f"{value:.{digits}g}"), kind, system)


def _marks(axes: Axes, edges: Any, floor: float, place: Any, kind: str, system: Own) -> None:
    """Round numbers under the scale, in the units of the case."""
    unit = {"length": 25.4e-6 if system == "inch" else 1e-6}.get(kind, 1.0)
    low, high = float(edges[0]) / unit, float(edges[-1]) / unit
    for value in _round_numbers(low, high):
        x = place(value * unit)
        axes.plot([x, x], [floor, floor + 8], color=INK, lw=1.0)
        axes.text(x, floor + 24, f"{value:g}", fontsize=11.5, ha="center", va="center")
    name = {"length": "thou" if system == "inch" else "um", "frequency": "Hz"}.get(kind, "")
    axes.text(1560, floor + 24, name, fontsize=11.5, ha="right", va="center")


def _round_numbers(low: float, high: float) -> list[float]:
    """Some five to ten round numbers between two, by 1, 2, 5 or by even steps."""
    if high / low > 4:
        powers = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
        every = [s * 10.0**p for p in powers for s in (1.0, 2.0, 5.0)]
    else:
        step = nice_step((high - low) / 4)
        every = [step * k for k in range(int(low / step), int(high / step) + 2)]
    return [value for value in every if low <= value <= high]


def _limits(
    axes: Axes,
    found: Mapping[str, Any],
    name: str,
    top: float,
    floor: float,
    edges: Any,
    place: Any,
) -> None:
    """Line at what the case asks, where it lies on the scale."""
    limit = found["limits"].get(name)
    if limit is None or not edges[0] < limit < edges[-1]:
        return
    x = place(limit)
    axes.plot([x, x], [top + 44, floor], color="white", lw=3.6)
    axes.plot([x, x], [top + 44, floor], color=INK, lw=1.6, ls=(0, (5, 3)))
    axes.text(x + 8, top + 48, "limit", fontsize=11.5, va="center")
