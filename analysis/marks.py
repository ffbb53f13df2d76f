"""Marks that chatter leaves round a bore, or its sound, and which part sings at that pitch.

So many marks in one turn of the bar are so many waves per turn as the edge felt them, so the
pitch is marks times turns per second, seen from the bar. In the room a part of the bar or the work
swings a turn higher or lower than that. A loop sings at or a little above the mode that feeds it
(J. Tlusty & M. Polacek, 1963; from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import exp, log, pi, sqrt

from .case import Case
from .compliance import Compliance
from .firmness import likely_corner
from .run import Outcome
from .singing import chatter_frequency_from_marks
from .speed_choice import LEAST_DOUBT
from .units import Estimate

COUNTED = 0.005
"""Doubt of a speed that was counted with a watch, as a share of it (judgement)."""
ABOVE = 1.05
"""How far above its mode a loop sings, at most, with the damping of a lathe (judgement)."""
SEAT = 0.5
"""Pitch of a bit on a soft seat over that of one built in; a guess, and the least."""
MARK = 0.5
"""A gear leaves as many marks as it has teeth, to half a mark."""
ORDER = ("first", "second", "third", "fourth")
HIGHEST = 4000.0
"""Nothing of a line-boring bar sings above this, Hz."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Singer:
    """One part that could sing.

    Attributes
    ----------
    name : in shop words
    frequency, low, high : Hz, its pitch as the edge would feel it, and over what was guessed
    fits : whether the pitch of the marks lies in that range
    apart : pitch of the marks over the likely one, by size: 1 is dead on
    """

    name: str
    frequency: float
    low: float
    high: float
    fits: bool
    apart: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Marks round a bore, their pitch, and who may have made them, the nearest first.

    Attributes
    ----------
    count : marks in one turn
    speed : turns per second
    frequency, low, high : Hz, seen from the bar, and with the doubt of count and speed
    singers : those that fit first, each group by nearness
    """

    count: float
    speed: float
    frequency: float
    low: float
    high: float
    singers: tuple[Singer, ...]

    @property
    def fitting(self) -> tuple[Singer, ...]:
        """The parts that could be it."""
        return tuple(one for one in self.singers if one.fits)


def read_marks(
    case: Case, outcome: Outcome, count: float, counted_speed: float | None = None
) -> Marks:
    """Pitch of so many marks in a turn, and which part of the case lies nearest.

    Parameters
    ----------
    count : marks in one turn, more than one
    counted_speed : turns per second as counted with a watch; left out, the case's, which a belt
        under load may fall short of
    """
    speed = case.spindle_speed if counted_speed is None else counted_speed
    doubt = LEAST_DOUBT if counted_speed is None else COUNTED
    heard = chatter_frequency_from_marks(count, speed, speed_doubt=doubt)
    return _who(case, outcome, heard, speed, count)


def read_chatter(
    case: Case, outcome: Outcome, heard: Estimate, counted_speed: float | None = None
) -> Marks:
    """Which part of the case lies nearest to a pitch that was recorded, and the marks it leaves.

    Parameters
    ----------
    heard : Hz, in the room
    counted_speed : turns per second; left out, the case's
    """
    speed = case.spindle_speed if counted_speed is None else counted_speed
    return _who(case, outcome, heard, speed, float(heard) / speed)


def _who(case: Case, outcome: Outcome, heard: Estimate, speed: float, count: float) -> Marks:
    found = [
        _singer(name, pitch, heard)
        for name, pitch in _pitches(case, outcome, speed)
        if pitch.low < HIGHEST
    ]
    return Marks(
        count=count,
        speed=speed,
        frequency=float(heard),
        low=heard.low,
        high=heard.high,
        singers=tuple(sorted(found, key=lambda one: (not one.fits, one.apart))),
    )


def _singer(name: str, pitch: Estimate, heard: Estimate) -> Singer:
    away = abs(log(heard / pitch))
    return Singer(
        name=name,
        frequency=float(pitch),
        low=float(pitch.low),
        high=float(pitch.high),
        fits=bool(pitch.low <= heard.high and heard.low <= pitch.high),
        apart=exp(away),
    )


def _pitches(case: Case, outcome: Outcome, speed: float) -> Iterator[tuple[str, Estimate]]:
    """Every part that could sing, with the range that its loop may sing in."""
    likely, soft, stiff = (
        likely_corner(one).compliance for one in (case, case.at("low"), case.at("high"))
    )
    for name, modes in _BAR.items():
        rows = [getattr(one, modes).frequency for one in (likely, soft, stiff)]
        # Bending swings in the room and is heard by the bit a turn off; torsion turns with it.
        shift = speed if modes == "planar" else 0.0
        for order, pitches in zip(ORDER, zip(*rows, strict=False), strict=False):
            yield (
                f"{order} {name}",
                _ranged(pitches[0], min(pitches) - shift, max(pitches) + shift),
            )
    yield from _bit(likely)
    yield from _work(case, speed)
    yield from _forced(case, speed)
    sung = outcome.chatter.frequency
    if sung > 0:
        part = f" (the {outcome.sung_by.part})" if outcome.sung_by else ""
        yield f"the cut as computed{part}", Estimate(sung, sung * (1 - LEAST_DOUBT), sung * ABOVE)


_BAR = {"bending of the bar": "planar", "twist of the bar": "twist"}


def _ranged(likely: float, low: float, high: float) -> Estimate:
    return Estimate(float(likely), float(low), float(high) * ABOVE)


def _bit(found: Compliance) -> Iterator[tuple[str, Estimate]]:
    """The bit, at its best as if built in at the bar's surface."""
    for pitch in found.bit_across.frequency:
        yield "bending of the bit", _ranged(pitch, SEAT * pitch, pitch)


def _work(case: Case, speed: float) -> Iterator[tuple[str, Estimate]]:
    """The work side on its own springs, ``sqrt(k/m)/2 pi``."""
    mass = case.work.mass
    masses = (float(mass), getattr(mass, "high", mass), getattr(mass, "low", mass))
    ends = (case.work, case.work.at("low"), case.work.at("high"))
    gives = {
        "across": [work.give_across for work in ends],
        "along": [1 / work.axial_stiffness for work in ends],
    }
    for way, given in gives.items():
        if given[0] == 0:
            continue
        likely, low, high = (
            1 / sqrt(give * m) / (2 * pi) for give, m in zip(given, masses, strict=True)
        )
        shift = speed if way == "across" else 0.0
        yield f"work side, {way} the bar", _ranged(likely, low - shift, high + shift)


def _forced(case: Case, speed: float) -> Iterator[tuple[str, Estimate]]:
    """What the lathe or the gaps of the bore shake, as marks that stay where they are."""
    for line in case.lathe.lines:
        if line.frequency is not None:
            pitch = float(line.frequency)
            yield f"{line.name}, not chatter", Estimate(pitch, pitch, pitch)
        elif line.per_turn is not None:
            yield f"{line.name}, not chatter", _teeth(float(line.per_turn), speed)
    if case.work.cuts_per_turn:
        name = f"the {case.work.cuts_per_turn} gaps of the bore, not chatter"
        yield name, _teeth(float(case.work.cuts_per_turn), speed)


def _teeth(count: float, speed: float) -> Estimate:
    return Estimate(count * speed, (count - MARK) * speed, (count + MARK) * speed)
