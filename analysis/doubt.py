"""What is known only within a range, and how it is drawn.

A range is read as a careful guesser means it: one value in twenty lies below its low end, one in
twenty above its high end, and the likely value is as often too high as too low. Between them a
bell curve on each side of the likely value, over the logarithm where the low end is above zero
(stiffness, damping, mass, stress: things known to a factor), over the value itself for lengths
and angles and where the low end is zero; nothing falls below zero that may not. Measured ranges
are read alike. Ranges are independent of one another.

Guesses of this kind come out too narrow more often than too wide (common practice in asking
experts), so the ends are not taken as walls.

What leaves every answer here as it is, is not drawn: strengths, limits, the bore's tolerance, a
radial stiffness under a vertical and a horizontal one; the exponents of the cutting force too,
whose scatter is already in the forces (see `force`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from scipy.special import ndtri

from .beam import bar_segments, carried_lumps, mount
from .case import Case
from .entry import Entry
from .force import Factor, cutting_force
from .inputs import Input, Origin, inputs
from .keys import Key, dotted, undotted
from .model import Floats

TAIL = 0.05
"""Share of values beyond each end of a range."""
_REACH = -float(ndtri(TAIL))
_STRAIGHT = ("length", "angle")
FACTOR = "force factor"
"""First part of the key of a factor on the cutting force that no entry of the case holds."""
_STRENGTHS = ("yield_strength", "tensile_strength")
_EXPONENTS = ("force_exponent", "normal_exponent")
_FORCES = ("specific_force", "normal_force", "power_constant", "edge_wear")
_ELSEWHERE = ("limits", "lathe", "job", "measured")
MODULUS: Key = ("bar", "material", "elastic_modulus")
DENSITY: Key = ("bar", "material", "density")
DOG: Key = ("supports", "drive", "dog_mass")
_SPRINGS = ("radial", "vertical", "horizontal", "axial", "tilt", "turning")
_OF_SUPPORTS = (*(f"{name}_stiffness" for name in _SPRINGS), "damping", "dog_mass")
_STANDING: tuple[Key, ...] = (
    MODULUS,
    DENSITY,
    ("bar", "damping_ratio"),
    ("cut", "edge_wear"),
    *(("cut", "force", part) for part in ("radial", "tangential", "axial")),
    *(("work", f"{name}_stiffness") for name in _SPRINGS),
    *(("work", name) for name in ("mass", "damping_ratio")),
    *(
        ("work", "material", name)
        for name in ("specific_force", "normal_force", "power_constant", "process_damping")
    ),
)
"""Values that leave the sizes of the set-up as they are."""
DoubtOrigin = Origin | Literal["method"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """One value that is known only within a range.

    Attributes
    ----------
    key : of the case, or `FACTOR` and the name of a factor on the force
    kind : of quantity, see `units`
    origin : where the range comes from
    low, likely, high : SI; one value in twenty lies beyond each end
    """

    key: Key
    kind: str
    origin: DoubtOrigin
    low: float
    likely: float
    high: float

    @property
    def name(self) -> str:
        """Dotted name, such as ``supports.drive.tilt_stiffness``."""
        return dotted(self.key)

    def at(self, share: Floats) -> Floats:
        """Values below which a share of all values lies, shares strictly between 0 and 1.

        Examples
        --------
        >>> doubt = Doubt(key=("work", "mass"), kind="mass", origin="default guess",
        ...               low=15.0, likely=40.0, high=120.0)
        >>> doubt.at(np.array([0.05, 0.5, 0.95])).round(6).tolist()
        [15.0, 40.0, 120.0]
        """
        away = ndtri(np.asarray(share, dtype=float)) / _REACH
        if self.low > 0.0 and self.kind not in _STRAIGHT:
            below, above = np.log(self.likely / self.low), np.log(self.high / self.likely)
            return np.asarray(self.likely * np.exp(np.where(away < 0, below, above) * away))
        below, above = self.likely - self.low, self.high - self.likely
        drawn = self.likely + np.where(away < 0, below, above) * away
        return np.asarray(np.maximum(drawn, 0.0) if self.low >= 0.0 else drawn)


def doubts(case: Case) -> tuple[Doubt, ...]:
    """Every value of a case that is known only within a range and moves its answers."""
    given = [_doubt(entry) for entry in inputs(case) if entry.range is not None]
    kept = [one for one in given if one.low < one.high and _moves(case, one)]
    factors = cutting_force(case).factors
    return (*kept, *(_of_factor(factor) for factor in factors if _of_method(factor)))


def _doubt(entry: Input) -> Doubt:
    assert entry.range is not None
    low, high = entry.range
    return Doubt(
        key=undotted(entry.name),
        kind=entry.kind,
        origin=entry.origin,
        low=low,
        likely=float(entry.value),
        high=high,
    )


def _of_method(factor: Factor) -> bool:
    """Whether a factor has a range of its own; the edge's wear is an entry of the case."""
    return factor.name != "wear of the edge" and factor.value.low < factor.value.high


def _of_factor(factor: Factor) -> Doubt:
    value = factor.value
    return Doubt(
        key=(FACTOR, factor.name),
        kind="ratio",
        origin="method",
        low=value.low,
        likely=float(value),
        high=value.high,
    )


def is_size(key: Key) -> bool:
    """Whether a value in doubt changes the sizes of the set-up, so that another bar is made."""
    of_support = key[0] == "supports" and key[-1] in _OF_SUPPORTS
    return not (key[0] == FACTOR or of_support or key in _STANDING)


def _moves(case: Case, doubt: Doubt) -> bool:
    """Whether a value can move deflection, size, modes or chatter."""
    key, last = doubt.key, doubt.key[-1]
    if key[0] in _ELSEWHERE or key == ("work", "bore") or last in (*_STRENGTHS, *_EXPONENTS):
        return False
    if last == "radial_stiffness":
        owner = value_at(case, key[:-1])
        return owner.vertical_stiffness is None or owner.horizontal_stiffness is None
    if last in _FORCES and key[0] in ("work", "cut"):
        unused = "specific_force" if case.cut.method == "power constant" else "power_constant"
        return case.cut.force is None and last != unused
    if is_size(key):
        ends = (with_values(case, {key: end}) for end in (doubt.low, doubt.high))
        return any(_sizes(one) != _sizes(case) for one in ends)
    return True


def _sizes(case: Case) -> tuple[object, ...]:
    """Everything about the sizes of a set-up that its deflection, modes and chatter go by."""
    cut, bit = case.cut, case.bit
    return (
        bar_segments(case),
        tuple(mount(*placed) for placed in case.placed_supports),
        carried_lumps(case),
        (case.edge_radius, case.projection, bit.size, bit.nose_radius, bit.lead_angle, bit.rake),
        (case.spindle_speed, cut.depth, cut.feed),
    )


def value_at(case: Case, key: Key) -> Any:
    """What a case holds at a key; None where it holds nothing."""
    held: Any = case
    for part in key:
        held = held[part] if isinstance(part, int) else getattr(held, str(part), None)
        if held is None:
            return None
    return held


def with_values(case: Case, values: Mapping[Key, float]) -> Case:
    """The case with plain numbers in place of what it holds at some keys."""
    changed = case
    for key, value in values.items():
        changed = _with_value(changed, key, value)
    return changed


def _with_value(held: Any, key: Key, value: float) -> Any:
    if not key:
        return value
    first, rest = key[0], key[1:]
    if isinstance(first, int):
        return tuple(_with_value(v, rest, value) if k == first else v for k, v in enumerate(held))
    assert isinstance(held, Entry)
    inside = _with_value(getattr(held, first), rest, value)
    return held.model_copy(update={first: inside})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draws:
    """Many values of everything in doubt, drawn together.

    Attributes
    ----------
    case : with its likely values
    values : (n_sample,) by key
    count : n_sample
    """

    case: Case
    values: Mapping[Key, Floats]
    count: int

    def of(self, *keys: Key) -> Floats:
        """Values at the first of some keys that the case holds something at, (n_sample,)."""
        for key in keys:
            if key in self.values:
                return self.values[key]
            held = value_at(self.case, key)
            if held is not None:
                return np.full(self.count, float(held))
        message = f"the case holds nothing at {', '.join(map(dotted, keys))}"
        raise KeyError(message)

    def factor(self, name: str) -> Floats:
        """A factor on the force over its likely value, (n_sample,)."""
        found = self.values.get((FACTOR, name))
        if found is None:
            return np.ones(self.count)
        likely = {factor.name: float(factor.value) for factor in cutting_force(self.case).factors}
        return np.asarray(found / likely[name])

    def part(self, chosen: slice) -> Draws:
        """Some of the draws."""
        values = {key: value[chosen] for key, value in self.values.items()}
        count = len(range(*chosen.indices(self.count)))
        return Draws(case=self.case, values=values, count=count)


def drawn(case: Case, known: Sequence[Doubt], shares: Floats) -> Draws:
    """Draws at shares (n_sample, n_doubt) between 0 and 1, a column for each doubt."""
    inside = np.clip(shares, 1e-9, 1 - 1e-9)
    values = {doubt.key: doubt.at(inside[:, k]) for k, doubt in enumerate(known)}
    return Draws(case=case, values=values, count=shares.shape[0])
