"""One cut: depth, feed, speed, and the force if it was measured."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from .entry import Entry, Feed, ForceOrZero, Length, Ratio, SpindleSpeed, SurfaceSpeed
from .units import Estimate


class TypedForce(Entry):
    """Force of the bit on the work, each part a push of the bit, so positive in normal cutting."""

    radial: ForceOrZero
    """Out along the bit, into the wall of the bore."""
    tangential: ForceOrZero
    """The way the edge moves."""
    axial: ForceOrZero = 0.0
    """Along the bar, against the feed of the work."""


class Cut(Entry):
    """Depth, feed and speed of one cut."""

    depth: Length
    """Depth of cut on the radius (half of what it opens the bore by)."""
    feed: Feed
    """Feed per turn of the bar."""
    speed: SpindleSpeed | None = None
    """Turns of the spindle; give this or `surface_speed`."""
    surface_speed: SurfaceSpeed | None = None
    """Speed of the edge along the bore; give this or `speed`."""
    feed_towards: Literal["headstock", "tailstock"] = "headstock"
    """Which way the carriage feeds the work."""
    method: Literal["kienzle", "power constant"] = "kienzle"
    """Where the force along the edge's motion comes from, if it is not typed: Kienzle's specific
    force, or a handbook's power constant."""
    force: TypedForce | None = None
    """The cutting force, where you know it better than the table does."""
    edge_wear: Ratio = Estimate(1.15, 1.0, 1.5)
    """Force of this edge over that of a freshly honed one."""


class Roughing(Entry):
    """Equal passes with the same bit before the case's own, from the old bore to `start_bore`."""

    start_bore: Length
    """Diameter of the bore before the first of them."""
    passes: int = Field(ge=1, le=64)
    """How many."""
    feed: Feed
    """Feed per turn of the bar."""
    speed: SpindleSpeed
    """Turns of the spindle."""
