"""Charts of the cutting loop: how loudly it answers, margin against speed, nose and lead angle.

Each function reads nothing but a `Finished` folder and keeps one picture. Above one on every
margin scale is quiet, below it sings.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FixedLocator, NullLocator
from numpy.typing import NDArray

from .finished import Finished
from .paper import FAINT, INK, QUIET, picture, pitch_words, plain_speeds, rpm_words

_ABOVE: dict[str, Any] = {
    "loc": "lower left",
    "bbox_to_anchor": (-0.02, 1.0),
    "fontsize": 11.5,
    "ncols": 2,
    "handlelength": 2.4,
    "columnspacing": 1.2,
}
Columns = Mapping[str, NDArray[np.float64]]
_UNITS = {
    "mm": {
        "ideal_peak_to_valley": (1.0, "um"),
        "push": (1.0, "N"),
        "movement_per_push": (1.0, "um/N"),
    },
    "inch": {
        "ideal_peak_to_valley": (1 / 0.0254, "millionths"),
        "push": (1 / 4.4482216, "lbf"),
        "movement_per_push": (4.4482216 / 25.4, "thou/lbf"),
    },
}
"""What the tables' um, N and um/N are times, and called, in each system."""
_LOOP_TITLE = "For the engineer: how the edge answers the cut"
BARE = "without the edge's rubbing"
BAND, SINGS = "#e2e2e2", "#f1f1f1"
SEEN = 15.0
"""Waves per turn below which lobes are drawn one by one."""
MOST = 100.0
"""Margins above this are drawn here: nobody plans on a factor of a hundred."""


# --- how loudly it answers -------------------------------------------------------------------


def draw_loop(finished: Finished, path: Path) -> None:
    """How far the edge moves per push at each pitch, and how the last turn's mark comes back."""
    table = finished.curves["loop.csv"]
    with picture(path, 1600, 900) as figure:
        left = figure.add_axes((0.075, 0.13, 0.40, 0.62))
        right = figure.add_axes((0.575, 0.13, 0.40, 0.62))
        _answers(left, table, finished)
        _path(right, table, finished)
        figure.text(0.03, 0.945, _LOOP_TITLE, fontsize=18, weight="bold")
        figure.text(0.03, 0.925, _loop_words(finished), fontsize=12.5, va="top", linespacing=1.4)


def _answers(axes: Axes, table: Columns, finished: Finished) -> None:
    """Movement along the bit per push against pitch, bar still and turning."""
    f = table["frequency"]
    sung = _pitch(finished)
    times, unit = _UNITS[finished.system]["movement_per_push"]
    shown = _near(f, sung, [mode.frequency for mode in finished.modes])
    for name, style, words in (
        ("still", (0, (2, 1.5)), "standing still"),
        ("turning", "-", f"turning at {rpm_words(finished.case.spindle_speed)}"),
    ):
        size = np.hypot(table[f"{name}_real"], table[f"{name}_imaginary"])
        axes.plot(f[shown], times * size[shown], ls=style, color=INK, lw=2.2, label=words)
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_xlim(f[shown][0], f[shown][-1])
    axes.grid(axis="y", color=FAINT, lw=0.6)
    if sung:
        words = f"sings first, {pitch_words(sung)}{_sung_by(finished)}"
        axes.axvline(sung, color=QUIET, lw=1.2, ls=(0, (6, 4)), label=words)
    _plain(axes)
    axes.set_xlabel("pitch heard on the bar, Hz")
    axes.set_ylabel(f"movement along the bit per push, {unit}")
    axes.legend(**_ABOVE)


def _near(f: NDArray[np.float64], sung: float | None, modes: Sequence[float]) -> NDArray[np.bool_]:
    """Pitches worth drawing: round the one that sings and from below the lowest mode."""
    low, high = (sung / 4, 3.0 * sung) if sung else (20.0, 1000.0)
    low = min([low, *(0.7 * mode for mode in modes)])
    return np.asarray((f >= low) & (f <= high))


def _sung_by(finished: Finished) -> str:
    """Which part sings there, where the run says so."""
    found = finished.summary.get("chatter", {}).get("sung_by")
    return f": the {found['part']}" if isinstance(found, Mapping) else ""


def _path(axes: Axes, table: Columns, finished: Finished) -> None:
    """What becomes of the last turn's mark, pitch by pitch: this cut, and one that just sings."""
    paths = {
        name: _known(table, name) for name in ("loop", "just_singing", "loop_without_rubbing")
    }
    sized = paths["just_singing"] if paths["just_singing"][0].size else paths["loop"]
    reach = max(1.0, 1.15 * float(np.hypot(*sized).max()))
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    axes.axvspan(-reach, -0.5, facecolor=SINGS, edgecolor=FAINT, hatch="///", lw=0.0)
    axes.axvline(-0.5, color=INK, lw=2.6)
    axes.axhline(0.0, color=FAINT, lw=0.8, zorder=1)
    axes.axvline(0.0, color=FAINT, lw=0.8, zorder=1)
    margin = finished.summary.get("chatter", {}).get("gain_margin", {}).get("likely", "none")
    for name, style, width, words in (
        ("loop", "-", 2.4, "this cut"),
        ("loop_without_rubbing", (0, (2, 1.5)), 1.8, BARE),
        ("just_singing", (0, (7, 2, 2, 2)), 1.4, f"{_two(margin)} times as hard: just sings"),
    ):
        # A cut far past its limit runs off the sheet, and all the more so without rubbing.
        hopeless = name == "loop_without_rubbing" and isinstance(margin, float) and margin < 0.25
        if paths[name][0].size and not hopeless:
            axes.plot(*paths[name], ls=style, lw=width, color=INK, label=words)
    axes.set_aspect("equal", adjustable="box")
    axes.set_xlabel("as the chip thickens the edge digs in (-) or gives way (+)")
    axes.set_ylabel("the same a quarter wave later (-) or sooner (+)")
    axes.legend(**_ABOVE)
    bottom: dict[str, Any] = {"transform": axes.transAxes, "fontsize": 13, "weight": "bold"}
    axes.text(0.02, 0.02, "sings", ha="left", **bottom)
    axes.text(0.98, 0.02, "quiet", ha="right", **bottom)


def _known(table: Columns, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Real and imaginary part of a path where it is."""
    x, y = table[f"{name}_real"], table[f"{name}_imaginary"]
    known = np.isfinite(x)
    return x[known], y[known]


def _loop_words(finished: Finished) -> str:
    return (
        "Left: a push that beats at a mode's pitch moves the edge most. Turning lowers the "
        "margin: it feeds the big tangential force into the movement along the bit.\n"
        "Right: how far the edge moves, pitch by pitch, for each ripple of the chip. "
        "Left of the heavy line each turn's ripple is larger than the last, and the bar sings.\n"
        f"{_margin_words(finished)}"
    )


# --- spindle speed ---------------------------------------------------------------------------


def draw_lobes(finished: Finished, path: Path) -> None:
    """Gain margin against spindle speed, with the lathe's speeds and the marks per turn."""
    table = finished.curves["lobes.csv"]
    speed = table["speed"]
    with picture(path, 1600, 900) as figure:
        axes = figure.add_axes((0.075, 0.17, 0.875, 0.57))
        axes.set_xscale("log")
        axes.set_xlim(speed[0], speed[-1])
        low, likely, high = (table[f"margin_floor{end}"] for end in ("_low", "", "_high"))
        _margin_scale(axes, [low, likely, high, table["margin"]])
        axes.fill_between(
            speed,
            _held(low),
            _held(high),
            facecolor=BAND,
            lw=0.0,
            label="the guesses",
        )
        _lines(axes, table)
        _lathe_speeds(axes, finished)
        _waves(axes, table)
        axes.set_xlabel("spindle, rpm")
        axes.set_ylabel("gain margin (1 just sings)")
        figure.text(
            0.03, 0.945, "Margin against chatter at each speed", fontsize=18, weight="bold"
        )
        figure.text(0.03, 0.925, _lobe_words(finished), fontsize=12.5, va="top", linespacing=1.4)
        figure.legend(
            *axes.get_legend_handles_labels(),
            loc="lower left",
            bbox_to_anchor=(0.065, 0.01),
            ncols=4,
            fontsize=12,
            handlelength=2.8,
        )


def _lines(axes: Axes, table: Columns) -> None:
    """Likely margin at the worst phase, with rubbing and without, and lobe by lobe where seen."""
    speed = table["speed"]
    for name, style, width, words in (
        ("margin_floor", "-", 2.6, "likely"),
        ("margin_floor_without_rubbing", (0, (2, 1.5)), 1.8, f"likely, {BARE}"),
    ):
        axes.plot(speed, _held(table[name]), ls=style, lw=width, color=INK, label=words)
    margin, waves = _held(table["margin"]), table["waves_per_turn"]
    seen = np.isfinite(waves) & (waves < SEEN)
    if seen.any():
        own = np.where(seen, margin, np.nan)
        axes.plot(speed, own, color=INK, lw=1.2, label="likely, at this very speed")


def _best_near(table: Columns) -> NDArray[np.float64]:
    """Best margin over its floor within a lobe or so, or three speeds drawn, of each speed."""
    speed, waves = table["speed"], table["waves_per_turn"]
    away = np.abs(np.log(speed[:, None] / speed[None, :]))
    known = np.where(np.isfinite(waves), waves, np.inf)
    near = away <= np.maximum(1.0 / known, 3.1 * np.max(np.diff(np.log(speed))))[:, None]
    above = _held(table["margin"]) / _held(table["margin_floor"])
    best = np.where(near, above[None, :], 0.0).max(axis=1)
    return np.asarray((near * best[None, :]).sum(axis=1) / near.sum(axis=1))


def _lathe_speeds(axes: Axes, finished: Finished) -> None:
    """Hair lines at the lathe's speeds, named where they have room; a heavy one at the cut's."""
    now = finished.case.spindle_speed * 60
    speeds = sorted(speed * 60 for speed in finished.case.lathe.speeds)
    for speed in speeds:
        axes.axvline(speed, color=FAINT, lw=1.0, zorder=1)
    axes.axvline(now, color=INK, lw=1.6, zorder=2)
    low, high = np.log10(axes.get_xlim())
    kept: list[float] = []
    for speed in speeds or plain_speeds(*axes.get_xlim()):
        places = [(np.log10(speed / other)) / (high - low) * 1400 for other in kept]
        if all(abs(place) > 58 for place in places):
            kept.append(speed)
    axes.xaxis.set_major_locator(FixedLocator(kept))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xticks(kept, [f"{speed:.4g}" for speed in kept])
    place = (np.log10(now) - low) / (high - low)
    words = rpm_words(finished.case.spindle_speed)
    axes.text(
        now,
        0.985,
        f" this cut, {words} " if place < 0.85 else f"this cut, {words} ",
        transform=axes.get_xaxis_transform(),
        ha="left" if place < 0.85 else "right",
        va="top",
        fontsize=12,
        weight="bold",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
    )


def _waves(axes: Axes, table: Columns) -> None:
    """Waves per turn along the top."""
    waves, speed = table["waves_per_turn"], table["speed"]
    known = np.isfinite(waves)
    if not known.any():
        return
    pitch = float(np.median(waves[known] * speed[known]))

    def other(value: Any) -> Any:
        return pitch / np.maximum(value, 1e-9)

    top = axes.secondary_xaxis("top", functions=(other, other))
    low, high = pitch / speed[-1], pitch / speed[0]
    ticks = [n * 10.0**p for p in range(4) for n in (1, 2, 5) if low <= n * 10.0**p <= high]
    top.xaxis.set_major_locator(FixedLocator(ticks))
    top.xaxis.set_minor_locator(NullLocator())
    top.set_xticks(ticks, [f"{tick:.4g}" for tick in ticks])
    top.set_xlabel("waves round the bore in one turn, about")


def _lobe_words(finished: Finished) -> str:
    """What the picture says of the cut's own speed."""
    table, case = finished.curves["lobes.csv"], finished.case
    now = int(np.argmin(np.abs(table["speed"] - case.spindle_speed * 60)))
    waves = float(table["waves_per_turn"][now])
    if not isfinite(waves):
        return f"{_margin_words(finished)}\nAt the likely values no mark of the last turn sings."
    above = float(_best_near(table)[now])
    fit = f"At this cut about {_two_digits(waves)} waves fit round the bore"
    rubbing = (
        "A slower speed helps only as far as the edge rubs: the truth lies between the two lines; "
        "a fresh edge starts at the dotted one."
    )
    if waves * float(case.bar.damping_ratio) > 1.0 or above < 1.15:
        tuned = f"{fit}, so the lobes have run together: speed will not tune it out."
    else:
        tuned = (
            f"{fit}; lobes reach {100 * (above - 1):.0f} % above the floor, but one can be aimed "
            f"at only if pitch and speed are known to {25 / waves:.1g} %."
        )
    return "\n".join([_margin_words(finished), tuned, rubbing])


def _two_digits(value: float) -> str:
    """Two digits, never as a power of ten."""
    return f"{float(f'{value:.2g}'):g}"


# --- nose radius and lead angle --------------------------------------------------------------


def draw_nose(finished: Finished, path: Path) -> None:
    """Finish, push and margin against nose radius; push and margin against lead angle."""
    nose, lead = finished.curves["nose.csv"], finished.curves["lead.csv"]
    with picture(path, 1600, 1000) as figure:
        units = _UNITS[finished.system]
        finish = units["ideal_peak_to_valley"][1]
        rows = [
            (0.60, 0.20, "ideal_peak_to_valley", f"ideal finish,\npeak to valley, {finish}"),
            (0.365, 0.20, "push", f"push along the bit, {units['push'][1]}"),
            (0.10, 0.23, "margin", "gain margin (1 sings)"),
        ]
        for place, (bottom, height, name, label) in enumerate(rows):
            axes = figure.add_axes((0.085, bottom, 0.50, height))
            _nose_row(axes, nose, name, finished)
            axes.set_ylabel(label, fontsize=12.5)
            axes.yaxis.set_label_coords(-0.095, 0.5)
            _radii(axes, nose, finished, labelled=place == 2)
        for place, (bottom, height, name, _) in enumerate(rows[1:]):
            axes = figure.add_axes((0.665, bottom, 0.275, height))
            _lead_row(axes, lead, name, finished)
            axes.tick_params(labelbottom=place == 1)
            if place == 1:
                axes.set_xlabel("lead angle, degrees (0: side square to the bar)")
        figure.text(0.03, 0.95, "What the nose of the bit trades", fontsize=18, weight="bold")
        figure.text(0.03, 0.932, _nose_words(finished), fontsize=12.5, va="top", linespacing=1.4)
        figure.text(0.665, 0.80, _lead_words(finished), fontsize=12.5, va="top", linespacing=1.4)
        figure.legend(
            *axes.get_legend_handles_labels(),
            loc="lower left",
            bbox_to_anchor=(0.655, 0.61),
            fontsize=12,
            handlelength=2.8,
        )


def _nose_row(axes: Axes, table: Columns, name: str, finished: Finished) -> None:
    axes.set_xscale("log")
    axes.set_xlim(table["nose_radius"][0], table["nose_radius"][-1])
    _edge_row(axes, table, table["nose_radius"], name, finished)
    if name == "ideal_peak_to_valley":
        axes.set_yscale("log")
        _plain(axes, y_only=True)
    now = finished.case.bit.nose_radius * 1e3
    if now >= table["nose_radius"][0]:
        axes.axvline(now, color=INK, lw=1.6)


def _lead_row(axes: Axes, table: Columns, name: str, finished: Finished) -> None:
    axes.set_xlim(table["lead_angle"].min(), table["lead_angle"].max())
    _edge_row(axes, table, table["lead_angle"], name, finished)
    axes.axvline(np.degrees(finished.case.bit.lead_angle), color=INK, lw=1.6)


def _edge_row(
    axes: Axes, table: Columns, x: NDArray[np.float64], name: str, finished: Finished
) -> None:
    """One quantity against one size of the edge."""
    axes.grid(axis="y", color=FAINT, lw=0.6)
    if name != "margin":
        y = table[name] * _UNITS[finished.system][name][0]
        axes.plot(x, np.where(np.isfinite(y), y, np.nan), color=INK, lw=2.4)
        if name == "push":
            axes.set_ylim(0, 1.12 * float(y.max()))
        return
    low, likely, high = (table[f"margin_{end}"] for end in ("low", "likely", "high"))
    _margin_scale(axes, [low, likely, high, table["margin_likely_without_rubbing"]])
    axes.fill_between(x, _held(low), _held(high), facecolor=BAND, lw=0.0, label="the guesses")
    axes.plot(x, _held(likely), color=INK, lw=2.4, label="likely")
    bare = _held(table["margin_likely_without_rubbing"])
    axes.plot(x, bare, color=INK, lw=1.8, ls=(0, (2, 1.5)), label=f"likely, {BARE}")


def _radii(axes: Axes, table: Columns, finished: Finished, *, labelled: bool) -> None:
    """Ticks of the nose radius in the case's own unit, the other along the top."""
    low, high = table["nose_radius"][0], table["nose_radius"][-1]
    own = [0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2]
    inch = [0.0025, 0.005, 0.01, 1 / 64, 1 / 32, 1 / 16, 0.120]
    words = [".0025", ".005", ".010", "1/64", "1/32", "1/16", ".120"]
    metric = finished.system == "mm"
    ticks = own if metric else [25.4 * radius for radius in inch]
    names = [f"{tick:g}" for tick in own] if metric else words
    kept = [(t, n) for t, n in zip(ticks, names, strict=True) if low <= t * 1.0001 <= high * 1.001]
    axes.xaxis.set_major_locator(FixedLocator([t for t, _ in kept]))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xticks([t for t, _ in kept], [n for _, n in kept])
    axes.tick_params(labelbottom=labelled)
    if labelled:
        axes.set_xlabel(f"nose radius, {'mm' if metric else 'in'}")


def _nose_words(finished: Finished) -> str:
    cut = finished.case.cut
    return (
        f"At this cut, {finished.say(cut.depth)} deep and {finished.say(cut.feed, 'feed')}. "
        "Upright lines: this bit. High-speed steel comes out two to five times rougher than the "
        f"ideal.\n{_margin_words(finished)}\n{_nose_trade(finished)}"
    )


def _nose_trade(finished: Finished) -> str:
    """What twice the nose radius would do."""
    table, nose = finished.curves["nose.csv"], finished.case.bit.nose_radius * 1e3
    radii = table["nose_radius"]
    if not radii[0] <= nose <= radii[-1] / 2:
        return "A larger nose leaves a smoother bore on paper and pushes the bar harder."
    push = [_at(radii, table["push"], r) for r in (nose, 2 * nose)]
    bare = [_at(radii, table["margin_likely_without_rubbing"], r) for r in (nose, 2 * nose)]
    return (
        f"Twice this nose radius: half the ideal peak to valley, {push[1] / push[0]:.2g} times "
        f"the push, and {BARE} {bare[1] / bare[0]:.2g} times the margin."
    )


def _lead_words(finished: Finished) -> str:
    table = finished.curves["lead.csv"]
    angle = table["lead_angle"]
    own = float(np.degrees(finished.case.bit.lead_angle))
    steep = min(own + 45.0, 60.0)
    push = [_at(angle, table["push"], at) for at in (own, steep)]
    bare = [_at(angle, table["margin_likely_without_rubbing"], at) for at in (own, steep)]
    if push[1] < 1.02 * push[0]:
        return (
            "And the side of the edge, at this nose: the nose\ndoes all of the cutting at this "
            "depth, so how\nthe side leans changes nothing worth having."
        )
    return (
        f"And the side of the edge, at this nose: leaned\nfrom {own:.0f} to {steep:.0f} degrees "
        f"it pushes {push[1] / push[0]:.2g} times as hard\nalong the bit, and {BARE}\nthe margin "
        f"is {bare[1] / bare[0]:.2g} times what it was."
    )


def _at(x: NDArray[np.float64], y: NDArray[np.float64], place: float) -> float:
    return float(np.interp(place, x, _held(y) if y.max() == np.inf else y))


# --- shared ----------------------------------------------------------------------------------


def _held(margin: NDArray[np.float64]) -> NDArray[np.float64]:
    """Margins kept within what is drawn."""
    return np.clip(np.where(np.isfinite(margin), margin, MOST), 1e-4, MOST)


def _margin_scale(axes: Axes, curves: list[NDArray[np.float64]]) -> None:
    """Log scale of margins that holds the curves and one, the singing side hatched."""
    low = min(0.5, *(float(_held(curve).min()) for curve in curves)) / 1.25
    high = max(2.0, *(float(_held(curve).max()) for curve in curves)) * 1.25
    axes.set_yscale("log")
    axes.set_ylim(low, high)
    axes.axhspan(low, 1.0, facecolor="none", edgecolor="#bdbdbd", hatch="///", lw=0.0, zorder=1.5)
    axes.axhline(1.0, color=INK, lw=2.0, ls=(0, (8, 3)), zorder=2)
    for word, up, align in (("quiet", 4, "bottom"), ("sings", -4, "top")):
        axes.annotate(
            word,
            (1.0, 1.0),
            xycoords=("axes fraction", "data"),
            xytext=(5, up),
            textcoords="offset points",
            va=align,
            fontsize=11,
            weight="bold",
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 0.6},
        )
    _plain(axes, y_only=True)


def _plain(axes: Axes, *, y_only: bool = False) -> None:
    """Plain numbers at 1, 2 and 5 on logarithmic scales, fewer where they would crowd."""
    for axis in (axes.yaxis,) if y_only else (axes.xaxis, axes.yaxis):
        low, high = sorted(axis.get_view_interval())
        decades = np.log10(high / low)
        steps = (1, 2, 5) if decades < 2.2 else (1,)
        ticks = [
            step * 10.0**power
            for power in range(-6, 6)
            for step in steps
            if low <= step * 10.0**power <= high
        ]
        axis.set_minor_locator(NullLocator())
        axis.set_major_locator(FixedLocator(ticks))
        axis.set_ticks(ticks, [f"{tick:.6g}" if tick >= 1e-4 else f"{tick:.0e}" for tick in ticks])


def _pitch(finished: Finished) -> float | None:
    """Pitch at which it would sing first, Hz."""
    found = finished.summary.get("chatter", {}).get("frequency_Hz")
    return float(found) if isinstance(found, (int, float)) else None


def _margin_words(finished: Finished) -> str:
    """The margin as a band, with its likely value."""
    margin = finished.summary.get("chatter", {}).get("gain_margin", {})
    said = {end: _two(value) for end, value in margin.items()}
    if not said:
        return ""
    return (
        f"Gain margin of this cut {said['low']} to {said['high']}, likely {said['likely']}: "
        "how many times harder it could cut before it just sings; below 1 it sings."
    )


def _two(value: float | str) -> str:
    if isinstance(value, str):
        return "without limit"
    return f"{value:.0f}" if value >= 99.5 else f"{value:.2g}"


CHARTS: dict[str, tuple[tuple[str, ...], Callable[[Finished, Path], None]]] = {
    "loop.png": (("loop.csv",), draw_loop),
    "lobes.png": (("lobes.csv",), draw_lobes),
    "nose_radius.png": (("nose.csv", "lead.csv"), draw_nose),
}
"""Each chart with the tables that it is drawn from."""


def charts_of(finished: Finished) -> dict[str, Callable[[Finished, Path], None]]:
    """The charts whose tables the folder holds."""
    return {
        name: draw
        for name, (tables, draw) in CHARTS.items()
        if all(finished.curves.get(table) for table in tables)
    }
