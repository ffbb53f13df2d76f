"""Places of labels: kept apart, kept on the paper, in their order."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise


def spread(wanted: Sequence[float], gap: float | Sequence[float]) -> list[float]:
    """Places as near the wanted ones as may be, in the same order, none closer than `gap`.

    Neighbours that would overlap are pooled and share their shift (pool adjacent violators).

    Parameters
    ----------
    wanted
        Where each label would like to stand.
    gap
        Least distance between neighbours, or one width for each label.

    Examples
    --------
    >>> spread([0.0, 1.0, 10.0], 4.0)
    [-1.5, 2.5, 10.0]
    """
    widths = [float(gap)] * len(wanted) if isinstance(gap, (int, float)) else list(gap)
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    shift = [0.0]
    for before, after in pairwise(order):
        shift.append(shift[-1] + (widths[before] + widths[after]) / 2)
    pools: list[list[float]] = []
    for place, index in enumerate(order):
        pools.append([wanted[index] - shift[place], 1.0])
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            value, count = pools.pop()
            pools[-1][0] = (pools[-1][0] * pools[-1][1] + value * count) / (pools[-1][1] + count)
            pools[-1][1] += count
    level = [value for value, count in pools for _ in range(int(count))]
    placed = [0.0] * len(wanted)
    for place, index in enumerate(order):
        placed[index] = level[place] + shift[place]
    return placed


def within(
    placed: Sequence[float], widths: Sequence[float], low: float, high: float
) -> list[float]:
    """Labels pushed back inside `low` to `high`, in the same order and without overlap.

    Examples
    --------
    >>> within([-1.0, 2.0], [4.0, 4.0], 0.0, 20.0)
    [2.0, 6.0]
    """
    order = sorted(range(len(placed)), key=lambda i: placed[i])
    result = list(placed)
    floor = low
    for i in order:
        result[i] = max(result[i], floor + widths[i] / 2)
        floor = result[i] + widths[i] / 2
    ceiling = high
    for i in reversed(order):
        result[i] = min(result[i], ceiling - widths[i] / 2)
        ceiling = result[i] - widths[i] / 2
    return result
