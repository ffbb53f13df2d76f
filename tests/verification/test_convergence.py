"""How fast the beam element converges.

Both fields of the Timoshenko beam are of degree p = 4, so the frequency error falls with the
power 2p = 8 of the element length (G. Strang & G. J. Fix, An Analysis of the Finite Element
Method, theorem 6.1; from memory), once an element is not many times longer than the bar is
thick. Long before that a thin bar sees an element without shear, whose order is lower.
"""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
import references as ref

from barwright.analysis import reference_bars as bars
from barwright.analysis.model import Held, factorised
from barwright.analysis.modes import Modes, undamped_modes
from barwright.analysis.reference_bars import SPAN, ends, spring
from barwright.analysis.timoshenko import Mount, Segment, beam

ORDER = 8.0
STOCKY = bars.reference_segment(diameter=0.1)
HOLDS = {
    "pinned": ends("pinned", "pinned"),
    "clamped and pinned": ends("clamped", "pinned"),
    "clamped and free": ends("clamped", "free"),
    "sprung": (spring(0.0, inf, 5e7, ground=True), spring(SPAN, 5e9)),
}


def meshed(piece: Segment, holds: tuple[Mount, ...], n_element: int) -> Modes:
    model = beam([piece], holds, edge=0.0, longest=1.0001 * SPAN / n_element)
    assert model.n_dof == 6 * (4 * n_element + 1)
    return undamped_modes(factorised(model), count=10)


def exact_bending(
    piece: Segment, holds: tuple[Mount, ...], guesses: tuple[float, ...]
) -> tuple[float, ...]:
    made = [ref.End(radial=hold.vertical, tilt=hold.tilt) for hold in holds]
    drive, tail = (*made, ref.End(radial=0.0, tilt=0.0))[:2]
    return ref.timoshenko_frequencies(
        drive,
        tail,
        SPAN,
        EI=piece.bending_bit,
        kGA=piece.shear_bit,
        mass=piece.mass,
        rotary=piece.rotary_bit,
        guesses=guesses,
    )


def order(counts: tuple[int, ...], errors: list[float]) -> float:
    """Power of element length by which errors fall, fitted over the meshes."""
    return -float(np.polyfit(np.log(counts), np.log(errors), 1)[0])


@pytest.mark.parametrize("name", HOLDS)
def test_first_frequency_of_a_stocky_bar_converges_with_the_eighth_power(name: str) -> None:
    counts, holds = (2, 3, 4, 5), HOLDS[name]
    found = [bars.in_plane(meshed(STOCKY, holds, n), "bit")[0] for n in counts]
    (exact,) = exact_bending(STOCKY, holds, (found[-1],))
    errors = [f / exact - 1 for f in found]
    assert min(errors) > 1e-10, "on round-off there is no rate to fit"
    assert order(counts, errors) == pytest.approx(ORDER, abs=0.15)


@pytest.mark.parametrize("name", HOLDS)
def test_second_frequency_of_a_stocky_bar_converges_with_the_eighth_power(name: str) -> None:
    counts, holds = (4, 5, 6, 8), HOLDS[name]
    found = [bars.in_plane(meshed(STOCKY, holds, n), "bit")[1] for n in counts]
    (exact,) = exact_bending(STOCKY, holds, (found[-1],))
    errors = [f / exact - 1 for f in found]
    assert min(errors) > 1e-10
    assert order(counts, errors) == pytest.approx(ORDER, abs=0.15)


@pytest.mark.parametrize(("plane", "modulus"), [("torsion", bars.G), ("axial", bars.E)])
def test_torsion_and_stretch_converge_with_the_eighth_power(plane: str, modulus: float) -> None:
    counts, holds = (2, 3, 4, 5), HOLDS["clamped and free"]
    exact = (modulus / bars.DENSITY) ** 0.5 / (4 * SPAN)
    found = [bars.in_plane(meshed(STOCKY, holds, n), plane)[0] for n in counts]
    errors = [f / exact - 1 for f in found]
    assert min(errors) > 1e-13
    assert order(counts, errors) == pytest.approx(ORDER, abs=0.15)


def test_order_of_a_thin_bar_rises_to_eight_as_elements_shorten() -> None:
    piece, holds, counts = bars.reference_segment(), HOLDS["clamped and free"], (2, 3, 4, 6, 8)
    found = [bars.in_plane(meshed(piece, holds, n), "bit")[1] for n in counts]
    (exact,) = exact_bending(piece, holds, (found[-1],))
    errors = [f / exact - 1 for f in found]
    local = [order(counts[k : k + 2], errors[k : k + 2]) for k in range(1, 4)]
    assert local == sorted(local)
    assert 7.0 < local[0] < local[-1] < ORDER + 0.15


@pytest.mark.parametrize("name", HOLDS)
def test_frequencies_come_down_to_the_exact_ones_from_above(name: str) -> None:
    holds = HOLDS[name]
    found = np.array([bars.in_plane(meshed(STOCKY, holds, n), "bit")[:2] for n in (2, 3, 4, 6)])
    exact = exact_bending(STOCKY, holds, tuple(found[-1]))
    assert np.all(np.diff(found, axis=0) < 0)
    assert np.all(found[-1] >= np.array(exact) * (1 - 1e-10))


@pytest.mark.parametrize("name", HOLDS)
def test_change_on_refining_is_no_smaller_than_the_error_left(name: str) -> None:
    holds = HOLDS[name]
    coarse, fine = (bars.in_plane(meshed(STOCKY, holds, n), "bit")[0] for n in (2, 4))
    (exact,) = exact_bending(STOCKY, holds, (fine,))
    assert abs(coarse - fine) > abs(fine - exact)


@pytest.mark.parametrize("n_element", [1, 2, 5, 24])
def test_static_answer_is_exact_on_any_mesh(n_element: int) -> None:
    """A Timoshenko bar under point loads is a cubic: the element holds it, and does not lock."""
    piece, k, kt = bars.reference_segment(diameter=0.01), 3e6, 2e3
    holds = spring(0.0, k, kt, ground=True), spring(SPAN, k)
    model = beam([piece], holds, edge=0.15, longest=SPAN / n_element)
    edge = model.edge[:, 0]
    found = edge @ Held(factorised(model)).solve(edge).motion[:, 0]
    exact = ref.sprung_deflection(
        1.0, 0.15, SPAN, piece.bending_bit, k1=k, k2=k, kt=kt, kGA=piece.shear_bit
    )
    assert found == pytest.approx(exact, rel=1e-9)
