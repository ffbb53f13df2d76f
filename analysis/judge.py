"""Findings: each result held against its limit, with the margin and the reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Protocol

from .case import Case
from .chatter import End
from .force import CuttingForce
from .section import round_section, slotted_section
from .speeds import SpeedCheck
from .statics import Statics
from .units import roughly_between


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One result against its limit.

    Attributes
    ----------
    what : the result, in shop words
    value, limit : SI, of `kind`
    kind : kind of quantity, see `units`
    margin : how many times over it is met; 1 is just met, inf if nothing is asked of it
    ok : whether it is met
    why : what it means and what to do
    of : what a share is a share of, where that does not go without saying
    """

    what: str
    value: float
    limit: float
    kind: str
    margin: float
    ok: bool
    why: str
    of: str = ""


def at_most(what: str, value: float, limit: float, kind: str, why: str) -> Finding:
    """Finding for a value that must not exceed its limit."""
    margin = limit / value if value > 0 else inf
    return Finding(
        what=what,
        value=value,
        limit=limit,
        kind=kind,
        margin=margin,
        ok=value <= limit,
        why=why,
    )


def at_least(what: str, value: float, limit: float, kind: str, why: str, of: str = "") -> Finding:
    """Finding for a value that must reach its limit."""
    return Finding(
        what=what,
        value=value,
        limit=limit,
        kind=kind,
        margin=value / limit if limit > 0 else inf,
        ok=value >= limit,
        why=why,
        of=of,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A result as it likely is, and the ends that 8 draws in 10 of what is guessed lie between.

    `low` and `high` are the extremes in size, whichever end brings them.
    """

    low: float
    likely: float
    high: float

    @classmethod
    def of(cls, likely: float, *others: float) -> Band:
        """Band that holds the likely value and the others."""
        return cls(low=min((likely, *others)), likely=likely, high=max((likely, *others)))


class Quiet(Protocol):
    """What a verdict needs of chatter: the gain margins and what they mean."""

    @property
    def margin(self) -> Mapping[End, float]:
        """Gain margin at each end of what was guessed."""

    @property
    def reason(self) -> str:
        """What the margins mean."""


def judge(
    case: Case,
    force: CuttingForce,
    statics: Statics,
    speed: SpeedCheck,
    chatter: Quiet,
    size_error: Band,
) -> tuple[Finding, ...]:
    """Every limit of the case against its result.

    Parameters
    ----------
    size_error : m, size of the diameter error over the range of what was guessed
    """
    found = [
        _size_finding(case, statics, size_error),
        at_most(
            "bore out of round",
            statics.ovality,
            case.allowed_ovality,
            "length",
            _roundness(case),
        ),
        at_least(
            "distance from the nearest shake to a mode",
            speed.nearest.separation,
            case.limits.separation,
            "share",
            speed.reason,
            of="the mode's pitch",
        ),
        at_least(
            "gain margin against chatter",
            chatter.margin["likely"],
            case.limits.chatter_margin,
            "ratio",
            f"{chatter.margin['low']:.2g} to {chatter.margin['high']:.2g}, 8 times in 10 as the "
            f"guesses go; 1 just sings; {chatter.reason}",
        ),
        at_most(
            "sag of the bar at the bit",
            statics.sag,
            case.limits.sag,
            "length",
            "its own weight: it turns under the sag, so it moves the line of the bore, "
            "not its size",
        ),
        _hole_finding(case),
    ]
    if case.lathe.power is not None:
        found.append(
            at_most(
                "power at the edge",
                force.power,
                case.lathe.power,
                "power",
                "belts and gears lose some on the way; stiffness runs out long before power",
            )
        )
    return tuple(found)


def _size_finding(case: Case, statics: Statics, band: Band) -> Finding:
    inwards = statics.diameter_error > 0
    springs, way = ("is pulled into", "large") if inwards else ("springs off", "small")
    softest = max(statics.give, key=lambda share: share.share)
    spring = roughly_between(band.low, band.high, "length", case.own)
    why = (
        f"the bar {springs} the cut and the bore comes out {way} by {spring}, the same "
        f"all along it; the largest part of the give is in the {softest.part} "
        f"({softest.share:.0%})"
    )
    return at_most(
        "size error of the bore",
        abs(statics.diameter_error),
        case.allowed_size_error,
        "length",
        why,
    )


def _unlike(case: Case) -> tuple[str, ...]:
    """What stands still in the room and gives more one way than the other."""
    found = [
        name if name.startswith(held.kind) else f"{name} support"
        for name, held, _ in case.placed_supports
        if held.vertical != held.horizontal
    ]
    return (*found, *(("work side",) if case.work.vertical != case.work.horizontal else ()))


def _roundness(case: Case) -> str:
    unlike = [f"the {name}" for name in _unlike(case)]
    if not unlike:
        return (
            "supports and work side are all taken as alike up-and-down and sideways: push each "
            "both ways to be sure"
        )
    named = " and ".join([", ".join(unlike[:-1]), unlike[-1]] if unlike[:-1] else unlike)
    gives = "gives" if len(unlike) == 1 else "give"
    rest = "" if "the work side" in unlike else "; the work side is taken as alike both ways"
    return f"{named} {gives} more one way than the other while the force turns{rest}"


def _hole_finding(case: Case) -> Finding:
    diameter = case.bar_diameter(case.cross_hole.position)
    left = _left_of_section(case)
    return at_most(
        "cross-hole across the bar's diameter",
        case.cross_hole.size / diameter,
        case.limits.hole_share,
        "share",
        f"at the hole {left:.0%} of the bar's bending stiffness is left in the plane of the bit; "
        "a quarter of the diameter is good practice, a third is weak (common practice)",
    )


def _left_of_section(case: Case) -> float:
    hole, nu = case.cross_hole, case.bar.material.poisson
    diameter = case.bar_diameter(hole.position)
    net = slotted_section(diameter, hole.size, hole.middle, nu)
    return net.second_moment_bit / round_section(diameter, nu).second_moment_bit
