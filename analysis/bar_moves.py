"""How the bar moves, as large as it is drawn: bent by the cut, and in its first modes.

Read from the tables of a finished folder. Each movement says in its name how much too large it
is drawn.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from .case import Case
from .finished import Finished, plane_words
from .glb import Floats, Movement
from .wording import nice_step, pitch_words

MOTIONS = ("radial", "tangential", "along", "slope_bit", "slope_across", "turn")
MOST_MODES = 6
SWING = 0.1
"""Of the bar's length: how far a movement is drawn."""
TURN = np.radians(25.0)
"""How far a bar that twists is drawn to turn."""
_MAGNIFIED = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)


def carried(points: Floats, station: Floats, motion: Mapping[str, Floats]) -> Floats:
    """How far points of the bar go when its sections move, (n, 3), in the units of the motion.

    Sections stay flat and keep their size, as in the beam. A motion that is not given is nothing.

    Parameters
    ----------
    station : (k,) m, rising
    motion : by name of `MOTIONS`, (k,) each: movements, slopes per metre of them, turn
    """
    x, y, z = np.asarray(points, dtype=float).T
    radial, tangential, along, slope, across, turn = (
        np.interp(x, station, motion[name]) if name in motion else np.zeros_like(x)
        for name in MOTIONS
    )
    moved = (along - y * slope - z * across, radial - z * turn, tangential + y * turn)
    return np.stack(moved, axis=1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Move:
    """A movement of the bar along its length, as large as it is drawn.

    Attributes
    ----------
    station : (k,) m
    motion : by name of `bar_body.MOTIONS`, (k,) each, m and m per m
    """

    movement: Movement
    station: Floats
    motion: Mapping[str, Floats]


def movements(finished: Finished) -> list[Move]:
    """Deflection under the cut, then the first modes; none where their tables are not there."""
    found = []
    if finished.deflection:
        found.append(_deflection(finished))
    shapes = read_shapes(finished.folder / "mode_shapes.csv")
    for mode in finished.modes[:MOST_MODES]:
        if mode.number in shapes:
            station, motion = shapes[mode.number]
            scale = _mode_scale(finished.case, motion)
            name = (
                f"mode {mode.number}: {pitch_words(mode.frequency)}, {plane_words(mode.plane)}, "
                "drawn far too large"
            )
            drawn = {part: scale * values for part, values in motion.items()}
            found.append(
                Move(movement=Movement(name=name, swings=True), station=station, motion=drawn)
            )
    return found


def _deflection(finished: Finished) -> Move:
    """The bar bent by the cut; its turning as a whole in the drive is left out.

    That moves the surface more than the bending does, and changes no bore.
    """
    table = finished.deflection
    bending = ("radial", "tangential", "slope_bit", "slope_across")
    largest = float(np.hypot(table["radial"], table["tangential"]).max()) * 1e-6
    first, last = finished.case.ends
    factor = nice_step(SWING * (last - first) / largest, _MAGNIFIED) if largest > 0 else 1.0
    name = (
        f"bent by the cut: {finished.movement(largest * 1e6)} at most, "
        f"drawn {factor:.0f} times too large"
    )
    return Move(
        movement=Movement(name=name, swings=False),
        station=table["station"] * 1e-3,
        motion={part: factor * 1e-6 * table[part] for part in bending},
    )


def _mode_scale(case: Case, motion: Mapping[str, Floats]) -> float:
    """What a mode is multiplied by, so that it shows and no section turns far."""
    first, last = case.ends
    bent = np.sqrt(sum(motion[part] ** 2 for part in MOTIONS[:3])).max()
    turned = np.abs(motion["turn"]).max()
    return float(min(SWING * (last - first) / max(bent, 1e-9), TURN / max(turned, 1e-9)))


def read_shapes(path: Path) -> dict[int, tuple[Floats, dict[str, Floats]]]:
    """Stations, m, and motions of each mode in a table of them; nothing where there is none."""
    if not path.exists():
        return {}
    rows: dict[int, list[list[float]]] = defaultdict(list)
    with path.open(encoding="utf-8", newline="") as file:
        for row in list(csv.DictReader(file))[1:]:
            values = [float(row[name]) for name in ("station", *MOTIONS)]
            rows[int(row["number"])].append(values)
    found = {}
    for number, lines in rows.items():
        station, *motion = np.array(lines).T
        found[number] = (1e-3 * station, dict(zip(MOTIONS, motion, strict=True)))
    return found
