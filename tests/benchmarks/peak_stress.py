"""Peak stress at cross-holes: whether the bands hold what far finer meshes and books find.

    python tests/benchmarks/peak_stress.py [NAME ...]

Each hole is solved as `analysis.peak` does it, on three meshes, and once more with spots twice as
fine as the last of them (1.5 times at rounded corners), which stands for the truth. Kirsch's hole
in a plate (1898; plane strain) is an exact one: its motion, in closed form, is put on all of the
bar's outer surface.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from math import pi
from time import process_time

import numpy as np

from barwright.analysis.hole_solid import LENGTH, short_bar_motion, unit_material
from barwright.analysis.mesh import Cylinder, Hole, SolidMesh, SolidShape, round_bar
from barwright.analysis.model import Floats
from barwright.analysis.peak import NOMINAL, PER_NOTCH, Found, banded, found_by_mesh
from barwright.analysis.submodel import solved

POISSON = 0.29
FAR_FINER = 2 * PER_NOTCH[-1]
FINER_CORNERS = 1.5 * PER_NOTCH[-1]
"""Rounded corners, whose meshes are large."""
LOADS = tuple(NOMINAL)


def _hole(shape: str, size: float, offset: float = 0.0, corner: float = 0.0) -> Hole:
    """Offset and corner radius over the size."""
    return Hole(
        shape="square" if shape == "square" else "round",
        size=size,
        position=LENGTH / 2,
        offset=offset * size,
        corner_radius=corner * size,
    )


CASES = {
    "round": (_hole("round", 0.25), (0, 2)),
    "square, half off": (_hole("square", 0.25, 0.5, 0.1), (0, 1)),
    "large round": (_hole("round", 0.4), (0, 3)),
    "square": (_hole("square", 0.3, 0.0, 0.15), (0, 2)),
    "small round": (_hole("round", 0.15), (2, 3)),
    "large square, half off": (_hole("square", 0.4, 0.5, 0.2), (1, 3)),
    "round, half off": (_hole("round", 0.25, 0.5), (1, 2)),
    "small square, half off": (_hole("square", 0.15, 0.5, 0.1), (0, 1)),
    "small corners, half off": (_hole("square", 0.3, 0.5, 0.04), (0, 1)),
    "large square": (_hole("square", 0.4, 0.0, 0.1), (0, 3)),
}


def kirsch(place: Floats, radius: float, angle: float) -> Floats:
    """Motion about a round hole along y, unit pull far away at an angle from x, (3, n); E = 1.

    Plane strain; at the wall the largest stress is three times the pull.
    """
    shear, k = 1 / (2 * (1 + POISSON)), 3 - 4 * POISSON
    x, _, z = place
    r, turned = np.hypot(x, z), np.arctan2(z, x)
    twice = 2 * (turned - angle)
    near, far = radius**2 / r, radius**2 / r**2
    out = (
        r * ((k - 1) + 2 * np.cos(twice)) + 2 * near * (1 + ((k + 1) - far) * np.cos(twice))
    ) / (8 * shear)
    round_ = (-2 * r + 2 * near * ((1 - k) - far)) * np.sin(twice) / (8 * shear)
    return np.array(
        [
            out * np.cos(turned) - round_ * np.sin(turned),
            np.zeros_like(r),
            out * np.sin(turned) + round_ * np.cos(turned),
        ]
    )


KIRSCH = SolidShape(
    lengths=(Cylinder(start=-0.75, end=0.75, diameter=1.0),),
    hole=Hole(shape="round", size=0.25, position=0.0),
)
KIRSCH_PEAKS = (3.0, 4.0, 2.0)
"""Pull along x; pull along x with as much push across; pull along both."""


def kirsch_motion(solid: SolidMesh) -> Floats:
    """Motion of a mesh of `KIRSCH` under the three loads, (n_dof, 3)."""
    outer = np.setdiff1d(solid.mesh.boundary_facets(), solid.walls)
    corners, edges = solid.mesh.facets[:, outer], solid.mesh.f2e[:, outer]
    nodes = np.unique(np.concatenate([corners.ravel(), solid.mesh.nvertices + edges.ravel()]))
    along, across = (kirsch(solid.nodes[:, nodes], 0.125, angle) for angle in (0.0, pi / 2))
    known = np.stack(
        [motion.T.ravel() for motion in (along, along - across, along + across)], axis=1
    )
    fixed = (3 * nodes[:, None] + np.arange(3)).ravel()
    return solved(solid, unit_material(POISSON), np.zeros((solid.nodes.size, 3)), fixed, known)


def _row(name: str, load: str, scale: float, series: Sequence[Found], truth: float) -> bool:
    peak = banded(series)
    off = truth / peak.value - 1
    held = abs(off) <= peak.error
    by_mesh = " ".join(f"{value / scale:7.3f}" for value in peak.by_mesh)
    print(
        f"{name:24} {load:12} {by_mesh}  truth {truth / scale:7.3f}  off {off:+.2%}  "
        f"band {peak.error:.2%}  on the wall {peak.off_wall:.2%}  "
        f"{'held' if held else 'MISSED'}",
        flush=True,
    )
    return held


def _hole_rows(name: str) -> list[bool]:
    hole, chosen = CASES[name]
    material = unit_material(POISSON)
    found = found_by_mesh(
        round_bar(1.0, LENGTH, hole=hole),
        hole,
        material,
        lambda solid: short_bar_motion(solid, material)[:, list(chosen)],
        None,
        (*PER_NOTCH, FAR_FINER if hole.shape == "round" else FINER_CORNERS),
    )
    return [
        _row(name, LOADS[load], NOMINAL[LOADS[load]], series[:-1], series[-1].value)
        for load, series in zip(chosen, zip(*found, strict=True), strict=True)
    ]


def _exact_rows() -> list[bool]:
    assert KIRSCH.hole is not None
    found = found_by_mesh(
        KIRSCH, KIRSCH.hole, unit_material(POISSON), kirsch_motion, None, PER_NOTCH
    )
    return [
        _row("Kirsch", f"{truth:g} exactly", 1.0, series, truth)
        for truth, series in zip(KIRSCH_PEAKS, zip(*found, strict=True), strict=True)
    ]


def main(names: list[str]) -> None:
    """Print a row for each hole and load, and how many bands held."""
    held = []
    for name in names or ["Kirsch", *CASES]:
        start = process_time()
        held += _exact_rows() if name == "Kirsch" else _hole_rows(name)
        print(f"{'':24} {process_time() - start:.0f} s of one core", flush=True)
    print(f"{sum(held)} of {len(held)} bands held")


if __name__ == "__main__":
    main(sys.argv[1:])
