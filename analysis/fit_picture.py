"""Picture of a fit: each stiffness as it was thought to be and as the readings leave it.

Drawn from the plain data of `fit.json`. The thin band is before, the thick one after; nothing
hangs on colour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil, floor, log, log10
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from .paper import FAINT, INK, QUIET, picture, short, whole_sheet
from .units import Estimate, Own, show

ROW, HEAD, FOOT, WIDTH = 78, 120, 110, 1600
SCALE = (640, 560)
_KIND = {"N_per_m": "stiffness", "Nm_per_rad": "turn stiffness", "Ns_per_m": "damping"}


def draw_fit(found: Mapping[str, Any], path: Path, system: Own) -> None:
    """Draw what a `fit.json` says and keep the picture at `path`."""
    rows = found["told"]
    height = HEAD + ROW * len(rows) + FOOT
    with picture(path, WIDTH, height) as figure:
        axes = whole_sheet(figure, left=0, right=WIDTH, bottom=height, top=0)
        axes.text(40, 44, "What the readings told", fontsize=18, weight="bold", va="center")
        title = short(found["case"]["title"], 80)
        axes.text(40, 80, title, fontsize=13, va="center", color=QUIET)
        for number, row in enumerate(rows):
            _row(axes, HEAD + ROW * number, row, system)
        _key(axes, height - FOOT)


def _bands(row: Mapping[str, Any]) -> tuple[str, Mapping[str, float], Mapping[str, float]]:
    """Kind of quantity, and its band before and after."""
    unit = next(key for key in row if key.startswith("before_")).removeprefix("before_")
    return _KIND.get(unit, "share"), row[f"before_{unit}"], row[f"after_{unit}"]


def part_words(name: str) -> str:
    """A dotted name as a person says it.

    Examples
    --------
    >>> part_words("supports.tail.vertical_stiffness")
    'tail, up and down'
    >>> part_words("bar.damping_ratio")
    'bar, damping ratio'
    """
    *_, part, value = name.split(".")
    said = {
        "vertical_stiffness": "up and down",
        "horizontal_stiffness": "sideways",
        "radial_stiffness": "radial",
        "tilt_stiffness": "tilting",
    }
    return f"{part}, {said.get(value, value.replace('_', ' '))}"


def _row(axes: Axes, top: float, row: Mapping[str, Any], system: Own) -> None:
    kind, before, after = _bands(row)
    ends = _round_ends([*before.values(), *after.values()])
    middle = top + ROW / 2
    axes.plot([40, WIDTH - 40], [top, top], color=FAINT, lw=0.8)
    axes.text(40, middle - 13, part_words(row["what"]), fontsize=14, weight="bold", va="center")
    told = f"doubt shrank by {100 * row['learnt']:.0f} %"
    words = told if row["tells"] else f"not told ({told})"
    axes.text(40, middle + 15, words, fontsize=12, va="center", color=QUIET)
    for y, band, thick in ((middle - 12, before, 7), (middle + 10, after, 16)):
        _band(axes, y, band, ends, thick, full=row["tells"] and thick > 10)
    text = show(Estimate(after["likely"], after["low"], after["high"]), kind, system)
    axes.text(WIDTH - 40, middle + 10, text, fontsize=13, ha="right", va="center")
    text = show(Estimate(before["likely"], before["low"], before["high"]), kind, system)
    axes.text(WIDTH - 40, middle - 14, text, fontsize=11, ha="right", va="center", color=QUIET)


def _round_ends(values: Sequence[float]) -> tuple[float, float]:
    """Half decades around some values."""
    low, high = log10(min(values)), log10(max(values))
    return 10 ** (floor(2 * low) / 2), 10 ** (ceil(2 * high) / 2)


def _place(value: float, ends: tuple[float, float]) -> float:
    return SCALE[0] + SCALE[1] * log(value / ends[0]) / log(ends[1] / ends[0])


def _band(
    axes: Axes,
    y: float,
    band: Mapping[str, float],
    ends: tuple[float, float],
    thick: float,
    *,
    full: bool,
) -> None:
    left, right = _place(band["low"], ends), _place(band["high"], ends)
    face = "#6b6b6b" if full else "white"
    axes.add_patch(
        Rectangle((left, y - thick / 2), right - left, thick, facecolor=face, edgecolor=INK)
    )
    x = _place(band["likely"], ends)
    axes.plot([x], [y], marker="D", ms=7, mfc="white" if full else INK, mec=INK)


def _key(axes: Axes, top: float) -> None:
    y = top + 46
    axes.add_patch(Rectangle((40, y - 4), 60, 7, facecolor="white", edgecolor=INK))
    axes.text(114, y, "as it was thought to be", fontsize=12, va="center")
    axes.add_patch(Rectangle((420, y - 8), 60, 16, facecolor="#6b6b6b", edgecolor=INK))
    text = "as the readings leave it: nine in ten lie in the band; open where they could not tell"
    axes.text(494, y, text, fontsize=12, va="center")
    axes.text(
        40,
        y + 34,
        "Each row has a scale of its own; equal steps are equal factors.",
        fontsize=12,
        va="center",
        color=QUIET,
    )
