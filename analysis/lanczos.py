"""Lowest modes of ``K x = w^2 M x`` by block Lanczos on ``K^-1 M``.

A few vectors are solved at once (G. H. Golub & R. Underwood in Mathematical Software III, 1977;
from memory), every block held orthogonal to all before it, in the metric of the mass. The start
is fixed, so the same matrices give the same modes. Modes of equal pitch come out as some mixture
of them; a block has room for four.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from .model import Floats

BLOCK = 4
"""Vectors solved at once."""
CLOSED = 1e-11
"""Of a mode's own answer, what lies outside of the vectors found so far when it is done."""
MOST_BLOCKS = 40


def lowest(mass: Any, solve: Callable[[Floats], Floats], count: int) -> tuple[Floats, Floats]:
    """Squares of the lowest modes, (rad/s)^2, and their shapes, scaled to unit modal mass.

    Parameters
    ----------
    mass : (n_dof, n_dof), kg
    solve : motion under loads (n_dof, k), always by the same symmetric operator

    Returns
    -------
    (count,), rising, and (n_dof, count). After `MOST_BLOCKS` blocks they are handed out as they
    are: whoever asks checks their residuals.
    """
    n_dof = mass.shape[0]
    basis, given = np.empty((n_dof, 0)), np.empty((0, 0))
    start = np.random.default_rng(20).standard_normal((n_dof, BLOCK))
    ahead, weighed, _, _ = _apart(mass, start, basis)
    for _ in range(MOST_BLOCKS):
        basis, before = np.hstack([basis, ahead]), basis.shape[1]
        ahead, weighed, along, beyond = _apart(mass, solve(weighed), basis)
        given = np.block([[given, along[:before]], [along.T]])
        if len(given) < count:
            continue
        inverse, mix = np.linalg.eigh((given + given.T) / 2)
        inverse, mix = inverse[: -count - 1 : -1], mix[:, : -count - 1 : -1]
        outside = np.linalg.norm(beyond @ mix[before:], axis=0)
        if (outside < CLOSED * inverse).all():
            break
    return 1.0 / inverse, basis @ mix


def _apart(mass: Any, block: Floats, basis: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Part of a block that is apart from a basis, as unit vectors; all in the metric of the mass.

    Returns
    -------
    Q, M Q, and C and R of ``block = basis C + Q R``. What is nothing but rounding is not in Q.
    """
    along, beyond = np.zeros((basis.shape[1], block.shape[1])), np.eye(block.shape[1])
    # Once leaves what rounding brought back. What then is not mostly apart was nothing else.
    for least in (0.0, 0.1):
        inside = basis.T @ (mass @ block)
        block = block - basis @ inside
        along += inside @ beyond
        weighed = mass @ block
        _, turn = np.linalg.eigh(block.T @ weighed)
        block, weighed = block @ turn, weighed @ turn
        length = np.sqrt(np.abs((block * weighed).sum(axis=0)))
        kept = length > least
        block, weighed = block[:, kept] / length[kept], weighed[:, kept] / length[kept]
        beyond = length[kept, None] * turn.T[kept] @ beyond
    return block, weighed, along, beyond
