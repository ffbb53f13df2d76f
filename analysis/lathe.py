"""The lathe: its speeds, and what in it could shake the bar at a pitch of its own."""

from __future__ import annotations

from .entry import Entry, Frequency, Length, Power, Ratio, SpindleSpeed


class Line(Entry):
    """A steady shake of the lathe itself: gear mesh, belt splice, motor."""

    name: str
    """What shakes, such as `bull gear` or `motor`."""
    per_turn: Ratio | None = None
    """Shakes per turn of the spindle, such as the teeth of its gear; give this or `frequency`."""
    frequency: Frequency | None = None
    """Shakes per second whatever the spindle does; give this or `per_turn`."""


class Lathe(Entry):
    """What the case says of the lathe."""

    name: str = "lathe"
    """What you call it."""
    speeds: tuple[SpindleSpeed, ...] = ()
    """Every spindle speed the lathe has."""
    power: Power | None = None
    """Power of the motor."""
    between_centres: Length | None = None
    """Longest bar it takes between centres."""
    carriage_travel: Length | None = None
    """How far the carriage can move."""
    lines: tuple[Line, ...] = ()
    """Steady shakes of gears, belts or motor, where you know them."""
