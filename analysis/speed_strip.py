"""Strip of the lathe's speeds: a cell for each with its verdict, its margin as a bar with a band.

Drawn from the plain data of `speeds.json`, so it needs no solving and no graphics library.
Hatching and the word itself carry the verdict; nothing hangs on colour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import log
from pathlib import Path
from textwrap import wrap
from typing import Any

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from .paper import FAINT, INK, QUIET, picture, rpm_words, short, whole_sheet
from .units import Own, show

LEAST, MOST = 0.03, 100.0
ROW, HEAD, FOOT, WIDTH = 74, 150, 138, 1600
CELL = (400, 165)
AXIS = (615, 540)
WORDS = 1200
LINES, LETTERS = 3, 46
_FACES = {"good": ("white", ""), "caution": ("#efe3c4", "//"), "avoid": ("#c99a78", "xxx")}


def draw_speed_strip(found: Mapping[str, Any], path: Path, system: Own = "mm") -> None:
    """Draw every speed of a `speeds.json` and keep the picture at `path`."""
    rows = found["speeds"]
    height = HEAD + ROW * len(rows) + FOOT
    with picture(path, WIDTH, height) as figure:
        axes = whole_sheet(figure, left=0, right=WIDTH, bottom=height, top=0)
        _heading(axes, found)
        _scale(axes, HEAD, HEAD + ROW * len(rows), float(found["margin_wanted"]))
        for number, row in enumerate(rows):
            _speed(axes, HEAD + ROW * number, row, _marks(found, row), system)
        _key(axes, height - FOOT)


def _heading(axes: Axes, found: Mapping[str, Any]) -> None:
    title = short(found["case"]["title"], 80)
    axes.text(40, 44, "Which speed", fontsize=18, weight="bold", va="center")
    axes.text(40, 80, title, fontsize=13, va="center", color=QUIET)
    for x, text, align in (
        (40, "spindle, edge along the bore", "left"),
        (CELL[0] + CELL[1] / 2, "verdict", "center"),
        (AXIS[0] + AXIS[1] / 2, "gain margin against chatter", "center"),
        (WORDS, "what decides", "left"),
    ):
        axes.text(x, HEAD - 38, text, fontsize=12.5, va="center", ha=align, weight="bold")


def place(margin: float) -> float:
    """Where a margin stands on the sheet, dots from the left, held at the ends of the scale.

    Examples
    --------
    >>> place(0.0001) == AXIS[0], place(1e9) == AXIS[0] + AXIS[1]
    (True, True)
    """
    held = min(max(margin, LEAST), MOST)
    return AXIS[0] + AXIS[1] * log(held / LEAST) / log(MOST / LEAST)


def _scale(axes: Axes, top: float, bottom: float, wanted: float) -> None:
    """Hair lines of the margin, a heavy one where it just sings, a dashed one where wanted."""
    for value in (0.1, 1.0, 10.0, 100.0):
        heavy = value == 1.0
        x = place(value)
        axes.plot([x, x], [top, bottom], color=INK if heavy else FAINT, lw=2 if heavy else 0.9)
        axes.text(x, top - 11, f"{value:g}", fontsize=11, ha="center", va="center")
    if wanted != 1.0:
        x = place(wanted)
        axes.plot([x, x], [top, bottom], color=INK, lw=1.4, ls=(0, (4, 3)))
        text = f"wanted {wanted:.3g}"
        axes.text(x, bottom + 34, text, fontsize=11.5, ha="center", va="center")
    axes.text(place(1.0) - 8, bottom + 16, "sings", fontsize=11.5, ha="right", va="center")
    axes.text(place(1.0) + 8, bottom + 16, "quiet", fontsize=11.5, ha="left", va="center")


def _marks(found: Mapping[str, Any], row: Mapping[str, Any]) -> str:
    """Whether a speed is the pick, the runner-up or the cut's own, in words."""
    rpm, runner_up = row["spindle_rpm"], found["runner_up"]
    words = []
    if row["this_cut"]:
        lacking = found["lathe_has_speeds"] and not row["on_lathe"]
        words.append("this cut,\nnot on the lathe" if lacking else "this cut")
    if rpm == found["pick"]["spindle_rpm"] and runner_up != "none":
        words.append("least bad" if row["verdict"] == "avoid" else "take this")
    elif runner_up != "none" and rpm == runner_up["spindle_rpm"]:
        words.append("runner-up")
    return "\n".join(words)


def _speed(axes: Axes, top: float, row: Mapping[str, Any], marks: str, system: Own) -> None:
    """One speed: its name, its cell, its margins and its reasons."""
    middle = top + ROW / 2
    axes.plot([40, WIDTH - 40], [top, top], color=FAINT, lw=0.8)
    surface = show(row["surface_speed_m_per_s"], "surface speed", system)
    name = rpm_words(row["spindle_rpm"] / 60)
    axes.text(40, middle - 12, name, fontsize=15, weight="bold", va="center")
    axes.text(40, middle + 15, surface, fontsize=11.5, va="center", color=QUIET)
    axes.text(CELL[0] - 14, middle, marks, fontsize=11.5, va="center", ha="right")
    _cell(axes, top, row["verdict"])
    _bar(axes, middle - 11, row["gain_margin"], solid=True)
    _bar(axes, middle + 13, row["gain_margin_without_process_damping"], solid=False)
    lines = _reasons([one["short"] for one in row["reasons"]])
    axes.text(WORDS, middle, "\n".join(lines), fontsize=12, va="center", linespacing=1.3)


def _reasons(reasons: Sequence[str]) -> list[str]:
    """First reasons in the lines that a row has room for: a single one may take them all."""
    if len(reasons) >= LINES:
        return [short(text, LETTERS) for text in reasons[:LINES]]
    folded = [line for text in reasons for line in wrap(text, LETTERS)]
    if len(folded) > LINES:
        folded = [short(text, LETTERS) for text in reasons]
    return folded


def _cell(axes: Axes, top: float, verdict: str) -> None:
    face, hatch = _FACES[verdict]
    left, wide = CELL
    axes.add_patch(
        Rectangle(
            (left, top + 7), wide, ROW - 14, facecolor=face, edgecolor=INK, hatch=hatch, lw=1.6
        )
    )
    axes.text(
        left + wide / 2,
        top + ROW / 2,
        verdict,
        fontsize=15,
        weight="bold",
        ha="center",
        va="center",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 3},
    )


def _number(value: float | str) -> float:
    """A margin; one that does not exist is beyond the scale."""
    return MOST * 10 if isinstance(value, str) else float(value)


def _bar(axes: Axes, y: float, band: Mapping[str, Any], *, solid: bool) -> None:
    """Band from low to high with its likely value; arrows where it leaves the scale."""
    low, likely, high = (_number(band[end]) for end in ("low", "likely", "high"))
    left, right = place(low), place(high)
    face, mark = ("#6b6b6b", "white") if solid else ("white", INK)
    if high > LEAST and low < MOST:
        axes.add_patch(
            Rectangle((left, y - 7), right - left, 14, facecolor=face, edgecolor=INK, zorder=3)
        )
    if LEAST < likely < MOST:
        axes.plot([place(likely)], [y], marker="D", ms=9, mfc=mark, mec=INK, zorder=4)
    for beyond, x, way in ((low < LEAST, left - 7, "<"), (high > MOST, right + 7, ">")):
        if beyond:
            axes.plot([x], [y], marker=way, ms=8, color=INK, zorder=4)


def _key(axes: Axes, top: float) -> None:
    """How to read the bars."""
    y = top + 70
    for x, solid, text in (
        (40, True, "with the rubbing of a slow edge, low to high, likely at the diamond"),
        (800, False, "without the edge's rubbing, as a fresh edge starts"),
    ):
        axes.add_patch(
            Rectangle((x, y - 7), 60, 14, facecolor="#6b6b6b" if solid else "white", edgecolor=INK)
        )
        axes.plot([x + 30], [y], marker="D", ms=9, mfc="white" if solid else INK, mec=INK)
        axes.text(x + 74, y, text, fontsize=12, va="center")
    axes.text(
        40,
        y + 36,
        "A margin of 2: it could cut twice as hard before it sings. Untested, a margin is known "
        "to a factor of four; ratios between speeds are known far better.",
        fontsize=12,
        va="center",
        color=QUIET,
    )
