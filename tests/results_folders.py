"""Finished folders for the picture tests: made of closed forms, with nothing solved."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence
from math import pi
from pathlib import Path

import meshio
import numpy as np
from numpy.typing import NDArray

from barwright.analysis.casefile import read_case

METRIC = """
title: 32 mm bar, chuck and live centre
bar: {material: 4140 prehard, diameter: 32 mm, span: 520 mm}
cross_hole:
  {size: 10 mm, position: 250 mm, offset: 5 mm, set_screws: [{diameter: 6 mm}]}
bit: {size: 10 mm, length: 40 mm}
supports: {drive: {kind: chuck}, tail: {kind: live centre}}
work: {material: grey iron, bore: 50 H7, start_bore: 49 mm, length: 130 mm, cuts_per_turn: 3}
cut: {depth: 0.5 mm, feed: 0.1 mm/rev, speed: 120 rpm}
lathe:
  speeds: [60 rpm, 120 rpm, 350 rpm]
  lines: [{name: bull gear, per_turn: 66}, {name: motor, frequency: 48 Hz}]
"""
INCH = """
title: 1-1/4 in bar between centres
bar:
  material: 4140 prehard
  diameter: 1-1/4 in
  span: 24 in
  steps: [{start: 18 in, end: 24 in, diameter: 1 in}]
cross_hole: {size: 3/8 in, position: 10-1/2 in, offset: 3/16 in}
bit: {size: 3/8 in}
supports: {drive: {kind: dead centre with dog}, tail: {kind: dead centre}}
work: {material: grey iron, bore: 1.875 +.001 -0 in}
cut: {depth: 15 thou, feed: .004 ipr, speed: 90 rpm}
"""
PLANES = ("bit", "across", "torsion", "axial")
RING = 16


def write_folder(folder: Path, text: str = METRIC, planes: Sequence[str] = PLANES[:2]) -> Path:
    """Write a finished folder: a half sine of 20 um along the bit and 40 um across."""
    folder.mkdir(parents=True)
    (folder / "case.yaml").write_text(text.strip() + "\n", encoding="utf-8")
    case = read_case(folder / "case.yaml")
    first, last = case.ends
    x = np.linspace(first, last, 41)
    bow = np.sin(pi * (x - first) / (last - first))
    flat = 0 * bow
    columns = (1e3 * x, -20 * bow, -40 * bow, flat, flat, flat, flat)
    names = ["station", "radial", "tangential", "along", "slope_bit", "slope_across", "turn"]
    _table(folder / "deflection.csv", names, list(zip(*columns, strict=True)))
    lines = [(n, 100.0 * n, plane, 1, 0, 50 * n) for n, plane in enumerate(planes, start=1)]
    names = ["number", "frequency", "plane", "purity", "residual", "waves_per_turn"]
    _table(folder / "modes.csv", names, lines)
    spin = case.spindle_speed
    often = (1, 2, 48, 66)
    turning = [(f"{k} per turn", k, k * spin, 100, abs(1 - k * spin / 100)) for k in often]
    steady = [("motor", "none", 48, 100, 0.52)]
    names = ["source", "order", "frequency", "mode", "separation"]
    _table(folder / "shakes.csv", names, [*turning, *steady])
    _body(folder / "fields.vtu", x, bow, case.bar.diameter / 2, planes)
    (folder / "summary.json").write_text(json.dumps(_summary()), encoding="utf-8")
    return folder


def _summary() -> dict[str, object]:
    give = [("bar", 0.62), ("work side", 0.3), ("bit", 0.0797), ("cross-hole", 0.0003)]
    return {
        "cut": {"force_radial_N": 95.0},
        "static": {
            "stiffness_radial_N_per_m": 4.75e6,
            "give": [{"part": part, "share": share} for part, share in give],
            "hand_check": {"formula": "F a2 b2 / 3EIL", "value_m": -19e-6, "difference": 0.05},
        },
    }


def _table(path: Path, names: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as handle:
        csv.writer(handle).writerows([names, ["-"] * len(names), *rows])


def _body(
    path: Path,
    x: NDArray[np.float64],
    bow: NDArray[np.float64],
    radius: float,
    planes: Sequence[str],
) -> None:
    turn = np.arange(RING) * 2 * pi / RING
    r = np.concatenate([[0.0], radius * np.cos(turn)])
    t = np.concatenate([[0.0], radius * np.sin(turn)])
    points = np.array([(station, a, b) for station in x for a, b in zip(r, t, strict=True)])
    ring = [(0, 1 + k, 1 + (k + 1) % RING) for k in range(RING)]
    starts = [place * (RING + 1) for place in range(x.size - 1)]
    cells = [
        [s + c for c in one] + [s + c + RING + 1 for c in one] for s in starts for one in ring
    ]
    size, none = np.repeat(bow, RING + 1), np.zeros(len(points))
    shapes = {
        "bit": (none, size, none),
        "across": (none, none, size),
        "torsion": (none, -points[:, 2] / radius, points[:, 1] / radius),
        "axial": (none + 1, none, none),
    }
    fields = {"deflection_m": np.stack([none, -20e-6 * size, -40e-6 * size], axis=1)}
    for number, plane in enumerate(planes, start=1):
        fields[f"mode_{number}"] = np.stack(shapes[plane], axis=1)
    meshio.Mesh(points, [("wedge", np.array(cells))], point_data=fields).write(path)
