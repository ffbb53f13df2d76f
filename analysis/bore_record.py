"""What the witness leaves in a results folder: its words for `summary.json`, two tables, a bore.

``history.csv`` follows the edge over a few stretches of each turn, lowest and highest of each, so
that no vibration is lost between samples; ``bore.csv`` has the wall left by the last turns of
each pass; ``bore.vtu``, and ``bore_sharp.vtu`` for an edge that does not rub, is the wall of the
last pass as a surface, its error drawn too large.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise
from math import floor, isfinite, log10
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .cutting_history import Floats, History, Pass
from .witness import Witness, late_vibration, sound_of, whole_passes, worst_sound

STRETCHES = 12
LAST_TURNS = 3
MOST_ANGLES = 1440
DRAWN_SHARE = 0.12
"""Share of the bore's radius that the largest error is drawn as."""
MOST_EXAGGERATION = 1000.0
"""A micron drawn as a millimetre is enough: a good bore shall look good."""
SURFACES = {"rubbing": "bore.vtu", "sharp": "bore_sharp.vtu"}

Row = list[float | str]
Table = tuple[dict[str, str], list[Row]]
_HISTORY = {
    "edge_rubs": "-",
    "pass": "-",
    "turn": "-",
    "time": "s",
    "radial_lowest": "um",
    "radial_mean": "um",
    "radial_highest": "um",
    "push_mean": "N",
    "change_from_last_turn": "um",
}


def history_summary(found: Witness) -> dict[str, Any]:
    """The witness as plain data, SI, units in the keys; what has no value is left out."""
    one = found.rubbing
    summary: dict[str, Any] = {
        "verdict": worst_sound(found.rubbing),
        "verdict_without_process_damping": worst_sound(found.sharp),
        "assumed": _assumed(found),
        "planned_bores_m": [float(bore) for bore in found.planned],
        "passes": [_pass(k, p, found) for k, p in enumerate(one.passes)],
        "passes_without_process_damping": [
            _pass(k, p, found) for k, p in enumerate(found.sharp.passes)
        ],
    }
    if bored(found):
        summary["surface_exaggeration"] = exaggeration(found)
    return summary


def _assumed(found: Witness) -> dict[str, Any]:
    return {
        "corner": "likely",
        "old_bore": "given" if found.start_known else "not given: one pass at the depth of cut",
        "old_bore_off_centre_m": found.eccentricity,
        "ports_per_turn": found.ports,
        "port_width_rad": found.port_width,
        "knock_at_each_start_Ns": found.knock,
        "turns_per_pass": found.turns,
        "steps_per_turn": found.rubbing.steps_per_turn,
        "feed_m": found.feed,
        "loses_contact": True,
    }


def _pass(place: int, one: Pass, found: Witness) -> dict[str, Any]:
    said: dict[str, Any] = {
        "number": place + 1,
        "advance_m": float(one.advance),
        "planned_bore_m": float(found.planned[place]),
        "verdict": sound_of(one),
        "turns": one.turns,
    }
    if one.ran_away:
        return said
    size = float(found.planned[place]) - one.short_of_size
    numbers = {
        "vibration_m": late_vibration(one),
        "growth_per_turn": one.growth,
        "lost_contact_share": one.lost_contact,
        "bore_m": size,
        "short_of_size_m": one.short_of_size,
        "short_fall_on_radius_m": one.short_of_size / 2,
        "off_centre_m": one.eccentricity,
        "ovality_m": one.ovality,
        "off_centre_copied": one.eccentricity_copied if place == 0 else float("nan"),
    }
    return said | {name: float(value) for name, value in numbers.items() if isfinite(value)}


def bored(found: Witness) -> dict[str, History]:
    """The histories that left a bore, by name."""
    return {name: h for name, h in found.histories.items() if whole_passes(h)}


def history_tables(found: Witness) -> dict[str, Table]:
    """Files with their columns, units and rows; no bore where no pass came to its end."""
    both = found.histories.items()
    rows = [row for name, history in both for row in _history_rows(name, history)]
    tables: dict[str, Table] = {"history.csv": (_HISTORY, rows)}
    if bored(found):
        tables["bore.csv"] = _bore_table(bored(found))
    return tables


def _history_rows(name: str, history: History) -> Iterator[Row]:
    rubs = float(name == "rubbing")
    for number, one in enumerate(history.passes, start=1):
        for turn in range(one.turns):
            changed = float(one.vibration[turn - 1]) if turn else float("nan")
            for stretch in _stretches(one, turn):
                yield [rubs, float(number), *_cells([*stretch, changed * 1e6])]


def _stretches(one: Pass, turn: int) -> Iterator[list[float]]:
    """Turn, time, lowest, mean and highest motion and mean push, over parts of one turn."""
    per_turn = one.time.size // one.turns
    edges = np.linspace(0, per_turn, STRETCHES + 1).astype(int)
    for first, last in pairwise(edges):
        part = slice(turn * per_turn + first, turn * per_turn + last)
        moved = one.motion[part, 0] * 1e6
        yield [
            turn + (first + last) / 2 / per_turn,
            float(one.time[part].mean()),
            float(moved.min()),
            float(moved.mean()),
            float(moved.max()),
            float(one.force[part, 0].mean()),
        ]


def _cells(values: Iterable[float]) -> Row:
    return [float(value) if isfinite(value) else "none" for value in values]


def _bore_table(histories: dict[str, History]) -> Table:
    """Wall of the last turns of each pass against what the pass was set to, by angle."""
    first = whole_passes(next(iter(histories.values())))[0]
    columns, walls = {"angle": "deg"}, [np.degrees(first.angle)]
    for name, history in histories.items():
        for number, one in enumerate(whole_passes(history), start=1):
            for wall, turn in zip(one.wall[-LAST_TURNS:], _last_turns(one), strict=True):
                columns[f"{name}_pass_{number}_turn_{turn}"] = "um"
                walls.append(wall * 1e6)
    return columns, [_cells(row) for row in zip(*walls, strict=True)]


def _last_turns(one: Pass) -> range:
    return range(max(1, one.turns - LAST_TURNS + 1), one.turns + 1)


# --- the wall as a surface -------------------------------------------------------------------


def exaggeration(found: Witness) -> float:
    """How many times too large the wall's error is drawn, in both surfaces: a round number."""
    lasts = [whole_passes(history)[-1] for history in bored(found).values()]
    largest = max(float(np.nanmax(np.abs(one.wall - np.nanmean(one.wall)))) for one in lasts)
    wanted = DRAWN_SHARE * float(found.planned[-1]) / 2 / max(largest, 1e-12)
    return min(MOST_EXAGGERATION, max(1.0, _round_down(wanted)))


def _round_down(value: float) -> float:
    """Largest of 1, 2 and 5 times a power of ten that is not above a value."""
    power = 10.0 ** floor(log10(value))
    return power * max(step for step in (1.0, 2.0, 5.0) if step * power <= value * (1 + 1e-12))


def bore_surface(
    one: Pass, radius: float, times: float
) -> tuple[Floats, NDArray[np.int64], Floats, Floats]:
    """The wall that a pass left, its error about the mean drawn `times` too large.

    Returns
    -------
    points : (n_point, 3) m, along the bore, up and sideways
    quads : (n_quad, 4) corners, none over a port
    error : (n_point,) m, of the radius against what the pass was set to, not exaggerated
    turn : (n_point,) of the spindle
    """
    count = min(MOST_ANGLES, one.angle.size)
    chosen = np.linspace(0, one.angle.size, count, endpoint=False).astype(int)
    wall, angle = one.wall[:, chosen], one.angle[chosen]
    mean = float(np.nanmean(wall))
    drawn = radius + mean + times * np.nan_to_num(wall - mean)
    along = np.broadcast_to(one.position[:, None], wall.shape)
    points = np.stack([along, drawn * np.cos(angle), drawn * np.sin(angle)], axis=-1)
    turn = np.repeat(np.arange(1.0, one.turns + 1), count)
    return points.reshape(-1, 3), _quads(wall), np.nan_to_num(wall).ravel(), turn


def _quads(wall: Floats) -> NDArray[np.int64]:
    """Corners of the patches between neighbouring turns and angles that all have metal."""
    at = np.arange(wall.size, dtype=np.int64).reshape(wall.shape)
    after = np.roll(at, -1, axis=1)
    quads = np.stack([at[:-1], at[1:], after[1:], after[:-1]], axis=-1).reshape(-1, 4)
    return quads[np.isfinite(wall).ravel()[quads].all(axis=1)]


def write_bores(folder: Path, found: Witness) -> None:
    """Write the wall that each history left as VTU."""
    import meshio

    for name, history in bored(found).items():
        passes = whole_passes(history)
        radius = float(found.planned[len(passes) - 1]) / 2
        points, quads, error, turn = bore_surface(passes[-1], radius, exaggeration(found))
        fields = {"wall_error_m": error.astype(np.float32), "turn": turn.astype(np.float32)}
        mesh = meshio.Mesh(points.astype(np.float32), [("quad", quads)], point_data=fields)
        mesh.write(folder / SURFACES[name], binary=True)
