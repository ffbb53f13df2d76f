"""The paper that pictures are drawn on: its size, ink and letters, dimensions, and how it is kept.

Pictures are figures of matplotlib's Agg canvas with a style of their own, so a reader's
`matplotlibrc` changes nothing and the same results give the same bytes.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
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
from .wording import nice_step as nice_step
from .wording import pitch_words as pitch_words
from .wording import plain_speeds as plain_speeds
from .wording import rpm_words as rpm_words
from .wording import short as short

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


def sweep_parts(folder: Path) -> None:
    """Remove half-written pictures that a killed drawing left."""
    for part in folder.glob(".*.png.part"):
        os.unlink(part)
