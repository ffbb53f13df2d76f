"""Charts of the bore cut turn by turn: how round it comes out, how the edge moves meanwhile.

Each function reads nothing but a `Finished` folder and keeps one picture; they are drawn where
the run left their tables.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import degrees, pi
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.legend_handler import HandlerTuple
from matplotlib.ticker import NullFormatter
from numpy.typing import NDArray

from .finished import THOU, Finished
from .paper import FAINT, INK, QUIET, nice_step, picture

Floats = NDArray[np.float64]
EDGES = {"rubbing": "the likely rubbing of the edge", "sharp": "an edge that does not rub"}
DRAWN = 0.30
"""Share of the radius that the largest error, or the tolerance, is drawn as."""
MOST_EXAGGERATION = 10000.0
"""A micron then is a centimetre: a bore that is round shall look round."""
FAR = 5000.0
"""Movement is drawn up to here, um: a cut that swings farther is given up."""
LEAST = 1e-3
LEAST_SPAN = 5.0
"""Movement is drawn over at least this much, um."""
STEPS = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
BAND, SHARP_BAND = "#555555", "#cfcfcf"


def _own(finished: Finished) -> tuple[float, str]:
    """The case's own small unit, um, and its name."""
    return (1.0, "um") if finished.system == "mm" else (THOU, "thou")


def _passes(finished: Finished, name: str) -> list[Mapping[str, Any]]:
    """Summaries of the passes of one history."""
    key = "passes" if name == "rubbing" else "passes_without_process_damping"
    found: list[Mapping[str, Any]] = finished.summary["history"][key]
    return found


def _verdict(finished: Finished, name: str) -> str:
    passes = _passes(finished, name)
    key = "verdict" if name == "rubbing" else "verdict_without_process_damping"
    said = str(finished.summary["history"][key])
    if said == "runs away":
        return f"runs away in turn {passes[-1]['turns']} of pass {len(passes)}"
    return said


def assumed_words(finished: Finished) -> str:
    """What was assumed of the old bore, in one line."""
    assumed = finished.summary["history"]["assumed"]
    off = finished.say(assumed["old_bore_off_centre_m"])
    ports, width = assumed["ports_per_turn"], degrees(assumed["port_width_rad"])
    gaps = f", {ports} gap{'s' if ports > 1 else ''} of {width:.0f} degrees" if ports else ""
    return (
        f"Assumed: likely guesses, the old bore {off} off centre{gaps}, a light knock as each "
        "pass starts."
    )


# --- round or not ----------------------------------------------------------------------------


def draw_bore_round(finished: Finished, path: Path) -> None:
    """The wall left by the last turns of each pass, its error drawn too large."""
    table = finished.curves["bore.csv"]
    names = [name for name in EDGES if _traces(table, name)]
    with picture(path, 1600, 1000) as figure:
        for place, name in enumerate(EDGES):
            axes = figure.add_axes((0.01 + 0.5 * place, 0.06, 0.48, 0.73))
            axes.axis("off")
            axes.set_aspect("equal")
            axes.set_xlim(-1.36, 1.36)
            axes.set_ylim(-1.36, 1.36)
            if name in names:
                _trace(axes, table, finished, name)
            _panel_words(axes, finished, name, there=name in names)
        figure.text(0.02, 0.955, "How round the bore comes out", fontsize=18, weight="bold")
        figure.text(0.02, 0.935, _round_words(finished), fontsize=12.5, va="top", linespacing=1.4)
        if names:
            figure.legend(
                *figure.axes[list(EDGES).index(names[0])].get_legend_handles_labels(),
                loc="lower center",
                ncols=5,
                fontsize=12,
                handlelength=2.6,
            )


def _traces(table: Mapping[str, Floats], name: str) -> list[tuple[int, int, Floats]]:
    """Pass, turn and wall, um, of each trace of one history; nan where there is no metal."""
    found = []
    for column, wall in table.items():
        if column.startswith(f"{name}_"):
            words = column.split("_")
            found.append((int(words[2]), int(words[4]), np.where(np.isfinite(wall), wall, np.nan)))
    return found


def _limits(finished: Finished) -> tuple[float, float, float]:
    """Radius that the last pass is set to, m, and both limits about it, um."""
    planned = finished.summary["history"]["planned_bores_m"][-1] / 2
    bore = finished.case.work.bore
    return planned, (bore.lower / 2 - planned) * 1e6, (bore.upper / 2 - planned) * 1e6


def _times(finished: Finished, table: Mapping[str, Floats]) -> float:
    """How many times too large errors are drawn, alike in both panels: round, and what helps."""
    radius, lower, upper = _limits(finished)
    traces = [trace for name in EDGES for trace in _traces(table, name)]
    walls = [float(np.nanmax(np.abs(wall))) for _, _, wall in traces]
    largest = max(abs(lower), abs(upper), *walls)
    return float(min(MOST_EXAGGERATION, nice_step(DRAWN * radius * 1e6 / largest, STEPS)))


def _trace(axes: Axes, table: Mapping[str, Floats], finished: Finished, name: str) -> None:
    """Limits, the circle that was set, and the last turns of each pass."""
    radius, lower, upper = _limits(finished)
    times = _times(finished, table)
    share = times / (radius * 1e6)
    circle = np.linspace(0.0, 2 * pi, 721)
    traces = _traces(table, name)
    last = max(number for number, _, _ in traces)
    # The limits are the finished bore's: a cut that stops short of the last pass has none.
    if last == len(finished.summary["history"]["planned_bores_m"]):
        inner, outer = 1 + lower * share, 1 + upper * share
        axes.fill(
            np.concatenate([outer * np.sin(circle), inner * np.sin(circle[::-1])]),
            np.concatenate([outer * np.cos(circle), inner * np.cos(circle[::-1])]),
            facecolor="#e2e2e2",
            edgecolor="none",
            label="limits of the finished bore",
        )
    axes.plot(
        np.sin(circle), np.cos(circle), color=QUIET, lw=1.0, ls=(0, (6, 4)), label="as it was set"
    )
    angle = np.radians(table["angle"])
    named: set[int] = set()
    for number, _, wall in traces:
        r = 1 + wall * share
        label = "last pass" if number == last else "passes before it"
        finishing = number == last
        axes.plot(
            np.append(r * np.sin(angle), r[0] * np.sin(angle[0])),
            np.append(r * np.cos(angle), r[0] * np.cos(angle[0])),
            color=INK if finishing else QUIET,
            lw=0.9 if finishing else 0.8,
            ls="-" if finishing else (0, (1.5, 1.5)),
            label=label if finishing not in named else "_again",
            zorder=3 if finishing else 2,
        )
        named.add(finishing)
    _gaps(axes, angle, traces[-1][2])
    _compass(axes)
    _scale_bar(axes, finished, share, times)


def _gaps(axes: Axes, angle: Floats, wall: Floats) -> None:
    """Name the gaps in the wall, where the edge cuts air."""
    there = np.isfinite(wall)
    # Turned to start on metal, so that no gap is met in two halves.
    start = int(np.argmax(there & ~np.roll(there, -1)))
    air = ~np.roll(there, -start - 1)
    round_ = np.unwrap(np.roll(angle, -start - 1))
    edges = np.flatnonzero(np.diff(np.concatenate([[False], air, [False]]).astype(int)))
    for first, last in edges.reshape(-1, 2):
        middle = (round_[first] + round_[last - 1]) / 2
        axes.text(
            np.sin(middle),
            np.cos(middle),
            "gap",
            ha="center",
            va="center",
            fontsize=11,
            zorder=4,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
        )


def _compass(axes: Axes) -> None:
    """Up, and which way the bar turns."""
    axes.plot([0, 0], [0.0, 0.32], color=FAINT, lw=1.0)
    axes.text(0, 0.36, "up", ha="center", va="bottom", fontsize=12)
    arc = np.radians(np.linspace(15, 75, 40))
    axes.plot(0.26 * np.sin(arc), 0.26 * np.cos(arc), color=QUIET, lw=1.4)
    axes.annotate(
        "",
        (0.26 * np.sin(arc[-1] + 0.08), 0.26 * np.cos(arc[-1] + 0.08)),
        (0.26 * np.sin(arc[-2]), 0.26 * np.cos(arc[-2])),
        arrowprops={"arrowstyle": "-|>", "color": QUIET, "lw": 1.4},
    )
    axes.text(0.06, 0.0, "the bar turns", ha="left", va="center", fontsize=12)


def _scale_bar(axes: Axes, finished: Finished, share: float, times: float) -> None:
    """Length that an error is drawn as."""
    unit, word = _own(finished)
    value = nice_step(0.34 / share / unit)
    length = value * unit * share
    axes.plot([-length / 2, length / 2], [-0.30, -0.30], color=INK, lw=2.4, solid_capstyle="butt")
    words = f"error of {value:.6g} {word}\n{times:.6g} times too large"
    axes.text(0, -0.35, words, ha="center", va="top", fontsize=12, linespacing=1.4)


def _panel_words(axes: Axes, finished: Finished, name: str, *, there: bool) -> None:
    passes = _passes(finished, name)
    axes.text(
        0.5,
        1.0,
        f"With {EDGES[name]}: {_verdict(finished, name)}",
        transform=axes.transAxes,
        ha="center",
        va="bottom",
        fontsize=13.5,
        weight="bold",
    )
    if not there:
        same = name == "sharp" and all(one["verdict"] != "runs away" for one in passes)
        words = "the same: no rubbing is known for this metal" if same else "no bore is left"
        axes.text(0.0, 0.0, words, ha="center", va="center", fontsize=13)


def _round_words(finished: Finished) -> str:
    """What the picture shows and how it is drawn."""
    return (
        "The wall left by the last turns of each pass; how far it is from the circle that was set "
        "is drawn as many times too large as is said.\n"
        f"{assumed_words(finished)}\n"
        "A second opinion beside the gain margin, no surer than the guesses it stands on."
    )


# --- how the edge moves ----------------------------------------------------------------------


def draw_history(finished: Finished, path: Path) -> None:
    """Movement of the edge along the bit, turn by turn, and what changes from turn to turn."""
    table = finished.curves["history.csv"]
    with picture(path, 1600, 1000) as figure:
        top = figure.add_axes((0.075, 0.475, 0.90, 0.33))
        low = figure.add_axes((0.075, 0.135, 0.90, 0.28), sharex=top)
        for name in ("sharp", "rubbing"):
            columns = _of(table, name)
            if columns["turn"].size:
                _movement(top, columns, finished, name)
                _change(low, columns, finished, name)
        _pass_marks(top, low, table)
        _at_least(top, LEAST_SPAN / _own(finished)[0])
        top.set_ylabel(f"movement along the bit, {_own(finished)[1]}", fontsize=12)
        low.set_ylabel(f"vibration, {_own(finished)[1]} rms", fontsize=12)
        low.set_yscale("log")
        low.set_ylim(LEAST, max(2.0, low.get_ylim()[1]))
        low.yaxis.set_major_formatter(lambda value, _: f"{value:.6g}")
        low.yaxis.set_minor_formatter(NullFormatter())
        low.grid(axis="y", color=FAINT, lw=0.6)
        top.grid(axis="y", color=FAINT, lw=0.6)
        low.set_xlabel("turns of the bar")
        top.tick_params(labelbottom=False)
        figure.text(0.03, 0.955, "The edge, cut turn by turn", fontsize=18, weight="bold")
        figure.text(
            0.03, 0.935, _history_words(finished), fontsize=12.5, va="top", linespacing=1.4
        )
        swings, labels = top.get_legend_handles_labels()
        # A patch and a line in one key: more than the signature of `legend` knows of.
        keys: Any = list(zip(swings, low.get_legend_handles_labels()[0], strict=True))
        figure.legend(
            keys,
            labels,
            handler_map={tuple: HandlerTuple(ndivide=None)},
            loc="lower left",
            bbox_to_anchor=(0.065, 0.01),
            ncols=2,
            fontsize=12,
            handlelength=5.0,
        )


def _at_least(axes: Axes, span: float) -> None:
    """Widen the upright scale to a span: a fraction of a micron shall not look like much."""
    low, high = axes.get_ylim()
    more = max(0.0, span - (high - low)) / 2
    axes.set_ylim(low - more, high + more)


def _of(table: Mapping[str, Floats], name: str) -> dict[str, Floats]:
    """Rows of one history, its passes one after another."""
    chosen = table["edge_rubs"] == (1.0 if name == "rubbing" else 0.0)
    columns = {key: values[chosen] for key, values in table.items()}
    shift = np.zeros(columns["turn"].size)
    for number, start in _starts(table):
        shift[columns["pass"] == number] = start
    columns["place"] = columns["turn"] + shift
    return columns


def _starts(table: Mapping[str, Floats]) -> list[tuple[float, float]]:
    """Number of each pass and the turn at which it starts on the sheet."""
    found, start = [], 0.0
    for number in np.unique(table["pass"]):
        found.append((float(number), start))
        start += float(np.ceil(table["turn"][table["pass"] == number].max()))
    return found


def _movement(axes: Axes, columns: Mapping[str, Floats], finished: Finished, name: str) -> None:
    """Lowest to highest of each stretch; minus is away from the cut."""
    unit = _own(finished)[0]
    low, high = (
        np.clip(columns[f"radial_{end}"], -FAR, FAR) / unit for end in ("lowest", "highest")
    )
    sharp = name == "sharp"
    for k, number in enumerate(np.unique(columns["pass"])):
        here = columns["pass"] == number
        axes.fill_between(
            columns["place"][here],
            low[here],
            high[here],
            facecolor=SHARP_BAND if sharp else BAND,
            edgecolor=QUIET if sharp else INK,
            lw=0.8 if sharp else 1.0,
            label="_again" if k else f"with {EDGES[name]}: {_verdict(finished, name)}",
            zorder=2 if sharp else 3,
        )


def _change(axes: Axes, columns: Mapping[str, Floats], finished: Finished, name: str) -> None:
    """Change from turn to turn, one value a turn."""
    unit = _own(finished)[0]
    changed = columns["change_from_last_turn"]
    for k, number in enumerate(np.unique(columns["pass"])):
        here = (columns["pass"] == number) & np.isfinite(changed)
        axes.plot(
            columns["place"][here],
            np.clip(changed[here] / unit, LEAST / 10, FAR),
            color=QUIET if name == "sharp" else INK,
            lw=1.8 if name == "sharp" else 2.4,
            ls=(0, (3, 1.5)) if name == "sharp" else "-",
            label="_again" if k else EDGES[name],
        )


def _pass_marks(top: Axes, low: Axes, table: Mapping[str, Floats]) -> None:
    """Where each pass starts, and its number."""
    starts = _starts(table)
    end = starts[-1][1] + float(np.ceil(table["turn"][table["pass"] == starts[-1][0]].max()))
    top.set_xlim(0.0, end)
    for number, start in starts:
        for axes in (top, low):
            axes.axvline(start, color=QUIET, lw=1.0, ls=(0, (6, 4)))
        top.text(
            start, 1.02, f"pass {number:.0f}", transform=top.get_xaxis_transform(), fontsize=12
        )


def _history_words(finished: Finished) -> str:
    """How to read the picture."""
    return (
        "Above: how far the edge swings along the bit in each part of a turn, minus away from the "
        "cut. Below: what changes from turn to turn; quiet if it dies away.\n"
        f"{assumed_words(finished)}\n"
        "A second opinion beside the gain margin, no surer than the guesses it stands on."
    )


CHARTS: dict[str, tuple[str, Callable[[Finished, Path], None]]] = {
    "history.png": ("history.csv", draw_history),
    "bore_round.png": ("bore.csv", draw_bore_round),
}
"""Each chart with the table that it is drawn from."""


def charts_of(finished: Finished) -> dict[str, Callable[[Finished, Path], None]]:
    """The charts whose tables the folder holds."""
    return {name: draw for name, (table, draw) in CHARTS.items() if finished.curves.get(table)}
