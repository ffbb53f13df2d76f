"""Factors of a solid's stiffness: halving the mesh again and again, and dense fronts.

The elements are halved, each time the way that leaves the halves fewest nodes in common, until
some sixty are left in a part. A node belongs to the smallest part that holds all of its elements,
so that the nodes between two halves come after both (nested dissection: J. A. George, SIAM J.
Numer. Anal. 10 (1973) 345). Each part is then eliminated as a dense symmetric matrix, its
*front*, and leaves a smaller one on its border to the part above (the multifrontal method: I. S.
Duff & J. K. Reid, ACM Trans. Math. Softw. 9 (1983) 302; J. W. H. Liu, SIAM Review 34 (1992) 82;
both from memory). Nearly all of the work is then done by LAPACK on dense blocks, and only half of
the matrix is kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import blas, lapack
from scipy.sparse import coo_array, csc_array

from .errors import SolveError

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

PART = 64
"""Elements in the smallest part: fewer cost time in Python, more in arithmetic."""

WAYS = np.array([(1, 0, 0), (0, 1, 0), (0, 0, 1), (0, 1, 1), (0, 1, -1)], dtype=np.float64)
"""Ways to cut across, over x, y, z: along the bar, and four through its section."""

Run = tuple[int, int, int]
"""Rows from, to (not included) of a child's border, and where they start in the parent's front."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Front:
    """One part of the mesh: what is eliminated in it, and what it hands on.

    Attributes
    ----------
    first, last : its own unknowns, in the order of elimination; `last` is not included
    border : (n_border,), unknowns of later parts that it touches, rising
    children : the parts inside it, by number, each with where its border goes in this front
    """

    first: int
    last: int
    border: Numbers
    children: tuple[tuple[int, tuple[Run, ...]], ...]

    @property
    def own(self) -> int:
        """Number of unknowns eliminated in it."""
        return self.last - self.first


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fronts:
    """The order of elimination of a mesh, and its fronts, children before parents.

    Attributes
    ----------
    order : (n_dof,), unknowns in the order of elimination
    fronts : each with the parts inside it before it
    """

    order: Numbers
    fronts: tuple[Front, ...]


def fronts_of(cells: Numbers, place: Floats, *, part: int = PART) -> Fronts:
    """Order of elimination of a mesh with three unknowns a node.

    Parameters
    ----------
    cells : (n_cell, k), nodes of each element; every node belongs to one
    place : (3, n_node), where the nodes are
    part : elements in the smallest part
    """
    leaf, depth = _halved(cells, place, part)
    low, high = _span(cells, leaf, place.shape[1])
    height = _bits(low ^ high)
    prefix = high >> height
    # Children before parents: by the last leaf that a part holds, then by its height.
    part_of = _rank(height, prefix)
    order = np.lexsort((place[0], high, low, part_of))
    position = np.empty_like(order)
    position[order] = np.arange(order.size)
    parts = _Parts(leaf, depth, part_of[order], position[cells])
    return Fronts(order=_dofs(order), fronts=tuple(parts.fronts()))


def _halved(cells: Numbers, place: Floats, part: int) -> tuple[Numbers, int]:
    """Number of the smallest part that each element is in, and how often the mesh was halved."""
    count = len(cells)
    depth = max(0, int(np.ceil(np.log2(count / part))))
    leaf = np.zeros(count, dtype=np.int64)
    along = WAYS @ place[:, cells].mean(axis=2)
    mark = np.zeros(place.shape[1], dtype=np.int8)
    heaps = [np.arange(count)]
    for _ in range(depth):
        heaps = [half for heap in heaps for half in _halves(cells, along, heap, mark)]
    for number, heap in enumerate(heaps):
        leaf[heap] = number
    return leaf, depth


def _halves(
    cells: Numbers, along: Floats, heap: Numbers, mark: NDArray[np.int8]
) -> tuple[Numbers, Numbers]:
    """Two halves of a heap of elements, cut so that they have fewest nodes in common.

    `mark` (n_node,) is zero, and is left so.
    """
    best, fewest = (heap, heap[:0]), np.inf
    for way in along[:, heap] if heap.size > 1 else ():
        rising = heap[np.argpartition(way, heap.size // 2)]
        one, other = np.split(rising, [heap.size // 2])
        mark[cells[one]] = 1
        shared = int(mark[np.unique(cells[other])].sum())
        mark[cells[one]] = 0
        if shared < fewest:
            best, fewest = (one, other), shared
    return best


def _span(cells: Numbers, leaf: Numbers, n_node: int) -> tuple[Numbers, Numbers]:
    """First and last of the smallest parts that each node touches."""
    low, high = np.full(n_node, np.iinfo(np.int64).max), np.zeros(n_node, dtype=np.int64)
    owner = np.repeat(leaf, cells.shape[1])
    np.minimum.at(low, cells.ravel(), owner)
    np.maximum.at(high, cells.ravel(), owner)
    return low, high


def _bits(number: Numbers) -> Numbers:
    """Length of each number written in binary."""
    return np.asarray(np.frexp(number.astype(np.float64))[1], dtype=np.int64)


def _rank(height: Any, prefix: Any) -> Any:
    return (((prefix + 1) << height) - 1) * 64 + height


def _dofs(node: Numbers) -> Numbers:
    return np.asarray((3 * node[:, None] + np.arange(3)).ravel())


class _Parts:
    """The tree of parts, from the leaf of each element and the place of each node in the order.

    Parameters
    ----------
    leaf, depth : the smallest part of each element, and how often the mesh was halved
    part_of : (n_node,), rank of the part that each node is eliminated in, rising
    cells : (n_cell, k), nodes of each element by their place in the order
    """

    def __init__(self, leaf: Numbers, depth: int, part_of: Numbers, cells: Numbers) -> None:
        by_leaf = np.argsort(leaf, kind="stable")
        self._cells = np.split(
            cells[by_leaf], np.searchsorted(leaf[by_leaf], np.arange(1, 1 << depth))
        )
        parts = [(h, p) for h in range(depth + 1) for p in range(1 << (depth - h))]
        self._parts = sorted(parts, key=lambda part: int(_rank(*part)))
        self._number = {part: number for number, part in enumerate(self._parts)}
        rank = np.array([_rank(*part) for part in self._parts])
        self._first = np.searchsorted(part_of, rank)
        self._last = np.searchsorted(part_of, rank, side="right")
        self._border: list[Numbers] = []

    def fronts(self) -> Iterator[Front]:
        """Every front, children first."""
        for number, (height, prefix) in enumerate(self._parts):
            inside: tuple[int, ...] = ()
            if height:
                inside = tuple(self._number[height - 1, 2 * prefix + k] for k in (0, 1))
                touched = np.union1d(*(self._border[child] for child in inside))
            else:
                touched = np.unique(self._cells[prefix])
            first, last = int(self._first[number]), int(self._last[number])
            border = touched[touched >= last]
            self._border.append(border)
            yield Front(
                first=3 * first,
                last=3 * last,
                border=_dofs(border),
                children=tuple((c, _runs(self._border[c], first, last, border)) for c in inside),
            )


def _runs(child: Numbers, first: int, last: int, border: Numbers) -> tuple[Run, ...]:
    """Where the nodes of a child's border lie in the parent's front, as runs of unknowns."""
    goes = np.where(child < last, child - first, last - first + np.searchsorted(border, child))
    breaks = (np.diff(goes) != 1) | ((child[1:] >= last) & (child[:-1] < last))
    start = np.concatenate([[0], np.flatnonzero(breaks) + 1])
    stop = np.append(start[1:], child.size)
    return tuple(
        (3 * int(a), 3 * int(z), 3 * int(goes[a]))
        for a, z in zip(start, stop, strict=True)
        if z > a
    )


# --- the numbers -------------------------------------------------------------------------------


class _Assembly:
    """Fronts filled with a matrix, and with what the parts inside them leave."""

    def __init__(self, fronts: Fronts, matrix: Any) -> None:
        lower = _turned(csc_array(matrix), fronts.order)
        self._start, self._row, self._value = lower.indptr, lower.indices, lower.data
        self._left: dict[int, Floats] = {}

    def front(self, front: Front) -> tuple[Floats, Floats]:
        """Columns of a front's own unknowns, and its border's lower triangle."""
        own, border = front.own, front.border.size
        columns = np.zeros((own + border, own), order="F")
        columns[self._entries(front)] = self._value[self._slice(front)]
        corner = np.zeros((border, border), order="F")
        for child, runs in front.children:
            _add(columns, corner, self._left.pop(child), runs)
        return columns, corner

    def leave(self, number: int, corner: Floats) -> None:
        """Hand on what a front leaves on its border."""
        self._left[number] = corner

    def _slice(self, front: Front) -> slice:
        return slice(self._start[front.first], self._start[front.last])

    def _entries(self, front: Front) -> tuple[Numbers, Numbers]:
        """Rows and columns in a front of the matrix's own entries."""
        row = self._row[self._slice(front)].astype(np.int64)
        column = np.repeat(
            np.arange(front.own), np.diff(self._start[front.first : front.last + 1])
        )
        beyond = np.searchsorted(front.border, row)
        foreign = (row >= front.last) & (np.append(front.border, -1)[beyond] != row)
        if foreign.any():
            message = "the matrix couples nodes that share no element; the mesh is another one"
            raise SolveError(message)
        return np.where(row < front.last, row - front.first, front.own + beyond), column


def _turned(matrix: csc_array, order: Numbers) -> csc_array:
    """Lower triangle of a symmetric matrix in another order, with one copy of it made."""
    position = np.empty(order.size, dtype=np.int32)
    position[order] = np.arange(order.size, dtype=np.int32)
    row = position[matrix.indices]
    column = np.repeat(position, np.diff(matrix.indptr))
    kept = np.flatnonzero(row >= column)
    entries = (matrix.data[kept], (row[kept], column[kept]))
    return csc_array(coo_array(entries, shape=matrix.shape))


def _add(columns: Floats, corner: Floats, left: Floats, runs: tuple[Run, ...]) -> None:
    """Add the lower triangle that a child leaves to the front it belongs to, run by run."""
    own = columns.shape[1]
    for number, (c0, c1, to) in enumerate(runs):
        mine = to < own
        target, shift = (columns, 0) if mine else (corner, own)
        for r0, r1, at in runs[number:]:
            rows = slice(at - shift, at - shift + r1 - r0)
            target[rows, to - shift : to - shift + c1 - c0] += left[r0:r1, c0:c1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cholesky:
    """Factors of a positive definite matrix, front by front.

    Attributes
    ----------
    inverse : of each front's own triangle; multiplying is faster than solving
    below : each front's rows on its border
    """

    fronts: Fronts
    inverse: tuple[Floats, ...]
    below: tuple[Floats, ...]

    @property
    def nnz(self) -> int:
        """Numbers kept."""
        return sum(a.size + b.size for a, b in zip(self.inverse, self.below, strict=True))

    def solve(self, load: Floats) -> Floats:
        """Answer to loads (n_dof,) or (n_dof, n_load)."""
        answer = load[self.fronts.order].reshape(load.shape[0], -1)
        parts = list(zip(self.fronts.fronts, self.inverse, self.below, strict=True))
        for front, inverse, below in parts:
            mine = inverse @ answer[front.first : front.last]
            answer[front.first : front.last] = mine
            answer[front.border] -= below @ mine
        for front, inverse, below in reversed(parts):
            mine = answer[front.first : front.last] - below.T @ answer[front.border]
            answer[front.first : front.last] = inverse.T @ mine
        solved = np.empty_like(answer)
        solved[self.fronts.order] = answer
        return solved.reshape(load.shape)


def cholesky(fronts: Fronts, matrix: Any) -> Cholesky:
    """Factorise a symmetric positive definite matrix (n_dof, n_dof) of the fronts' mesh.

    Raises
    ------
    SolveError
        The matrix is not positive definite.
    """
    assembly = _Assembly(fronts, matrix)
    inverse, below = [], []
    for number, front in enumerate(fronts.fronts):
        columns, corner = assembly.front(front)
        triangle, lower = _eliminated(columns)
        if lower.size:
            corner = blas.dsyrk(-1.0, lower, beta=1.0, c=corner, lower=1, overwrite_c=1)
        assembly.leave(number, corner)
        inverse.append(triangle)
        below.append(lower)
    return Cholesky(fronts=fronts, inverse=tuple(inverse), below=tuple(below))


def _eliminated(columns: Floats) -> tuple[Floats, Floats]:
    """Inverse of the triangle of a front's own unknowns, and the factor's rows below it."""
    own = columns.shape[1]
    if own == 0:
        return columns[:0], columns
    triangle, failed = lapack.dpotrf(columns[:own], lower=1, clean=1)
    if failed:
        message = "the bar's stiffness did not come out positive; is its mesh in pieces?"
        raise SolveError(message)
    lower = columns[own:]
    if lower.size:
        lower = blas.dtrsm(1.0, triangle, lower, side=1, lower=1, trans_a=1)
    return lapack.dtrtri(triangle, lower=1)[0], lower


def inertia(fronts: Fronts, matrix: Any, column: Floats) -> tuple[int, Floats]:
    """Number of negative eigenvalues of a symmetric matrix A, and ``C^T A^-1 C``.

    By the inertia of each front's own block in turn (E. V. Haynsworth, Linear Algebra Appl. 1
    (1968) 73; from memory), which exchanges rows within a front only.

    Parameters
    ----------
    column : (n_dof, k), the columns C

    Raises
    ------
    SolveError
        A front's own block is singular.
    """
    assembly = _Assembly(fronts, matrix)
    left = column[fronts.order]
    negative, gram = 0, np.zeros((column.shape[1], column.shape[1]))
    for number, front in enumerate(fronts.fronts):
        columns, corner = assembly.front(front)
        mine = left[front.first : front.last]
        below, (one, other), corner, less = _taken_out(columns, mine, corner)
        gram += one.T @ other
        left[front.border] -= below @ other
        negative += less
        assembly.leave(number, corner)
    return negative, gram


def _taken_out(
    columns: Floats, mine: Floats, corner: Floats
) -> tuple[Floats, tuple[Floats, Floats], Floats, int]:
    """Take a front's own unknowns out of what is left.

    Returns
    -------
    below, pair : ``below @ pair[1]`` and ``pair[0].T @ pair[1]`` are what the columns lose
    corner : what is left on the border, lower triangle
    negative : negative eigenvalues of the own block; few fronts have any
    """
    own = columns.shape[1]
    block, below = columns[:own], columns[own:]
    if own == 0:
        return below, (mine, mine), corner, 0
    triangle, failed = lapack.dpotrf(block, lower=1, clean=1)
    if not failed:
        solved = blas.dtrsm(1.0, triangle, mine, lower=1)
        if below.size:
            below = blas.dtrsm(1.0, triangle, below, side=1, lower=1, trans_a=1)
            corner = blas.dsyrk(-1.0, below, beta=1.0, c=corner, lower=1, overwrite_c=1)
        return below, (solved, solved), corner, 0
    right = np.hstack([below.T, mine])
    factor, pivot, right, failed = lapack.dsysv(block, right, lower=1, lwork=64 * own)
    if failed:
        message = "a part of the bar is singular at that frequency; try another mesh"
        raise SolveError(message)
    solved = right[:, len(below) :]
    corner = corner - below @ right[:, : len(below)]
    return below, (mine, solved), corner, _negative(factor, pivot)


def _negative(factor: Floats, pivot: NDArray[np.int32]) -> int:
    """Negative eigenvalues of the block diagonal that LAPACK's `sytrf` (lower) leaves.

    A pair of negative pivots marks a block of two, whose determinant is negative by the choice
    of pivots (J. R. Bunch & L. Kaufman, Math. Comput. 31 (1977) 163): one eigenvalue of each sign.
    """
    single = pivot > 0
    return int((np.diag(factor)[single] < 0).sum()) + int((~single).sum()) // 2
