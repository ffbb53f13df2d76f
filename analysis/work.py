"""The work: what is bored, to what size, and how firmly it sits on the cross slide."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field

from .entry import (
    BoreSize,
    Entry,
    Length,
    LengthOrZero,
    MassAboveZero,
    Share,
    Stiffness,
    estimates_at,
)
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
    beyond_head: LengthOrZero = 0.0
    """How far casting, clamps or slide reach past the bore towards the headstock."""
    beyond_tail: LengthOrZero = 0.0
    """How far casting, clamps or slide reach past the bore towards the tailstock."""
    run_in: LengthOrZero = 0.0
    """Room between edge and bore before the pass, for setting and measuring the bit."""
    run_out: LengthOrZero = 0.0
    """How far the edge runs clear of the bore after the pass."""
    cuts_per_turn: int = Field(default=0, ge=0, le=64)
    """How often per turn the edge leaves and meets the metal again (ports, keyways); 0: never."""
    radial_stiffness: Stiffness = Estimate(30e6, 10e6, 100e6)
    """Carriage, slide, packing and work together, up and down and sideways alike; `rigid` is
    allowed."""
    vertical_stiffness: Stiffness | None = None
    """Push per movement up and down, where it differs from `radial_stiffness`."""
    horizontal_stiffness: Stiffness | None = None
    """Push per movement sideways, where it differs from `radial_stiffness`."""
    axial_stiffness: Stiffness = Estimate(30e6, 10e6, 100e6)
    """Carriage, feed gear and work together, along the bar; `rigid` is allowed."""
    mass: MassAboveZero = Estimate(40.0, 15.0, 120.0)
    """Carriage, slide, packing and work together."""
    damping_ratio: Share = Estimate(0.04, 0.02, 0.08)
    """Damping of the work side's own swing."""

    @property
    def vertical(self) -> float:
        """Stiffness up and down, N/m: the work stands still while the bit turns in it."""
        return self.vertical_stiffness or self.radial_stiffness

    @property
    def horizontal(self) -> float:
        """Stiffness sideways, N/m."""
        return self.horizontal_stiffness or self.radial_stiffness

    @property
    def give_across(self) -> float:
        """Give across the bar, mean of up and down and sideways, m/N."""
        return (1 / self.vertical + 1 / self.horizontal) / 2

    def at(self, end: Literal["low", "high"]) -> Self:
        """Return the same work side at the soft or the stiff end of its ranges."""
        names = (name for name in type(self).model_fields if name.endswith("_stiffness"))
        return self.model_copy(update=estimates_at(self, names, end))
