"""Quantity text <-> SI float: the only place that converts.

The grammar is our own, because general unit packages misread the shop: pint by itself takes
``1 1/4 in`` as 0.25 in and ``1,5 mm`` as 15 mm, and hangs on ``9**9**9 mm``. Nothing is ever
evaluated.

Factors are exact fractions built from the legal definitions (international yard and pound,
1959; standard gravity, CGPM 1901), so that ``31.75 mm`` and ``1-1/4 in`` give the very same
float. pint was measured as the source of the names: 0.24 s to import and start, against the
0.6 s that all of ``barwright check`` may take, and it rounds each factor before use. The tests
hold every unit here against pint instead.

A pound is a mass where a mass is asked for and a force everywhere else, as the shop says it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, NamedTuple, Self

from .fits import hole_deviations

LONGEST_TEXT = 100
_UNFELT = 1e-8  # m: beyond anything a shop can measure
_THOU_BELOW = 1e-3  # m: inches below this are said in thou where two digits are enough
_FAR = 10**15  # in SI, of any kind: a slip of the keyboard, not a set-up
Own = Literal["mm", "inch"]
System = Literal["both", "mm", "inch"]


class UnitError(ValueError):
    """The text is not a quantity of the wanted kind; says what would be right."""


class Estimate(float):
    """A likely value that remembers how low and how high it may be.

    Examples
    --------
    >>> guess = Estimate(60.0, 30.0, 150.0)
    >>> guess * 2, guess.low, guess.high
    (120.0, 30.0, 150.0)
    """

    __slots__ = ("high", "low")
    low: float
    high: float

    def __new__(cls, likely: float, low: float, high: float) -> Self:
        """Keep the three values in order."""
        if not low <= likely <= high:
            message = f"the range {low:g} to {high:g} does not hold the likely value {likely:g}"
            raise ValueError(message)
        estimate = super().__new__(cls, likely)
        object.__setattr__(estimate, "low", float(low))
        object.__setattr__(estimate, "high", float(high))
        return estimate

    def __setattr__(self, name: str, value: object) -> None:
        """Refuse: a case is frozen."""
        message = f"an Estimate cannot be changed ({name})"
        raise AttributeError(message)

    def __reduce__(self) -> tuple[type[Self], tuple[float, float, float]]:
        """Come back whole from a worker process."""
        return type(self), (float(self), self.low, self.high)

    def __repr__(self) -> str:
        """Likely, low, high."""
        return f"Estimate({float(self)!r}, {self.low!r}, {self.high!r})"


@dataclass(frozen=True, slots=True)
class Fit:
    """A size with its limits.

    Attributes
    ----------
    nominal, lower, upper : m
        Basic size and the smallest and largest size allowed; all alike where no limits are given.
    text
        As it was typed.
    """

    nominal: float
    lower: float
    upper: float
    text: str = ""


class Dimension(NamedTuple):
    """Powers of mass, length, time, turns and angle."""

    mass: int = 0
    length: int = 0
    time: int = 0
    turn: int = 0
    angle: int = 0

    def times(self, other: Dimension, power: int) -> Dimension:
        """Multiply by another dimension to a power."""
        return Dimension(*(a + power * b for a, b in zip(self, other, strict=True)))


class Unit(NamedTuple):
    """How much of SI a unit is worth, and of what."""

    factor: Fraction
    dimension: Dimension


_NONE, _MASS, _LENGTH = Dimension(), Dimension(mass=1), Dimension(length=1)
_TIME, _TURN, _ANGLE = Dimension(time=1), Dimension(turn=1), Dimension(angle=1)
_FORCE = Dimension(mass=1, length=1, time=-2)
_STRESS = Dimension(mass=1, length=-1, time=-2)
_POWER = Dimension(mass=1, length=2, time=-3)
_FREQUENCY = Dimension(time=-1)

_INCH = Fraction(254, 10_000)  # exact since 1959
_POUND = Fraction(45_359_237, 100_000_000)  # exact since 1959
_GRAVITY = Fraction(980_665, 100_000)  # standard gravity, CGPM 1901
_POUND_FORCE = _POUND * _GRAVITY
_PSI = _POUND_FORCE / _INCH**2
_DEGREE = Fraction(math.pi) / 180

_UNITS: dict[str, Unit] = {
    name: Unit(Fraction(factor), dimension)
    for names, factor, dimension in (
        ("m metre metres meter meters", Fraction(1), _LENGTH),
        ("cm", Fraction(1, 100), _LENGTH),
        ("mm millimetre millimetres millimeter millimeters", Fraction(1, 1000), _LENGTH),
        ("um micron microns micrometre micrometer", Fraction(1, 10**6), _LENGTH),
        ("in inch inches", _INCH, _LENGTH),
        ("ft foot feet", 12 * _INCH, _LENGTH),
        ("thou thousandth thousandths", _INCH / 1000, _LENGTH),
        ("tenth tenths", _INCH / 10_000, _LENGTH),
        ("kg", Fraction(1), _MASS),
        ("g gram grams", Fraction(1, 1000), _MASS),
        ("lb lbs pound pounds", _POUND, _MASS),
        ("oz ounce ounces", _POUND / 16, _MASS),
        ("n newton newtons", Fraction(1), _FORCE),
        ("kn", Fraction(1000), _FORCE),
        ("kgf", _GRAVITY, _FORCE),
        ("lbf", _POUND_FORCE, _FORCE),
        ("pa", Fraction(1), _STRESS),
        ("kpa", Fraction(10**3), _STRESS),
        ("mpa", Fraction(10**6), _STRESS),
        ("gpa", Fraction(10**9), _STRESS),
        ("psi", _PSI, _STRESS),
        ("ksi", 1000 * _PSI, _STRESS),
        ("mpsi", 10**6 * _PSI, _STRESS),
        ("s sec second seconds", Fraction(1), _TIME),
        ("min minute minutes", Fraction(60), _TIME),
        ("rev revs rotation r turn turns", Fraction(1), _TURN),
        ("rpm", Fraction(1, 60), Dimension(time=-1, turn=1)),
        ("ipr", _INCH, Dimension(length=1, turn=-1)),
        ("sfm sfpm fpm", 12 * _INCH / 60, Dimension(length=1, time=-1)),
        ("hz", Fraction(1), _FREQUENCY),
        ("khz", Fraction(1000), _FREQUENCY),
        ("w watt watts", Fraction(1), _POWER),
        ("kw", Fraction(1000), _POWER),
        ("hp", 550 * 12 * _INCH * _POUND_FORCE, _POWER),  # 550 foot-pounds a second
        ("rad radian radians", Fraction(1), _ANGLE),
        ("deg degree degrees", _DEGREE, _ANGLE),
        ("%", Fraction(1, 100), _NONE),
    )
    for name in names.split()
}
# The pound as the shop pulls on a spring balance.
_POUNDS_PULL = dict.fromkeys(("lb", "lbs", "pound", "pounds"), _UNITS["lbf"])

_KINDS: dict[str, tuple[Dimension, ...]] = {
    "length": (_LENGTH,),
    "feed": (Dimension(length=1, turn=-1),),
    "force": (_FORCE,),
    "mass": (_MASS,),
    "stiffness": (Dimension(mass=1, time=-2),),
    "turn stiffness": (Dimension(mass=1, length=2, time=-2, angle=-1),),
    "damping": (Dimension(mass=1, time=-1),),
    "stress": (_STRESS,),
    "density": (Dimension(mass=1, length=-3),),
    "spindle speed": (Dimension(time=-1, turn=1), _FREQUENCY),
    "surface speed": (Dimension(length=1, time=-1),),
    "frequency": (_FREQUENCY,),
    "power": (_POWER,),
    "angle": (_ANGLE,),
    "share": (_NONE,),
    "ratio": (_NONE,),
    "fit": (_LENGTH,),
}

EXAMPLES: dict[str, str] = {
    "length": "1-1/4 in, 32 mm, 15 thou",
    "feed": ".004 ipr, 0.1 mm/rev, 4 thou/rev",
    "force": "120 N, 25 lbf",
    "mass": "0.3 kg, 0.7 lb",
    "stiffness": "60 N/um, 350 lbf/thou, rigid",
    "turn stiffness": "30 kN.m/rad, 400 lbf.ft/deg, rigid",
    "damping": "1000 N.s/m, 6 lbf.s/in",
    "stress": "655 MPa, 95 ksi, 205 GPa",
    "density": "7850 kg/m3, 0.284 lb/in3",
    "spindle speed": "120 rpm, 2 rev/s",
    "surface speed": "18 m/min, 60 sfm",
    "frequency": "95 Hz",
    "power": "750 W, 1/2 hp",
    "angle": "15 deg, 0.26 rad",
    "share": "2 %, 0.02",
    "ratio": "0.3, 1.15",
    "fit": "44 H7, 1.875 +.001 -0 in, 2.500/2.502 in, 50 mm",
}

_NAMES_OF_DIMENSIONS: dict[Dimension, str] = {
    Dimension(mass=1, length=2, time=-2): "a torque",
    Dimension(length=2): "an area",
    Dimension(length=3): "a volume",
    _TIME: "a time",
    _TURN: "a number of turns",
    _FREQUENCY: "a frequency",
    _NONE: "a plain number",
    **{
        dimensions[0]: f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"
        for kind, dimensions in _KINDS.items()
        if kind not in ("share", "ratio", "fit")
    },
}

_TYPED_ANOTHER_WAY = str.maketrans(
    {
        "\N{MICRO SIGN}": "u",
        "\N{GREEK SMALL LETTER MU}": "u",
        "\N{MIDDLE DOT}": ".",
        "\N{DOT OPERATOR}": ".",
        "\N{SUPERSCRIPT TWO}": "2",
        "\N{SUPERSCRIPT THREE}": "3",
        "\N{DEGREE SIGN}": " deg",
        "\N{MINUS SIGN}": "-",
        "\N{EN DASH}": "-",
        "\N{NON-BREAKING HYPHEN}": "-",
        "\N{FRACTION SLASH}": "/",
        "\N{NO-BREAK SPACE}": " ",
        "\N{NARROW NO-BREAK SPACE}": " ",
        "\N{THIN SPACE}": " ",
        "\N{RIGHT DOUBLE QUOTATION MARK}": " in",
        "\N{DOUBLE PRIME}": " in",
        '"': " in",
        "\N{PLUS-MINUS SIGN}": "+/-",
        "\N{VULGAR FRACTION ONE HALF}": " 1/2",
        "\N{VULGAR FRACTION ONE QUARTER}": " 1/4",
        "\N{VULGAR FRACTION THREE QUARTERS}": " 3/4",
        "\N{VULGAR FRACTION ONE EIGHTH}": " 1/8",
        "\N{VULGAR FRACTION THREE EIGHTHS}": " 3/8",
        "\N{VULGAR FRACTION FIVE EIGHTHS}": " 5/8",
        "\N{VULGAR FRACTION SEVEN EIGHTHS}": " 7/8",
    }
)

_DECIMAL = r"(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3}(?![0-9]))?"
_FRACTION = r"[0-9]+/[0-9]+(?![0-9.,])"
_NUMBER = rf"[+-]?(?:[0-9]+[- ]{_FRACTION}|{_FRACTION}|{_DECIMAL})(?![0-9.,])"
_QUANTITY = re.compile(rf"({_NUMBER}) ?(.*)")
_RANGE_BEHIND = re.compile(r"(.+?)\((.+?) to (.+?)\)(.*)", re.IGNORECASE)
_INCH_WORDS = re.compile(r"(?<![a-z])(in|inch|inches|thou|thousandths?|tenths?|ft|foot|feet)\b")
_RANGE_ALONE = re.compile(r"(.+?) to (.+)", re.IGNORECASE)
_ATOM = re.compile(r"([a-z]+|%)(?:\^?([1-3]))?")


def parse_quantity(text: str, kind: str) -> float | Estimate:
    """SI value of a quantity as the shop writes it.

    Parameters
    ----------
    text
        Number and unit, with a range if there is one: ``60 N/um (30 to 150)``. A range alone,
        ``30 to 150 N/um``, takes the geometric mean as likely where both ends are positive,
        else the middle.
    kind
        A key of `EXAMPLES`.

    Raises
    ------
    UnitError
        Whose message says what is there and what would be right.

    Examples
    --------
    >>> parse_quantity("1-1/4 in", "length")
    0.03175
    >>> parse_quantity("60 N/um (30 to 150)", "stiffness")
    Estimate(60000000.0, 30000000.0, 150000000.0)
    """
    plain = _plain(text, kind)
    behind, alone = _RANGE_BEHIND.fullmatch(plain), _RANGE_ALONE.fullmatch(plain)
    if behind:
        likely, low, high = _alike(kind, behind[1] + behind[4], behind[2], behind[3])
    elif alone:
        low, high = _alike(kind, alone[2], alone[1], alone[2])[1:]
        likely = math.sqrt(low * high) if low > 0 and high > 0 else (low + high) / 2
        # A rounded root may step outside a range that is almost nothing.
        likely = min(max(likely, low), high) if low <= high else likely
    else:
        return _single(plain, kind)
    try:
        return Estimate(likely, low, high)
    except ValueError:
        message = f"{quoted(text)}: a range goes from low to high and holds the likely value"
        raise UnitError(message) from None


def parse_fit(text: str) -> Fit:
    """Size and limits from ``44 H7``, ``1.875 +.001 -0 in``, ``2.500/2.502 in`` or ``50 mm``.

    Where two limits are written, the smaller is the nominal size, as for any hole.

    Examples
    --------
    >>> parse_fit("44 H7")
    Fit(nominal=0.044, lower=0.044, upper=0.044025, text='44 H7')
    """
    plain = _plain(text, "fit")
    for read in (_iso_hole, _deviations, _limits):
        found = read(plain)
        if found is not None:
            return Fit(*found, text=text.strip())
    size = _single(plain, "fit")
    return Fit(_positive(size), size, size, text=text.strip())


def show(value: float | Fit, kind: str, system: System = "both") -> str:
    """A quantity in shop words, ASCII only; a range follows where the value has one.

    Examples
    --------
    >>> show(0.03175, "length"), show(0.00002, "length"), show(60e6, "stiffness", "inch")
    ('31.75 mm (1.250 in)', '20 um (0.79 thou)', '343 lbf/thou')
    """
    if system == "both":
        return said(value, kind, "mm")
    return _shown(value, kind)[system == "inch"]


def said(value: float | Fit, kind: str, own: System) -> str:
    """A quantity in its `own` units, the other system's behind it where they differ.

    Examples
    --------
    >>> said(0.03175, "length", "inch"), said(560.0, "power", "mm"), said(0.0, "length", "inch")
    ('1.250 in (31.75 mm)', '560 W (0.751 hp)', '0 in')
    """
    metric, inch = _shown(value, kind)
    first, second = (inch, metric) if own == "inch" else (metric, inch)
    if first == second or value == 0:
        return first
    return f"{first} = {second}" if isinstance(value, Estimate) else f"{first} ({second})"


def stock_size(size: float, own: System) -> str:
    """A length as steel is bought and set out, m, the other system's in brackets.

    Examples
    --------
    >>> stock_size(0.066675, "inch"), stock_size(0.03, "mm"), stock_size(0.0301, "inch")
    ('2-5/8 in (66.7 mm)', '30 mm (1.18 in)', '1.185 in (30.1 mm)')
    """
    scale, unit = (1e-3, "mm") if own == "inch" else (float(_INCH), "in")
    own_words = shop_size(size, own)
    return own_words if size == 0 else f"{own_words} ({_digits(size / scale, 3)} {unit})"


def rough(value: float, kind: str, system: Own) -> str:
    """A quantity with the two digits that a guess can carry; small inches in thou.

    Examples
    --------
    >>> rough(0.0123456, "length", "mm"), rough(81e-6, "length", "inch")
    ('12 mm', '3.2 thou')
    """
    if kind == "length" and 0 < abs(value) < _UNFELT:
        return "under 0.01 um" if system == "mm" else "under 0.001 thou"
    if math.isinf(value):
        return show(value, kind, system)
    if kind == "length" and system == "inch" and _is_fraction(value):
        return shop_size(value, system)
    style = _styles(value, kind)[system == "inch"]
    if kind == "length" and system == "inch" and 0 < abs(value) < _THOU_BELOW:
        style = _Style("thou", 2)
    return _worded(float(value), style._replace(digits=2, fixed=False))


def roughly_between(low: float, high: float, kind: str, own: Own) -> str:
    """Two ends with two digits, in the `own` units and in brackets in the other system's.

    Examples
    --------
    >>> roughly_between(1.7e-6, 6.5e-6, "length", "inch")
    '0.067 to 0.26 thou (1.7 to 6.5 um)'
    """
    other: Own = "mm" if own == "inch" else "inch"
    first, second = (between(low, high, kind, system) for system in (own, other))
    return first if first == second or low == high == 0 else f"{first} ({second})"


def between(low: float, high: float, kind: str, system: Own) -> str:
    """Two ends with two digits, their unit once: `1.7 to 6.5 um`."""
    one, two = rough(low, kind, system), rough(high, kind, system)
    number, _, unit = one.partition(" ")
    if one == two:
        return one
    return f"{number if low == 0 or unit == two.partition(' ')[2] else one} to {two}"


def roughness(low: float, high: float, own: Own) -> str:
    """A mean height of a surface, m, from one end to the other, in um or millionths of an inch.

    Examples
    --------
    >>> roughness(1.7e-6, 4.3e-6, "mm"), roughness(0.8e-6, 0.8e-6, "inch")
    ('1.7 to 4.3 um', '31 uin')
    """
    worth, unit = (1e-6, "um") if own == "mm" else (float(_INCH) / 1e6, "uin")
    first, last = (_digits(end / worth, 2) for end in (low, high))
    return f"{first} {unit}" if first == last else f"{first} to {last} {unit}"


def _is_fraction(length: float) -> bool:
    """Whether a length, m, is a whole number of 64ths of an inch."""
    parts = 64 * length / float(_INCH)
    return parts >= 1 and abs(parts - round(parts)) < 1e-6


def roughly(value: float, kind: str, own: Own) -> str:
    """The same in its `own` units, the other system's in brackets.

    Examples
    --------
    >>> roughly(0.00635, "length", "inch"), roughly(0.03, "length", "mm")
    ('1/4 in (6.3 mm)', '30 mm (1.2 in)')
    """
    other: Own = "mm" if own == "inch" else "inch"
    first, second = rough(value, kind, own), rough(value, kind, other)
    return first if first == second or value == 0 else f"{first} ({second})"


def written_in(text: str) -> Own:
    """Units that a quantity was written in; what is no word of inches is metric.

    Examples
    --------
    >>> written_in("1.875 +.001 -0 in"), written_in("2-1/2 thou"), written_in("44 H7")
    ('inch', 'inch', 'mm')
    """
    return "inch" if _INCH_WORDS.search(text.translate(_TYPED_ANOTHER_WAY).lower()) else "mm"


def shop_size(size: float, system: System) -> str:
    """A bought size, m, as its drawer is labelled: inches in fractions down to 1/64.

    Examples
    --------
    >>> shop_size(0.0079375, "inch"), shop_size(0.0254, "inch"), shop_size(0.008, "mm")
    ('5/16 in', '1 in', '8 mm')
    """
    parts = Fraction(round(64 * size / float(_INCH)), 64)
    exact = abs(float(parts * _INCH) - size) < 1e-6
    if system != "inch" or not exact:
        return show(size, "length", system)
    whole, left = divmod(parts, 1)
    return f"{whole}-{left} in" if whole and left else f"{left or whole} in"


def quoted(text: str, longest: int = 40) -> str:
    """Text of the user, safe to print anywhere: ASCII, no control characters, cut short.

    Examples
    --------
    >>> quoted("1,500 mm")
    '`1,500 mm`'
    """
    short = text if len(text) <= longest else text[: longest - 3] + "..."
    return "`" + short.encode("ascii", "backslashreplace").decode().translate(_ESCAPED) + "`"


_ESCAPED = {code: f"\\x{code:02x}" for code in (*range(32), 127)}


# --- reading ---------------------------------------------------------------------------------


def _plain(text: str, kind: str) -> str:
    """The text with the keyboard's other ways of writing a sign undone, spaces single."""
    if len(text) > LONGEST_TEXT:
        message = (
            f"{len(text)} characters are too many for one quantity; write one such as "
            f"{EXAMPLES[kind]}"
        )
        raise UnitError(message)
    plain = " ".join(text.translate(_TYPED_ANOTHER_WAY).split())
    if not plain:
        message = f"nothing is written here; write a quantity such as {EXAMPLES[kind]}"
        raise UnitError(message)
    return plain


def _single(plain: str, kind: str) -> float:
    """One number with its unit, to SI."""
    if kind.endswith("stiffness") and plain.lower() == "rigid":
        return math.inf
    number, unit = _split(plain, kind)
    return _near(number * _factor(unit, kind, plain), kind, plain)


def _near(value: Fraction, kind: str, plain: str) -> float:
    """A value in SI, refused where no lathe has such."""
    if abs(value) > _FAR:
        message = f"{quoted(plain)} is far beyond any lathe; write one such as {EXAMPLES[kind]}"
        raise UnitError(message)
    return float(value)


def _split(plain: str, kind: str) -> tuple[Fraction, str]:
    """Number and unit text of one quantity."""
    found = _QUANTITY.fullmatch(plain)
    if found is None:
        raise UnitError(_unreadable(plain, kind))
    return _number(found[1]), found[2].strip()


def _number(text: str) -> Fraction:
    """Exact value of ``1-1/4``, ``1 1/4``, ``5/16``, ``.015``, ``1e3`` or ``0,5``."""
    sign = -1 if text.startswith("-") else 1
    text = text.lstrip("+-")
    if "/" in text:
        whole, _, fraction = text.replace(" ", "-").rpartition("-")
        above, below = (int(part) for part in fraction.split("/"))
        if below == 0 or (whole and above >= below):
            message = f"{quoted(text)} is not a fraction; write one such as 1-1/4"
            raise UnitError(message)
        return sign * (int(whole or 0) + Fraction(above, below))
    before, comma, after = text.partition(",")
    if comma and len(after) == 3 and before.strip("0"):
        message = (
            f"{quoted(text)} may be {before}.{after} or {before}{after}; write it with a point "
            "or without the comma"
        )
        raise UnitError(message)
    # Fraction needs a digit before an exponent and takes ".5" and "5." as they are.
    return sign * Fraction(text.replace(",", "."))


def _factor(unit: str, kind: str, whole: str) -> Fraction:
    """SI worth of a unit text, which must be of the wanted kind."""
    wanted = _KINDS[kind]
    if not unit and _NONE not in wanted:
        message = f"{quoted(whole)} has no unit: write a unit, such as {_first_two(kind)}"
        raise UnitError(message)
    found = [_unit(unit, whole, kind, pounds) for pounds in ({}, _POUNDS_PULL)]
    for candidate in found:
        if candidate.dimension in wanted:
            return candidate.factor
    if kind == "feed" and found[0].dimension == _LENGTH:
        message = f"{quoted(whole)} is a length; a feed is per turn, such as {_first_two(kind)}"
        raise UnitError(message)
    names = (_NAMES_OF_DIMENSIONS.get(candidate.dimension) for candidate in found)
    there = next((name for name in names if name), "something else")
    article = "an" if kind[0] in "aeiou" else "a"
    message = f"{quoted(whole)} is {there}; this needs {article} {_said(kind)}, such as "
    raise UnitError(message + _first_two(kind))


def _unit(text: str, whole: str, kind: str, pounds: dict[str, Unit]) -> Unit:
    """Worth of a unit made of known names, such as ``lbf.ft/deg``."""
    factor, dimension = Fraction(1), _NONE
    for name, power in _atoms(text, whole, kind):
        known = pounds.get(name) or _UNITS.get(name)
        if known is None:
            raise UnitError(_unknown_unit(name, whole, kind))
        factor *= known.factor**power
        dimension = dimension.times(known.dimension, power)
    return Unit(factor, dimension)


def _atoms(text: str, whole: str, kind: str) -> Iterator[tuple[str, int]]:
    """Names and powers of a unit text; all that follows a slash is divided by."""
    lowered = re.sub(r"\bper\b", "/", text.lower()).rstrip(".")
    for place, part in enumerate(lowered.split("/") if text else ()):
        for name in re.split(r"[ .*-]+", part.strip()):
            atom = _ATOM.fullmatch(name)
            if atom is None:
                raise UnitError(_unknown_unit(name, whole, kind))
            yield atom[1], int(atom[2] or 1) * (1 if place == 0 else -1)


def _unknown_unit(name: str, whole: str, kind: str) -> str:
    if name in ("mil", "mils"):
        return "a mil is a thou to some and a millimetre to others: write thou or mm"
    why = f" ({quoted(name)} is no unit this knows)" if name.isalpha() else ""
    return _unreadable(whole, kind, why)


def _unreadable(whole: str, kind: str, why: str = "") -> str:
    return f"{quoted(whole)} does not read as a quantity{why}; write one such as {EXAMPLES[kind]}"


def _alike(kind: str, likely: str, low: str, high: str) -> tuple[float, float, float]:
    """Likely, low and high in SI, each borrowing the unit of its neighbour where it has none."""
    likely, low, high = likely.strip(), low.strip(), high.strip()
    units = [_split(part, kind)[1] for part in (likely, low, high)]
    borrowed = (units[2] or units[1], units[2] or units[0], units[0] or units[1])
    likely, low, high = (
        part if unit else f"{part} {other}".rstrip()
        for part, unit, other in zip((likely, low, high), units, borrowed, strict=True)
    )
    return _single(likely, kind), _single(low, kind), _single(high, kind)


def _iso_hole(plain: str) -> tuple[float, float, float] | None:
    """Nominal and limit sizes, m, of ``44 H7``, ``44 mm H7`` or ``44 H7 mm``."""
    found = re.fullmatch(rf"({_NUMBER}) ?(mm)? ?([A-Za-z]{{1,2}}[0-9]{{1,2}}) ?(.*)", plain)
    if found is None or found[3].lower() in ("mm2", "mm3", "in2", "in3"):
        return None
    if found[4] not in ("", "mm"):
        message = f"{quoted(plain)}: an ISO fit is in millimetres; write it such as 44 H7"
        raise UnitError(message)
    size = _number(found[1])
    if found[3][0].islower():
        message = (
            f"{quoted(plain)}: a small letter is a shaft's; for a hole write "
            f"{found[1]} {found[3].upper()}"
        )
        raise UnitError(message)
    try:
        lower, upper = hole_deviations(float(min(size, Fraction(_FAR))), found[3])
    except ValueError as error:
        raise UnitError(str(error)) from None
    ends = (Fraction(lower) / 1000, Fraction(upper) / 1000)
    return _in_metres(size, *ends, Fraction(1, 1000), plain)


def _deviations(plain: str) -> tuple[float, float, float] | None:
    """Nominal and limit sizes, m, of ``1.875 +.001 -0 in`` or ``50 +/-0.01 mm``."""
    signed = rf"[+-] ?(?:{_DECIMAL})"
    both = re.fullmatch(rf"({_NUMBER}) ?([^0-9+/]*?) ?\+/- ?({_DECIMAL}) ?(.*)", plain)
    two = re.fullmatch(
        rf"({_NUMBER}) ?([^0-9+/-]*?) ?({signed}|0) ?(?:[/,] ?)?({signed}|0)(?![0-9.,/]) ?(.*)",
        plain,
    )
    found = both or two
    if found is None:
        _refuse_one_limit(plain, signed)
        return None
    factor = _factor(found[2] or found[found.re.groups], "fit", plain)
    if both:
        width = _number(both[3])
        return _in_metres(_number(both[1]), -width, width, factor, plain)
    ends = sorted(_number(found[group].replace(" ", "")) for group in (3, 4))
    return _in_metres(_number(found[1]), ends[0], ends[1], factor, plain)


def _refuse_one_limit(plain: str, signed: str) -> None:
    """Refuse a size with one deviation, which leaves the other limit open."""
    one = re.fullmatch(rf"({_NUMBER}) ?([^0-9+/-]*?) ({signed})(?![0-9.,/]) ?(.*)", plain)
    if one is None:
        return
    other = "-0" if one[3].startswith("+") else "+0"
    pair = f"{one[3]} {other}" if other == "-0" else f"{other} {one[3]}"
    unit = one[2] or one[4]
    right = quoted(f"{one[1]} {pair} {unit}".rstrip())
    message = f"{quoted(plain)} has one limit; write the other one too, such as {right}"
    raise UnitError(message)


def _limits(plain: str) -> tuple[float, float, float] | None:
    """Nominal and limit sizes, m, of ``2.500/2.502 in``; whole numbers make a fraction instead."""
    found = re.fullmatch(rf"({_DECIMAL}) ?/ ?({_DECIMAL}) ?(.*)", plain)
    if found is None:
        return None
    if not set(".,") & set(found[1] + found[2]):
        if found[2] in ("2", "4", "8", "16", "32", "64", "128"):
            return None
        message = f"{quoted(plain)} reads as a fraction; write limits with a point, 50.0/51.0 mm"
        raise UnitError(message)
    ends = sorted((_number(found[1]), _number(found[2])))
    factor = _factor(found[3], "fit", plain)
    return _in_metres(ends[0], Fraction(0), ends[1] - ends[0], factor, plain)


def _in_metres(
    size: Fraction, lower: Fraction, upper: Fraction, factor: Fraction, plain: str
) -> tuple[float, float, float]:
    nominal, least, most = (
        _near(one * factor, "fit", plain) for one in (size, size + lower, size + upper)
    )
    return nominal, _positive(least), most


def _positive(size: float) -> float:
    if size <= 0:
        message = f"a bore is more than nothing; write its size such as {EXAMPLES['fit']}"
        raise UnitError(message)
    return size


def _first_two(kind: str) -> str:
    return " or ".join(EXAMPLES[kind].split(", ")[:2])


def _said(kind: str) -> str:
    return "size with its limits" if kind == "fit" else kind


# --- showing ---------------------------------------------------------------------------------


def _decimals(number: float, most: int, least: int = 0) -> str:
    """Fixed decimals with idle zeros dropped."""
    if number == 0:
        return "0"
    text = f"{number:.{most}f}"
    whole, point, after = text.partition(".")
    after = after.rstrip("0").ljust(least, "0") if point else ""
    shown = f"{whole}.{after}" if after else whole
    return shown.lstrip("-") if float(shown) == 0 else shown


def _digits(number: float, digits: int) -> str:
    """Significant digits, never as a power of ten inside the shop's range."""
    if number == 0 or not 1e-6 <= abs(number) < 1e15:
        return f"{number:.{digits}g}"
    places = digits - 1 - math.floor(math.log10(abs(number)))
    return _decimals(round(number, places), max(places, 0))


class _Style(NamedTuple):
    """One way of writing a kind: unit, its worth in SI, decimals or significant digits."""

    unit: str
    digits: int
    fixed: bool = False
    least: int = 0

    def number(self, value: float) -> str:
        scaled = value if not self.unit else value / float(_unit(self.unit, "", "", {}).factor)
        if self.fixed:
            return _decimals(scaled, self.digits, self.least)
        return _digits(scaled, self.digits)


def _styles(value: float, kind: str) -> tuple[_Style, _Style]:
    """Metric and inch way of writing a value of this size."""
    if kind == "fit":
        return _STYLES["length"]
    if kind == "length" and 0 < abs(value) < 0.0001:
        # Thou to two decimals: nothing in a shop shows more.
        fine = abs(value) < 0.01 * float(_INCH) / 1000
        return _Style("um", 3), _Style("thou", 1) if fine else _Style("thou", 2, fixed=True)
    if kind == "stress" and value >= 10e9:
        return _Style("GPa", 4), _Style("Mpsi", 4)
    if kind == "power" and value >= 1000:
        return _Style("kW", 3), _Style("hp", 3)
    return _STYLES[kind]


_STYLES: dict[str, tuple[_Style, _Style]] = {
    "length": (_Style("mm", 3, fixed=True), _Style("in", 4, fixed=True, least=3)),
    "feed": (_Style("mm/rev", 4, fixed=True), _Style("ipr", 4, fixed=True, least=3)),
    "force": (_Style("N", 3), _Style("lbf", 3)),
    "mass": (_Style("kg", 3), _Style("lb", 3)),
    "stiffness": (_Style("N/um", 3), _Style("lbf/thou", 3)),
    "turn stiffness": (_Style("kN.m/rad", 3), _Style("lbf.ft/deg", 3)),
    "damping": (_Style("N.s/m", 3), _Style("lbf.s/in", 3)),
    "stress": (_Style("MPa", 4), _Style("ksi", 4)),
    "density": (_Style("kg/m3", 4), _Style("lb/in3", 3)),
    "spindle speed": (_Style("rpm", 4), _Style("rpm", 4)),
    "surface speed": (_Style("m/min", 3), _Style("sfm", 3)),
    "frequency": (_Style("Hz", 4), _Style("Hz", 4)),
    "power": (_Style("W", 3), _Style("hp", 3)),
    "angle": (_Style("deg", 4), _Style("deg", 4)),
    "torque": (_Style("N.m", 3), _Style("lbf.in", 3)),
    "unbalance": (_Style("g mm", 3), _Style("oz in", 3)),
    "share": (_Style("%", 3), _Style("%", 3)),
    "ratio": (_Style("", 4), _Style("", 4)),
}


def _shown(value: float | Fit, kind: str) -> tuple[str, str]:
    """A value in metric and in inch words."""
    if isinstance(value, Fit):
        return _limits_shown(value)
    if math.isinf(value):
        word = "rigid" if kind.endswith("stiffness") else "no limit"
        return word, word
    metric, inch = (_worded(value, style) for style in _styles(value, kind))
    return metric, inch


def _worded(value: float, style: _Style) -> str:
    text = f"{style.number(value)} {style.unit}".rstrip()
    if not isinstance(value, Estimate):
        return text
    return f"{text} ({style.number(value.low)} to {style.number(value.high)})"


def _limits_shown(fit: Fit) -> tuple[str, str]:
    """Limits of a bore in millimetres and inches."""
    metric, inch = (
        f"{style.number(fit.lower)} {style.unit}"
        if fit.lower == fit.upper
        else f"{style.number(fit.lower)} to {style.number(fit.upper)} {style.unit}"
        for style in _STYLES["length"]
    )
    return metric, inch
