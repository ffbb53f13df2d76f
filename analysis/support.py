"""What holds the bar: chuck, collet, centres, dog, steady, bushing.

A support is a set of springs and a damper: radial in two directions fixed in space (vertical
and horizontal), tilt, along the bar, and turning. Nobody publishes these for small lathes, so
what the case leaves out is a *guess with a range*, shown as such in every output. The guesses
are engineering judgement, no source; only the jaws' own radial stiffness has a published
anchor (a three-jaw chuck with steel jaws, 216 N/um: Y. Ito, Modular Design for Machine Tools,
p. 452), and it is stiffer than jaws, spindle and bearings together. Dampers are guessed so that
a joint loses about a tenth of its elastic force at 300 Hz, within a factor of three.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field

from .entry import (
    Damping,
    Entry,
    Length,
    LengthOrZero,
    Mass,
    Position,
    Stiffness,
    StiffnessOrZero,
    TurnStiffness,
    estimates_at,
)
from .units import Estimate


class Support(Entry):
    """Springs and damper of one support; radial stiffness may differ up-and-down and sideways."""

    radial_stiffness: Stiffness
    """Push per movement, up and down and sideways alike; `rigid` is allowed."""
    vertical_stiffness: Stiffness | None = None
    """Push per movement up and down, where it differs from `radial_stiffness`."""
    horizontal_stiffness: Stiffness | None = None
    """Push per movement sideways, where it differs from `radial_stiffness`."""
    tilt_stiffness: TurnStiffness = 0.0
    """Moment per angle against the bar tilting in the support; 0 for a centre."""
    axial_stiffness: StiffnessOrZero = 0.0
    """Push per movement along the bar."""
    turning_stiffness: TurnStiffness = 0.0
    """Torque per angle against the bar turning; 0 where nothing drives or holds it."""
    damping: Damping = Estimate(1000.0, 300.0, 3000.0)
    """Radial damper of the support, the same in both directions."""

    @property
    def vertical(self) -> float:
        """Radial stiffness up and down, N/m."""
        return self.vertical_stiffness or self.radial_stiffness

    @property
    def horizontal(self) -> float:
        """Radial stiffness sideways, N/m."""
        return self.horizontal_stiffness or self.radial_stiffness

    @property
    def contact(self) -> tuple[float, float]:
        """First and last station of the bar that the springs act on, from the support's own x."""
        return 0.0, 0.0

    def at(self, end: Literal["low", "high"]) -> Self:
        """Return the same support, its springs at the soft or the stiff end of their ranges."""
        names = (name for name in type(self).model_fields if name.endswith("_stiffness"))
        return self.model_copy(update=estimates_at(self, names, end))


class _Gripping(Support):
    grip: Length = Estimate(0.040, 0.025, 0.060)
    """Length of bar in the jaws."""
    acts_at: LengthOrZero | None = None
    """How far behind the jaw face the springs act; left out: half the grip."""
    tail_offset: LengthOrZero = Estimate(0.0001, 0.00005, 0.0003)
    """How far the tail support stands off the line of the grip: how far the bar's end moves as
    the tail is brought up to it, the indicator's base on the bed. It bends the bar every turn."""

    @property
    def contact(self) -> tuple[float, float]:
        """The longest stretch of the grip that is centred where the springs act."""
        centre = self.grip / 2 if self.acts_at is None else self.acts_at
        half = min(centre, self.grip - centre)
        return -centre - half, -centre + half


class Chuck(_Gripping):
    """Jaws that grip the bar and drive it."""

    kind: Literal["chuck"]
    radial_stiffness: Stiffness = Estimate(60e6, 30e6, 150e6)
    """Jaws, spindle and bearings together; `rigid` is allowed."""
    tilt_stiffness: TurnStiffness = Estimate(3e4, 1e4, 1e5)
    """Moment per angle against the bar tilting in the jaws."""
    axial_stiffness: StiffnessOrZero = Estimate(50e6, 20e6, 150e6)
    """Push per movement along the bar."""
    turning_stiffness: TurnStiffness = Estimate(1e4, 3e3, 3e4)
    """Torque per angle of jaws, spindle and drive."""
    damping: Damping = Estimate(3000.0, 1000.0, 9000.0)
    """Radial damper of the support, the same in both directions."""


class Collet(_Gripping):
    """A collet that grips the bar and drives it."""

    kind: Literal["collet"]
    radial_stiffness: Stiffness = Estimate(60e6, 30e6, 150e6)
    """Collet, spindle and bearings together; `rigid` is allowed."""
    tilt_stiffness: TurnStiffness = Estimate(2e4, 7e3, 7e4)
    """Moment per angle against the bar tilting in the collet."""
    axial_stiffness: StiffnessOrZero = Estimate(50e6, 20e6, 150e6)
    """Push per movement along the bar."""
    turning_stiffness: TurnStiffness = Estimate(1e4, 3e3, 3e4)
    """Torque per angle of collet, spindle and drive."""
    damping: Damping = Estimate(3000.0, 1000.0, 9000.0)
    """Radial damper of the support, the same in both directions."""


class DogCentre(Support):
    """A dead centre in the headstock, the bar turned by a dog."""

    kind: Literal["dead centre with dog"]
    radial_stiffness: Stiffness = Estimate(60e6, 30e6, 150e6)
    """Centre, sleeve, spindle and bearings together; `rigid` is allowed."""
    axial_stiffness: StiffnessOrZero = Estimate(50e6, 20e6, 150e6)
    """Push per movement along the bar."""
    turning_stiffness: TurnStiffness = Estimate(3e3, 1e3, 1e4)
    """Torque per angle of dog, driver and drive."""
    damping: Damping = Estimate(3000.0, 1000.0, 9000.0)
    """Radial damper of the support, the same in both directions."""
    dog_position: LengthOrZero = Estimate(0.015, 0.010, 0.030)
    """Where the dog clamps the bar, measured from the drive support."""
    dog_mass: Mass = Estimate(0.3, 0.15, 0.6)
    """How heavy the dog is."""
    dog_off_centre: LengthOrZero = Estimate(0.015, 0.005, 0.030)
    """How far the dog's own middle lies from the bar's centre line."""


class DeadCentre(Support):
    """A dead centre."""

    kind: Literal["dead centre"]
    radial_stiffness: Stiffness = Estimate(20e6, 10e6, 50e6)
    """Centre, quill and tailstock together; `rigid` is allowed."""
    axial_stiffness: StiffnessOrZero = Estimate(20e6, 8e6, 50e6)
    """Push per movement along the bar."""


class LiveCentre(Support):
    """A live (turning) centre."""

    kind: Literal["live centre"]
    radial_stiffness: Stiffness = Estimate(20e6, 10e6, 50e6)
    """Centre with its bearings, quill and tailstock together; `rigid` is allowed."""
    axial_stiffness: StiffnessOrZero = Estimate(20e6, 8e6, 50e6)
    """Push per movement along the bar."""


class _Riding(Support):
    position: Position | None = None
    """Middle of the land that the bar runs on, measured from the drive support; a support at
    the tail stands at the end of the span."""
    grip: LengthOrZero = Estimate(0.015, 0.005, 0.030)
    """Length of the land that the bar runs on."""

    @property
    def contact(self) -> tuple[float, float]:
        """The land, about the middle of the support."""
        return -self.grip / 2, self.grip / 2


class Steady(_Riding):
    """A steady rest, its pads on a turned land of the bar."""

    kind: Literal["steady"]
    radial_stiffness: Stiffness = Estimate(20e6, 5e6, 50e6)
    """Pads, body and bed clamp together; slack in the pads is not in it."""


class Bushing(_Riding):
    """A bushing that the bar runs in."""

    kind: Literal["bushing"]
    radial_stiffness: Stiffness = Estimate(40e6, 10e6, 100e6)
    """Bushing and its housing together; running clearance is not in it."""


AnySupport = Annotated[
    Chuck | Collet | DogCentre | DeadCentre | LiveCentre | Steady | Bushing,
    Field(discriminator="kind"),
]


class Supports(Entry):
    """Everything that holds the bar."""

    drive: AnySupport
    """At the headstock, where x = 0."""
    tail: AnySupport | None = None
    """At the tail end of the span; left out: the bar overhangs from the drive support."""
    others: tuple[AnySupport, ...] = ()
    """Steadies and bushings between, each with its position."""
