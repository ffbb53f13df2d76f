"""The bar of a case as a beam: its lengths of one section, what it carries, what holds it.

The cross-hole enters as a softer length of bar as wide as the hole, softened until its extra
give is the one found on a solid, apart in the two bending planes: by the block of this very hole
where the case has it (see `hole_in_beam`), else by a table (see `hole_calibration`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from math import pi, sqrt
from typing import Literal

from .bar import CrossHole, Flat
from .case import LARGEST_HOLE, Case
from .hole_calibration import extra_compliance
from .hole_in_beam import block_of, blocked, joined, probes
from .model import Factored, Model
from .section import (
    Section,
    flatted_section,
    hutchinson_coefficient,
    rotation_lag,
    round_section,
    slotted_section,
)
from .support import AnySupport
from .timoshenko import Lump, Mount, Segment, beam, segment

HSS_DENSITY = 8160.0
SCREW_DENSITY = 7850.0


def _flat_at(flats: Sequence[Flat], station: float) -> Flat | None:
    return next((flat for flat in flats if flat.start <= station <= flat.end), None)


def _plain_section(case: Case, station: float) -> Section:
    """Section of the bar beside its hole; Hutchinson's shear, since the solid bears it out."""
    section = _turned_section(case, station)
    return replace(section, shear_coefficient=hutchinson_coefficient(case.bar.material.poisson))


def _turned_section(case: Case, station: float) -> Section:
    diameter, poisson = case.bar_diameter(station), case.bar.material.poisson
    flat = _flat_at(case.bar.flats, station)
    if flat is None:
        return round_section(diameter, poisson)
    across = flat.side in ("leading", "trailing")
    return flatted_section(diameter, flat.depth, poisson, across=across)


def _weakened(plain: Segment, case: Case, hole: CrossHole) -> Segment:
    """Length of bar across a hole, softened until its extra give is the solid's."""
    steel = case.bar.material
    diameter, width = case.bar_diameter(hole.position), plain.end - plain.start
    net = slotted_section(diameter, hole.size, hole.middle, steel.poisson)
    # A size typed to the last digit of a limit may pass it by a hair: the calibration ends there.
    size = min(hole.size, LARGEST_HOLE * diameter)
    offset = min(abs(hole.middle), size / 2)
    extra = extra_compliance(hole.shape, size, diameter, offset)
    for screw in hole.set_screws:
        extra = extra.with_screw(screw.diameter, diameter)
    E, G, D = steel.elastic_modulus, steel.shear_modulus, diameter

    def softened(stiffness: float, extra_give: float) -> float:
        return 1.0 / (1.0 / stiffness + extra_give / width)

    full = hole.shape == "square"
    share = 1.0 if full else pi / 4
    mass = plain.mass - steel.density * share * (plain.stretch / E - net.area)
    return replace(
        plain,
        bending_bit=softened(plain.bending_bit, extra.bend_bit / (E * D**3)),
        bending_across=softened(plain.bending_across, extra.bend_across / (E * D**3)),
        shear_bit=softened(plain.shear_bit, extra.shear_bit / (G * D)),
        shear_across=softened(plain.shear_across, extra.shear_across / (G * D)),
        torsion=softened(plain.torsion, extra.torsion / (G * D**3)),
        stretch=softened(plain.stretch, extra.axial / (E * D)),
        mass=mass,
        rotary_bit=plain.rotary_bit * mass / plain.mass,
        rotary_across=plain.rotary_across * mass / plain.mass,
        polar=plain.polar * mass / plain.mass,
    )


def bar_segments(case: Case, *, hole: bool = True) -> tuple[Segment, ...]:
    """Cut the bar of a case into lengths of one section, each cross-hole's width among them."""
    segments = []
    for plain, found in _lengths(case):
        block = block_of(case) if found is case.cross_hole else None
        if not hole or found is None:
            segments.append(plain)
        elif block:
            segments.append(blocked(plain, case, block))
        else:
            segments.append(_weakened(plain, case, found))
    return tuple(segments)


def _lengths(case: Case) -> Iterator[tuple[Segment, CrossHole | None]]:
    """Lengths of one section of the bar without its holes, each with the hole that goes there."""
    steel, first_last = case.bar.material, case.ends
    holes = (case.cross_hole, *case.bar.other_holes)
    cuts = {
        *first_last,
        *(one.position + side * one.size / 2 for one in holes for side in (-1, 1)),
    }
    cones = tuple(_cones(case))
    cuts |= {x for start, end, _ in cones for x in (start, end)}
    cuts |= {x for step in case.bar.steps for x in (step.start, step.end)}
    cuts |= {x for flat in case.bar.flats for x in (flat.start, flat.end)}
    inside = sorted(x for x in cuts if first_last[0] - 1e-9 <= x <= first_last[1] + 1e-9)
    for start, end in pairwise(inside):
        if end - start < 1e-9:
            continue
        section = _plain_section(case, (start + end) / 2)
        plain = segment(
            start,
            end,
            section,
            E=steel.elastic_modulus,
            G=steel.shear_modulus,
            density=steel.density,
        )
        middle = (start + end) / 2
        lost = sum(area for first, last, area in cones if first < middle < last)
        plain = replace(
            plain,
            mass=plain.mass - steel.density * lost,
            lag=rotation_lag(steel.poisson),
        )
        found = next((one for one in holes if abs(middle - one.position) < 1e-9), None)
        yield plain, found


def _cones(case: Case) -> Iterator[tuple[float, float, float]]:
    """First and last station of each centre hole, and the mean area that it takes, m, m2.

    Cones of 60 degrees down to 0.35 of their mouth, as the solid has them. Metal by the axis at
    the end of a bar carries next to nothing: only its weight is missed.
    """
    first, last = case.ends
    for end, mouth in case.centre_holes:
        wide, narrow = mouth / 2, 0.35 * mouth / 2
        depth = (wide - narrow) * sqrt(3)
        area = pi / 3 * (wide**2 + wide * narrow + narrow**2)
        yield (first, first + depth, area) if end == "drive" else (last - depth, last, area)


def mount(name: str, support: AnySupport, station: float) -> Mount:
    """Springs of one support of a case, where they act on the bar."""
    start, end = support.contact
    return Mount(
        name=name,
        start=station + start,
        end=station + end,
        vertical=support.vertical,
        horizontal=support.horizontal,
        tilt=support.tilt_stiffness,
        axial=support.axial_stiffness,
        turning=support.turning_stiffness,
        damping=support.damping,
    )


def carried_lumps(case: Case) -> tuple[Lump, ...]:
    """Masses the bar carries: bit, set screws, dog, and what else the case names."""
    hole, length = case.cross_hole, case.bit_length
    square = case.bit.size**2 * (1.0 if hole.shape == "square" else pi / 4)
    middle = case.edge_radius - length / 2
    wide = case.bit.size**2 / (12 if hole.shape == "square" else 16)
    bit = Lump(
        station=hole.position,
        mass=HSS_DENSITY * square * length,
        arm=middle,
        aside=hole.middle,
        spread=(wide, length**2 / 12, wide),
    )
    lumps = [bit]
    deep = (case.bar_diameter(hole.position) - hole.size) / 2
    for screw in hole.set_screws:
        mass = SCREW_DENSITY * pi / 4 * screw.diameter**2 * deep
        lumps.append(Lump(station=hole.position, mass=mass))
    drive = case.supports.drive
    if drive.kind == "dead centre with dog":
        lumps.append(Lump(station=drive.dog_position, mass=drive.dog_mass))
    lumps += [Lump(station=held.position, mass=held.mass) for held in case.bar.carries]
    return tuple(lumps)


def beam_model(
    case: Case, *, longest: float | None = None, averaged: bool = False, hole: bool = True
) -> Model:
    """Beam model of a case.

    Parameters
    ----------
    longest : m, longest element; left out, a twelfth of the bar
    hole : whether the cross-hole softens the bar
    averaged : give both bending planes their mean, for a bar that whirls
    """
    segments = bar_segments(case, hole=hole)
    if averaged:
        segments = tuple(piece.averaged() for piece in segments)
    holds = tuple(mount(*placed) for placed in case.placed_supports)
    block = block_of(case) if hole else None
    over = next(plain for plain, found in _lengths(case) if found is case.cross_hole)
    lumps, at = carried_lumps(case), case.cross_hole.position
    if averaged:
        lumps = tuple(lump.averaged() for lump in lumps)
    elif not block:
        lumps = tuple(lump.abreast() for lump in lumps)
    seated = tuple(lump for lump in lumps if block and lump.station == at)
    model = beam(
        segments,
        (*holds, *probes(over)) if block else holds,
        edge=at,
        arm=case.edge_radius,
        lumps=[lump for lump in lumps if lump not in seated],
        longest=longest,
    )
    if not block:
        return model
    return joined(model, case, block, over, lumps=seated, averaged=averaged)


def held_at(case: Case, factored: Factored, end: Literal["low", "high"]) -> tuple[Case, Factored]:
    """Return the case and its bar with what was guessed at the soft or the stiff end.

    The bar itself stays as it is factorised, beam or solid: only its springs change.
    """
    moved = case.at(end)
    return moved, held_as(moved, factored)


def held_as(case: Case, factored: Factored) -> Factored:
    """The bar as it is factorised, on the springs of a case that differs in them alone."""
    mounts = (mount(*placed) for placed in case.placed_supports)
    holds = (
        replace(
            hold,
            vertical=new.vertical,
            horizontal=new.horizontal,
            tilt=new.tilt,
            axial=new.axial,
            turning=new.turning,
        )
        for hold, new in zip(factored.model.holds, mounts, strict=True)
    )
    return factored.held_by(*holds)
