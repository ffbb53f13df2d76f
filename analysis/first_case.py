"""The first case of a shop: a few answers made into a file with a remark at every line.

What is not asked is suggested from what was: sizes that common practice would start from, to be
changed once the real ones are known.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from fractions import Fraction
from math import ceil, floor
from typing import Literal

from .units import parse_fit, parse_quantity, show

Units = Literal["mm", "inch"]
Drive = Literal["chuck", "centres"]
BAR_SHARE = 0.65
"""Of the bore: a bar that leaves room for chips (common practice)."""
BIT_SHARE = 0.28
"""Of the bar: the largest bit suggested; a quarter is good, a third weak (common practice)."""
_BITS: dict[Units, dict[str, float]] = {
    "mm": {f"{size} mm": size / 1000 for size in (2, 3, 4, 5, 6, 8, 10, 12, 16, 20)},
    "inch": {
        f"{over}/{under} in": over / under * 0.0254
        for over, under in (
            (1, 16),
            (3, 32),
            (1, 8),
            (3, 16),
            (1, 4),
            (5, 16),
            (3, 8),
            (1, 2),
            (5, 8),
            (3, 4),
        )
    },
}
_FIXED: dict[Units, dict[str, str]] = {
    "mm": {
        "bore": "40 H7",
        "length": "80 mm",
        "depth": "0.2 mm",
        "feed": "0.08 mm/rev",
        "nose": "0.4 mm",
    },
    "inch": {
        "bore": "1.500 +.001 -0 in",
        "length": "3 in",
        "depth": "8 thou",
        "feed": ".003 ipr",
        "nose": "15 thou",
    },
}
_ROOM: dict[Units, tuple[float, float]] = {"mm": (0.14, 0.01), "inch": (0.1397, 0.0127)}
"""Of the span beyond twice the bore's length, and what it is rounded up to, m."""
_CUTTING_SPEED = 0.2
"""Of the edge, m/s: slow enough for high-speed steel in any iron or steel (common practice)."""
_MOST_TURNS = 300.0
_DRIVES: dict[Drive, tuple[str, ...]] = {
    "chuck": (
        "kind: chuck  # or collet, or dead centre with dog",
        "grip: {grip}  # length of bar in the jaws",
    ),
    "centres": (
        "kind: dead centre with dog  # or chuck, or collet",
        "dog_position: {dog}  # measured from the drive centre",
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What the shop says, each as a case file would have it.

    Attributes
    ----------
    bore : finished, with its limits
    length : of the bore
    bar : its diameter
    span : between the supports
    depth, feed, speed : of the cut
    """

    title: str
    units: Units
    bore: str
    length: str
    bar: str
    span: str
    drive: Drive
    steel: str
    work: str
    depth: str
    feed: str
    speed: str


KINDS = {
    "bore": "fit",
    "length": "length",
    "bar": "length",
    "span": "length",
    "depth": "length",
    "feed": "feed",
    "speed": "spindle speed",
}
"""Kind of each answer that is a quantity."""


def suggested(name: str, units: Units, bore: str = "", length: str = "") -> str:
    """What to take where the shop has not said; bar, span and speed follow bore and length.

    Examples
    --------
    >>> suggested("bar", "mm", "44 H7"), suggested("span", "inch", length="3 in")
    ('28 mm', '11-1/2 in')
    """
    if name in _FIXED[units]:
        return _FIXED[units][name]
    if name == "bar":
        return _bar(units, parse_fit(bore).nominal)
    if name == "speed":
        turns = min(_MOST_TURNS, 60 * _CUTTING_SPEED / (3.1416 * parse_fit(bore).nominal))
        return f"{max(10, round(turns, -1)):.0f} rpm"
    room, step = _ROOM[units]
    span = 2 * float(parse_quantity(length, "length")) + room
    return _said(ceil(span / step - 1e-6) * step, units)


def _bar(units: Units, bore: float) -> str:
    step = 0.001 if units == "mm" else 0.0254 / 8
    return _said(max(step, floor(BAR_SHARE * bore / step + 1e-6) * step), units)


def _said(length: float, units: Units) -> str:
    """A length as a shop writes it; inches in fractions down to 1/32."""
    if units == "mm":
        return f"{length * 1000:.6g} mm"
    whole, rest = divmod(Fraction(round(length / 0.0254 * 32), 32), 1)
    parts = [str(whole)] if whole else []
    return "-".join([*parts, str(rest)] if rest or not whole else parts) + " in"


def first_case(answers: Answers) -> str:
    """Text of a case file with every answer in it and a remark at every line."""
    said = {field.name: getattr(answers, field.name) for field in fields(answers)}
    units = answers.units
    bar, span = (float(parse_quantity(said[name], "length")) for name in ("bar", "span"))
    depth = float(parse_quantity(answers.depth, "length"))
    bits = _BITS[units]
    bit = max((b for b in bits if bits[b] <= BIT_SHARE * bar), key=bits.__getitem__, default=None)
    drive = (
        line.format(grip=_round(1.5 * bar, units), dog=_round(bar / 2, units))
        for line in _DRIVES[answers.drive]
    )
    return _TEXT.format(
        **{name: value for name, value in said.items() if name not in ("title", "drive")},
        title=_quoted(answers.title),
        bit=bit or min(bits, key=bits.__getitem__),
        position=_said(span / 2, units),
        drive="\n    ".join(drive),
        start=show(parse_fit(answers.bore).nominal - 2 * depth, "length", units),
        nose=_FIXED[units]["nose"],
        more="60 N/um (30 to 100)" if units == "mm" else "350 lbf/thou (200 to 600)",
        screw=_round(0.6 * bits[bit] if bit else 0.002, units),
    )


def _round(length: float, units: Units) -> str:
    step = 0.001 if units == "mm" else 0.0254 / 16
    return _said(max(step, round(length / step) * step), units)


def _quoted(text: str) -> str:
    """A title as YAML takes it whatever stands in it."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


_TEXT = """\
# A case for barwright. Every size has a unit, as the shop says it: 32 mm, 1-1/4 in, 15 thou.
# What is left out is guessed, and every answer says so. Next: barwright check, then run.
title: {title}

bar:
  material: {steel}  # barwright materials lists them
  diameter: {bar}
  span: {span}  # from the drive support to the tail support

cross_hole:
  shape: square  # or round
  size: {bit}  # a quarter of the bar is good, a third weak
  position: {position}  # middle of the hole, measured from the drive support
  # set_screws: [{{diameter: {screw}}}]

bit:
  size: {bit}
  nose_radius: {nose}  # more gives a better finish, more push and sooner chatter

supports:
  drive:
    {drive}
    # radial_stiffness: {more}  # a guess is taken until a push test tells
  tail:
    kind: live centre  # or dead centre

work:
  material: {work}
  bore: {bore}  # finished, with its limits
  start_bore: {start}  # before this cut
  length: {length}  # of the bore

cut:
  depth: {depth}  # on the radius
  feed: {feed}
  speed: {speed}

# lathe:
#   speeds: [60 rpm, 90 rpm, 135 rpm]  # those it has: barwright speeds judges each
"""
