"""The bar: its diameter along the length, its cross-hole, screws, flats, and the bit in it.

Stations are measured along the bar from the drive support (``x = 0``: the jaw face of a chuck,
the contact of a centre) towards the tail support (``x = span``). Across the bar, ``r`` points
along the bit towards the cut and ``t`` the way the edge moves; the *leading* side of the bar is
the one at positive ``t``, the *trailing* side the one at negative ``t``.
"""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, PrivateAttr

from .entry import Angle, Direction, Entry, Length, LengthOrZero, Mass, Position, Share
from .material import BarMaterialChoice
from .units import Estimate

Side = Literal["bit", "back", "leading", "trailing"]


class Step(Entry):
    """A length of the bar with a diameter of its own."""

    start: Position
    """Where the step begins, measured from the drive support."""
    end: Position
    """Where the step ends, measured from the drive support."""
    diameter: Length
    """Diameter of the bar over the step."""


class Flat(Entry):
    """A flat filed or milled along the bar."""

    start: Position
    """Where the flat begins, measured from the drive support."""
    end: Position
    """Where the flat ends, measured from the drive support."""
    depth: Length
    """How deep the flat is cut below the round surface."""
    side: Side = "back"
    """Which side of the bar it is on: bit, back, leading or trailing."""


class SetScrew(Entry):
    """A screw in its tapped hole, from the surface of the bar into the cross-hole."""

    diameter: Length
    """Diameter of the tapped hole (the thread's major diameter)."""
    side: Literal["leading", "trailing"] = "leading"
    """Which side of the bar the screw enters from; from the leading side, the thrust of the cut
    lands on solid bar and not on the screw."""
    shift: Position = 0.0
    """How far along the bar from the middle of the cross-hole, positive towards the tail."""


class CrossHole(Entry):
    """The hole across the bar that holds the bit."""

    shape: Literal["square", "round"] = "square"
    """Square (broached or filed) or round (drilled)."""
    size: Length
    """Across the flats of a square hole, or the diameter of a round one."""
    position: Position
    """Middle of the hole along the bar, measured from the drive support."""
    offset: Position | None = None
    """Middle of the hole from the bar's centre line, positive towards the trailing side; left
    out: half of a square hole, which puts the bit's cutting face on the centre line."""
    corner_radius: LengthOrZero = 0.0
    """Radius left in the corners of a square hole (0: filed sharp)."""
    set_screws: tuple[SetScrew, ...] = ()
    """The screws that hold the bit."""

    _found: object = PrivateAttr(default=None)

    @property
    def found(self) -> object:
        """What was found of it on a solid, if anything was; no case file says it."""
        return self._found

    def with_found(self, found: object) -> Self:
        """Return the same hole with what was found of it on a solid."""
        copy = self.model_copy()
        copy._found = found
        return copy

    @property
    def middle(self) -> float:
        """Where the middle of the hole lies along t, m: the trailing side is at negative t."""
        if self.offset is not None:
            return -self.offset
        return -self.size / 2 if self.shape == "square" else 0.0


class Bit(Entry):
    """The high-speed-steel tool bit."""

    size: Length
    """Across the flats of a square bit, or the diameter of a round one."""
    length: Length | None = None
    """Overall length of the bit; left out, it is taken as reaching the far side of the bar."""
    projection: Length | None = None
    """From the surface of the bar to the cutting edge; left out, it follows from the bore."""
    nose_radius: LengthOrZero = 0.0004
    """Radius of the point."""
    lead_angle: Angle = 0.0
    """Lead angle of the side edge: 0 for an edge square to the bar."""
    rake: Angle = 0.0
    """Rake of the top face."""


class PointMass(Entry):
    """Something heavy carried by the bar, such as a dog or a collar."""

    name: str
    """What it is."""
    mass: Mass
    """How heavy it is."""
    position: Position
    """Where it sits, measured from the drive support."""
    off_centre: LengthOrZero = 0.0
    """How far its own middle lies from the bar's centre line."""
    side: Side = "bit"
    """Which way it lies off centre: bit, back, leading or trailing."""


class RunOutReading(Entry):
    """What an indicator shows at one place while the bar is turned once round by hand."""

    at: Position
    """Where the indicator stands, measured from the drive support."""
    reading: LengthOrZero
    """Its full swing there, high less low (total indicator reading)."""
    high_at: Direction | None = None
    """Where the high spot is, as an angle round the bar from the bit, positive towards the
    leading side; left out: not looked for."""


class RunOut(Entry):
    """Run-out of the bar as it will turn: held as for the cut, bit out, turned by hand."""

    readings: tuple[RunOutReading, ...]
    """The readings along the bar; five places tell a bent bar from a cocked one."""
    indicator: Length = Estimate(0.00001, 0.000001, 0.0000254)
    """One division of the indicator."""


class Bar(Entry):
    """The bar between its supports and beyond them."""

    material: BarMaterialChoice
    """Name of a shipped steel (see `barwright materials`), or a material of your own."""
    diameter: Length
    """Diameter of the bar, where no step says otherwise."""
    span: Length
    """From the drive support to the tail support."""
    drive_overhang: LengthOrZero | None = None
    """Bar beyond the drive support; left out: the gripped length of a chuck, else nothing."""
    tail_overhang: LengthOrZero = 0.0
    """Bar beyond the tail support."""
    steps: tuple[Step, ...] = ()
    """Lengths of the bar that are turned to another diameter."""
    flats: tuple[Flat, ...] = ()
    """Flats along the bar."""
    centre_holes: tuple[Literal["drive", "tail"], ...] = ()
    """Ends that have a centre hole drilled in them; supports on a centre imply theirs."""
    centre_hole_diameter: Length | None = None
    """Mouth of the centre holes; left out: a quarter of the bar's diameter."""
    other_holes: tuple[CrossHole, ...] = ()
    """Further cross-holes that hold no bit during this cut, such as those of other stations; each
    weakens the bar where it stands."""
    damping_ratio: Share = Estimate(0.01, 0.003, 0.03)
    """Damping of the bar's modes besides what the supports' dampers add."""
    carries: tuple[PointMass, ...] = Field(default=())
    """Masses the bar carries besides the bit and its screws."""
    run_out: RunOut | None = None
    """Indicator readings along the bar; left out: the bar is taken to run true."""
