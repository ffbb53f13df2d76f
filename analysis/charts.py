"""Charts of a finished run: movement along the bar, modes against speed, the give.

Each function reads nothing but a `Finished` folder and keeps one picture. None needs a screen or
a graphics library.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from textwrap import wrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from matplotlib.ticker import FixedLocator, NullLocator

from .case import Case
from .finished import THOU, Finished, ShakeLine, bar_pieces, plane_words
from .label_places import spread, within
from .paper import (
    FAINT,
    INK,
    QUIET,
    picture,
    pitch_words,
    plain_speeds,
    rpm_words,
    short,
    text_width,
)

TRIVIAL_RATIO = 10.0
_MOVES = "How far the bar moves under the cut"
_ALONE = "This is the bar alone on its supports: what bit and work side give comes on top."
HATCHES = ("///", "...", "\\\\\\", "xxx", "---", "++", "ooo", "|||")


def draw_deflection(finished: Finished, path: Path) -> None:
    """Radial and tangential movement of the bar along its length, with what holds it."""
    own, other = (1.0, THOU) if finished.system == "mm" else (THOU, 1.0)
    with picture(path, 1600, 900) as figure:
        axes = figure.add_axes((0.085, 0.30, 0.83, 0.47))
        strip = figure.add_axes((0.085, 0.085, 0.83, 0.16), sharex=axes)
        _movement_curves(axes, finished, own)
        axes.set_ylabel(
            f"movement, {'um' if own == 1.0 else 'thou'}   (radial: minus is away from the cut)",
            fontsize=12,
        )
        right = axes.secondary_yaxis("right", functions=(_times(own / other), _times(other / own)))
        right.set_ylabel(f"movement, {'thou' if own == 1.0 else 'um'}")
        _stations_on_top(axes, finished)
        _bar_strip(strip, finished)
        figure.text(0.085, 0.955, _MOVES, fontsize=18, weight="bold")
        figure.text(0.085, 0.927, _ALONE, fontsize=12.5)
        figure.legend(
            *axes.get_legend_handles_labels(),
            loc="upper left",
            bbox_to_anchor=(0.075, 0.92),
            ncols=3 if len(axes.lines) < 5 else 2,
            fontsize=12.5,
            handlelength=3.2,
        )


def _times(factor: float) -> Callable[[Any], Any]:
    """Function that multiplies by a factor: one unit's axis beside another's."""
    return lambda value: value * factor


def _scale(finished: Finished) -> tuple[float, str]:
    """Length of the case's own unit, mm, and its name."""
    return (1.0, "mm") if finished.system == "mm" else (25.4, "in")


def _movement_curves(axes: Axes, finished: Finished, own: float) -> None:
    """Radial, tangential and hand-formula movement in the case's own small unit."""
    unit = _scale(finished)[0]
    table = finished.deflection
    x = table["station"] / unit
    bit = finished.case.cross_hole.position * 1000 / unit
    for name, ahead, behind, style in (
        ("radial", "towards the cut", "away from the cut", "-"),
        ("tangential", "the way the edge moves", "against the way the edge moves", "--"),
    ):
        at_bit = float(np.interp(bit, x, table[name]))
        way = ahead if at_bit > 0 else behind
        label = f"{name}: at the bit {finished.movement(abs(at_bit))} {way}"
        axes.plot(x, table[name] / own, style, color=INK, lw=2.4, label=label)
    between = bool(finished.case.supports.others)
    if "hand" in table and not between:
        axes.plot(
            x,
            table["hand"] / own,
            ":",
            color=QUIET,
            lw=1.8,
            label="radial by hand formula, along the bar",
        )
    hand = finished.summary.get("static", {}).get("hand_check")
    # The formula knows two supports; beside a steady it would only look like a disagreement.
    if hand and not between:
        radial = float(np.interp(bit, x, table["radial"]))
        value = float(np.copysign(hand["value_m"] * 1e6, radial))
        label = f"radial by hand formula: at the bit {finished.movement(abs(value))}"
        axes.plot([bit], [value / own], "o", ms=11, mfc="white", mec=INK, mew=2, label=label)
    axes.axhline(0.0, color=QUIET, lw=0.8)
    axes.axvline(bit, color=QUIET, lw=1.0, ls=(0, (6, 4)))
    for _, _, station in finished.case.placed_supports:
        axes.axvline(station * 1000 / unit, color=FAINT, lw=1.0)
    axes.grid(axis="y", color=FAINT, lw=0.6)
    axes.margins(x=0.03, y=0.10)


def _stations_on_top(axes: Axes, finished: Finished) -> None:
    """The other system's stations along the top edge."""
    factor = 25.4 if finished.system == "mm" else 1 / 25.4
    top = axes.secondary_xaxis("top", functions=(_times(1 / factor), _times(factor)))
    top.set_xlabel(f"station from the drive support, {'in' if finished.system == 'mm' else 'mm'}")
    axes.tick_params(labelbottom=False)


def _bar_strip(axes: Axes, finished: Finished) -> None:
    """The bar itself under the curves: steps, supports, bit, with their names."""
    case, (unit, word) = finished.case, _scale(finished)
    factor = 1000 / unit
    largest = max([case.bar.diameter, *(step.diameter for step in case.bar.steps)])
    for start, end, diameter in bar_pieces(finished.case):
        height = diameter / largest
        axes.add_patch(
            Rectangle(
                (start * factor, -height / 2),
                (end - start) * factor,
                height,
                facecolor="#e4e4e4",
                edgecolor=INK,
                lw=1.2,
            )
        )
    bit = case.cross_hole.position * factor
    axes.plot([bit], [0.72], marker="v", ms=13, color=INK, clip_on=False)
    places, names = [bit], ["bit"]
    for name, support, station in case.placed_supports:
        axes.plot([station * factor], [-0.78], marker="^", ms=14, mfc="white", mec=INK, mew=1.6)
        places.append(station * factor)
        names.append(support.kind if name not in ("drive", "tail") else f"{name}: {support.kind}")
    axes.set_ylim(-2.1, 1.15)
    axes.set_yticks([])
    for side in ("left", "right", "top"):
        axes.spines[side].set_visible(False)
    axes.set_xlabel(f"station from the drive support, {word}")
    low, high = axes.get_xlim()
    dot = (high - low) / (0.83 * 1600)
    widths = [text_width(name, 12) * dot for name in names]
    for x, name in zip(within(spread(places, widths), widths, low, high), names, strict=True):
        axes.text(x, -1.62, name, ha="center", va="center", fontsize=12)


# --- modes and speed -------------------------------------------------------------------------


def draw_modes_and_speed(finished: Finished, path: Path) -> None:
    """Modes as levels, what shakes the bar as lines that rise with the spindle's turns."""
    case = finished.case
    speeds = sorted({case.spindle_speed * 60, *(speed * 60 for speed in case.lathe.speeds)})
    low, high = speeds[0] / 1.6, speeds[-1] * 1.6
    with picture(path, 1600, 900) as figure:
        axes = figure.add_axes((0.075, 0.135, 0.655, 0.66))
        axes.set_xscale("log")
        axes.set_yscale("log")
        axes.set_xlim(low, high)
        shown = _chosen_shakes(finished)
        tops = [mode.frequency * 1.5 for mode in finished.modes[:6]]
        tops += [1.3 * (s.frequency if s.order is None else s.order * high / 60) for s in shown]
        axes.set_ylim(low / 60 * 0.8, max(tops))
        entries = [*_mode_levels(axes, finished), *_shake_lines(axes, shown, finished)]
        _speed_marks(axes, case)
        _labels_on_the_right(axes, entries)
        _plain_ticks(axes, sorted(speed * 60 for speed in case.lathe.speeds))
        axes.set_xlabel("spindle, rpm")
        axes.set_ylabel("frequency, Hz")
        figure.text(0.075, 0.945, "Modes and what could shake them", fontsize=18, weight="bold")
        figure.text(0.075, 0.035, _speed_key(finished), fontsize=12)
        figure.text(0.075, 0.928, _speed_note(finished), fontsize=12.5, va="top", linespacing=1.35)


def _speed_key(finished: Finished) -> str:
    """How to read the picture."""
    band = finished.case.limits.separation
    return (
        f"Grey bands: within {band * 100:.3g} % of a mode. Upright lines: the lathe's speeds. "
        "At this cut's speed: square, inside a band; circle, outside."
    )


def _speed_note(finished: Finished) -> str:
    """What is wrong at this speed, or how little it means that nothing is."""
    found = finished.summary.get("speed", {})
    if found.get("verdict", "clear") != "clear":
        reason = found["reason"]
        lead = wrap(short(reason[:1].upper() + reason[1:], 250), 125)
        return "\n".join([*lead, _first_mode_words(finished)]).rstrip()
    first = _first_mode_words(finished)
    bending = [mode for mode in finished.modes if mode.plane in ("bit", "across")]
    if not bending:
        return ""
    if bending[0].frequency / finished.case.spindle_speed >= TRIVIAL_RATIO:
        return (
            f"{first}\nOnce and twice per turn are nowhere near it, which is so for almost any "
            "bar: it does not mean that this one will not chatter."
        )
    return f"{first}\nOnce and twice per turn are close enough to matter here."


def _first_mode_words(finished: Finished) -> str:
    """First bending mode beside the spindle's turns."""
    speed = finished.case.spindle_speed
    bending = [mode for mode in finished.modes if mode.plane in ("bit", "across")]
    if not bending:
        return ""
    ratio = bending[0].frequency / speed
    return (
        f"First bending mode {pitch_words(bending[0].frequency)}, {ratio:.3g} times the spindle's "
        f"{speed:.3g} turns a second ({rpm_words(speed)})."
    )


def _chosen_shakes(finished: Finished) -> list[ShakeLine]:
    """The lines worth a line: 1x, 2x, first beats of the cut, the lathe's own, the nearest."""
    case = finished.case
    cuts = case.work.cuts_per_turn
    wanted = {1.0, 2.0} | {float(cuts * k) for k in (1, 2, 3) if cuts}
    wanted |= {float(line.per_turn) for line in case.lathe.lines if line.per_turn is not None}
    ordered = sorted(finished.shakes, key=lambda shake: shake.separation)
    chosen: dict[tuple[float | None, str], ShakeLine] = {}
    for place, shake in enumerate(ordered):
        if place < 1 or shake.order is None or shake.order in wanted:
            chosen.setdefault((shake.order, shake.source if shake.order is None else ""), shake)
    return sorted(chosen.values(), key=lambda shake: shake.frequency)


def _mode_levels(axes: Axes, finished: Finished) -> list[tuple[float, str, bool]]:
    """Draw a level for each of the first six modes; its height, label, and boldness."""
    separation = finished.case.limits.separation
    entries = []
    for mode in finished.modes[:6]:
        axes.axhspan(
            mode.frequency * (1 - separation),
            mode.frequency * (1 + separation),
            facecolor="#ececec",
            edgecolor="none",
            zorder=0,
        )
    for mode in finished.modes[:6]:
        axes.axhline(mode.frequency, color=INK, lw=2.6)
        words = plane_words(mode.plane)
        entries.append(
            (mode.frequency, f"mode {mode.number}: {pitch_words(mode.frequency)}, {words}", True)
        )
    return entries


def _shake_lines(
    axes: Axes, shakes: list[ShakeLine], finished: Finished
) -> list[tuple[float, str, bool]]:
    """Draw what shakes; where each meets the right edge, its label, and boldness."""
    low, high = axes.get_xlim()
    now = finished.case.spindle_speed * 60
    styles = ((0, (7, 3)), (0, (2, 2)), (0, (7, 2, 2, 2)), (0, (11, 3, 2, 3, 2, 3)))
    entries = []
    for number, shake in enumerate(shakes):
        style = styles[number % len(styles)]
        if shake.order is None:
            axes.axhline(shake.frequency, color=QUIET, lw=1.3, ls=style)
            entries.append(
                (
                    shake.frequency,
                    f"{short(shake.source, 24)}: {pitch_words(shake.frequency)}",
                    False,
                )
            )
            continue
        line = np.array([low, high])
        axes.plot(line, shake.order * line / 60, color=QUIET, lw=1.3, ls=style)
        near = shake.separation < finished.case.limits.separation
        axes.plot(
            [now],
            [shake.frequency],
            "s" if near else "o",
            ms=10 if near else 6,
            mfc=INK if near else "white",
            mec=INK,
            zorder=5,
        )
        entries.append((shake.order * high / 60, _shake_words(shake, finished), False))
    return entries


def _shake_words(shake: ShakeLine, finished: Finished) -> str:
    """Name of a line that rises with the spindle, with how often per turn."""
    assert shake.order is not None
    cuts = finished.case.work.cuts_per_turn
    for line in finished.case.lathe.lines:
        if line.per_turn == shake.order:
            return f"{short(line.name, 24)}: {shake.order:.4g} per turn"
    often = {1.0: "once", 2.0: "twice"}.get(shake.order, f"{shake.order:.4g} times")
    if cuts and shake.order % cuts == 0:
        beat = round(shake.order / cuts)
        return f"{often} per turn: the cut's beat" + (f" x {beat}" if beat > 1 else "")
    return f"{often} per turn"


def _speed_marks(axes: Axes, case: Case) -> None:
    """The lathe's speeds as hair lines and the case's as a heavy one, named at the top alone."""
    for speed in case.lathe.speeds:
        axes.axvline(speed * 60, color=FAINT, lw=0.9, zorder=1)
    now = case.spindle_speed * 60
    axes.axvline(now, color=INK, lw=1.6, zorder=2)
    axes.text(
        now,
        1.012,
        f"this cut, {rpm_words(case.spindle_speed)}",
        transform=axes.get_xaxis_transform(),
        ha="center",
        va="bottom",
        fontsize=12,
        weight="bold",
    )


def _labels_on_the_right(axes: Axes, entries: list[tuple[float, str, bool]]) -> None:
    """Label each line beside the axes, pushed apart, with a leader to where it leaves."""
    low, high = np.log10(axes.get_ylim())
    height = 0.66 * 900
    wanted = [(np.log10(value) - low) / (high - low) for value, _, _ in entries]
    gaps = [25 / height] * len(entries)
    placed = within(spread(wanted, gaps), gaps, -0.02, 1.04)
    for (_, text, bold), start, place in zip(entries, wanted, placed, strict=True):
        axes.plot(
            [1.0, 1.022, 1.03],
            [start, place, place],
            transform=axes.transAxes,
            color=QUIET,
            lw=0.8,
            clip_on=False,
        )
        axes.text(
            1.035,
            place,
            text,
            transform=axes.transAxes,
            va="center",
            fontsize=11,
            weight="bold" if bold else "normal",
        )


def _plain_ticks(axes: Axes, speeds: list[float]) -> None:
    """Ticks at the lathe's own speeds where they have room, and plain frequencies."""
    low, high = np.log10(axes.get_xlim())
    width = 0.655 * 1600
    kept: list[float] = []
    for speed in speeds or plain_speeds(*axes.get_xlim()):
        place = (np.log10(speed) - low) / (high - low) * width
        if not kept or place - (np.log10(kept[-1]) - low) / (high - low) * width > 52:
            kept.append(speed)
    axes.xaxis.set_major_locator(FixedLocator(kept))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xticks(kept, [f"{speed:.4g}" for speed in kept])
    bottom, top = axes.get_ylim()
    ticks = [
        step * 10.0**power
        for power in range(-3, 6)
        for step in (1, 2, 5)
        if bottom <= step * 10.0**power <= top
    ]
    axes.yaxis.set_minor_locator(NullLocator())
    axes.set_yticks(ticks, [f"{tick:.6g}" for tick in ticks])


# --- the give --------------------------------------------------------------------------------


def draw_give(finished: Finished, path: Path) -> None:
    """Where the give at the edge is: a bar for each part, the largest first."""
    static = finished.summary["static"]
    parts = sorted(static["give"], key=lambda part: -part["share"])
    height = 250 + 74 * len(parts)
    with picture(path, 1600, height) as figure:
        axes = figure.add_axes((0.20, 110 / height, 0.72, (height - 250) / height))
        for place, part in enumerate(parts):
            share = part["share"] * 100
            axes.barh(
                place,
                share,
                height=0.62,
                facecolor="#f2f2f2" if place else "#d8d8d8",
                edgecolor=INK,
                lw=1.4,
                hatch=HATCHES[place % len(HATCHES)],
            )
            axes.text(
                max(share, 0.0) + 0.8,
                place,
                _percent(share),
                va="center",
                fontsize=15,
                weight="bold",
            )
        axes.set_yticks(range(len(parts)), [part["part"] for part in parts], fontsize=15)
        axes.set_ylim(len(parts) - 0.4, -0.6)
        longest = max(part["share"] for part in parts) * 100
        axes.set_xlim(min(0.0, *(part["share"] * 100 for part in parts)), longest * 1.12 + 2)
        axes.tick_params(axis="y", length=0)
        axes.set_xlabel("share of the give at the edge, along the bit, %")
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        figure.text(0.02, 1 - 52 / height, "Where the give is", fontsize=18, weight="bold")
        words = _give_words(finished)
        figure.text(0.02, 1 - 74 / height, words, fontsize=13, va="top", linespacing=1.35)


def _percent(share: float) -> str:
    """Percent without false digits."""
    if abs(share) < 0.05:
        return "under 0.1 %"
    return f"{share:.0f} %" if abs(share) >= 9.95 else f"{share:.1f} %"


def _give_words(finished: Finished) -> str:
    """How far the edge gives, and under what push."""
    static, cut = finished.summary["static"], finished.summary.get("cut", {})
    stiffness = finished.say(static["stiffness_radial_N_per_m"], "stiffness")
    words = f"Stiffness at the edge along the bit: {stiffness}, bar, bit and work side together"
    push = cut.get("force_radial_N")
    if push is None:
        return words + "."
    moved = 1e6 * push / static["stiffness_radial_N_per_m"]
    return (
        f"{words}.\nIt moves {finished.movement(moved)} under {finished.say(push, 'force')} along "
        "the bit, by this push alone; the push across and the feed's add their own."
    )


CHARTS = {
    "deflection.png": draw_deflection,
    "modes_and_speed.png": draw_modes_and_speed,
    "give.png": draw_give,
}
