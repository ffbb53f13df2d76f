"""The bar's mesh: volume, surface, and what was cut out, by geometry."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import acos, pi, sqrt, tan

import numpy as np
import pytest
import references as ref

from barwright.analysis.bar import Side
from barwright.analysis.errors import SolveError
from barwright.analysis.mesh import (
    CentreHole,
    Cylinder,
    FlatCut,
    Hole,
    ScrewHole,
    SolidMesh,
    SolidShape,
    bar_shape,
    expected_unknowns,
    round_bar,
    solid_mesh,
    unfolded,
    volume,
)
from barwright.analysis.patch import facet_points

D, L = 0.025, 0.11
SHORT = 0.05
"""Long enough for a hole in its middle."""
ROUND = pi * D**2 / 4


@cache
def meshed(shape: SolidShape, *, refinement: float = 0.0) -> SolidMesh:
    """Mesh of a shape, made once for all tests."""
    return solid_mesh(shape, refinement=refinement)


def flatness(solid: SolidMesh) -> float:
    corners = np.array([[0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]], dtype=float)
    size = solid.mesh.mapping().detDF(corners)
    return float((size.min(axis=1) / size.max(axis=1)).min())


def surface(solid: SolidMesh) -> float:
    return float(facet_points(solid.mesh, solid.mesh.boundary_facets()).weight.sum())


def slot_volume(width: float, offset: float) -> float:
    """A square hole's volume: its width times the strip it takes of the section."""
    radius = D / 2
    low, high = offset - width / 2, offset + width / 2
    strip = ref.integrated_section(
        radius, lambda t: (-sqrt(radius**2 - t**2), sqrt(radius**2 - t**2)), (low, high)
    )
    return strip.area * width


def drilled_volume(diameter: float) -> float:
    """A central round hole through a round bar: the integral of chord times chord."""
    point, weight = np.polynomial.legendre.leggauss(60)
    angle = point * pi / 2
    t = diameter / 2 * np.sin(angle)
    hole = 2 * np.sqrt((diameter / 2) ** 2 - t**2)
    bar = 2 * np.sqrt((D / 2) ** 2 - t**2)
    return float(weight @ (hole * bar * diameter / 2 * np.cos(angle)) * pi / 2)


@pytest.mark.parametrize("refinement", [0, 2])
def test_plain_bar_has_the_volume_and_surface_of_its_cylinder(refinement: int) -> None:
    solid = meshed(round_bar(D, L), refinement=float(refinement))
    assert volume(solid) == pytest.approx(ROUND * L, rel=1e-4)
    assert surface(solid) == pytest.approx(pi * D * L + 2 * ROUND, rel=1e-4)
    assert flatness(solid) > 0


def test_finer_mesh_comes_nearer_to_the_cylinder() -> None:
    amiss = [
        1 - volume(meshed(round_bar(D, SHORT), refinement=step)) / (ROUND * SHORT)
        for step in (0.0, 2.0, 4.0)
    ]
    assert amiss[0] > amiss[1] > amiss[2] > 0
    assert amiss[2] < 1e-5


@pytest.mark.parametrize("offset", [0.0, 0.0025, -0.004])
def test_square_hole_takes_its_slot(offset: float) -> None:
    hole = Hole(shape="square", size=0.008, position=SHORT / 2, offset=offset)
    solid = meshed(round_bar(D, SHORT, hole=hole))
    assert ROUND * SHORT - volume(solid) == pytest.approx(slot_volume(0.008, offset), rel=4e-3)
    assert flatness(solid) > 0


def test_round_hole_takes_what_the_drill_does() -> None:
    hole = Hole(shape="round", size=0.006, position=SHORT / 2)
    solid = solid_mesh(round_bar(D, SHORT, hole=hole), refinement=3)
    assert ROUND * SHORT - volume(solid) == pytest.approx(drilled_volume(0.006), rel=4e-3)


def test_walls_are_the_square_hole_s_four_sides() -> None:
    w, radius = 0.008, D / 2
    solid = meshed(round_bar(D, SHORT, hole=Hole(shape="square", size=w, position=SHORT / 2)))
    walls = facet_points(solid.mesh, solid.walls)
    across = 2 * w * 2 * sqrt(radius**2 - w**2 / 4)
    along = 2 * slot_volume(w, 0.0) / w
    assert walls.weight.sum() == pytest.approx(across + along, rel=1e-3)
    out = np.maximum(abs(walls.place[0] - SHORT / 2), abs(walls.place[2]))
    np.testing.assert_allclose(out, w / 2, rtol=1e-9)


def test_corner_radius_leaves_its_metal() -> None:
    radius = 0.0015
    hole = Hole(shape="square", size=0.008, position=SHORT / 2)
    sharp, rounded = (
        volume(solid_mesh(round_bar(D, SHORT, hole=replace(hole, corner_radius=r)), refinement=2))
        for r in (0.0, radius)
    )
    left = (4 - pi) * radius**2 * 2 * sqrt((D / 2) ** 2 - 0.0039**2)
    assert rounded - sharp == pytest.approx(left, rel=0.1)


def test_steps_and_planes_part_the_elements() -> None:
    thick, length = 0.032, 0.2
    shape = replace(
        round_bar(D, length),
        lengths=(
            Cylinder(start=-0.04, end=0.05, diameter=D),
            Cylinder(start=0.05, end=length, diameter=thick),
        ),
        planes=(-0.02, 0.0),
    )
    solid = solid_mesh(shape)
    whole = ROUND * 0.09 + pi * thick**2 / 4 * 0.15
    assert volume(solid) == pytest.approx(whole, rel=2e-4)
    for station, area in (
        (-0.02, ROUND),
        (0.0, ROUND),
        (-0.04, ROUND),
        (length, pi * thick**2 / 4),
    ):
        section = facet_points(solid.mesh, solid.plane_facets(station))
        assert section.weight.sum() == pytest.approx(area, rel=2e-3)
    assert solid.plane_facets(0.1).size == 0


def test_flats_take_their_segments_from_their_own_sides() -> None:
    """Each as deep as no other is, so that none can be taken for another."""
    radius = D / 2
    depths: dict[Side, float] = {
        "bit": 0.0015,
        "back": 0.002,
        "leading": 0.0025,
        "trailing": 0.003,
    }
    flats = tuple(
        FlatCut(start=0.04, end=0.08, depth=depth, side=side) for side, depth in depths.items()
    )
    solid = meshed(replace(round_bar(D, L), flats=flats), refinement=2.0)
    taken = 0.0
    for depth in depths.values():
        angle = acos(1 - depth / radius)
        taken += radius**2 * angle - (radius - depth) * sqrt(2 * radius * depth - depth**2)
    assert ROUND * L - volume(solid) == pytest.approx(taken * 0.04, rel=0.02)
    _, y, z = solid.nodes[:, abs(solid.nodes[0] - 0.06) < 0.015]
    reach = {"bit": y.max(), "back": -y.min(), "leading": z.max(), "trailing": -z.min()}
    for side, depth in depths.items():
        assert reach[side] == pytest.approx(radius - depth, rel=1e-9)
    _, y, z = solid.nodes[:, solid.nodes[0] < 0.035]
    for edge in (y.max(), -y.min(), z.max(), -z.min()):
        assert edge == pytest.approx(radius, rel=5e-3)


@pytest.mark.slow
def test_screw_hole_opens_to_its_side_only() -> None:
    hole = Hole(shape="square", size=0.008, position=L / 2)
    shape = round_bar(D, L, hole=hole)
    screw = ScrewHole(diameter=0.006, side="trailing", station=L / 2)
    plain, drilled = solid_mesh(shape), solid_mesh(replace(shape, screws=(screw,)))
    taken = volume(plain) - volume(drilled)
    assert taken == pytest.approx(drilled_volume(0.006) / 2 - pi * 0.006**2 / 4 * 0.004, rel=0.02)
    near = drilled.nodes[:, np.hypot(drilled.nodes[0] - L / 2, drilled.nodes[1]) < 0.0025]
    assert near[2].min() > 0


@pytest.mark.slow
def test_centre_hole_is_a_cone_of_60_degrees() -> None:
    mouth = D / 4
    shape = replace(round_bar(D, L), centres=(CentreHole(end="tail", mouth=mouth),))
    wide, narrow = mouth / 2, 0.35 * mouth / 2
    depth = (wide - narrow) / tan(pi / 6)
    cone = pi * depth / 3 * (wide**2 + wide * narrow + narrow**2)
    taken = volume(solid_mesh(round_bar(D, L), refinement=3)) - volume(
        solid_mesh(shape, refinement=3)
    )
    assert taken == pytest.approx(cone, rel=0.1)


def test_same_shape_gives_the_same_mesh() -> None:
    shape = round_bar(D, SHORT, hole=Hole(shape="round", size=0.008, position=0.03))
    one, other = (solid_mesh.__wrapped__(shape) for _ in range(2))
    assert one is not other
    np.testing.assert_array_equal(one.nodes, other.nodes)
    np.testing.assert_array_equal(one.mesh.t, other.mesh.t)


def test_filled_hole_keeps_the_whole_bar() -> None:
    hole = Hole(shape="square", size=0.008, position=SHORT / 2, offset=0.002)
    solid = solid_mesh(round_bar(D, SHORT, hole=hole), filled=True)
    assert volume(solid) == pytest.approx(ROUND * SHORT, rel=2e-4)
    middle = solid.mesh.p[:, solid.mesh.t[:, solid.plug]].mean(axis=1)
    assert abs(middle[0] - SHORT / 2).max() < 0.004
    assert abs(middle[2] - 0.002).max() < 0.004


def test_element_inside_out_is_refused() -> None:
    solid = meshed(round_bar(D, SHORT))
    place = solid.mesh.doflocs.copy()
    one, other = solid.mesh.t[:2, 0]
    place[:, [one, other]] = place[:, [other, one]]
    with pytest.raises(SolveError, match="came out folded"):
        unfolded(replace(solid.mesh, doflocs=place))


def test_edge_that_folds_its_element_is_straightened() -> None:
    solid = meshed(round_bar(D, SHORT))
    place = solid.mesh.doflocs.copy()
    middle = solid.mesh.nvertices + solid.mesh.t2e[0, 0]
    ends = place[:, solid.mesh.edges[:, solid.mesh.t2e[0, 0]]]
    place[:, middle] += 0.6 * (ends[:, 1] - ends[:, 0])
    folded = replace(solid, mesh=replace(solid.mesh, doflocs=place))
    assert flatness(folded) < 0
    assert flatness(replace(solid, mesh=unfolded(folded.mesh))) > 0


def test_shape_of_a_case_follows_the_case(make_case) -> None:  # type: ignore[no-untyped-def]
    case = make_case(
        bar__steps=[{"start": "300 mm", "end": "400 mm", "diameter": "25 mm"}],
        cross_hole__set_screws=[{"diameter": "6 mm", "side": "leading", "shift": "1 mm"}],
        bar__flats=[{"start": "250 mm", "end": "280 mm", "depth": "1 mm"}],
    )
    shape = bar_shape(case)
    assert [piece.diameter for piece in shape.lengths] == pytest.approx([0.03, 0.025])
    assert {centre.end for centre in shape.centres} == {"drive", "tail"}
    assert [centre.mouth for centre in shape.centres] == pytest.approx([0.0075, 0.00625])
    assert shape.screws[0].station == pytest.approx(0.201)
    assert shape.flats[0].side == "back"
    assert shape.hole is not None
    assert shape.hole.position == pytest.approx(0.2)


def test_unknowns_are_told_before_a_mesh_is_made() -> None:
    hole = Hole(shape="round", size=D / 4, position=L / 2)
    for shape in (round_bar(D, L), round_bar(D, L, hole=hole)):
        expected = expected_unknowns(shape, refinement=-1)
        assert 0.8 * expected < solid_mesh(shape, refinement=-1).nodes.size < 2.5 * expected
