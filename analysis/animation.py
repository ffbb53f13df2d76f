"""The bent bar and its modes as moving pictures (GIF), for `run --animate`.

The bodies are those of `bent_bar.glb`, seen as the report first shows them. They are drawn here
facet by facet, the farthest first, with no graphics library, so every machine can.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from .bar_moves import Move, movements
from .bodies import bent_bodies
from .finished import Finished
from .glb import Body, Floats

WIDTH, HEIGHT = 880, 420
FRAMES, MILLISECONDS = 16, 80
_LARGER = 2
"""Drawn so much larger and then made smaller, which smooths its edges."""
_ABOUT, _OVER = -0.5, 0.95
_LIGHT = np.array([0.35, 0.6, 0.75]) / np.linalg.norm([0.35, 0.6, 0.75])
_HEAT = np.array(
    [
        (0.957, 0.929, 0.839),
        (0.890, 0.784, 0.561),
        (0.773, 0.561, 0.384),
        (0.541, 0.353, 0.361),
        (0.298, 0.227, 0.341),
        (0.114, 0.129, 0.251),
    ]
)
_TEXT, _TOP = 17, 40
_SHADES = 96


def write_animations(finished: Finished) -> tuple[str, ...]:
    """Draw each movement of the bar into the finished folder; the names of the files.

    Raises
    ------
    OSError
        One cannot be written.
    """
    moves = movements(finished)
    if not moves:
        return ()
    bodies = [_seen(body) for body in bent_bodies(finished.case, moves)]
    first, last = finished.case.ends
    frame = _framed(bodies, min(0.01 * (last - first), 0.3 * finished.case.bar.diameter))
    names = []
    for place, move in enumerate(moves):
        name = "deflected.gif" if place == 0 else f"mode_{finished.modes[place - 1].number}.gif"
        # There and back go through the same places: each is drawn once.
        shares = _shares(move)
        drawn = {share: _shot(bodies, place, share, frame, move) for share in set(shares)}
        _keep(finished.folder / name, [drawn[share] for share in shares])
        names.append(name)
    return tuple(names)


def _shares(move: Move) -> list[float]:
    """How far along it is at each frame: both ways in a mode, one way and back under a push."""
    turn = np.arange(FRAMES) / FRAMES
    share = np.sin(2 * np.pi * turn) if move.movement.swings else np.sin(np.pi * turn) ** 2
    return [float(one) for one in np.round(share, 6) + 0.0]


# --- what is seen ----------------------------------------------------------------------------


def _view() -> Floats:
    """Rows: the picture's right, up and towards the eye, in x, y, z."""
    c, s, d, e = np.cos(_ABOUT), np.sin(_ABOUT), np.cos(_OVER), np.sin(_OVER)
    return np.array([(c, 0.0, s), (s * e, d, -c * e), (-s * d, e, c * d)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """A body turned towards the eye; `largest` is the most that a point goes in each movement."""

    body: Body
    points: Floats
    moves: tuple[Floats, ...]
    amount: tuple[Floats, ...]


def _seen(body: Body) -> Seen:
    turn = _view().T
    lengths = [np.linalg.norm(move, axis=1) for move in body.moves]
    return Seen(
        body=body,
        points=body.points @ turn,
        moves=tuple(move @ turn for move in body.moves),
        amount=tuple(lengths),
    )


@dataclass(frozen=True, slots=True)
class Frame:
    """Dots to a metre, the middle of what is seen, m, and how far lines stand off faces, m."""

    dots: float
    middle: tuple[float, float]
    lift: float


def _framed(bodies: Sequence[Seen], lift: float) -> Frame:
    """A frame that holds every body at every end of its swing."""
    held = [one.points[:, :2] for one in bodies]
    held += [
        one.points[:, :2] + way * move[:, :2]
        for one in bodies
        for move in one.moves
        for way in (-1.0, 1.0)
    ]
    whole = np.concatenate(held)
    low, high = whole.min(axis=0), whole.max(axis=0)
    room = np.array([WIDTH - 40, HEIGHT - _TOP - 30]) * _LARGER
    middle = (low + high) / 2
    dots = float((room / (high - low)).min())
    return Frame(dots, (float(middle[0]), float(middle[1])), lift)


# --- one picture -----------------------------------------------------------------------------


def _shot(
    bodies: Sequence[Seen], place: int, share: float, frame: Frame, move: Move
) -> Image.Image:
    image = Image.new("RGB", (WIDTH * _LARGER, HEIGHT * _LARGER), "white")
    draw = ImageDraw.Draw(image)
    largest = max((one.amount[place].max() for one in bodies if one.amount), default=1.0)
    pieces = [piece for one in bodies for piece in _pieces(one, place, share, frame, largest)]
    for _, corners, colour in sorted(pieces, key=lambda piece: piece[0]):
        if len(corners) == 2:
            draw.line(corners, fill=colour, width=_LARGER)
        else:
            draw.polygon(corners, fill=colour)
    image = image.resize((WIDTH, HEIGHT), Image.Resampling.BOX)
    font = ImageFont.load_default(_TEXT)
    name = move.movement.name
    ImageDraw.Draw(image).text((20, 12), name[:1].upper() + name[1:], fill="#1b1b1b", font=font)
    return image


def _pieces(
    one: Seen, place: int, share: float, frame: Frame, largest: float
) -> Iterator[tuple[float, list[tuple[float, float]], tuple[int, int, int]]]:
    """Facets that face the eye, or lines, each with its depth and its colour."""
    points = one.points + share * one.moves[place] if one.moves else one.points
    corner = points[one.body.joined]
    depth = corner[:, :, 2].mean(axis=1)
    if corner.shape[1] == 3:
        across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-300)
        shown = across[:, 2] > 0
        light = 0.5 + 0.5 * np.clip(across @ _LIGHT, 0.0, 1.0)
    else:
        # A line lies on facets that may reach nearer than it: lifted, it is drawn after them.
        depth = depth + frame.lift
        shown, light = np.ones(len(corner), bool), np.ones(len(corner))
    base = _colours(one, place, largest)
    spots = _spots(corner, frame)
    shades = (255 * base * light[:, None]).astype(int)
    for k in np.flatnonzero(shown):
        red, green, blue = shades[k].tolist()
        yield float(depth[k]), [(x, y) for x, y in spots[k].tolist()], (red, green, blue)


def _colours(one: Seen, place: int, largest: float) -> Floats:
    """Colour of each facet or line: by how far it goes where it is a moving face, else its own."""
    count = len(one.body.joined)
    if one.amount and one.body.joined.shape[1] == 3:
        amount = one.amount[place][one.body.joined].mean(axis=1) / largest
        at = np.clip(amount, 0.0, 1.0) * (len(_HEAT) - 1)
        channels = [np.interp(at, np.arange(len(_HEAT)), channel) for channel in _HEAT.T]
        return np.stack(channels, axis=1)
    own = [int(one.body.colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    return np.tile(own, (count, 1))


def _spots(corner: Floats, frame: Frame) -> Any:
    """Places on the picture, (n, corners, 2) dots."""
    x = (corner[:, :, 0] - frame.middle[0]) * frame.dots + WIDTH * _LARGER / 2
    y = (HEIGHT + _TOP) / 2 * _LARGER - (corner[:, :, 1] - frame.middle[1]) * frame.dots
    return np.stack([x, y], axis=-1)


def _keep(path: Path, shots: Sequence[Image.Image]) -> None:
    """Write the frames as one endless GIF, all with the shades of the widest."""
    shades = shots[len(shots) // 4].quantize(_SHADES)
    kept = [shot.quantize(palette=shades, dither=Image.Dither.NONE) for shot in shots]
    kept[0].save(
        path, save_all=True, append_images=kept[1:], duration=MILLISECONDS, loop=0, optimize=False
    )
