"""A choice: the same bore and the same travel with another support, steel, diameter or length.

The bore, the cut and the carriage travel are the job; the bar is the choice. The dog of a bar on
centres takes length that the jaws of a chuck do not, so the bar that gives the same travel in a
chuck is shorter by the difference, and the hole stands nearer the drive support by as much. A
span that is asked for belongs to the case's own support; the others get theirs from it.

- *span*: what stands along the bar, the cross-hole among it, keeps its share of the span.
- *diameter*: every turned step changes by as much; the edge stays at the bore and the bit is cut
  to suit.
- *projection*: the bore and the bar stay; the bit is carried on a collar (or a neck) of the bar
  three holes wide, so that less (or more) of it sticks out.
- *support*: the headstock's own springs along and across the bar stay; what the jaws or the dog
  add comes from the guesses of `support`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from .bar import Bar, Step
from .case import Case
from .material import BarMaterial
from .support import AnySupport, Chuck, Collet, DogCentre, LiveCentre

SupportName = Literal["chuck", "collet", "centres"]
SUPPORT_NAMES: tuple[SupportName, ...] = ("chuck", "collet", "centres")
TAKEN: dict[SupportName, float] = {"chuck": 0.0127, "collet": 0.0127, "centres": 0.0381}
"""Bar that the drive end takes from the travel, m: 1/2 in clear of the jaws, 1-1/2 in for a dog
(common practice)."""
JAWS_WORTH = 1.15
"""A chuck that gains less over centres is not worth its dialling in (common practice)."""
COLLAR = 3.0
"""Width of a collar over that of the hole (engineering judgement)."""
_KINDS: dict[SupportName, type[Chuck | Collet | DogCentre]] = {
    "chuck": Chuck,
    "collet": Collet,
    "centres": DogCentre,
}
_WORDS: dict[SupportName, str] = {
    "chuck": "chuck",
    "collet": "collet",
    "centres": "dead centre with dog",
}
_HEADSTOCK = (
    "radial_stiffness",
    "vertical_stiffness",
    "horizontal_stiffness",
    "axial_stiffness",
    "damping",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What a variant changes; None keeps what the case says.

    Attributes
    ----------
    support : how the bar is driven
    material : what the bar is made of
    diameter : m, of the bar where no step says otherwise
    span : m, as on the case's own support
    projection : m, how far the bit sticks out
    """

    support: SupportName | None = None
    material: BarMaterial | None = None
    diameter: float | None = None
    span: float | None = None
    projection: float | None = None


def support_name(case: Case) -> SupportName:
    """How the bar of a case is driven."""
    return next(name for name, kind in _KINDS.items() if isinstance(case.supports.drive, kind))


def varied(case: Case, choice: Choice) -> Case:
    """The case with a choice made; whether it can be built is for `case.conflicts`."""
    changed = case
    if choice.material is not None:
        changed = _with_bar(changed, material=choice.material)
    if choice.span is not None and choice.span != case.bar.span:
        changed = with_span(changed, choice.span)
    if choice.support is not None and choice.support != support_name(case):
        changed = on_support(changed, choice.support)
    if choice.diameter is not None and choice.diameter != case.bar.diameter:
        changed = with_diameter(changed, choice.diameter)
    if choice.projection is not None and abs(choice.projection - changed.projection) > 1e-9:
        changed = with_projection(changed, choice.projection)
    return changed


def _with_bar(case: Case, **changes: object) -> Case:
    return case.model_copy(update={"bar": case.bar.model_copy(update=changes)})


def with_span(case: Case, span: float) -> Case:
    """The case with another span, m; what stands on it keeps its share of it."""
    old = case.bar.span

    def moved(station: float) -> float:
        if station <= 0:
            return station
        return station * span / old if station <= old else station + span - old

    return _moved(_with_bar(case, span=span), moved)


def on_support(case: Case, name: SupportName) -> Case:
    """The case driven another way, on the same travel."""
    old, longer = case.supports.drive, TAKEN[name] - TAKEN[support_name(case)]

    def moved(station: float) -> float:
        return station + longer if station > 0 else station

    plain = _KINDS[name].model_validate({"kind": _WORDS[name]})
    drive = plain.model_copy(update={part: getattr(old, part) for part in _HEADSTOCK})
    tail = case.supports.tail
    if tail is None and name == "centres":
        tail = LiveCentre.model_validate({"kind": "live centre"})
    supports = case.supports.model_copy(update={"tail": tail})
    bar = {"span": case.bar.span + longer, "drive_overhang": None}
    changed = _with_bar(case, **bar).model_copy(update={"supports": supports})
    # The dog stays where its own guess puts it, so the drive is changed last.
    shifted = _moved(changed, moved)
    held = shifted.supports.model_copy(update={"drive": drive})
    return shifted.model_copy(update={"supports": held})


def _moved(case: Case, moved: Callable[[float], float]) -> Case:
    """The case with everything beyond the drive support moved along the bar."""
    bar, hole, supports = case.bar, case.cross_hole, case.supports
    others = tuple(_support_moved(support, moved) for support in supports.others)
    tail = supports.tail and _support_moved(supports.tail, moved)
    return case.model_copy(
        update={
            "bar": _stretches_moved(bar, moved),
            "cross_hole": hole.model_copy(update={"position": moved(hole.position)}),
            "supports": supports.model_copy(update={"others": others, "tail": tail}),
        }
    )


def _support_moved(support: AnySupport, moved: Callable[[float], float]) -> AnySupport:
    position = getattr(support, "position", None)
    if position is None:
        return support
    return support.model_copy(update={"position": moved(position)})


def _stretches_moved(bar: Bar, moved: Callable[[float], float]) -> Bar:
    def placed(stretch: Step) -> Step:
        ends = {"start": moved(stretch.start), "end": moved(stretch.end)}
        return stretch.model_copy(update=ends)

    return bar.model_copy(
        update={
            "steps": tuple(placed(step) for step in bar.steps),
            "other_holes": tuple(
                hole.model_copy(update={"position": moved(hole.position)})
                for hole in bar.other_holes
            ),
            "flats": tuple(
                flat.model_copy(update={"start": moved(flat.start), "end": moved(flat.end)})
                for flat in bar.flats
            ),
            "carries": tuple(
                mass.model_copy(update={"position": moved(mass.position)}) for mass in bar.carries
            ),
            # What an indicator showed belongs to the set-up that it was read on.
            "run_out": None,
        }
    )


def with_diameter(case: Case, diameter: float) -> Case:
    """The case with a thicker or thinner bar, m, its edge where it was."""
    more = diameter - case.bar.diameter
    steps = tuple(
        step.model_copy(update={"diameter": step.diameter + more}) for step in case.bar.steps
    )
    return _edge_kept(case, _with_bar(case, diameter=diameter, steps=steps))


def with_projection(case: Case, projection: float) -> Case:
    """The case with its bit on a collar, so that it sticks out by `projection`, m."""
    hole = case.cross_hole
    half = COLLAR * hole.size / 2
    start, end = hole.position - half, hole.position + half
    # A flat that the bit comes out of is cut into the collar too.
    flat = case.bar_diameter(hole.position) / 2 - case.surface_radius("bit")
    collar = Step(start=start, end=end, diameter=2 * (case.edge_radius - projection + flat))
    beside = tuple(piece for step in case.bar.steps for piece in _outside(step, start, end))
    return _edge_kept(case, _with_bar(case, steps=(collar, *beside)))


def _outside(step: Step, start: float, end: float) -> list[Step]:
    """What a collar leaves of a step."""
    pieces = [(step.start, min(step.end, start)), (max(step.start, end), step.end)]
    return [
        step.model_copy(update={"start": first, "end": last})
        for first, last in pieces
        if last > first
    ]


def _edge_kept(before: Case, after: Case) -> Case:
    """The changed bar with its edge at the same radius and a bit of the length that takes."""
    bit = after.bit
    update: dict[str, float | None] = {"length": None} if bit.length is not None else {}
    if bit.projection is not None:
        update["projection"] = before.edge_radius - after.surface_radius("bit")
    return after.model_copy(update={"bit": bit.model_copy(update=update)})
