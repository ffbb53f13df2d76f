"""How firm a support or the work side must be: its springs scaled until a limit just holds.

The likely values stand for everything else that was guessed. A joint loses a share of its elastic
force (see `support`), so its damper is scaled with its springs, and the mass of the work side is
left alone. Size is asked of the bar as it meets supports and work at every angle of a turn,
chatter of the bar alike all round, as `chatter` does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache, cached_property
from math import inf, sqrt
from typing import Literal

from .beam import beam_model, held_as
from .case import Case
from .chatter import Corner, corner_at, edge_of
from .entry import Entry
from .force import cutting_force
from .model import factorised
from .statics import bore_size, force_on_bar
from .units import Estimate
from .variant import floors, loop_compliances

Part = Literal["drive", "tail", "work side"]
Decides = Literal["size", "roundness", "chatter"]
SPRINGS = ("radial_stiffness", "vertical_stiffness", "horizontal_stiffness")
SOFTEST, FIRMEST = 1 / 30, 30.0
"""Times the likely stiffness, between which the least one is looked for."""
CLOSE = 1.1
"""Ratio to which it is found: nobody pushes a tailstock to two digits."""


def times(value: float, factor: float) -> float:
    """A value, and its range where it has one, so many times over."""
    if isinstance(value, Estimate):
        return Estimate(factor * value, factor * value.low, factor * value.high)
    return factor * value


def scaled(entry: Entry, names: Iterable[str], factor: float) -> Entry:
    """An entry with some of its values so many times over; what it has not is left out."""
    values = ((name, getattr(entry, name)) for name in names)
    update = {name: times(value, factor) for name, value in values if value is not None}
    return entry.model_copy(update=update)


def firmer(case: Case, part: Part, factor: float) -> Case:
    """The case with one part so many times as stiff: the work side along the bar too."""
    if part == "work side":
        work = scaled(case.work, (*SPRINGS, "axial_stiffness"), factor)
        return case.model_copy(update={"work": work})
    support = getattr(case.supports, part)
    names = (*SPRINGS, "tilt_stiffness", "damping")
    supports = case.supports.model_copy(update={part: scaled(support, names, factor)})
    return case.model_copy(update={"supports": supports})


def stiffness_of(case: Case, part: Part) -> float:
    """Likely stiffness of a part, N/m: of its softer way, up and down or sideways."""
    held = case.work if part == "work side" else getattr(case.supports, part)
    return float(min(held.vertical, held.horizontal))


# --- what the cut makes of it ----------------------------------------------------------------


def likely_corner(case: Case) -> Corner:
    """The loop at the likely values."""
    return corner_at(case, factorised(beam_model(case, averaged=True)), "likely")


def likely_margin(case: Case, corner: Corner | None = None) -> float:
    """Gain margin at the likely values, at the worst phase; 1 just sings.

    Parameters
    ----------
    corner : of this case, or of one that differs by its cut or the form of its edge alone
    """
    corner = likely_corner(case) if corner is None else corner
    return float(floors(case, corner, [edge_of(case, "likely")], corner.process_damping)[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Least:
    """The least stiffness of one part at which size, roundness and chatter keep their limits.

    Attributes
    ----------
    part : which
    likely, least : N/m, as the case has it, and as it must at least be
    decides : the limit that is first to fail below it
    """

    part: Part
    likely: float
    least: float
    decides: Decides

    @property
    def holds(self) -> bool:
        """Whether the stiffness of the case is enough."""
        return self.least <= self.likely


class Bench:
    """A case whose springs may be changed; its bar is built and factorised once."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.force = cutting_force(case)
        self.fine = factorised(beam_model(case, longest=(case.ends[1] - case.ends[0]) / 24))
        self.averaged = factorised(beam_model(case, averaged=True))

    @cached_property
    def as_is(self) -> Decides | None:
        """The first limit that the case as it is does not keep."""
        return self.failing(self.case)

    def size(self, case: Case) -> tuple[float, float]:
        """Size of the diameter error, and ovality, m, with the springs of `case`."""
        given = loop_compliances(case, held_as(case, self.fine))
        error, oval = bore_size(given, force_on_bar(case, self.force), case.edge_radius)
        return abs(error), oval

    def margin(self, case: Case) -> float:
        """Likely gain margin with the springs of `case`."""
        return likely_margin(case, corner_at(case, held_as(case, self.averaged), "likely"))

    def failing(self, case: Case) -> Decides | None:
        """The first limit that is not kept at the likely values."""
        error, oval = self.size(case)
        if error > case.allowed_size_error:
            return "size"
        if oval > case.allowed_ovality:
            return "roundness"
        return "chatter" if self.margin(case) < case.limits.chatter_margin else None

    def least(self, part: Part) -> Least | None:
        """Least stiffness of a part that keeps the limits, all else at its likely value.

        None where no stiffness within thirty times either way makes the difference: either the
        part hardly matters, or firming it alone will not do.
        """
        likely = stiffness_of(self.case, part)
        if likely == inf:
            return None

        @cache
        def failing(factor: float) -> Decides | None:
            return self.as_is if factor == 1.0 else self.failing(firmer(self.case, part, factor))

        ends = (SOFTEST, 1.0) if self.as_is is None else (1.0, FIRMEST)
        if failing(ends[0]) is None or failing(ends[1]) is not None:
            return None
        least, below = _flip(lambda factor: failing(factor) is None, *ends)
        decides = failing(below)
        assert decides is not None
        return Least(part=part, likely=likely, least=least * likely, decides=decides)


def _flip(holds: Callable[[float], bool], low: float, high: float) -> tuple[float, float]:
    """Factor from which something holds, and one below it at which it does not."""
    while high / low > CLOSE:
        middle = sqrt(low * high)
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high, low
