"""The paper that pictures are drawn on: its size, ink and letters, dimensions, and how it is kept.

Pictures are figures of matplotlib's Agg canvas with a style of their own, so a reader's
`matplotlibrc` changes nothing and the same results give the same bytes.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from PIL import Image

from .errors import WriteError

DOTS_PER_INCH = 100
INK = "#1b1b1b"
QUIET = "#5c5c5c"
FAINT = "#c9c9c9"
# Straw to deep slate through clay: lightness falls all the way, so it reads in black and white.
HEAT = LinearSegmentedColormap.from_list(
    "straw to slate", ["#f4edd6", "#e3c88f", "#c58f62", "#8a5a5c", "#4c3a57", "#1d2140"]
)

_STYLE: dict[str, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 13,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.titlesize": 16,
    "axes.titlelocation": "left",
    "axes.unicode_minus": False,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "hatch.linewidth": 0.7,
    "lines.linewidth": 2.0,
    "legend.frameon": False,
    "figure.dpi": DOTS_PER_INCH,
    # A dollar sign in a title is a dollar sign.
    "text.parse_math": False,
}


@contextmanager
def picture(path: Path, width: int, height: int) -> Iterator[Figure]:
    """Figure of `width` by `height` dots that is kept at `path` once it is drawn.

    Raises
    ------
    WriteError
        The picture cannot be written; nothing is left at `path`.
    """
    style: dict[Any, Any] = dict(mpl.rcParamsDefault) | _STYLE
    # Setting the backend, even to itself, makes matplotlib look for a screen.
    style.pop("backend", None)
    with mpl.rc_context(style):
        figure = Figure(figsize=(width / DOTS_PER_INCH, height / DOTS_PER_INCH))
        canvas: Any = FigureCanvasAgg(figure)
        yield figure
        canvas.draw()
        keep(np.asarray(canvas.buffer_rgba())[:, :, :3], path)


def keep(dots: np.ndarray[Any, Any], path: Path) -> None:
    """Write an image (height, width, 3) under a temporary name, read it back, then rename it."""
    part = path.with_name(f".{path.name}.part")
    try:
        image = Image.fromarray(np.ascontiguousarray(dots))
        image.save(part, format="PNG", compress_level=4)
        with Image.open(part) as written:
            written.load()
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        message = f"{path}: {error.strerror or error}"
        raise WriteError(message) from error


def whole_sheet(figure: Figure, *, left: float, right: float, bottom: float, top: float) -> Axes:
    """Axes over the whole figure without a frame, in the given coordinates."""
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(left, right)
    axes.set_ylim(bottom, top)
    axes.axis("off")
    return axes


def short(text: str, longest: int) -> str:
    r"""Words of the user on one line, cut to a length that has room.

    Examples
    --------
    >>> short("bull gear,\n66 teeth, and more", 16)
    'bull gear, 66...'
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= longest else line[: longest - 3] + "..."


def rpm_words(speed: float) -> str:
    """A spindle speed given in Hz, in turns a minute without false digits.

    Examples
    --------
    >>> rpm_words(1.4469), rpm_words(0.1234)
    ('87 rpm', '7.4 rpm')
    """
    rpm = 60 * speed
    return f"{rpm:.0f} rpm" if rpm >= 10 else f"{rpm:.2g} rpm"


def pitch_words(frequency: float) -> str:
    """A frequency in Hz of at most three digits below a kilohertz.

    Examples
    --------
    >>> pitch_words(297.06), pitch_words(1085.8), pitch_words(24.0)
    ('297 Hz', '1086 Hz', '24 Hz')
    """
    return f"{frequency:.3g} Hz" if frequency < 999.5 else f"{frequency:.0f} Hz"


def text_width(text: str, points: float) -> float:
    """Room that the longest line of a text takes, dots, a little on the wide side."""
    longest = max(len(line) for line in text.split("\n"))
    return longest * points * 0.62 * DOTS_PER_INCH / 72 + 12


def fits_between(start: float, end: float, text: str, *, dot: float, points: float = 12) -> bool:
    """Whether a text has room in the line of its own dimension."""
    return text_width(text, points) < (end - start) / dot - 40


def dimension(
    axes: Axes, start: float, end: float, y: float, text: str, *, dot: float, points: float = 12
) -> None:
    """Dimension along x: arrows from `start` to `end` at height `y`, its text in the line.

    A text too long for the line stands to the right of it, or to the left where that is off
    the sheet.

    Parameters
    ----------
    dot
        Size of one dot in the coordinates of the axes.
    """
    arrow = {"arrowstyle": "<|-|>", "color": INK, "lw": 1.0, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", (start, y), (end, y), arrowprops=arrow)
    inside = fits_between(start, end, text, dot=dot, points=points)
    left = end + (text_width(text, points) + 16) * dot > axes.get_xlim()[1]
    beside = start - 8 * dot if left else end + 8 * dot
    axes.text(
        (start + end) / 2 if inside else beside,
        y,
        text,
        fontsize=points,
        ha="center" if inside else "right" if left else "left",
        va="center",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
    )


def nice_step(value: float, steps: Sequence[float] = (1.0, 2.0, 5.0)) -> float:
    """Largest of `steps` times a power of ten that is not above `value`.

    Examples
    --------
    >>> nice_step(4300.0), nice_step(0.7)
    (2000.0, 0.5)
    """
    power = 10.0 ** np.floor(np.log10(value))
    return float(power * max(step for step in steps if step * power <= value * (1 + 1e-12)))


def plain_speeds(low: float, high: float) -> list[float]:
    """Plain numbers between two spindle speeds, for the scale of a lathe that names none.

    Examples
    --------
    >>> plain_speeds(75.0, 192.0)
    [100.0, 150.0]
    """
    steps = (1.0, 1.5, 2.0, 3.0, 5.0, 7.0)
    found = [step * 10.0**power for power in range(-2, 6) for step in steps]
    return [speed for speed in found if low <= speed <= high]


def sweep_parts(folder: Path) -> None:
    """Remove half-written pictures that a killed drawing left."""
    for part in folder.glob(".*.png.part"):
        os.unlink(part)
