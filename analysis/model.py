"""A bar made ready for solving: free in space, with what holds it kept apart.

The bar's own stiffness and mass are large and sparse; what holds it is a handful of springs on
*average motions* of a section, of a gripped length or of a centre hole. A support is therefore
never assembled into the stiffness: it is a set of columns `U` with flexibilities `F`, and

    K_held = K + U F^-1 U^T

is solved by the Sherman-Morrison-Woodbury identity (Golub & Van Loan, Matrix Computations,
4th ed., section 2.1.4; from memory). The bar is factorised once, after `anchor` springs have
tied it down and before they are taken away again, so any support stiffness, rigid included
(zero flexibility), any angle of the bar, and the edge compliance cost a small dense solve.

Motions of a point or a patch always come in the order of `MOTIONS`: r, t, x, slope in the bit
plane, slope across, turn. Slopes are those of the centre line (``dw/dx``), turn is about x, and
``x, r, t`` is right-handed: at positive turn a point on ``+r`` moves towards ``+t``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, inf, pi, sin
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag, lu_factor, lu_solve
from scipy.sparse import csc_array, diags_array
from scipy.sparse.linalg import splu

from .errors import ModelError, SolveError
from .fronts import Fronts, cholesky, inertia

Floats = NDArray[np.float64]

MOTIONS = ("r", "t", "x", "slope_r", "slope_t", "turn")
FREE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hold:
    """One support as the model feels it.

    Attributes
    ----------
    name : what the case calls it
    station : m, where its average motion is taken
    motion : (n_dof, 6), columns that give its average motion, in the order of `MOTIONS`
    vertical, horizontal, axial : N/m; ``inf`` is rigid, 0 is free
    tilt, turning : N m/rad; ``inf`` is rigid, 0 is free
    damping : N s/m, radial
    """

    name: str
    station: float
    motion: Floats
    vertical: float
    horizontal: float
    tilt: float = 0.0
    axial: float = 0.0
    turning: float = 0.0
    damping: float = 0.0

    def alike(self) -> Hold:
        """Return the hold with the mean give of its two directions both ways."""
        give = (1 / self.vertical + 1 / self.horizontal) / 2
        mean = 1 / give if give > 0 else inf
        return replace(self, vertical=mean, horizontal=mean)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """A bar discretised, free in space, with its supports and its edge named.

    Attributes
    ----------
    kind : beam or solid
    stiffness, mass : (n_dof, n_dof), N/m and kg, of the bar alone
    gyroscopic : (n_dof, n_dof) kg m2, antisymmetric, times 2 pi times turns per second; beam only
    rigid : (n_dof, 6), the six motions of the bar as a rigid body about its middle
    anchor : dofs that tie the bar down for factorising, six or more
    edge : (n_dof, 3), motion of the cutting edge along r, t, x
    edge_arm : m, from the centre line to the edge
    holds : the supports
    stations : (n_station,) m, where `along` samples the bar
    along : (6 n_station, n_dof), average motion of the section at each station
    station_mass : (n_station,) kg, and station_polar : (n_station,) kg m2, about x
    sag_load : (n_dof,) N, the bar's own weight along -r
    length : m, of the whole bar
    fronts : order of elimination of a solid's mesh; None for a beam, whose matrix is small
    seat : (3, 3) m/N, give of the bit's seat beyond what the unknowns move; None where the
        unknowns hold it all
    """

    kind: Literal["beam", "solid"]
    stiffness: csc_array
    mass: csc_array
    gyroscopic: csc_array | None
    rigid: Floats
    anchor: NDArray[np.int64]
    edge: Floats
    edge_arm: float
    holds: tuple[Hold, ...]
    stations: Floats
    along: Any
    station_mass: Floats
    station_polar: Floats
    sag_load: Floats
    length: float
    fronts: Fronts | None = None
    seat: Floats | None = None

    @property
    def n_dof(self) -> int:
        """Number of unknowns."""
        return int(self.stiffness.shape[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Springs:
    """All springs of a model's supports, one a column, at one angle of the bar.

    Attributes
    ----------
    column : (n_hold * 6, n_spring), combination of the holds' motions that each spring resists
    flexibility : (n_spring,), m/N or rad/(N m); 0 is rigid
    hold : (n_spring,), which support each belongs to
    """

    column: Floats
    flexibility: Floats
    hold: NDArray[np.int64]


def springs(model: Model, angle: float = 0.0) -> Springs:
    """Springs of the supports with the bit `angle` radians past straight up, as the bar turns."""
    up = (cos(angle), -sin(angle), 0.0, 0.0, 0.0, 0.0)
    sideways = (sin(angle), cos(angle), 0.0, 0.0, 0.0, 0.0)
    columns, flexibilities, owners = [], [], []
    for number, hold in enumerate(model.holds):
        resisted = (
            (hold.vertical, up),
            (hold.horizontal, sideways),
            (hold.axial, np.eye(6)[2]),
            (hold.tilt, np.eye(6)[3]),
            (hold.tilt, np.eye(6)[4]),
            (hold.turning, np.eye(6)[5]),
        )
        for stiffness, direction in resisted:
            if stiffness > 0.0:
                column = np.zeros(6 * len(model.holds))
                column[6 * number : 6 * number + 6] = direction
                columns.append(column)
                flexibilities.append(0.0 if stiffness == inf else 1.0 / stiffness)
                owners.append(number)
    return Springs(
        column=np.array(columns).reshape(len(columns), 6 * len(model.holds)).T,
        flexibility=np.array(flexibilities),
        hold=np.array(owners, dtype=np.int64),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Factored:
    """A model factorised once: the bar tied at its anchors, and what every solve needs of it.

    Attributes
    ----------
    lu : factors of the tied stiffness
    tie : (n_anchor,) N/m, the springs that tie the anchors and are taken away in every solve
    motion, solved_motion : (n_dof, 6 n_hold), the holds' motions, and the bar's answer to them
    solved_tie : (n_dof, n_anchor), the bar's answer to a unit load at each anchor
    gram : (3 + 6 n_hold + n_anchor)^2, motions of edge, holds, anchors per load on each
    """

    model: Model
    lu: Any
    tie: Floats
    motion: Floats
    solved_motion: Floats
    solved_tie: Floats
    gram: Floats

    def held_by(self, *holds: Hold) -> Factored:
        """Return the same bar with its supports' stiffness changed; nothing is solved again."""
        return replace(self, model=replace(self.model, holds=holds))


def factorised(model: Model) -> Factored:
    """Factorise the bar of a model.

    Raises
    ------
    ModelError
        The supports leave the bar free to move.
    """
    tie = model.stiffness.diagonal()[model.anchor]
    tied = np.zeros(model.n_dof)
    tied[model.anchor] = tie
    tied_down = model.stiffness + diags_array(tied)
    lu = cholesky(model.fronts, tied_down) if model.fronts else symmetric_lu(tied_down)
    motion = np.hstack([np.zeros((model.n_dof, 0)), *(hold.motion for hold in model.holds)])
    unit = np.zeros((model.n_dof, model.anchor.size))
    unit[model.anchor, np.arange(model.anchor.size)] = 1.0
    loads = np.hstack([model.edge, motion, unit])
    solved = lu.solve(loads)
    gram = loads.T @ solved
    if model.seat is not None:
        gram[:3, :3] += model.seat
    _refuse_loose(model, motion, 1.0 / float(np.abs(gram[:3, :3]).max()))
    return Factored(
        model=model,
        lu=lu,
        tie=tie,
        motion=motion,
        solved_motion=solved[:, 3 : 3 + motion.shape[1]],
        solved_tie=solved[:, 3 + motion.shape[1] :],
        gram=(gram + gram.T) / 2,
    )


def symmetric_lu(matrix: Any) -> Any:
    """Sparse LU of a symmetric matrix, ordered for symmetry, with no exchange of rows."""
    return splu(
        csc_array(matrix),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Response:
    """Answer of the held bar to one or more loads.

    Attributes
    ----------
    motion : (n_dof, n_load)
    spring_force : (n_spring, n_load), what each spring takes, N or N m
    """

    motion: Floats
    spring_force: Floats


class Held:
    """A factorised bar on its supports, the bit at one angle; solves any load.

    Parameters
    ----------
    factored : the bar
    angle : radians past straight up, the way the bar turns

    Raises
    ------
    SolveError
        The supports' equations are too nearly singular to be trusted.
    """

    def __init__(self, factored: Factored, angle: float = 0.0) -> None:
        self.factored = factored
        self.springs = springs(factored.model, angle)
        column = self.springs.column
        self._column = factored.motion @ column
        self._solved = np.hstack([factored.solved_motion @ column, factored.solved_tie])
        flexibility = np.concatenate([self.springs.flexibility, -1.0 / factored.tie])
        self._flexibility = flexibility
        chosen = block_diag(column, np.eye(factored.tie.size))
        self._edge_to_spring = chosen.T @ factored.gram[3:, :3]
        coupling = chosen.T @ factored.gram[3:, 3:] @ chosen
        scale = 1.0 / np.sqrt(np.abs(np.diag(coupling)) + np.abs(flexibility))
        coupling = coupling + np.diag(flexibility)
        self._scale = scale
        self._lu = lu_factor(coupling * scale * scale[:, None], check_finite=False)
        reciprocal = 1.0 / np.linalg.cond(coupling * scale * scale[:, None], 1)
        if not reciprocal > 1e-12:
            message = (
                f"the supports' equations are nearly singular (reciprocal condition "
                f"{reciprocal:.0e}); is a support thousands of times softer than the bar?"
            )
            raise SolveError(message)

    @property
    def edge_compliance(self) -> Floats:
        """Motion of the edge (r, t, x) per force on it, (3, 3), m/N; no large solve."""
        scaled = self._edge_to_spring * self._scale[:, None]
        given = self.factored.gram[:3, :3] - scaled.T @ lu_solve(self._lu, scaled)
        return np.asarray((given + given.T) / 2)

    def _bordered(self, load: Floats, gap: Floats) -> tuple[Floats, Floats]:
        """Motion and forces of springs and anchors for a load and a gap in each of them."""
        anchor = self.factored.model.anchor
        first = self.factored.lu.solve(load)
        right = (np.vstack([self._column.T @ first, first[anchor]]) - gap) * self._scale[:, None]
        force = lu_solve(self._lu, right, check_finite=False) * self._scale[:, None]
        return first - self._solved @ force, force

    def solve(self, load: Floats, *, refined: bool = True) -> Response:
        """Solve for loads (n_dof, n_load) or (n_dof,), N and N m, refined once.

        An eigen-solver wants the answer unrefined: as one symmetric operator, whose error is the
        same at every call. Refining adds an error of its own to each, which on soft supports
        cost the modes four digits.
        """
        load = load.reshape(load.shape[0], -1)
        model, anchor = self.factored.model, self.factored.model.anchor
        motion, force = self._bordered(load, np.zeros((self._flexibility.size, load.shape[1])))
        n_spring = self.springs.flexibility.size
        if not refined:
            return Response(motion=motion, spring_force=force[:n_spring])
        unbalanced = load - model.stiffness @ motion - self._column @ force[:n_spring]
        unbalanced[anchor] -= self.factored.tie[:, None] * motion[anchor] + force[n_spring:]
        stretch = np.vstack([self._column.T @ motion, motion[anchor]])
        gap = self._flexibility[:, None] * force - stretch
        more_motion, more_force = self._bordered(unbalanced, gap)
        return Response(
            motion=motion + more_motion,
            spring_force=(force + more_force)[:n_spring],
        )

    def residual(self, load: Floats, response: Response) -> float:
        """Return the largest unbalanced load over the largest load: a check on a solve."""
        load = load.reshape(load.shape[0], -1)
        left = self.factored.model.stiffness @ response.motion
        left = left + self._column @ response.spring_force
        return float(np.abs(left - load).max() / np.abs(left).max())


_LOOSE = {
    "turn": "nothing stops the bar turning: add a dog or a chuck",
    "x": "nothing stops the bar sliding along: add a centre or a chuck that holds it endways",
    "r": "nothing holds the bar up: add a support or give one a radial stiffness",
    "t": "nothing holds the bar sideways: add a support or give one a radial stiffness",
    "slope_r": "the bar can swing about its one support: add a tail support or a chuck that grips",
    "slope_t": "the bar can swing about its one support: add a tail support or a chuck that grips",
}


def _refuse_loose(model: Model, motion: Floats, own: float) -> None:
    """Raise `ModelError`, in shop words, if the supports leave the bar free to move.

    The six rigid motions are scaled to move the bar's ends, and the edge about the centre line,
    by the same amount; a motion that the springs resist with less than `FREE` of the bar's `own`
    stiffness is free. A spring counts for 1e4 times that stiffness at most.
    """
    held = springs(model)
    arm = max(model.edge_arm, 1e-3)
    scale = np.array([1.0, 1.0, 1.0, 2 / model.length, 2 / model.length, 1.0 / arm])
    resisted = held.column.T @ (motion.T @ model.rigid) * scale
    stiffness = 1.0 / np.maximum(held.flexibility, 1e-4 / own)
    given = resisted.T @ (stiffness[:, None] * resisted) / own
    size, shape = np.linalg.eigh(given)
    if size[0] < FREE:
        raise ModelError(_LOOSE[_loose_motion(given, shape[:, 0])])


def _loose_motion(given: Floats, shape: Floats) -> str:
    """Name the motion that is free; a swing about a support at the bar's end is r as much as tilt.

    What parts them is whether moving straight sideways is resisted: if it is, the bar swings.
    """
    worst = MOTIONS[int(np.argmax(np.abs(shape)))]
    for straight, swing in (("r", "slope_r"), ("t", "slope_t")):
        if worst in (straight, swing):
            number = MOTIONS.index(straight)
            return swing if given[number, number] >= FREE else straight
    return worst


def count_below(factored: Factored, frequency: float, angle: float = 0.0) -> int:
    """How many modes of the held bar lie below `frequency`, Hz, by inertia alone.

    Sylvester's law of inertia on the bordered matrix ``[[K - w2 M, U], [U^T, -F]]``: an answer
    about the modes that owes nothing to the eigen-solver.
    """
    model, held = factored.model, springs(factored.model, angle)
    shifted = model.stiffness - (2 * pi * frequency) ** 2 * model.mass
    column = factored.motion @ held.column
    if model.fronts:
        negative, gram = inertia(model.fronts, shifted, column)
    else:
        negative, gram = _small_inertia(shifted, column)
    schur = gram + np.diag(held.flexibility)
    positive = int(np.count_nonzero(np.linalg.eigvalsh((schur + schur.T) / 2) > 0))
    return negative + positive - held.flexibility.size


def _small_inertia(matrix: Any, column: Floats) -> tuple[int, Floats]:
    """Number of negative eigenvalues of a beam's matrix A, and ``C^T A^-1 C``."""
    lu = symmetric_lu(matrix)
    if not np.array_equal(lu.perm_r, lu.perm_c):
        message = "the inertia count needed an exchange of rows; refine the mesh and try again"
        raise SolveError(message)
    return int(np.count_nonzero(lu.U.diagonal() < 0)), column.T @ lu.solve(column)
