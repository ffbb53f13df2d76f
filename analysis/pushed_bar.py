"""The bar of a case as a push or a tap feels it: give between any two places, and pitches.

The bar is factorised once; every set of support springs after that costs a small dense solve, for
the springs are columns put on by the Woodbury identity (see `model`). Pitches come from a handful
of shapes: modes of the bar on its likely springs, and its answers to a load at each support. Any
other springs move the shapes within that space; how exactly, the tests say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import pi
from typing import Literal

import numpy as np
from scipy.linalg import block_diag, eigh

from .beam import bar_segments, carried_lumps, mount
from .case import Case
from .model import Factored, Floats, Held, Hold, factorised, springs
from .modes import undamped_modes
from .timoshenko import Mount, beam

SHAPES = 16
Plane = Literal["up and down", "sideways"]
SpringName = Literal["vertical", "horizontal", "tilt"]
Springs = Mapping[tuple[str, SpringName], float]
"""Stiffness of springs by support and spring, N/m and N m/rad; the rest stay the case's."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PushedBar:
    """A bar with places on it that may be pulled or read; bit straight up.

    Attributes
    ----------
    factored : the bar, its supports first, then an idle support at each place
    places : m from the drive support
    shape_stiffness : (n_shape, n_shape), of the bar without its supports, N/m per unit modal mass
    shape_motion : (6 n_hold, n_shape), motions of supports and places in each shape
    """

    factored: Factored
    places: tuple[float, ...]
    shape_stiffness: Floats
    shape_motion: Floats

    def _held_by(self, moved: Springs) -> tuple[Hold, ...]:
        return tuple(
            replace(
                hold,
                vertical=moved.get((hold.name, "vertical"), hold.vertical),
                horizontal=moved.get((hold.name, "horizontal"), hold.horizontal),
                tilt=moved.get((hold.name, "tilt"), hold.tilt),
            )
            for hold in self.factored.model.holds
        )

    def gives(self, moved: Springs, *, modulus: float = 1.0) -> Floats:
        """Movement of each place per pull on each, (n_place, 2, n_place, 2), m/N.

        Parameters
        ----------
        moved : springs that are not the case's
        modulus : of the bar's steel over the case's
        """
        model = replace(self.factored.model, holds=self._held_by(moved))
        held = springs(model)
        # The bar's own stiffness and its ties go with the modulus, so what they give goes against.
        gram = self.factored.gram[3:, 3:] / modulus
        n_motion, n_tie = held.column.shape[0], self.factored.tie.size
        chosen = block_diag(held.column, np.eye(n_tie))
        flexibility = np.concatenate([held.flexibility, -1.0 / (self.factored.tie * modulus)])
        coupled = chosen.T @ gram @ chosen
        scale = 1.0 / np.sqrt(np.abs(np.diag(coupled)) + np.abs(flexibility))
        coupled = coupled + np.diag(flexibility)
        first = n_motion - 6 * len(self.places)
        rows = [first + 6 * place + way for place in range(len(self.places)) for way in (0, 1)]
        reached = gram[rows] @ chosen
        solved = np.linalg.solve(coupled * scale * scale[:, None], (reached * scale).T)
        given = gram[np.ix_(rows, rows)] - (reached * scale) @ solved
        n = len(self.places)
        return np.asarray((given + given.T) / 2).reshape(n, 2, n, 2)

    def pitches(self, moved: Springs, *, modulus: float = 1.0) -> dict[Plane, float]:
        """Lowest pitch of the bar up and down, and sideways, Hz."""
        held = springs(replace(self.factored.model, holds=self._held_by(moved)))
        column = self.shape_motion.T @ held.column
        stiff = self.shape_stiffness * modulus + (column / _yielding(held.flexibility)) @ column.T
        squared, shape = eigh(stiff)
        frequency = np.sqrt(np.maximum(squared, 0.0)) / (2 * pi)
        moves = np.abs(self.shape_motion @ shape).reshape(-1, 6, frequency.size)[:, :2].max(axis=0)
        upright = moves[0] >= moves[1]
        bends = moves.max(axis=0) > 1e-3 * moves.max()
        return {
            "up and down": float(frequency[upright & bends].min()),
            "sideways": float(frequency[~upright & bends].min()),
        }


def _yielding(flexibility: Floats) -> Floats:
    """Flexibility with the rigid made a thousand times stiffer than any lathe's part."""
    return np.maximum(flexibility, 1e-12)


def pushed_bar(case: Case, places: Sequence[float], *, hole: bool = True) -> PushedBar:
    """Bar of a case with the places of a test on it, m from the drive support.

    Parameters
    ----------
    hole : whether the cross-hole softens the bar; a test bar has none

    Raises
    ------
    ModelError
        The supports leave the bar free to move.
    """
    mounts = [mount(*placed) for placed in case.placed_supports]
    idle = [
        Mount(name=f"place {n}", start=x, end=x, vertical=0.0, horizontal=0.0)
        for n, x in enumerate(places)
    ]
    model = beam(
        bar_segments(case, hole=hole),
        (*mounts, *idle),
        edge=case.cross_hole.position,
        arm=case.edge_radius,
        lumps=[lump.abreast() for lump in carried_lumps(case)],
    )
    factored = factorised(model)
    shapes = _shapes(factored)
    motion = np.hstack([hold.motion for hold in model.holds])
    return PushedBar(
        factored=factored,
        places=tuple(places),
        shape_stiffness=np.asarray(shapes.T @ (model.stiffness @ shapes)),
        shape_motion=np.asarray(motion.T @ shapes),
    )


def _shapes(factored: Factored) -> Floats:
    """Modes on the likely springs and answers to a load at each support, of unit mass."""
    model = factored.model
    modes = undamped_modes(factored, count=SHAPES, counted=False, worst_residual=1e-6).shape
    n_support = sum(1 for hold in model.holds if hold.vertical > 0 or hold.horizontal > 0)
    loads = factored.motion[:, : 6 * n_support]
    loads = loads[:, np.abs(loads).max(axis=0) > 0]
    answers = Held(factored).solve(loads).motion
    both = np.hstack([modes, answers / np.linalg.norm(answers, axis=0)])
    return _of_unit_mass(both, model.mass)


def _of_unit_mass(shapes: Floats, mass: object) -> Floats:
    """Orthonormal in mass, with what depends on the others dropped."""
    gram = np.asarray(shapes.T @ (mass @ shapes))  # type: ignore[operator]
    size = np.sqrt(np.diag(gram))
    value, vector = np.linalg.eigh(gram / size / size[:, None])
    kept = value > 1e-10
    return np.asarray((shapes / size) @ (vector[:, kept] / np.sqrt(value[kept])))
