"""A hole's block in the beam of a case: by hand on invented blocks, and against the solid."""

from __future__ import annotations

import pickle
from dataclasses import replace
from math import inf

import numpy as np
import pytest

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.hole_block import (
    MODULUS_G,
    POISSON,
    SHEAR_BIT,
    TORSION,
    HoleBlock,
    beyond_the_beam,
)
from barwright.analysis.hole_in_beam import _Found, block_of, block_shape, with_block
from barwright.analysis.model import Factored, Held, Model, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.solid import solid_model

D = 0.03


def invented(**parts: np.ndarray) -> HoleBlock:
    nothing: dict[str, np.ndarray] = {
        name: np.zeros((6, 6)) for name in ("give", "carried", "seat")
    }
    nothing |= {"drift": np.zeros((6, 3)), "cut_out": np.zeros(4)}
    return HoleBlock(**(nothing | parts))


def holding(case: Case, block: HoleBlock) -> Case:
    found = _Found(shape=block_shape(case), block=block)
    return case.model_copy(update={"cross_hole": case.cross_hole.with_found(found)})


def rigidly_held(case: Case) -> Factored:
    """Return the beam pinned at both ends, and held endways and from turning at the first."""
    factored = factorised(beam_model(case))
    first, last = factored.model.holds
    return factored.held_by(
        replace(first, vertical=inf, horizontal=inf, axial=inf, turning=inf, tilt=0.0),
        replace(last, vertical=inf, horizontal=inf, axial=0.0, turning=0.0, tilt=0.0),
    )


def edge_gives(case: Case, block: HoleBlock) -> np.ndarray:
    return np.asarray(Held(rigidly_held(holding(case, block))).edge_compliance)


@pytest.fixture
def case(make_case) -> Case:  # type: ignore[no-untyped-def]
    """Steel of the blocks' Poisson's ratio."""
    steel = {
        "elastic_modulus": "200 GPa",
        "poisson": POISSON,
        "density": "7850 kg/m3",
        "yield_strength": "600 MPa",
    }
    return make_case(bar__material=steel)  # type: ignore[no-any-return]


def test_bending_give_adds_what_a_hinge_at_the_middle_adds(case: Case) -> None:
    """A quarter of the span squared: the moment under a push P at mid-span is P L / 4."""
    give = np.zeros((6, 6))
    give[0, 0], give[4, 4] = 8.0, 8.0 * (0.008 / D) ** 2 / 12
    plain, soft = edge_gives(case, invented()), edge_gives(case, invented(give=give))
    E, L, width = 200e9, 0.4, 0.008
    # Spread over the hole's width the moment there is less than in the middle.
    moment_squared = (L / 4) ** 2 - (L / 4) * width / 4 + width**2 / 48
    hinge = 8.0 / (E * D**3) * moment_squared
    assert soft[0, 0] - plain[0, 0] == pytest.approx(hinge, rel=1e-9)
    assert soft[1, 1] == pytest.approx(plain[1, 1], rel=1e-12)


def test_pull_and_twist_give_add_themselves(case: Case) -> None:
    """Half of the length is pulled and twisted: the hole is where the load comes in."""
    give = np.diag([0.0, 0.0, 3.0, 0.7, 0.0, 0.0])
    plain, soft = edge_gives(case, invented()), edge_gives(case, invented(give=give))
    E, arm = 200e9, case.edge_radius
    assert soft[2, 2] - plain[2, 2] == pytest.approx(0.7 / (E * D) / 2, rel=1e-9)
    assert soft[1, 1] - plain[1, 1] == pytest.approx(3.0 / (E * D**3) * arm**2 / 2, rel=1e-9)


def test_seat_gives_in_series(case: Case) -> None:
    seat = np.diag([0.3, 0.2, 0.1, 0.0, 0.0, 5.0])
    plain, soft = edge_gives(case, invented()), edge_gives(case, invented(seat=seat))
    E, arm = 200e9, case.edge_radius
    expected = [0.3 / (E * D), 0.2 / (E * D) + 5.0 * arm**2 / (E * D**3), 0.1 / (E * D)]
    np.testing.assert_allclose(soft - plain, np.diag(expected), rtol=1e-7, atol=1e-16)


def test_walls_carried_by_a_moment_move_the_edge_with_it(case: Case) -> None:
    """Twice the moment under the edge: once as it moves the edge, once as the push bends."""
    carried = np.zeros((6, 6))
    carried[0, 0] = 0.7
    plain, soft = edge_gives(case, invented()), edge_gives(case, invented(carried=carried))
    E, L, width = 200e9, 0.4, 0.008
    # A push along +r makes the slope fall along the bar, so the moment is negative.
    mean_moment = -(L / 4 - width / 8)
    expected = 2 * 0.7 / (E * D**2) * mean_moment
    assert soft[0, 0] - plain[0, 0] == pytest.approx(expected, rel=1e-9)


def test_couplings_of_an_offset_make_a_pull_bend(case: Case) -> None:
    give = np.diag([0.0, 2.0, 0.0, 0.6, 0.0, 0.0])
    give[1, 3] = give[3, 1] = 0.8
    found = edge_gives(case, invented(give=give))
    apart = edge_gives(case, invented(give=np.diag(np.diag(give))))
    assert abs(found[1, 2]) > 100 * abs(apart[1, 2])
    # Pull in half of the hole's length alone, and bending across in all of it.
    E, L, width = 200e9, 0.4, 0.008
    expected = 0.8 / (E * D**2) * (L / 4 - width / 8) / 2
    assert abs(found[1, 2] - apart[1, 2]) == pytest.approx(expected, rel=1e-9)


def test_a_push_on_the_walls_meets_a_coupling_as_the_bar_beside_it_does(case: Case) -> None:
    """What the solid says of a push holds the coupling already: the beam must not count it twice.

    The hole sits mid-span: a push along r goes off half to either side, which shears its two
    halves against each other and twists nothing. Endways on the arm a push shears by arm / L;
    along t it twists by half of the arm, for one end alone is held from turning.
    """
    give, coupled = np.diag(np.full(6, 2.0)), np.zeros((6, 6))
    coupled[SHEAR_BIT, TORSION] = coupled[TORSION, SHEAR_BIT] = 0.5

    def answer(give: np.ndarray) -> np.ndarray:
        said = np.zeros((6, 6)), np.zeros((6, 6))
        carried, seat = beyond_the_beam(give, *said, 0.008 / D)
        return edge_gives(case, invented(give=give, carried=carried, seat=seat))

    more = answer(give + coupled) - answer(give)
    G, arm, L = case.bar.material.shear_modulus, case.edge_radius, 0.4
    modulus = G / MODULUS_G
    both = 0.5 / (modulus * D**2) * (arm / L) * (arm / 2)
    assert abs(more[1, 2]) == pytest.approx(both, rel=1e-6)
    assert abs(more[0, 1]) < 1e-6 * 0.5 / (modulus * D**2) * arm / 4


def test_twist_and_shear_give_go_with_the_shear_modulus(make_case) -> None:  # type: ignore[no-untyped-def]
    def steel(poisson: float) -> dict[str, object]:
        return {
            "elastic_modulus": "200 GPa",
            "poisson": poisson,
            "density": "7850 kg/m3",
            "yield_strength": "600 MPa",
        }

    give = invented(give=np.diag([0.0, 0.0, 3.0, 0.0, 0.0, 0.0]))
    gained = []
    for poisson in (POISSON, 0.2):
        case = make_case(bar__material=steel(poisson))
        gained.append((edge_gives(case, give) - edge_gives(case, invented()))[1, 1])
    assert gained[1] / gained[0] == pytest.approx(MODULUS_G * 2 * (1 + 0.2), rel=1e-7)


def test_block_is_used_for_its_own_shape_only(case: Case) -> None:
    held = holding(case, invented())
    assert block_of(held) is not None
    assert block_of(case) is None
    thicker = held.model_copy(update={"bar": held.bar.model_copy(update={"diameter": 0.032})})
    assert block_of(thicker) is None
    longer = held.model_copy(update={"bar": held.bar.model_copy(update={"span": 0.5})})
    assert block_of(longer) is block_of(held)
    assert block_of(pickle.loads(pickle.dumps(held))) is not None


def test_bit_brings_and_hole_takes_what_rigid_bodies_weigh(case: Case) -> None:
    """Inertia of bar, less the piece cut out, and of a bit of 8 x 8 x 40 mm, worked by hand.

    The bit's edge is at 25 mm and its tail at -15 mm; bit and piece lie 4 mm to the trailing
    side, where t is negative. Whatever the walls do as the bar bends, a rigid bar is not bent.
    """
    volume, square_bit, square_across = 0.05, 0.05 / 12, 0.05 * (0.004 / D) ** 2
    cut_out = np.array([volume, -volume * 0.004 / D, square_bit, square_across])
    wild = np.random.default_rng(7)
    block = invented(
        cut_out=cut_out, carried=wild.standard_normal((6, 6)), drift=wild.standard_normal((6, 3))
    )
    whole = beam_model(case, hole=False)
    found = beam_model(holding(case, block))
    bit = 8160 * 0.008**2 * 0.04
    abreast = box_inertia(bit, (0.005, -0.004), (0.008, 0.04, 0.008))
    for one, other in ((0, 5), (2, 4), (3, 4)):  # a beam without a block couples no planes
        abreast[one, other] = abreast[other, one] = 0.0
    bare = rigid_inertia(whole) - abreast
    gone = 7850 * D**3
    piece = np.diag([volume, volume, volume, 0.0, 0.0, 0.0]) * gone
    piece[3, 3] = gone * (D**2 * square_bit + volume * 0.008**2 / 12)  # it is 8 mm along the bar
    piece[4, 4] = gone * (D**2 * square_across + volume * 0.008**2 / 12)
    piece[5, 5] = gone * D**2 * (square_bit + square_across)
    piece[0, 5] = piece[5, 0] = piece[2, 4] = piece[4, 2] = gone * volume * 0.004
    expected = bare - piece + box_inertia(bit, (0.005, -0.004), (0.008, 0.04, 0.008))
    np.testing.assert_allclose(rigid_inertia(found), expected, rtol=1e-8, atol=1e-12)
    weight = found.rigid.T @ found.sag_load
    np.testing.assert_allclose(weight, -9.80665 * expected[:, 0], rtol=1e-8, atol=1e-10)


def rigid_inertia(model: Model) -> np.ndarray:
    return np.asarray(model.rigid.T @ model.mass @ model.rigid)


def box_inertia(
    mass: float, middle: tuple[float, float], sides: tuple[float, float, float]
) -> np.ndarray:
    """Inertia of a box about the hole's middle, its middle at (r, t), sides along x, r, t."""
    (r, t), (a, b, c) = middle, (side**2 / 12 for side in sides)
    inertia = np.diag([1.0, 1.0, 1.0, a + b + r**2, a + c + t**2, b + c + r**2 + t**2])
    inertia[0, 5] = inertia[2, 4] = -t
    inertia[1, 5], inertia[2, 3], inertia[3, 4] = r, -r, r * t
    return mass * (np.triu(inertia) + np.triu(inertia, 1).T)


def test_no_motion_has_less_than_no_inertia(case: Case) -> None:
    """Whatever walls and metal do, masses that move are all that the mass matrix holds."""
    wild = np.random.default_rng(8)
    block = invented(
        cut_out=np.array([0.05, -0.007, 0.004, 0.002]),
        carried=30 * wild.standard_normal((6, 6)),
        drift=3 * wild.standard_normal((6, 3)),
    )
    mass = beam_model(holding(case, block)).mass.toarray()
    scale = 1 / np.sqrt(mass.diagonal())
    assert np.linalg.eigvalsh(mass * scale * scale[:, None]).min() > 0


def test_bit_rides_on_the_walls(case: Case) -> None:
    """A bit of mass m in a bar that bends: m times what a moment lifts the walls by, twice.

    Rayleigh: the inertia of a given bent shape grows by m ((w + c M)^2 - w^2).
    """
    carried = np.zeros((6, 6))
    carried[0, 0] = 0.7
    with_it, without = (
        beam_model(holding(case, invented(**p))) for p in ({"carried": carried}, {})
    )
    bent = Held(rigidly_held(holding(case, invented()))).solve(without.edge[:, 0]).motion[:, 0]
    E, L, width = 200e9, 0.4, 0.008
    lifted = 0.7 / (E * D**2) * -(L / 4 - width / 8)  # as in the static test above
    w = without.edge[:, 0] @ bent
    bit = 8160 * 0.008**2 * 0.04
    expected = bit * ((w + lifted) ** 2 - w**2)
    assert bent @ (with_it.mass - without.mass) @ bent == pytest.approx(expected, rel=1e-6)


def test_averaged_bar_is_alike_all_round(case: Case) -> None:
    rng = np.random.default_rng(4)
    part = rng.standard_normal((6, 6))
    block = invented(give=part @ part.T, carried=rng.standard_normal((6, 6)))
    model = beam_model(holding(case, block), averaged=True)
    found = undamped_modes(factorised(model), count=6, counted=False)
    bit = found.frequency[[p == "bit" for p in found.plane]]
    across = found.frequency[[p == "across" for p in found.plane]]
    np.testing.assert_allclose(bit[:2], across[:2], rtol=1e-7)


@pytest.mark.slow
@pytest.mark.parametrize("hole", [{"shape": "square"}, {"shape": "round", "offset": "2 mm"}])
def test_beam_with_its_block_agrees_with_the_solid(make_case, hole) -> None:  # type: ignore[no-untyped-def]
    """Three pitches within 0.1 %, the give 0.3 %, a coupling a twentieth."""
    changes = {f"cross_hole__{key}": value for key, value in hole.items()}
    # A dog has its mass in one section of the beam, and a radius of the solid either side of it.
    case = make_case(supports__drive__dog_mass="1 g", **changes)
    line = factorised(beam_model(with_block(case)))
    body = factorised(solid_model(case, refinement=1))
    give = [Held(one).edge_compliance for one in (line, body)]
    np.testing.assert_allclose(np.diag(give[0]), np.diag(give[1]), rtol=3e-3)
    assert give[0][0, 2] == pytest.approx(give[1][0, 2], rel=0.05)
    pitch = [undamped_modes(one, count=8, worst_residual=1e-5) for one in (line, body)]
    for plane in ("bit", "across"):
        lowest = [
            [f for f, p in zip(one.frequency, one.plane, strict=True) if p == plane][:3]
            for one in pitch
        ]
        np.testing.assert_allclose(lowest[0], lowest[1], rtol=1e-3)
