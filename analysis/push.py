"""A push test: the bar pulled by a spring balance, an indicator read beside it.

One row a reading, taken with the lathe off, the spindle blocked and the bit straight up: where the
bar is pulled, where it is read, which way, how hard, and what the indicator shows. Readings follow
one another as they were taken, so that a pull smaller than the one before is one on the way back.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from math import cos
from pathlib import Path
from typing import Literal

import numpy as np

from .errors import CaseError, Problem
from .model import Floats
from .shop_table import Column, ShopTable, read_shop_table

Way = Literal["up and down", "sideways"]
Pulled = Literal["bar", "work"]

_WAYS = {
    **dict.fromkeys(("sideways", "horizontal", "side", "h"), "sideways"),
    **dict.fromkeys(("up", "upwards", "vertical", "up and down", "down", "v"), "up and down"),
}
COLUMNS = (
    Column("pull at", "length", ("pulled at", "load at", "at"), needed=True),
    Column("read at", "length", ("indicator at",)),
    Column("pull", "force", ("load", "force"), needed=True),
    Column("reading", "length", ("indicator", "movement"), needed=True),
    Column("way", "", ("direction",), words=_WAYS),
    Column("on", "", ("pulled",), words={"bar": "bar", "work": "work", "casting": "work"}),
)
SETTINGS = (
    Column("resolution", "length", ("reads", "indicator reads")),
    Column("indicator angle", "angle", ("angle",)),
    Column("scale error", "share", ("balance error", "scale")),
)
DIVISIONS_WANTED = 30
"""Movement over what the indicator can show that tells a stiffness to about a tenth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruments:
    """What a push test is read with.

    Attributes
    ----------
    resolution : m, the least that can be read; also taken as the scatter of one reading, for a
        plunger's retrace and repeat are about as large (judgement)
    angle : rad, between a lever indicator's arm and the surface; it shows ``1/cos`` of the truth
    scale_error : share, one standard deviation of the balance as a whole
    """

    resolution: float = 5e-6
    angle: float = 0.0
    scale_error: float = 0.02


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PullSeries:
    """Readings taken one after another at one place and one way.

    Attributes
    ----------
    pull_at, read_at : m from the drive support
    way : sideways, or up and down
    on : whether the bar was pulled or the work
    pull : (n,) N
    reading : (n,) m, turned to the truth by the indicator's angle
    """

    pull_at: float
    read_at: float
    way: Way
    on: Pulled
    pull: Floats
    reading: Floats

    @property
    def movement(self) -> float:
        """Largest less smallest reading, m."""
        return float(np.ptp(self.reading))

    @property
    def returning(self) -> Floats:
        """(n,) 1 where the pull is smaller than the one before, else 0."""
        return np.concatenate([[0.0], (np.diff(self.pull) < 0).astype(float)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PushTest:
    """Every series of one file."""

    instruments: Instruments
    series: tuple[PullSeries, ...]


def read_push(path: str | Path) -> PushTest:
    """Push test in a file.

    Raises
    ------
    CaseError
        A column, a unit or a value is wrong; or a series has fewer than two pulls.
    """
    table = read_shop_table(path, COLUMNS, SETTINGS)
    said, usual = table.settings, Instruments()
    if "resolution" not in said:
        message = (
            "write above the heading what your indicator can show, such as `resolution: 0.5 thou` "
            "or `resolution: 2 um`; without it nobody can say what the readings tell"
        )
        raise CaseError((Problem(table.source.file, 1, "resolution", message),))
    instruments = Instruments(
        resolution=float(said["resolution"]),
        angle=float(said.get("indicator angle", usual.angle)),
        scale_error=float(said.get("scale error", usual.scale_error)),
    )
    if not instruments.resolution > 0:
        raise table.refused(0, "resolution", "this must be more than 0; write what you can read")
    if not cos(instruments.angle) > 0.25:
        message = "more than 75 degrees reads next to nothing; set the arm nearer to the surface"
        raise table.refused(0, "indicator angle", message)
    return PushTest(instruments=instruments, series=tuple(_series(table, instruments)))


def _series(table: ShopTable, instruments: Instruments) -> Iterator[PullSeries]:
    numbered = list(enumerate(table.rows))

    def place(item: tuple[int, object]) -> tuple[object, ...]:
        row = table.rows[item[0]]
        at = row["pull at"]
        return at, row.get("read at", at), row.get("way", "sideways"), row.get("on", "bar")

    for (pull_at, read_at, way, on), items in groupby(numbered, key=place):
        rows = [number for number, _ in items]
        pull = np.array([float(table.rows[n]["pull"]) for n in rows])
        reading = np.array([float(table.rows[n]["reading"]) for n in rows])
        if np.ptp(pull) == 0:
            message = "one pull alone tells nothing; take a reading at no load and at several more"
            raise table.refused(rows[0], "pull", message)
        yield PullSeries(
            pull_at=pull_at,  # type: ignore[arg-type]
            read_at=read_at,  # type: ignore[arg-type]
            way=way,  # type: ignore[arg-type]
            on=on,  # type: ignore[arg-type]
            pull=pull,
            reading=reading * cos(instruments.angle),
        )
