"""The published checks: known answers, with their sources, held against our own beam.

Each expected value is typed as its source prints it, or as a cited formula gives it, and each
got value comes out of the beam, modes and whirl that a case runs through; nothing evaluates the
same formula on both sides. `kind` says what the reference is worth: ``exact`` (a closed form or
the root of a characteristic equation), ``published`` (a number in a book, paper or benchmark),
``measured``, ``other code`` (an independent finite-element program) or ``regression`` (our own
earlier answer, never evidence). "From memory" marks a source that was not open on the desk.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from math import inf
from typing import Literal

from . import balance, fatigue, holding
from . import reference_bars as bars
from . import stress_raiser as raiser
from .finish import ideal_roughness
from .material import BarMaterial
from .reference_bars import SPAN, ends, spring
from .section import shear_coefficient
from .strength import bending_stress
from .timoshenko import Mount

Holds = tuple[Mount, ...]
Kind = Literal["exact", "published", "measured", "other code", "regression"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One known answer.

    Attributes
    ----------
    id : row number, such as 1.13a
    what, inputs, source : in words
    kind : what the reference is worth
    expected : in `unit`
    tolerance : relative, and `why` it is that
    compute : our answer, in `unit`
    """

    id: str
    what: str
    inputs: str
    source: str
    kind: Kind
    expected: float
    unit: str
    tolerance: float
    why: str
    compute: Callable[[], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """A check rerun: what we got, and its relative difference from what was expected."""

    check: Check
    got: float

    @property
    def expected(self) -> float:
        """The known answer, in the check's unit."""
        return self.check.expected

    @property
    def difference(self) -> float:
        """Got over expected, less one."""
        return self.got / self.check.expected - 1.0

    @property
    def ok(self) -> bool:
        """Whether the difference is within the tolerance; never so for a NaN."""
        return abs(self.difference) <= self.check.tolerance


def run_checks(chosen: Iterable[Check] | None = None) -> tuple[Result, ...]:
    """Rerun the checks, all of them unless some are chosen."""
    return tuple(
        Result(check=check, got=float(check.compute()))
        for check in (checks() if chosen is None else chosen)
    )


def checks() -> tuple[Check, ...]:
    """Every check, in the order of its row."""
    return _lettered(
        [
            *_statics_between_ideal_ends(),
            *_statics_on_springs(),
            *_size_and_length(),
            *_uniform_beams(),
            *_elastic_ends(),
            *_carried_mass(),
            *_timoshenko(),
            *_nafems(),
            *_rotors(),
            *_unbalance(),
            *_stress_raisers(),
            *_fatigue(),
            *_set_screws(),
            *_shear_moduli(),
            *_ideal_finish(),
            *_balance_grades(),
        ]
    )


# --- how a row is made ----------------------------------------------------------------------

ROUND_OFF = 1e-6
WHY_ROUND_OFF = "the shear give left in an Euler bar, the mesh and round-off"


def _family(
    row: str,
    what: str,
    inputs: str,
    expected: str,
    compute: Callable[[int], float],
    *,
    source: str,
    kind: Kind,
    unit: str = "",
    each: Sequence[str] = (),
    more: float = ROUND_OFF,
    why: str = WHY_ROUND_OFF,
) -> list[Check]:
    """Rows that share a set-up, one for each number in `expected`, which are typed as printed.

    Row k is `compute(k)`, its inputs the common ones and ``each[k]``. The tolerance is half a
    unit of the last printed digit and `more`, which is there because of `why`.
    """
    made = []
    for k, text in enumerate(expected.split()):
        value, half_unit = _as_printed(text)
        made.append(
            Check(
                id=row,
                what=what,
                inputs=f"{inputs}, {each[k]}" if each else inputs,
                source=source,
                kind=kind,
                expected=value,
                unit=unit,
                tolerance=half_unit + more,
                why=f"half a unit of the last digit, {half_unit:.0e}, and {more:.0e} for {why}",
                compute=partial(compute, k),
            )
        )
    return made


def _as_printed(text: str) -> tuple[float, float]:
    """Value of a printed number, and half a unit of its last digit over it; a fraction has none.

    Examples
    --------
    >>> _as_printed("0.250"), _as_printed("7/768")[1]
    ((0.25, 0.002), 0.0)
    """
    if "/" in text:
        return float(Fraction(text)), 0.0
    decimals = len(text.partition(".")[2])
    return float(text), 0.5 * 10.0**-decimals / abs(float(text))


def _lettered(made: Iterable[Check]) -> tuple[Check, ...]:
    """Give the rows that share a number the letters a, b, c after it."""
    made = list(made)
    total, seen = Counter(check.id for check in made), Counter[str]()
    lettered = []
    for check in made:
        letter = chr(ord("a") + seen[check.id]) if total[check.id] > 1 else ""
        seen[check.id] += 1
        lettered.append(replace(check, id=check.id + letter))
    return tuple(lettered)


# --- statics --------------------------------------------------------------------------------

BAR = "steel bar dia 25 mm, 400 mm between supports, E 205 GPa"
PUSHED = f"{BAR}, 100 N"
ROARK = (
    "W. C. Young & R. G. Budynas, Roark's Formulas for Stress and Strain, 7th ed., table 8.1 "
    "(from memory)"
)
FORCE_METHOD = "force method, with Roark's formulas for the parts (from memory)"
INDEPENDENT = "an independent finite-element program, Euler and Timoshenko elements"
PLACES = (0.1, 0.2, 0.3)
AT = ("load 100 mm from the drive end", "load at mid-span", "load 300 mm from the drive end")

PINNED = ends("pinned", "pinned")
CLAMPED_PINNED = ends("clamped", "pinned")
CLAMPED = ends("clamped", "clamped")
CANTILEVER = ends("clamped", "free")
TWO_SPRINGS = spring(0.0, 30e6, ground=True), spring(SPAN, 20e6)
TAIL_SPRING = spring(0.0, inf, inf, ground=True), spring(SPAN, 20e6)
CHUCK = spring(0.0, 30e6, 2e4, ground=True), spring(SPAN, 20e6)


def _statics_between_ideal_ends() -> list[Check]:
    def highest(holds: Holds, place: float, k: int) -> float:
        height, station = bars.highest_point(holds, place)
        return (height, (station if holds is PINNED else SPAN - station) * 1e3)[k]

    def largest(row: str, holds: Holds, place: float, values: str) -> list[Check]:
        ideal = "pinned" if holds is PINNED else "clamped and pinned"
        inputs = f"{PUSHED}, {ideal}, load {place * 1e3:.0f} mm from the drive end"
        height, station = values.split()
        compute = partial(highest, holds, place)
        measured_from = "drive end" if holds is PINNED else "pin"
        return [
            *_family(
                row,
                "largest deflection anywhere",
                inputs,
                height,
                compute,
                source=ROARK,
                kind="exact",
                unit="um",
            ),
            *_family(
                row,
                f"its place from the {measured_from}",
                inputs,
                station,
                lambda _: compute(1),
                source=ROARK,
                kind="exact",
                unit="mm",
            ),
        ]

    def under_load(row: str, ideal: str, holds: Holds, values: str, case: str) -> list[Check]:
        places = (*PLACES, SPAN)
        return _family(
            row,
            "deflection under the load",
            f"{PUSHED}, {ideal}",
            values,
            lambda k: bars.deflection(holds, places[k]),
            source=f"{ROARK}, case {case}",
            kind="exact",
            unit="um",
            each=(*AT, "load at the free end"),
        )

    def worst(what: str, value: str, number: int, source: str, unit: str = "") -> list[Check]:
        def compute(_: int) -> float:
            found, place = bars.worst_place("clamped", "pinned")
            in_um = found * bars.FORCE * SPAN**3 / bars.reference_segment().bending_bit * 1e6
            return (found, in_um, 1.0 - place / SPAN)[number]

        place = number == 2
        return _family(
            "1.7",
            what,
            f"{PUSHED}, clamped and pinned, load at its worst place",
            value,
            compute,
            source=source,
            kind="exact",
            unit=unit,
            more=1e-4 if place else ROUND_OFF,
            why="the place of a maximum, which is flat" if place else WHY_ROUND_OFF,
        )

    return [
        *under_load("1.1", "pinned", PINNED, "19.0800 33.9199 19.0800", "1e"),
        *largest("1.2", PINNED, 0.1, "23.7023 176.393"),
        *under_load(
            "1.3", "clamped and pinned", CLAMPED_PINNED, "4.47187 14.83997 11.62685", "1c"
        ),
        *_family(
            "1.4",
            "deflection under the load over P L^3/EI",
            "clamped and pinned, load at mid-span",
            "7/768",
            lambda _: bars.coefficient(CLAMPED_PINNED, SPAN / 2),
            source="force method; in any table of beams",
            kind="exact",
        ),
        *largest("1.5", CLAMPED_PINNED, 0.1, "6.64279 208.893"),
        *largest("1.5", CLAMPED_PINNED, 0.2, "15.16945 178.885"),
        *largest("1.6", CLAMPED_PINNED, 0.3, "12.95606 144.681"),
        *worst("deflection over P L^3/EI", "0.0098124172", 0, f"{ROARK}, case 1c, 0.0098 there"),
        *worst("deflection", "15.97615", 1, f"{ROARK}, case 1c", "um"),
        *worst("place from the pin over L", "0.41421356", 2, f"{ROARK}, case 1c, sqrt(2) - 1"),
        *under_load("1.8", "clamped", CLAMPED, "3.57749 8.47998 3.57749", "1d"),
        *under_load(
            "1.9", "clamped and free", CANTILEVER, "8.47998 67.83986 228.9595 542.7189", "1a"
        ),
        *_shear("1.10", "pinned, load at mid-span", PINNED, SPAN / 2, "0.289512", "34.20944"),
        *_shear("1.11", "cantilever, load at the tip", CANTILEVER, SPAN, "1.158048", "543.8769"),
        *_family(
            "1.18",
            "tip deflection of a stepped cantilever",
            "dia 30 mm by 100 mm at the root, dia 20 mm by 100 mm at the tip, E 205 GPa, 100 N",
            "49.32957",
            lambda _: bars.stepped_tip((0.03, 0.02), (0.1, 0.1)),
            source="Castigliano's theorem: P/3E [(L^3 - L2^3)/I1 + L2^3/I2]",
            kind="exact",
            unit="um",
        ),
        *_family(
            "1.20",
            "sag at mid-span under own weight",
            f"{BAR}, 7850 kg/m3, pinned",
            "3.2045",
            lambda _: bars.sag(PINNED),
            source=f"{ROARK}, 5 w L^4 / 384 E I",
            kind="exact",
            unit="um",
        ),
        *_family(
            "1.20",
            "largest sag under own weight",
            f"{BAR}, 7850 kg/m3, clamped and pinned",
            "1.3303",
            lambda _: bars.sag(CLAMPED_PINNED),
            source=f"{ROARK}, w L^4 / 185 E I",
            kind="published",
            unit="um",
            more=2.5e-3,
            why="the books' 185, which is 184.6 rounded",
        ),
    ]


def _shear(
    row: str, ideal: str, holds: Holds, place: float, share: str, whole: str
) -> list[Check]:
    inputs = f"{PUSHED}, nu 0.29, {ideal}"
    formula = "PL/4kGA" if holds is PINNED else "PL/kGA"
    return [
        *_family(
            row,
            "share of the deflection that is shear",
            inputs,
            share,
            lambda _: bars.shear_deflection(holds, place),
            source=f"S. P. Timoshenko, Phil. Mag. 41 (1921) 744 (from memory): {formula}",
            kind="exact",
            unit="um",
            more=1e-4,
            why="the round-off of the Euler bar, 1e-7 of the whole, which is taken away",
        ),
        *_family(
            row,
            "deflection with shear",
            inputs,
            whole,
            lambda _: bars.deflection(holds, place, shear=True),
            source=f"{ROARK} with Timoshenko's {formula}",
            kind="exact",
            unit="um",
        ),
    ]


def _statics_on_springs() -> list[Check]:
    def under_load(
        row: str,
        inputs: str,
        holds: Holds,
        values: str,
        source: str,
        kind: Kind,
        *,
        shear: bool = False,
    ) -> list[Check]:
        return _family(
            row,
            "deflection under the load" + (" with shear" if shear else ""),
            f"{PUSHED}, {inputs}",
            values,
            lambda k: bars.deflection(holds, PLACES[k], shear=shear),
            source=source,
            kind=kind,
            unit="um",
            each=AT,
        )

    tilts = (1e3, 1e4, 1e5)
    tilted = [(spring(0.0, inf, tilt, ground=True), spring(SPAN, inf)) for tilt in tilts]
    each = tuple(f"tilt spring {tilt:.0e} N m/rad" for tilt in tilts)
    chuck = "drive 30 N/um and 2e4 N m/rad, tail 20 N/um"
    return [
        *under_load(
            "1.13",
            "drive 30 N/um, tail 20 N/um",
            TWO_SPRINGS,
            "21.26746 36.00326 22.10079",
            "statics: P a^2 b^2/3EIL + P [(b/L)^2/k1 + (a/L)^2/k2]",
            "exact",
        ),
        *under_load(
            "1.14",
            "drive clamped, tail 20 N/um",
            TAIL_SPRING,
            "4.50845 15.32379 13.61083",
            FORCE_METHOD,
            "exact",
        ),
        *_family(
            "1.14",
            "what the tail takes",
            f"{PUSHED}, drive clamped, tail 20 N/um",
            "8.5153 30.9647 62.7036",
            lambda k: bars.support_load(TAIL_SPRING, PLACES[k], 1, 0),
            source=f"{FORCE_METHOD}: [P x^2 (3L - x)/6EI] / (L^3/3EI + 1/k)",
            kind="exact",
            unit="N",
            each=AT,
        ),
        *_family(
            "1.15",
            "deflection under the load",
            f"{PUSHED}, pinned, load at mid-span",
            "33.29397 29.08726 19.18423",
            lambda k: bars.deflection(tilted[k], SPAN / 2),
            source=FORCE_METHOD,
            kind="exact",
            unit="um",
            each=each,
        ),
        *_family(
            "1.15",
            "moment in the tilt spring",
            f"{PUSHED}, pinned, load at mid-span",
            "0.24605 1.89964 5.79235",
            lambda k: bars.support_load(tilted[k], SPAN / 2, 0, 3),
            source=FORCE_METHOD,
            kind="exact",
            unit="N m",
            each=each,
        ),
        *under_load("1.16", chuck, CHUCK, "15.56298 28.21278 18.82598", INDEPENDENT, "other code"),
        *under_load(
            "1.17",
            chuck,
            CHUCK,
            "15.78500 28.50896 19.04591",
            INDEPENDENT,
            "other code",
            shear=True,
        ),
    ]


def _size_and_length() -> list[Check]:
    def given(k: int) -> float:
        middle = SPAN / 2
        if k == 2:
            return bars.worst_place("clamped", "pinned")[0]
        return bars.coefficient((PINNED, CLAMPED_PINNED, (), CLAMPED)[k], middle)

    each = (
        "pinned, load at mid-span",
        "clamped and pinned, load at mid-span",
        "clamped and pinned, load at its worst place",
        "clamped, load at mid-span",
    )
    return [
        *_family(
            "1.21",
            "diameter error of the bore",
            f"{BAR}, pinned, pushed 19.08 um out of the cut at the bit; bore dia 30 mm",
            "-38.16",
            lambda _: bars.bore_error(-19.08e-6, 0.0, 0.015) * 1e6,
            source="geometry: twice the radial deflection, the bore small",
            kind="exact",
            unit="um",
            more=1e-9,
            why="round-off",
        ),
        *_family(
            "1.22",
            "radius error of the bore",
            f"{BAR}, pinned, pushed 0.10 mm sideways at the bit; bore radius 15 mm",
            "0.3333296",
            lambda _: bars.bore_error(0.0, 1e-4, 0.015) / 2 * 1e6,
            source="geometry: sqrt(R^2 + t^2) - R",
            kind="exact",
            unit="um",
            more=2e-5,
            why="t^2/4R^2 = 1.1e-5, the next term after the t^2/2R that the program keeps",
        ),
        *_family(
            "1.23",
            "length of the cantilever as stiff, over L",
            BAR,
            "0.396850 0.301268 0.308768 0.250000",
            lambda k: bars.equal_cantilever(given(k)),
            source="P Lc^3/3EI = c P L^3/EI, with Roark's coefficients c (from memory)",
            kind="exact",
            each=each,
        ),
        *_family(
            "1.24",
            "longest bar over its diameter, by the 4:1 rule for steel overhangs",
            BAR,
            "10.1 13.3 13.0 16.0",
            lambda k: 4.0 / bars.equal_cantilever(given(k)),
            source="makers' rule of thumb for boring bars in steel, with row 1.23",
            kind="exact",
            each=each,
        ),
        *_family(
            "9.7",
            "stiffness of a bar one size thicker, over the thinner one's",
            "1 in and 1-1/8 in bars of 400 mm, pinned, load at mid-span",
            "1.602",
            lambda _: bars.thicker_bar(0.0254, 0.028575),
            source="the fourth power of the diameter",
            kind="exact",
        ),
    ]


# --- modes ----------------------------------------------------------------------------------

BLEVINS = (
    "R. D. Blevins, Formulas for Natural Frequency and Mode Shape, table 8-1 (from memory; the "
    "digits are quoted in public test files)"
)
NUMBER = "frequency number, root of w L^2 sqrt(rho A/EI)"
PLAIN = "uniform Euler bar"
MODES = tuple(f"mode {k}" for k in range(1, 6))


def _uniform_beams() -> list[Check]:
    def numbers(
        row: str, drive: str, tail: str, values: str, source: str, kind: Kind
    ) -> list[Check]:
        holds, count = ends(drive, tail), len(values.split())
        return _family(
            row,
            NUMBER,
            f"{PLAIN}, {drive} and {tail}",
            values,
            lambda k: bars.euler_roots(holds, count)[k],
            source=source,
            kind=kind,
            each=MODES,
        )

    four = (PINNED, CLAMPED_PINNED, CLAMPED, CANTILEVER)
    each = ("pinned", "clamped and pinned", "clamped", "clamped and free")
    return [
        *numbers(
            "2.1",
            "pinned",
            "pinned",
            "3.14159265359 6.28318530718 9.42477796077 12.5663706144",
            f"{BLEVINS}: n pi",
            "published",
        ),
        *numbers(
            "2.2",
            "clamped",
            "pinned",
            "3.92660231205 7.06858274563 10.2101761228 13.3517687778",
            f"{BLEVINS}: tan = tanh",
            "published",
        ),
        *numbers(
            "2.3",
            "clamped",
            "clamped",
            "4.73004074486 7.8532046241 10.9956078380 14.1371654913",
            f"{BLEVINS}: cos cosh = 1",
            "published",
        ),
        *numbers(
            "2.4",
            "clamped",
            "free",
            "1.87510406871 4.69409113297 7.85475743824 10.9955407349",
            f"{BLEVINS}: cos cosh = -1",
            "published",
        ),
        *numbers(
            "2.5",
            "clamped",
            "guided",
            "2.36502037243 5.49780391900",
            "characteristic equation tan = -tanh",
            "exact",
        ),
        *_family(
            "2.6",
            "first mode without shear or rotary inertia",
            f"{BAR}, 7850 kg/m3",
            "313.5610 489.8421 710.8075 111.7051",
            lambda k: bars.euler_frequencies(four[k], 4)[0],
            source="f = l^2/(2 pi L^2) sqrt(EI/rho A), with the roots of rows 2.1 to 2.4",
            kind="exact",
            unit="Hz",
            each=each,
        ),
        *_family(
            "2.7",
            "first mode with shear and rotary inertia",
            f"{BAR}, 7850 kg/m3, nu 0.29",
            "312.0957 484.5069 697.6357 111.4581",
            lambda k: bars.frequencies(four[k], 1)[0],
            source=f"{INDEPENDENT}, 80 elements",
            kind="other code",
            unit="Hz",
            each=each,
            more=5e-6,
            why="the other program's mesh of 80 two-node elements",
        ),
    ]


def _elastic_ends() -> list[Check]:
    def numbers(row: str, inputs: str, holds: Holds, values: str, equation: str) -> list[Check]:
        return _family(
            row,
            NUMBER,
            f"{PLAIN}, {inputs}",
            values,
            lambda k: bars.euler_roots(holds, 3)[k],
            source=f"characteristic equation {equation}",
            kind="exact",
            each=MODES,
        )

    tail = "l^3 (1 + cos cosh) + K (cosh sin - sinh cos) = 0, K = k L^3/EI"
    tilt = "2 l sin sinh + R (sin cosh - cos sinh) = 0, R = kt L/EI"
    equal = (
        "of a bar on two equal springs, l^3 (cos l/2 sinh l/2 + sin l/2 cosh l/2) = 2 K cos cosh "
        "of l/2 or l^3 (sin cosh - cos sinh) = 2 K sin sinh of l/2"
    )
    made: list[Check] = []
    holds: Holds
    for value, printed in _TAIL_SPRING.items():
        holds = (spring(0.0, inf, inf, ground=True), bars.spring_ends(value, 0.0)[1])
        made += numbers("2.8", f"clamp and tail spring K = {value:g}", holds, printed, tail)
    for value, printed in _TILT_SPRING.items():
        holds = bars.spring_ends(inf, value)
        made += numbers("2.9", f"pinned, tilt spring R = {value:g}", holds, printed, tilt)
    for value, printed in _EQUAL_SPRINGS.items():
        holds = bars.equal_springs(value)
        made += numbers("2.10", f"equal end springs K = {value:g}", holds, printed, equal)
    chuck = f"{BAR}, drive 30 N/um and 2e4 N m/rad, tail 20 N/um"
    made += _family(
        "2.12",
        "frequency without shear or rotary inertia",
        chuck,
        "339.0069 1046.268 1841.180",
        lambda k: bars.euler_frequencies(CHUCK, 3)[k],
        source="characteristic equation of an Euler bar on three springs",
        kind="exact",
        unit="Hz",
        each=MODES,
    )
    return made + _family(
        "2.12",
        "frequency with shear and rotary inertia",
        chuck,
        "337.2766 1034.609 1814.139",
        lambda k: bars.frequencies(CHUCK, 3)[k],
        source=INDEPENDENT,
        kind="other code",
        unit="Hz",
        each=MODES,
        more=2e-5,
        why="the other program's mesh, as the exact roots show (tests/verification)",
    )


_TAIL_SPRING = {
    1.0: "2.01000332 4.70379426 7.85682355",
    10.0: "2.63892470 4.79377085 7.87565294",
    100.0: "3.64054172 5.61599608 8.08408694",
    1000.0: "3.89780081 6.87628556 9.55252762",
    10000.0: "3.92373752 7.05070287 10.1549842",
}
_TILT_SPRING = {
    0.1: "3.15718053 6.29107025 9.43005214",
    1.0: "3.27328605 6.35598537 9.47486205",
    10.0: "3.66464420 6.68743310 9.75157221",
    100.0: "3.88918500 7.00322722 10.1185457",
}
_EQUAL_SPRINGS = {
    10.0: "2.03234136 2.76660911 4.91338272",
    100.0: "2.87675069 4.66378460 6.07617114",
    1000.0: "3.11106347 6.03706304 8.56559446",
}


def _carried_mass() -> list[Check]:
    ratios = (0.25, 0.5, 1.0, 2.0, 5.0)
    each = tuple(f"mass {ratio:g} of the bar's" for ratio in ratios)
    return [
        *_family(
            "2.13",
            NUMBER,
            f"{PLAIN}, pinned, mass at mid-span",
            "2.83758115 2.63931433 2.38319069 2.09598278 1.71984679",
            lambda k: bars.euler_roots(PINNED, 1, bars.middle_mass(ratios[k]))[0],
            source="characteristic equation (tan l/2 - tanh l/2) m l/4 = 1",
            kind="exact",
            each=each,
        ),
        *_family(
            "2.13",
            "how much Rayleigh's estimate is above the mode",
            f"{PLAIN}, pinned, mass at mid-span",
            "0.316 0.176 0.077 0.028 0.006 0.72",
            lambda k: bars.rayleigh_error((*ratios, 0.0)[k]),
            source="48EI/L^3 over M + 17m/35; Blevins prints 0.4857 m (from memory)",
            kind="exact",
            unit="%",
            each=(*each, "no mass"),
        ),
    ]


def _timoshenko() -> list[Check]:
    cowper = "G. R. Cowper, J. Appl. Mech. 33 (1966) 335 (from memory)"
    lee = (
        "J. Lee & W. W. Schultz, J. Sound Vib. 269 (2004) 609, table for pinned ends (from memory)"
    )
    made = _family(
        "2.17",
        "shear coefficient of a solid circle",
        "",
        "0.886364 0.885584",
        lambda k: shear_coefficient((0.30, 0.29)[k]),
        source=cowper,
        kind="published",
        each=("nu 0.30", "nu 0.29"),
    )
    for depth, printed in _LEE_SCHULTZ.items():
        made += _family(
            "2.19",
            NUMBER,
            f"rectangular bar, pinned, depth {depth:g} L, nu 0.3, kappa 5/6",
            printed,
            partial(_rectangular_root, "pinned", "pinned", depth),
            source=lee,
            kind="published",
            each=MODES,
        )
    for tail, printed in _CLAMPED_RECTANGULAR.items():
        made += _family(
            "2.21",
            NUMBER,
            f"rectangular bar, clamped and {tail}, depth 0.1 L, nu 0.3, kappa 5/6",
            printed,
            partial(_rectangular_root, "clamped", tail, 0.1),
            source=INDEPENDENT,
            kind="other code",
            each=MODES,
            more=1.5e-5,
            why="the other program's mesh, as the exact roots show (tests/verification)",
        )
    for slenderness, printed in _SHEAR_RATIO.items():
        made += _family(
            "2.22",
            "frequency with shear and rotary inertia over that without",
            f"round bar, pinned, length {slenderness:g} diameters, nu 0.29",
            printed,
            partial(_shear_ratio, slenderness),
            source="Timoshenko's frequency equation for pinned ends, with Cowper's coefficient",
            kind="exact",
            each=MODES,
            more=1e-5,
            why="the shear give left in an Euler bar so short",
        )
    return made


def _rectangular_root(drive: str, tail: str, depth: float, k: int) -> float:
    return bars.rectangular_roots(drive, tail, depth, 5)[k]


def _shear_ratio(slenderness: float, k: int) -> float:
    return bars.shear_ratio(slenderness, 3)[k]


_LEE_SCHULTZ = {
    0.05: "3.13498 6.23136 9.25537 12.1813 14.9926",
    0.1: "3.11568 6.09066 8.84052 11.3431 13.6132",
    0.2: "3.04533 5.67155 7.83952 9.65709 11.2220",
}
_CLAMPED_RECTANGULAR = {
    "free": "1.867714 4.572411 7.415444",
    "pinned": "3.851761 6.730591 9.366008",
}
_SHEAR_RATIO = {
    4.0: "0.93368 0.80089 0.67446",
    8.0: "0.98178 0.93368 0.86944",
    16.0: "0.99533 0.98178 0.96065",
    20.0: "0.99700 0.98820 0.97415",
}


def _nafems() -> list[Check]:
    return [*_double_cross(), *_deep_beam()]


def _double_cross() -> list[Check]:
    """FV2: arms joined rigidly at the middle of a cross or a star, in its plane."""
    nafems = "NAFEMS Selected Benchmarks for Natural Frequency Analysis, test FV2"
    arms = "5 m long, 0.125 m square, E 200 GPa, 8000 kg/m3, joined rigidly, outer ends pinned"

    def rows(
        n_arm: int,
        picked: tuple[int, ...],
        values: str,
        source: str,
        kind: Kind,
        more: float = ROUND_OFF,
        why: str = WHY_ROUND_OFF,
    ) -> list[Check]:
        return _family(
            "2.23",
            "frequency in the plane",
            f"{n_arm} arms {arms}",
            values,
            lambda k: bars.star_frequencies(n_arm)[picked[k]],
            source=source,
            kind=kind,
            unit="Hz",
            each=tuple(f"mode {k + 1}" for k in picked),
            more=more,
            why=why,
        )

    single = "each arm as a pinned, or a clamped and pinned, Euler bar (rows 2.1 and 2.2)"
    coarse = "the other program's mesh of 8 elements an arm"
    return [
        *rows(4, (0, 3, 4, 7), "11.336 17.709 45.345 57.390", nafems, "published"),
        *rows(
            8,
            (0, 3, 7, 8, 11, 15),
            "11.33625 17.70938 17.70938 45.34498 57.38973 57.38973",
            single,
            "exact",
        ),
        *rows(
            8,
            (1, 2, 9, 10),
            "17.681 17.681 57.098 57.098",
            INDEPENDENT,
            "other code",
            1e-3,
            coarse,
        ),
    ]


def _deep_beam() -> list[Check]:
    """FV5: a beam five times as long as it is deep, where shear decides."""
    inputs = "10 m by 2 m by 2 m, E 200 GPa, nu 0.3, 8000 kg/m3, simply supported"
    nafems = "NAFEMS Selected Benchmarks for Natural Frequency Analysis, test FV5 (from memory)"
    kinds = ("bit", "torsion", "axial", "across", "torsion", "bit")
    orders = (0, 0, 0, 1, 1, 2)
    names = ("bending", "torsion", "axial", "bending", "torsion", "bending")
    kappa = {"0.85": "42.646 148.16 283.49", "5/6": "42.609 147.79 282.36"}
    made = _family(
        "FV5",
        "frequency",
        f"{inputs}, kappa 0.85, torsion constant the polar moment",
        "42.649 77.542 125.00 148.31 233.10 284.55",
        lambda k: bars.deep_beam(0.85)[kinds[k]][orders[k]],
        source=nafems,
        kind="published",
        unit="Hz",
        each=tuple(f"{name} {order + 1}" for name, order in zip(names, orders, strict=True)),
        more=4e-3,
        why="the target's shear coefficient, not stated: 5/6 and 0.85 part by 4e-3",
    )
    for coefficient, printed in kappa.items():
        made += _family(
            "FV5",
            "bending frequency",
            f"{inputs}, kappa {coefficient}",
            printed,
            partial(_deep_bending, float(Fraction(coefficient))),
            source="Timoshenko's frequency equation for pinned ends",
            kind="exact",
            unit="Hz",
            each=MODES,
        )
    return made + _family(
        "FV5",
        "frequency of bar waves",
        inputs,
        "125.00 77.522 232.57",
        lambda k: bars.deep_beam(0.85)[("axial", "torsion", "torsion")[k]][k // 2],
        source="c/4L and 3c/4L, with c = sqrt(E/rho) or sqrt(G/rho)",
        kind="exact",
        unit="Hz",
        each=("axial 1", "torsion 1", "torsion 2"),
    )


def _deep_bending(coefficient: float, k: int) -> float:
    return bars.deep_beam(coefficient)["bit"][k]


# --- rotors ---------------------------------------------------------------------------------


def _rotors() -> list[Check]:
    friswell = (
        "M. I. Friswell, J. E. T. Penny, S. D. Garvey & A. W. Lees, Dynamics of Rotating "
        "Machines, Cambridge 2010, example 5.9.1; digits as an open rotor library prints them"
    )
    rotor = "two discs on a shaft 1.5 m by dia 50 mm, bearings 1 MN/m"
    pairs = ("first pair", "second pair", "third pair")
    whirls = ("backward 1", "forward 1", "backward 2", "forward 2", "backward 3", "forward 3")
    at_speed = 4000 / 60

    def same_mesh(row: str, spin: float, step: int, values: str) -> list[Check]:
        return _family(
            row,
            "whirl speed",
            f"{rotor}, {spin * 60:.0f} rpm, 6 two-node elements",
            values,
            lambda k: bars.two_disc_whirl(6, spin)[k * step],
            source=friswell,
            kind="published",
            unit="rad/s",
            each=pairs if step == 2 else whirls,
            more=2e-9,
            why="round-off: our elements, condensed to their ends, are the book's own",
        )

    def converged(row: str, spin: float, step: int, values: str) -> list[Check]:
        return _family(
            row,
            "whirl speed, converged",
            f"{rotor}, {spin * 60:.0f} rpm, kappa 0.925",
            values,
            lambda k: bars.converged_whirl(spin, 0.925)[k * step],
            source=f"{INDEPENDENT}, 60 elements",
            kind="other code",
            unit="rad/s",
            each=pairs if step == 2 else whirls,
            more=5e-6,
            why="the other program's mesh of 60 two-node elements",
        )

    return [
        *same_mesh("2.24", 0.0, 2, "86.65811435 274.31285391 716.78631221"),
        *converged("2.24", 0.0, 2, "86.6604 274.325 716.581"),
        *same_mesh(
            "2.25",
            at_speed,
            1,
            "85.389467 87.7958637 251.78460413 294.71333087 600.17936195 827.07536193",
        ),
        *converged("2.25", at_speed, 1, "85.3916 87.7982 251.794 294.730 600.097 826.690"),
        *_spinning_shaft(),
    ]


def _spinning_shaft() -> list[Check]:
    source = (
        "(rho A + rho I b^2) w^2 -+ 2 rho I b^2 W w - E I b^4 = 0, b = n pi/L (G. Genta, Dynamics "
        "of Rotating Systems; from memory)"
    )
    spins = (1000 / 60, 3000 / 60)
    inputs = f"{BAR}, 7850 kg/m3, pinned, rotary inertia, no shear"
    whirl = {
        "forward 1, 1000 rpm": (0, 1, "313.2240"),
        "backward 1, 1000 rpm": (0, 0, "313.1438"),
        "forward 1, 3000 rpm": (1, 1, "313.3041"),
        "backward 1, 3000 rpm": (1, 0, "313.0637"),
        "forward 2, 3000 rpm": (1, 3, "1248.7203"),
        "backward 2, 3000 rpm": (1, 2, "1247.7657"),
    }
    picked = [(spin, number) for spin, number, _ in whirl.values()]

    def split(k: int) -> float:
        backward, forward = bars.spinning_shaft(spins[k])[:2]
        return forward - backward

    return [
        *_family(
            "2.27",
            "whirl frequency",
            inputs,
            " ".join(printed for *_, printed in whirl.values()),
            lambda k: bars.spinning_shaft(spins[picked[k][0]])[picked[k][1]],
            source=source,
            kind="exact",
            unit="Hz",
            each=tuple(whirl),
        ),
        *_family(
            "2.27",
            "split of the first pair",
            inputs,
            "0.0801 0.2404",
            split,
            source=source,
            kind="exact",
            unit="Hz",
            each=("1000 rpm", "3000 rpm"),
        ),
    ]


def _unbalance() -> list[Check]:
    ratios = (0.1, 0.5, 0.9, 1.0, 2.0)
    jeffcott = (
        "H. H. Jeffcott, Phil. Mag. 37 (1919) 304 (from memory): "
        "r^2/sqrt((1 - r^2)^2 + (2 zeta r)^2)"
    )
    bit = "bit 1.645 g with its middle 15.2 mm from the bar's centre line"
    turning = (500 / 60, 1000 / 60)

    def unbalance() -> float:
        return bars.bit_unbalance(1.645e-3, 15.2e-3)

    return [
        *_family(
            "2.29",
            "whirl of an unbalanced disc over its eccentricity",
            "disc at mid-span of a light shaft, damping 2 %",
            "0.01010 0.33321 4.18863 25.0000 1.33286",
            lambda k: bars.jeffcott_amplitude(ratios[k], 0.02),
            source=jeffcott,
            kind="exact",
            each=tuple(f"spin {ratio:g} of the pitch" for ratio in ratios),
        ),
        *_family(
            "2.29",
            "its largest, then the spin over the pitch there",
            "disc at mid-span of a light shaft, damping 2 %",
            "25.0050 1.00040",
            lambda k: bars.jeffcott_peak(0.02)[k],
            source=jeffcott,
            kind="exact",
        ),
        *_family(
            "2.30",
            "unbalance of a square bit",
            bit,
            "25.0",
            lambda _: unbalance() * 1e6,
            source="mass times arm",
            kind="exact",
            unit="g mm",
            more=3.6e-3,
            why="the digits to which mass and arm are given",
        ),
        *_family(
            "2.30",
            "its turning force",
            bit,
            "0.0686 0.274",
            lambda k: balance.unbalance_pull(unbalance(), turning[k]),
            source="mass times arm times speed squared",
            kind="exact",
            unit="N",
            each=("500 rpm", "1000 rpm"),
            more=3.6e-3,
            why="the digits to which mass and arm are given",
        ),
    ]


# --- strength and holding -------------------------------------------------------------------

HOLES = (0.1, 0.2, 0.25, 0.3, 0.4)
CLOSED = "round-off"
SHIGLEY = "J. E. Shigley & C. R. Mischke, Mechanical Engineering Design (from memory)"


def _stress_raisers() -> list[Check]:
    def rows(
        row: str,
        what: str,
        values: str,
        fit: Callable[[float], float],
        source: str,
        kind: Kind,
        *,
        holes: Sequence[float] = HOLES,
        more: float = 1e-9,
        why: str = CLOSED,
    ) -> list[Check]:
        return _family(
            row,
            what,
            "round hole across a solid bar",
            values,
            lambda k: fit(holes[k]),
            source=source,
            kind=kind,
            each=tuple(f"hole {a:g} of the bar" for a in holes),
            more=more,
            why=why,
        )

    few = (0.1, 0.2, 0.3)
    six = (0.1, 0.15, 0.2, 0.25, 0.3, 0.4)
    worksheet = (
        "a public worksheet of Roark's table 17.1 (seen), bar 100 mm, bore 80 mm, hole 10 mm"
    )
    usual = "handbooks: pi D^3/32 - d D^2/6, pi D^3/16 - d D^2/6 (from memory)"
    return [
        *rows(
            "3.1",
            "stress raiser in tension, gross",
            "3.6725",
            raiser.roark_tension,
            raiser.ROARK,
            "published",
            holes=(0.2,),
        ),
        *rows(
            "3.2",
            "stress raiser in bending, gross",
            "2.7251 3.0251 3.2908 3.5802 4.0706",
            raiser.roark_bending,
            raiser.ROARK,
            "published",
        ),
        *rows(
            "3.3",
            "stress raiser in torsion, principal over gross shear",
            "3.6599 3.8201 4.0041 4.2129 4.5711",
            raiser.roark_torsion,
            raiser.ROARK,
            "published",
        ),
        *_family(
            "3.4",
            "stress raiser of a hollow bar",
            "hole 0.1 and bore 0.8 of the bar",
            "2.85 3.76",
            lambda k: (raiser.roark_bending, raiser.roark_torsion)[k](0.1, 0.8),
            source=worksheet,
            kind="published",
            each=("bending", "torsion"),
            more=1e-3,
            why="one bending coefficient that may be a little off in memory",
        ),
        *rows(
            "3.5",
            "net section modulus over the plain bar's",
            "0.8353 0.7568 0.6810 0.6080 0.5381 0.4080",
            raiser.net_modulus,
            "geometry: I - 2 int 2/3 (R^2 - z^2)^(3/2) dz over sqrt(R^2 - d^2/4)",
            "exact",
            holes=six,
        ),
        *rows(
            "3.6",
            "the usual net section modulus over the plain bar's",
            "0.8302 0.7454 0.6605 0.5756 0.4907 0.3209",
            raiser.usual_net_modulus,
            usual,
            "published",
            holes=six,
        ),
        *rows(
            "3.7",
            "the usual net torsion modulus over the plain bar's",
            "0.9151 0.8727 0.8302 0.7878 0.7454 0.6605",
            raiser.usual_net_torsion,
            usual,
            "published",
            holes=six,
        ),
        *rows(
            "3.8",
            "stress raiser in bending, exact net",
            "2.2254 2.0341 1.9725 1.9222 1.8428",
            raiser.peterson_bending_net,
            raiser.PETERSON,
            "published",
        ),
        *rows(
            "3.9",
            "Roark's stress raiser in bending on the exact net section",
            "2.2254 2.0341 1.9725 1.9222",
            lambda a: raiser.roark_bending(a) * raiser.net_modulus(a),
            raiser.PETERSON,
            "published",
            holes=HOLES[:-1],
            more=0.024,
            why="two independent fits of a chart",
        ),
        *rows(
            "3.10",
            "stress raiser in bending, usual net",
            "2.2546 2.0278 1.8864",
            raiser.din_bending_net,
            raiser.DIN,
            "published",
            holes=few,
        ),
        *rows(
            "3.10",
            "stress raiser in torsion, usual net",
            "1.6672 1.5199 1.4068",
            raiser.din_torsion_net,
            raiser.DIN,
            "published",
            holes=few,
        ),
        *_family(
            "3.21",
            "bending stress of the plain bar",
            "dia 25.4 mm, 400 mm between supports, pinned, 100 N at mid-span",
            "6.216",
            lambda _: bending_stress(100 * 0.4 / 4, 0.0254) / 1e6,
            source="M = P L/4 over pi D^3/32",
            kind="exact",
            unit="MPa",
            more=1e-9,
            why=CLOSED,
        ),
    ]


def _fatigue() -> list[Check]:
    strengths = (440e6, 655e6, 965e6)
    each = tuple(f"tensile strength {s / 1e6:.0f} MPa" for s in strengths)
    ksi = (64, 95, 140)
    return [
        *_family(
            "3.17",
            "notch constant of steel",
            "",
            "0.4124 0.2015 0.1003",
            lambda k: fatigue.peterson_constant(strengths[k]) * 1e3,
            source="R. E. Peterson, Stress Concentration Factors (from memory)",
            kind="published",
            unit="mm",
            each=each,
            more=1e-9,
            why=CLOSED,
        ),
        *_family(
            "3.17",
            "notch sensitivity, Peterson",
            "notch radius 1 mm",
            "0.708 0.832 0.909",
            lambda k: fatigue.peterson_sensitivity(strengths[k], 1e-3),
            source="R. E. Peterson, Stress Concentration Factors (from memory)",
            kind="published",
            each=each,
            more=1e-9,
            why=CLOSED,
        ),
        *_family(
            "3.18",
            "notch sensitivity in bending, Neuber",
            "notch radius 1 mm",
            "0.657 0.748 0.841",
            lambda k: fatigue.neuber_sensitivity(ksi[k] * 6.894757e6, 1e-3),
            source=f"{SHIGLEY}, eq. 6-35",
            kind="published",
            each=tuple(f"tensile strength {s} ksi" for s in ksi),
            more=1e-9,
            why=CLOSED,
        ),
        *_family(
            "3.19",
            "surface factor of a machined bar",
            "tensile strength 655 MPa",
            "0.744 0.809",
            lambda k: fatigue.surface_factors(655e6)[k],
            source=SHIGLEY,
            kind="published",
            each=("11th edition", "8th to 10th edition"),
            more=1e-9,
            why=CLOSED,
        ),
        *_family(
            "3.20",
            "size factor",
            "bar dia 25 mm",
            "0.879",
            lambda _: fatigue.size_factor(0.025),
            source=SHIGLEY,
            kind="published",
            more=1e-9,
            why=CLOSED,
        ),
    ]


def _set_screws() -> list[Check]:
    names = ("#10", "1/4-20", "5/16-18", "3/8-16", "1/2-13", "M5", "M6", "M8", "M10")
    tapped = ("M5", "M6", "M8", "1/4-20", "5/16-18")
    lengths = (0.005, 0.006, 0.008, 0.00635, 0.0079375)
    known = {one.name: one for one in holding.threads()}
    fine = known["1/4-20"]._replace(pitch=0.0254 / 28)
    fine_area = holding.strip_area(fine.pitch_diameter, 0.00635)
    fine_pull = holding.strip_force(350e6, fine.pitch_diameter, 0.00635)
    simple = "half the cylinder at the pitch diameter, 0.577 of a yield of 350 MPa"
    engaged = tuple(
        f"{name}, {x * 1e3:g} mm engaged" for name, x in zip(tapped, lengths, strict=True)
    )
    return [
        *_family(
            "8e",
            "preload of a set screw",
            "at its seating torque",
            "4.21 7.74 11.74 17.20 27.6 4.00 6.00 10.63 16.50",
            lambda k: known[names[k]].preload / 1e3,
            source="T/(0.2 d) with the screw makers' torques, in set_screws.yaml",
            kind="exact",
            unit="kN",
            each=names,
            more=1e-3,
            why="torques converted from in.lbf and rounded",
        ),
        *_family(
            "8e",
            "shear area of a tapped hole",
            "",
            "35.2 50.4 90.3 55.1 87.5",
            lambda k: holding.strip_area(known[tapped[k]].pitch_diameter, lengths[k]) * 1e6,
            source=simple,
            kind="exact",
            unit="mm2",
            each=engaged,
            more=1e-6,
            why=CLOSED,
        ),
        *_family(
            "8e",
            "pull that strips it",
            "bar that yields at 350 MPa",
            "7.1 10.2 18.2 11.1 17.7",
            lambda k: (
                holding.strip_force(350e6, known[tapped[k]].pitch_diameter, lengths[k]) / 1e3
            ),
            source=simple,
            kind="exact",
            unit="kN",
            each=engaged,
            more=1e-6,
            why=CLOSED,
        ),
        *_family(
            "8e",
            "shear area of a fine tapped hole",
            "1/4-28, 6.35 mm engaged",
            "57.5",
            lambda _: fine_area * 1e6,
            source=simple,
            kind="exact",
            unit="mm2",
            more=1e-6,
            why=CLOSED,
        ),
        *_family(
            "8e",
            "pull that strips it",
            "1/4-28, 6.35 mm engaged, bar that yields at 350 MPa",
            "11.6",
            lambda _: fine_pull / 1e3,
            source=simple,
            kind="exact",
            unit="kN",
            more=1e-6,
            why=CLOSED,
        ),
    ]


# --- materials and finish -------------------------------------------------------------------


def _shear_moduli() -> list[Check]:
    steels = ((205e9, 0.29), (200e9, 0.32))

    def modulus(k: int) -> float:
        E, nu = steels[k]
        made = {"elastic_modulus": E, "poisson": nu, "density": 7850.0, "yield_strength": 250e6}
        return BarMaterial.model_validate(made).shear_modulus / 1e9

    return [
        *_family(
            "7b",
            "shear modulus of steel",
            "",
            "79.46 75.76",
            modulus,
            source="G = E / 2(1 + nu)",
            kind="exact",
            unit="GPa",
            each=tuple(f"E {E / 1e9:.0f} GPa, nu {nu}" for E, nu in steels),
            more=1e-9,
            why=CLOSED,
        ),
        *_family(
            "7b",
            "shear modulus of A36 steel",
            "E 200 GPa, nu 0.32",
            "75",
            lambda _: modulus(1),
            source="appendix table of a mechanics of materials textbook (Hibbeler type, seen)",
            kind="published",
            unit="GPa",
            more=0.01,
            why="the table's two digits, which do not quite follow from its own E and nu",
        ),
    ]


def _ideal_finish() -> list[Check]:
    inch = 0.0254
    cuts = (
        (0.1e-3, 0.4e-3),
        (0.2e-3, 0.8e-3),
        (0.25e-3, 0.8e-3),
        (0.05e-3, 0.2e-3),
        (0.002 * inch, inch / 64),
    )
    said = tuple(f"feed {f * 1e3:.4g} mm/rev, nose {r * 1e3:.4g} mm" for f, r in cuts)

    def finish(k: int, what: str) -> float:
        found = ideal_roughness(*cuts[k])
        assert found is not None
        return float(getattr(found, what)) * 1e6

    data_sheet = "f^2/8r, a cutting-tool maker's data sheet (formula seen)"
    return [
        *_family(
            "8.4",
            "height of the scallops, R_z",
            "",
            "3.1250 6.2500 9.7656 1.5625 0.8128",
            lambda k: finish(k, "parabola"),
            source=data_sheet,
            kind="published",
            unit="um",
            each=said,
            more=1e-9,
            why=CLOSED,
        ),
        *_family(
            "8.4",
            "the same on the true arc",
            "",
            "3.1373 6.2746 9.8260 1.5687 0.8136",
            lambda k: finish(k, "peak_to_valley"),
            source="geometry: r - sqrt(r^2 - f^2/4)",
            kind="exact",
            unit="um",
            each=said,
            more=1e-9,
            why=CLOSED,
        ),
        *_family(
            "8.7",
            "mean deviation of the scallop, R_a",
            said[0],
            "0.802",
            lambda _: finish(0, "mean"),
            source="integral of a parabolic arc: 4/(9 sqrt 3) of its height",
            kind="exact",
            unit="um",
            more=1e-9,
            why=CLOSED,
        ),
        *_family(
            "8.7",
            "mean deviation of the scallop, R_a",
            said[0],
            "0.781",
            lambda _: finish(0, "mean"),
            source="the shop's rule R_z/4 (common practice)",
            kind="published",
            unit="um",
            more=0.027,
            why="the rule is 2.6 % low of the scallop",
        ),
    ]


def _balance_grades() -> list[Check]:
    mass, iso = 1.5413, "ISO 21940-11:2016, definition of the grade G (seen; its text not open)"

    def rows(
        row: str, grade: float, rpm: tuple[int, ...], offset: str, allowed: str
    ) -> list[Check]:
        each = tuple(f"{n} rpm" for n in rpm)
        return [
            *_family(
                row,
                "middle of mass off the line of turning that a grade allows, G/(2 pi n)",
                f"G{grade:g}",
                offset,
                lambda k: balance.allowed_offset(grade / 1e3, rpm[k] / 60) * 1e6,
                source=iso,
                kind="published",
                unit="um",
                each=each,
                more=1e-9,
                why=CLOSED,
            ),
            *_family(
                row,
                "unbalance that a grade allows, G m/(2 pi n)",
                f"G{grade:g}, {mass} kg",
                allowed,
                lambda k: balance.allowed_unbalance(grade / 1e3, mass, rpm[k] / 60) * 1e6,
                source=iso,
                kind="published",
                unit="g mm",
                each=each,
                more=3.3e-5,
                why="the mass, given to five digits",
            ),
        ]

    return [
        *rows("8.1", 6.3, (500, 1000, 3000), "120.32 60.16 20.05", "185.45 92.73 30.91"),
        *rows("8.2", 16.0, (500, 1000), "305.58 152.79", "470.99 235.49"),
        *rows("8.3", 2.5, (3000,), "7.958", "12.27"),
    ]
