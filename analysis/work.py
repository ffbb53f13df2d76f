"""The work: what is bored, to what size, and how firmly it sits on the cross slide."""

from __future__ import annotations

from pydantic import Field

from .entry import BoreSize, Entry, Length, Mass, Share, Stiffness
from .material import WorkMaterialChoice
from .units import Estimate


class Work(Entry):
    """The casting or plate on the cross slide, and the bore to be cut in it."""

    material: WorkMaterialChoice
    """Name of a shipped work material (see `barwright materials`), or one of your own."""
    bore: BoreSize
    """Finished size of the bore, with its limits or fit if it has any."""
    start_bore: Length | None = None
    """Diameter of the bore before this cut."""
    length: Length | None = None
    """Length of the bore along the bar."""
    cuts_per_turn: int = Field(default=0, ge=0, le=64)
    """How often per turn the edge leaves and meets the metal again (ports, keyways); 0: never."""
    radial_stiffness: Stiffness = Estimate(30e6, 10e6, 100e6)
    """Carriage, slide, packing and work together, along the bit; `rigid` is allowed."""
    tangential_stiffness: Stiffness = Estimate(30e6, 10e6, 100e6)
    """Carriage, slide, packing and work together, across the bit; `rigid` is allowed."""
    axial_stiffness: Stiffness = Estimate(30e6, 10e6, 100e6)
    """Carriage, feed gear and work together, along the bar; `rigid` is allowed."""
    mass: Mass = Estimate(40.0, 15.0, 120.0)
    """Carriage, slide, packing and work together."""
    damping_ratio: Share = Estimate(0.04, 0.02, 0.08)
    """Damping of the work side's own swing."""
