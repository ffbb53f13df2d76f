"""One case: a bar, what holds it, the bit, the work, the cut and the lathe, and what they ask.

`conflicts` is where the nouns of a case are held against one another: a hole wider than its
bar, a bit longer than the bore allows, a support off the bar.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .bar import Bar, Bit, CrossHole
from .cut import Cut
from .entry import Entry
from .lathe import Lathe
from .limits import Limits
from .support import AnySupport, DogCentre, Steady, Bushing, Supports
from .work import Work


class Job(Entry):
    """What the paper says: free text, carried into every output."""

    part: str = ""
    """The part the bore is in."""
    drawing: str = ""
    """Drawing and issue."""
    note: str = ""
    """Anything else worth keeping with the results."""


class Case(Entry):
    """Everything a run needs to know, in SI units."""

    title: str
    """One line that names the set-up."""
    job: Job = Job()
    """The paper behind it."""
    bar: Bar
    """The bar."""
    cross_hole: CrossHole
    """The hole across the bar that holds the bit."""
    bit: Bit
    """The bit."""
    supports: Supports
    """What holds the bar."""
    work: Work
    """What is bored."""
    cut: Cut
    """The cut to be judged."""
    lathe: Lathe = Lathe()
    """The lathe."""
    limits: Limits = Limits()
    """What the job asks."""

    @property
    def ends(self) -> tuple[float, float]:
        """First and last station of the bar, m from the drive support."""
        behind = self.bar.drive_overhang
        if behind is None:
            behind = getattr(self.supports.drive, "grip", 0.0)
        return -behind, self.bar.span + self.bar.tail_overhang

    @property
    def placed_supports(self) -> tuple[tuple[str, AnySupport, float], ...]:
        """Name, support and its station, m from the drive support, in order along the bar."""
        placed: list[tuple[str, AnySupport, float]] = [("drive", self.supports.drive, 0.0)]
        for number, support in enumerate(self.supports.others, start=1):
            name = support.kind if len(self.supports.others) == 1 else f"{support.kind} {number}"
            placed.append((name, support, getattr(support, "position", None) or 0.0))
        if self.supports.tail is not None:
            placed.append(("tail", self.supports.tail, self.bar.span))
        return tuple(placed)

    def bar_diameter(self, station: float) -> float:
        """Diameter of the bar at a station, m."""
        for step in self.bar.steps:
            if step.start <= station <= step.end:
                return step.diameter
        return self.bar.diameter

    @property
    def edge_radius(self) -> float:
        """From the bar's centre line to the cutting edge, m."""
        if self.bit.projection is None:
            return self.work.bore.nominal / 2
        return self.bar_diameter(self.cross_hole.position) / 2 + self.bit.projection

    @property
    def projection(self) -> float:
        """From the surface of the bar to the cutting edge, m."""
        return self.edge_radius - self.bar_diameter(self.cross_hole.position) / 2

    @property
    def bit_length(self) -> float:
        """Overall length of the bit, m; reaching the far side of the bar if the case is silent."""
        if self.bit.length is not None:
            return self.bit.length
        return self.projection + self.bar_diameter(self.cross_hole.position)

    @property
    def spindle_speed(self) -> float:
        """Turns of the spindle per second, Hz."""
        if self.cut.speed is not None:
            return self.cut.speed
        assert self.cut.surface_speed is not None
        return self.cut.surface_speed / (2 * math.pi * self.edge_radius)

    @property
    def surface_speed(self) -> float:
        """Speed of the edge along the bore, m/s."""
        return 2 * math.pi * self.edge_radius * self.spindle_speed

    @property
    def allowed_size_error(self) -> float:
        """Largest bore-diameter error from bar spring, m."""
        if self.limits.size_error is not None:
            return self.limits.size_error
        width = self.work.bore.upper - self.work.bore.lower
        return width / 2 if width > 0 else 0.00005

    @property
    def allowed_ovality(self) -> float:
        """Largest difference of the bore's diameters, m."""
        if self.limits.ovality is not None:
            return self.limits.ovality
        return self.allowed_size_error / 2


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two parts of a case that cannot both be right: the key to mend and what is wrong."""

    key: tuple[str | int, ...]
    message: str
