"""A hole's block in the beam of a case: by hand on invented blocks, and against the solid."""

from __future__ import annotations

import pickle
from dataclasses import replace
from math import inf

import numpy as np
import pytest

from barwright.analysis.beam import bar_segments, beam_model
from barwright.analysis.case import Case
from barwright.analysis.hole_block import MODULUS_G, POISSON, HoleBlock
from barwright.analysis.hole_in_beam import _Found, block_of, block_shape, with_block
from barwright.analysis.model import Factored, Held, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.solid import solid_model

D = 0.03


def invented(**parts: np.ndarray) -> HoleBlock:
    nothing = {name: np.zeros((6, 6)) for name in ("give", "carried", "seat")}
    return HoleBlock(**(nothing | parts), volume=0.0)


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


def test_missing_metal_is_taken_off(case: Case) -> None:
    block = replace(invented(), volume=0.05)
    held = holding(case, block)

    def mass(case: Case, *, hole: bool) -> float:
        return sum(s.mass * (s.end - s.start) for s in bar_segments(case, hole=hole))

    lost = mass(held, hole=False) - mass(held, hole=True)
    assert lost == pytest.approx(7850.0 * 0.05 * D**3, rel=1e-9)


def test_averaged_bar_is_alike_all_round(case: Case) -> None:
    rng = np.random.default_rng(4)
    part = rng.standard_normal((6, 6))
    block = invented(give=part @ part.T, carried=rng.standard_normal((6, 6)))
    model = beam_model(holding(case, block), averaged=True)
    found = undamped_modes(factorised(model), count=6, counted=False)
    bit = found.frequency[[p == "bit" for p in found.plane]]
    across = found.frequency[[p == "across" for p in found.plane]]
    np.testing.assert_allclose(bit[:2], across[:2], rtol=2e-3)  # the bit's own mass is off centre


@pytest.mark.slow
@pytest.mark.parametrize("hole", [{"shape": "square"}, {"shape": "round", "offset": "2 mm"}])
def test_beam_with_its_block_agrees_with_the_solid(make_case, hole) -> None:  # type: ignore[no-untyped-def]
    """Two pitches within 0.1 %, the third 0.2 %, the give 0.3 %, a coupling a twentieth."""
    changes = {f"cross_hole__{key}": value for key, value in hole.items()}
    # A dog has its mass in one section of the beam, and a radius of the solid either side of it.
    case = make_case(supports__drive__dog_mass="1 g", **changes)
    line = factorised(beam_model(with_block(case)))
    body = factorised(solid_model(case, refinement=2))
    give = [Held(one).edge_compliance for one in (line, body)]
    np.testing.assert_allclose(np.diag(give[0]), np.diag(give[1]), rtol=3e-3)
    assert give[0][0, 2] == pytest.approx(give[1][0, 2], rel=0.05)
    pitch = [undamped_modes(one, count=8, worst_residual=1e-5) for one in (line, body)]
    for plane in ("bit", "across"):
        lowest = [
            [f for f, p in zip(one.frequency, one.plane, strict=True) if p == plane][:3]
            for one in pitch
        ]
        # The third pitch feels the beam's own shortness, and the solid's sharp corners most.
        np.testing.assert_allclose(lowest[0][:2], lowest[1][:2], rtol=1e-3)
        np.testing.assert_allclose(lowest[0], lowest[1], rtol=2e-3)
