"""Print how far the block in its beam lies from the solid, as DEVELOPERS.md has it.

Run it by hand: ``python tests/benchmarks/block.py``; about half an hour of one core. Spans in
diameters, and hole sizes over the diameter, may be named: ``--spans 8 --sizes .1 .4``. With
``--keep FOLDER`` the solids' answers are read from there where they are, so that a change of the
beam is measured in seconds. The solid is extrapolated from two meshes, with the powers that
`block_solid.hole_block` tells the reason of; how far it moved the finer one is printed too.
"""

from __future__ import annotations

import argparse
import json
import platform
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from itertools import product
from math import inf
from pathlib import Path
from typing import Any

import numpy as np

from barwright.analysis.beam import beam_model, carried_lumps, mount
from barwright.analysis.block_solid import SHARP_ORDER
from barwright.analysis.case import Case
from barwright.analysis.hole_in_beam import with_block
from barwright.analysis.mesh import bar_shape, solid_mesh
from barwright.analysis.model import Factored, Held, Model, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.solid import solid

DIAMETER, GRIP = 0.028, 0.025
CORNERS, FINER = (0.045, 0.028), 1.5
"""Elements along sharp corners over the diameter; how much finer a smooth wall's second mesh."""
Answers = dict[str, list[float]]


def bar_case(shape: str, size: float, span: float) -> Case:
    """Case with a hole of `size` diameters at 0.47 of a span of `span` diameters."""
    offset = {"offset": "0 mm"} if shape == "round" else {}
    mm = 1e3 * DIAMETER
    return Case.model_validate(
        {
            "title": "Block against solid",
            "bar": {"material": "4140 prehard", "diameter": f"{mm} mm", "span": f"{span * mm} mm"},
            "cross_hole": {
                "shape": shape,
                "size": f"{size * mm} mm",
                "position": f"{0.47 * span * mm} mm",
                **offset,
            },
            "bit": {"size": f"{size * mm} mm"},
            "supports": {
                "drive": {"kind": "chuck", "grip": f"{1e3 * GRIP} mm"},
                "tail": {"kind": "live centre"},
            },
            "work": {"material": "grey iron", "bore": "44 +0.04 -0 mm"},
            "cut": {"depth": "0.2 mm", "feed": "0.1 mm/rev", "speed": "120 rpm"},
        }
    )


def held(factored: Factored) -> Iterator[tuple[str, Factored]]:
    """The bar on its supports three ways."""
    drive, tail = factored.model.holds
    rigid: dict[str, Any] = {"vertical": inf, "horizontal": inf}
    end = replace(tail, **rigid, axial=0.0)
    pinned = replace(drive, **rigid, axial=inf, turning=inf, tilt=0.0)
    yield "chuck and centre", factored
    yield "clamped and pinned", factored.held_by(replace(pinned, tilt=inf), end)
    yield "pinned both", factored.held_by(pinned, end)


def answers(model: Model) -> Answers:
    """Give of the edge along r and t, then three pitches of either plane, by support."""
    found = {}
    for name, bar in held(factorised(model)):
        modes = undamped_modes(bar, count=11, counted=False, worst_residual=1e-5)
        both = list(zip(modes.frequency, modes.plane, strict=True))
        pitches = [[float(f) for f, p in both if p == way][:3] for way in ("bit", "across")]
        give = np.diag(Held(bar).edge_compliance)[:2]
        found[name] = [*map(float, give), *pitches[0], *pitches[1]]
    return found


def body(case: Case, level: int) -> Model:
    """Solid of a case, its hole by the coarser (0) or the finer (1) of two meshes."""
    hole = case.cross_hole
    size = hole.size / DIAMETER
    if hole.shape == "square":
        corner = CORNERS[level]
        wall = min(size / 2, 2.2 * corner)
    else:
        corner = wall = max(size / 5, 0.035) / FINER**level
    mesh = solid_mesh(
        bar_shape(case),
        element_length=(0.23, 0.2)[level] * DIAMETER,
        hole_length=wall * DIAMETER,
        corner_length=corner * DIAMETER,
        grading=0.4,
    )
    return solid(
        mesh,
        case.bar.material,
        tuple(mount(*placed) for placed in case.placed_supports),
        edge=hole.position,
        arm=case.edge_radius,
        lumps=carried_lumps(case),
    )


def solid_answers(case: Case, name: str, keep: Path | None) -> tuple[Answers, float]:
    """Extrapolated answers, and by how much the pitches were moved beyond the finer mesh."""
    file = keep / f"{name}.json" if keep else None
    if file and file.exists():
        coarse, fine = json.loads(file.read_text())
    else:
        coarse, fine = (answers(body(case, level)) for level in (0, 1))
        if file:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(json.dumps([coarse, fine]))
    square = case.cross_hole.shape == "square"
    finer, order = (CORNERS[0] / CORNERS[1], SHARP_ORDER) if square else (FINER, 2.5)
    beyond, moved, best = 1 / (finer**order - 1), 0.0, {}
    for support, values in fine.items():
        at, before = np.array(values), np.array(coarse[support])
        best[support] = list(at + beyond * (at - before))
        moved = max(moved, float(np.abs(beyond * (1 - before / at))[2:].max()))
    return best, moved


def worst(spans: Sequence[float], sizes: Sequence[float], keep: Path | None) -> None:
    """Print a row for each span and support, and each hole's own under it."""
    for span in spans:
        rows: dict[str, list[np.ndarray]] = {}
        for shape, size in product(("square", "round"), sizes):
            case = bar_case(shape, size, span)
            best, moved = solid_answers(case, f"{shape} {size:g} {span:g}", keep)
            line = answers(beam_model(with_block(case)))
            for support, values in line.items():
                amiss = 100 * np.abs(np.array(values) / np.array(best[support]) - 1)
                row = np.array([amiss[:2].max(), *np.maximum(amiss[2:5], amiss[5:])])
                rows.setdefault(support, []).append(row)
                told = " ".join(f"{x:6.3f}" for x in row)
                print(f"  {span:g} D {shape:6} {size:g} {support:20} {told}  ({100 * moved:.3f})")
        for support, found in rows.items():
            told = " | ".join(f"{x:.2f}" for x in np.max(found, axis=0))
            print(f"| {span:g} D, {support} | {told} |", flush=True)


def main() -> None:
    """Read what is asked for and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--spans", type=float, nargs="+", default=[8.0, 13.0, 20.0])
    parser.add_argument("--sizes", type=float, nargs="+", default=[0.1, 0.2, 0.3, 0.4])
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_args()
    print(f"{date.today()}, {platform.machine()}, Python {platform.python_version()}")
    print("per cent: stiffness, then the first three pitches (pitches moved by extrapolating)")
    worst(asked.spans, asked.sizes, asked.keep)


if __name__ == "__main__":
    main()
