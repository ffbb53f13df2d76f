"""The bar of a case as a beam: each length of it, what it carries, and how it is held."""

from __future__ import annotations

from math import pi, sqrt
from typing import Any

import numpy as np
import pytest
import references as ref
from conftest import MakeCase

from barwright.analysis.bar import CrossHole
from barwright.analysis.beam import (
    bar_segments,
    beam_model,
    carried_lumps,
    held_as,
    held_at,
    mount,
)
from barwright.analysis.case import Case
from barwright.analysis.hole_calibration import extra_compliance
from barwright.analysis.model import Held, factorised
from barwright.analysis.support import Chuck
from barwright.analysis.timoshenko import Segment
from barwright.analysis.units import Estimate

D, R, RHO = 0.030, 0.015, 7850.0
WHOLE = pi * R**4 / 4


def chord(t: float) -> float:
    return sqrt(max(0.0, R**2 - t**2))


def at(case: Case, station: float, *, hole: bool = False) -> Segment:
    """The length of bar that a station, m, lies in."""
    return next(one for one in bar_segments(case, hole=hole) if one.start < station < one.end)


def test_plain_bar_has_the_stiffness_and_mass_of_its_circle(make_case: MakeCase) -> None:
    """EI, kGA, GJ, EA and masses of a 30 mm bar, Hutchinson's k by its formula."""
    case = make_case()
    E, nu = case.bar.material.elastic_modulus, case.bar.material.poisson
    G, area = E / 2 / (1 + nu), pi * R**2
    k = 6 * (1 + nu) ** 2 / (7 + 12 * nu + 4 * nu**2)
    found = at(case, 0.1)
    assert [found.bending_bit, found.bending_across] == pytest.approx([E * WHOLE] * 2)
    assert [found.shear_bit, found.shear_across] == pytest.approx([k * G * area] * 2)
    assert (found.torsion, found.stretch) == pytest.approx((2 * G * WHOLE, E * area))
    assert found.mass == pytest.approx(RHO * area)
    assert [found.rotary_bit, found.rotary_across, found.polar] == pytest.approx(
        [RHO * WHOLE, RHO * WHOLE, 2 * RHO * WHOLE]
    )


def test_bar_is_cut_at_its_ends_hole_steps_and_flats(make_case: MakeCase) -> None:
    case = make_case(
        bar__tail_overhang="20 mm",
        bar__drive_overhang="30 mm",
        bar__steps=[{"start": "300 mm", "end": "350 mm", "diameter": "24 mm"}],
        bar__flats=[{"start": "100 mm", "end": "150 mm", "depth": "2 mm"}],
    )
    cuts = [-30, 0, 100, 150, 196, 204, 300, 350, 420]
    found = [1000 * one.start for one in bar_segments(case)] + [1000 * bar_segments(case)[-1].end]
    for cut in cuts:
        assert min(abs(one - cut) for one in found) < 1e-9 or not cut
    assert (found[0], found[-1]) == pytest.approx((-30, 420))


@pytest.mark.parametrize("side", ["bit", "back", "leading", "trailing"])
def test_flat_weakens_the_bar_where_it_is_and_the_way_it_faces(
    make_case: MakeCase, side: str
) -> None:
    """Against the integral over what a 4 mm flat leaves."""
    flat = {"start": "50 mm", "end": "150 mm", "depth": "4 mm", "side": side}
    case = make_case(bar__flats=[flat])
    top = R - 0.004
    half = sqrt(R**2 - top**2)
    left = ref.integrated_section(
        R, lambda t: (-chord(t), min(chord(t), top)), (-R, -half, half, R)
    )
    found, E = at(case, 0.1), case.bar.material.elastic_modulus
    across = side in ("leading", "trailing")
    given = (found.bending_across, found.bending_bit)[:: 1 if across else -1]
    assert given == pytest.approx((E * left.r_squared, E * left.t_squared))
    assert found.stretch == pytest.approx(E * left.area)
    for station in (0.049, 0.151):
        assert at(case, station).bending_bit == pytest.approx(E * WHOLE)


def test_second_flat_is_found_beside_the_first(make_case: MakeCase) -> None:
    flats = [
        {"start": start, "end": end, "depth": "4 mm"}
        for start, end in (("50 mm", "100 mm"), ("250 mm", "300 mm"))
    ]
    case = make_case(bar__flats=flats)
    assert at(case, 0.275).stretch == at(case, 0.075).stretch < at(case, 0.150).stretch


def slotted(low: float, high: float) -> ref.SectionSums:
    """What a strip from `low` to `high` in t leaves of the bar."""

    def strip(t: float) -> tuple[float, float]:
        return (0.0, 0.0) if low < t < high else (-chord(t), chord(t))

    return ref.integrated_section(R, strip, (-R, low, high, R))


@pytest.mark.parametrize(
    ("hole", "strip"),
    [
        ({}, (-8e-3, 0.0)),
        ({"shape": "square", "offset": "-1 mm"}, (-3e-3, 5e-3)),
        ({"shape": "round"}, (-4e-3, 4e-3)),
        ({"shape": "round", "offset": "2 mm"}, (-6e-3, 2e-3)),
    ],
)
def test_hole_softens_its_width_by_the_extra_give_of_the_table(
    make_case: MakeCase, hole: dict[str, str], strip: tuple[float, float]
) -> None:
    """Over the hole's 8 mm the give is the plain bar's and the table's besides, no more.

    A square hole takes its strip's mass away, a round one pi/4 of that.
    """
    case = make_case(**{f"cross_hole__{name}": value for name, value in hole.items()})
    steel, width = case.bar.material, 0.008
    offset = abs(strip[0] + strip[1]) / 2
    square = hole.get("shape") != "round"
    extra = extra_compliance("square" if square else "round", width, D, offset)
    plain, soft = at(case, 0.2), at(case, 0.2, hole=True)
    E, G = steel.elastic_modulus, steel.shear_modulus
    gives = {
        "bending_bit": extra.bend_bit / (E * D**3),
        "bending_across": extra.bend_across / (E * D**3),
        "torsion": extra.torsion / (G * D**3),
        "shear_bit": extra.shear_bit / (G * D),
        "shear_across": extra.shear_across / (G * D),
        "stretch": extra.axial / (E * D),
    }
    for name, give in gives.items():
        found = width / getattr(soft, name) - width / getattr(plain, name)
        assert found == pytest.approx(give, rel=1e-9), name
    lost = (pi * R**2 - slotted(*strip).area) * (1.0 if square else pi / 4)
    assert plain.mass - soft.mass == pytest.approx(RHO * lost, rel=1e-9)
    for name in ("rotary_bit", "rotary_across", "polar"):
        share = getattr(soft, name) / getattr(plain, name)
        assert share == pytest.approx(soft.mass / plain.mass, rel=1e-9), name
    assert (soft.start, soft.end) == pytest.approx((0.196, 0.204))


def test_set_screws_soften_the_hole_further(make_case: MakeCase) -> None:
    bare = make_case()
    screwed = make_case(cross_hole__set_screws=[{"diameter": "6 mm"}, {"diameter": "5 mm"}])
    extra = extra_compliance("square", 0.008, D, 0.004)
    expected = extra.with_screw(0.006, D).with_screw(0.005, D)
    E = bare.bar.material.elastic_modulus
    found = 1 / at(screwed, 0.2, hole=True).bending_bit - 1 / at(bare, 0.2).bending_bit
    assert found == pytest.approx(expected.bend_bit / (E * D**3) / 0.008, rel=1e-9)


@pytest.mark.parametrize(
    ("hole", "end"),
    [
        (CrossHole(size=0.012 + 0.9e-6, position=0.2), CrossHole(size=0.012, position=0.2)),
        (
            CrossHole(size=0.008, offset=0.004 + 0.9e-6, position=0.2),
            CrossHole(size=0.008, offset=0.004, position=0.2),
        ),
    ],
)
def test_hole_typed_a_hair_past_the_table_is_taken_at_its_end(
    make_case: MakeCase, hole: CrossHole, end: CrossHole
) -> None:
    found, known = (
        at(make_case().model_copy(update={"cross_hole": one}), 0.2, hole=True).bending_bit
        for one in (hole, end)
    )
    assert found == pytest.approx(known, rel=1e-3)


def test_what_reaches_past_the_bar_makes_it_no_longer(make_case: MakeCase) -> None:
    flats = [{"start": "-50 mm", "end": "450 mm", "depth": "2 mm"}]
    found = bar_segments(make_case(bar__flats=flats))
    assert (found[0].start, found[-1].end) == pytest.approx((0.0, 0.4))


def test_two_cuts_a_hair_apart_leave_no_length_between_them(make_case: MakeCase) -> None:
    flats = [{"start": "50 mm", "end": "196.0000000001 mm", "depth": "2 mm"}]
    found = bar_segments(make_case(bar__flats=flats))
    assert min(one.end - one.start for one in found) > 1e-3


# --- what it carries ----------------------------------------------------------------------------


@pytest.mark.parametrize(("shape", "area"), [("square", 8.0**2), ("round", pi * 8.0**2 / 4)])
def test_bit_is_a_lump_of_high_speed_steel_about_its_own_middle(
    make_case: MakeCase, shape: str, area: float
) -> None:
    """8.16 g/cm3 (tool makers' data for M2); 40 mm long, its edge at 25 mm."""
    bit = carried_lumps(make_case(cross_hole__shape=shape, bit__length="40 mm"))[0]
    assert bit.station == pytest.approx(0.2)
    assert bit.mass == pytest.approx(8.16e-6 * area * 40)
    assert bit.arm == pytest.approx(0.025 - 0.020)


def test_screws_dog_and_what_else_is_carried_stand_at_their_places(make_case: MakeCase) -> None:
    """A steel screw, 7.85 g/cm3, fills its hole from the surface to the cross-hole, 11 mm."""
    case = make_case(
        cross_hole__set_screws=[{"diameter": "6 mm"}],
        bar__carries=[{"name": "collar", "mass": "0.5 kg", "position": "120 mm"}],
    )
    _, screw, dog, collar = carried_lumps(case)
    assert (screw.station, screw.mass) == pytest.approx((0.2, 7.85e-6 * pi * 9 * 11))
    assert (dog.station, dog.mass) == pytest.approx((0.015, 0.3))
    assert (collar.station, collar.mass) == pytest.approx((0.12, 0.5))
    assert screw.arm == dog.arm == collar.arm == 0.0


def test_bar_weighs_what_its_parts_weigh(make_case: MakeCase) -> None:
    case = make_case()
    model = beam_model(case)
    up = model.rigid[:, 0]
    length = pi * R**2 * 0.392 + slotted(-8e-3, 0.0).area * 0.008
    parts = RHO * length + 8160.0 * 8e-3**2 * 0.040 + 0.3
    # what the centres' holes take away is under a gramme each
    assert parts - 2e-3 < up @ model.mass @ up < parts


# --- how it is held -----------------------------------------------------------------------------


def test_mount_takes_every_spring_of_its_support() -> None:
    given: dict[str, Any] = {
        "radial_stiffness": 1e6,
        "vertical_stiffness": 2e6,
        "horizontal_stiffness": 3e6,
        "tilt_stiffness": 4e3,
        "axial_stiffness": 5e6,
        "turning_stiffness": 6e3,
        "damping": 700.0,
    }
    chuck = Chuck(kind="chuck", grip=0.04, acts_at=0.025, **given)
    found = mount("drive", chuck, 0.1)
    assert found.name == "drive"
    assert (found.start, found.end) == pytest.approx((0.06, 0.09))
    assert (found.vertical, found.horizontal) == (2e6, 3e6)
    assert (found.tilt, found.axial, found.turning) == (4e3, 5e6, 6e3)
    assert found.damping == 700.0


def test_bar_is_held_at_each_end_of_what_was_guessed(make_case: MakeCase) -> None:
    case = make_case(supports__tail={"kind": "live centre"})
    guess = case.supports.tail
    assert guess is not None
    assert isinstance(guess.radial_stiffness, Estimate)
    assert isinstance(guess.axial_stiffness, Estimate)
    factored = factorised(beam_model(case))
    for end in ("low", "high"):
        moved, held = held_at(case, factored, end)
        drive, tail = held.model.holds
        radial, axial = (
            getattr(guess.radial_stiffness, end),
            getattr(guess.axial_stiffness, end),
        )
        assert (tail.vertical, tail.horizontal, tail.axial) == (radial, radial, axial)
        assert (drive.vertical, drive.axial, drive.turning) == (60e6, 50e6, 3e3)
        assert moved.placed_supports[1][1].radial_stiffness == radial


def test_bar_held_as_another_case_answers_like_its_own(make_case: MakeCase) -> None:
    """Every spring of both supports is another, the bar the same."""
    other = make_case(
        supports__drive={
            "kind": "chuck",
            "grip": "40 mm",
            "vertical_stiffness": "90 N/um",
            "horizontal_stiffness": "70 N/um",
            "tilt_stiffness": "20 kN.m/rad",
            "axial_stiffness": "30 N/um",
            "turning_stiffness": "5 kN.m/rad",
        },
        supports__tail__radial_stiffness="15 N/um",
    )
    chuck = other.supports.drive
    start = other.model_copy(
        update={
            "supports": other.supports.model_copy(
                update={
                    "drive": chuck.model_copy(
                        update={
                            name: 2.0 * getattr(chuck, name)
                            for name in type(chuck).model_fields
                            if name.endswith("_stiffness")
                        }
                    )
                }
            )
        }
    )
    own = factorised(beam_model(other))
    found = held_as(other, factorised(beam_model(start)))
    for hold, expected in zip(found.model.holds, own.model.holds, strict=True):
        for name in ("name", "vertical", "horizontal", "tilt", "axial", "turning"):
            assert getattr(hold, name) == getattr(expected, name), name
    np.testing.assert_allclose(
        Held(found, 0.3).edge_compliance, Held(own, 0.3).edge_compliance, rtol=1e-8
    )


# --- the model ----------------------------------------------------------------------------------


def edge_give(case: Case, **how: Any) -> np.ndarray:
    return Held(factorised(beam_model(case, **how))).edge_compliance


def test_hole_adds_its_give_to_the_bar_by_the_unit_load(make_case: MakeCase) -> None:
    """Under a unit load at mid-span the moment is x/2 and the shear 1/2, each squared by give."""
    case = make_case()
    plain, soft = at(case, 0.2), at(case, 0.2, hole=True)
    moments = (0.2**3 - 0.196**3) / 6
    expected = moments * (1 / soft.bending_bit - 1 / plain.bending_bit)
    expected += 0.008 / 4 * (1 / soft.shear_bit - 1 / plain.shear_bit)
    found = edge_give(case)[0, 0] - edge_give(case, hole=False)[0, 0]
    assert found == pytest.approx(expected, rel=1e-6)


def test_averaged_bar_gives_alike_both_ways_and_as_much_in_all(make_case: MakeCase) -> None:
    """Between centres the give of the planes adds up; t has besides what the bar twists.

    Half of the hole's width lies between the dog and the edge on its arm of 25 mm.
    """
    case = make_case()
    own, mean, plain = edge_give(case), edge_give(case, averaged=True), edge_give(case, hole=False)
    assert own[0, 0] > mean[0, 0]
    assert mean[0, 0] + mean[1, 1] == pytest.approx(own[0, 0] + own[1, 1], rel=1e-9)
    twist = 0.004 * (1 / at(case, 0.2, hole=True).torsion - 1 / at(case, 0.2).torsion)
    expected = plain[1, 1] - plain[0, 0] + 0.025**2 * twist
    assert mean[1, 1] - mean[0, 0] == pytest.approx(expected, rel=1e-6)


def test_elements_are_no_longer_than_asked(make_case: MakeCase) -> None:
    """400 mm in twelfths or in 80 elements of 5 mm, and the hole's own."""
    coarse, fine = (beam_model(make_case(), longest=longest).n_dof for longest in (None, 0.005))
    assert 4 < fine / coarse < 8
