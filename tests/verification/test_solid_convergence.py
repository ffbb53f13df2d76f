"""The solid against theory: rate of convergence, Timoshenko's bar, and the beam."""

from __future__ import annotations

from math import inf, pi

import numpy as np
import pytest
import references as ref
from scipy.sparse.linalg import spsolve
from skfem import Basis, ElementTetP2, MeshTet, MeshTet2

from barwright.analysis import reference_bars as bars
from barwright.analysis.beam import beam_model
from barwright.analysis.elastic import lame, stiffness
from barwright.analysis.material import BarMaterial
from barwright.analysis.mesh import round_bar, solid_mesh
from barwright.analysis.model import Held, Model, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.patch import ORDER, volume_points
from barwright.analysis.solid import solid, solid_model
from barwright.analysis.timoshenko import beam

D, L = bars.DIAMETER, bars.SPAN
STEEL = BarMaterial(
    elastic_modulus=bars.E, poisson=bars.POISSON, density=bars.DENSITY, yield_strength=3.5e8
)
A, I, KAPPA = pi * D**2 / 4, pi * D**4 / 64, 6 * (1 + 0.29) / (7 + 6 * 0.29)
HUTCHINSON = 6 * (1 + 0.29) ** 2 / (7 + 12 * 0.29 + 4 * 0.29**2)


def energy_amiss(n: int) -> float:
    """Energy lost by n^3 x 6 tetrahedra on u_x = sin(pi x) sin(pi y) sin(pi z) in a unit cube.

    Homogeneous on the whole surface, so the energy lost is the energy of the error.
    """
    line = np.linspace(0, 1, n + 1)
    mesh = MeshTet2.from_mesh(MeshTet.init_tensor(line, line, line))
    basis = Basis(mesh, ElementTetP2(), intorder=ORDER)
    soft = STEEL.model_copy(update={"elastic_modulus": 1.0})
    first, second = lame(soft)
    points = volume_points(basis)
    s, c = np.sin(pi * points.place), np.cos(pi * points.place)
    load = np.stack(
        [
            (first + 4 * second) * s[0] * s[1] * s[2],
            -(first + second) * c[0] * c[1] * s[2],
            -(first + second) * c[0] * s[1] * c[2],
        ],
        axis=1,
    )
    load *= pi**2 * points.weight[:, None]
    right = np.asarray(points.value.T @ load).ravel()
    surface = basis.get_dofs().all()
    free = np.setdiff1d(np.arange(3 * basis.N), (3 * surface[:, None] + np.arange(3)).ravel())
    K = stiffness(basis, soft).tocsr()[free][:, free].tocsc()
    exact = (first + 4 * second) * pi**2 * 3 / 24
    return float(exact - right[free] @ spsolve(K, right[free]))


@pytest.mark.slow
def test_energy_converges_with_the_fourth_power_of_element_length() -> None:
    """Second-order elements: G. Strang & G. J. Fix (from memory), order 2p = 4 in energy."""
    lost = [energy_amiss(n) for n in (5, 7, 10)]
    order = np.log(lost[0] / lost[2]) / np.log(2.0)
    assert all(amiss > 0 for amiss in lost)
    assert order == pytest.approx(4.0, abs=0.15)


def meshed(drive: str, refinement: int) -> Model:
    return solid(
        solid_mesh(round_bar(D, L, planes=(L / 2,)), refinement=refinement),
        STEEL,
        bars.ends(drive, "pinned"),
        edge=L / 2,
    )


def timoshenko(drive: str, kappa: float) -> tuple[float, ...]:
    tilt = inf if drive == "clamped" else 0.0
    return ref.timoshenko_frequencies(
        ref.End(radial=inf, tilt=tilt),
        ref.End(radial=inf, tilt=0.0),
        L,
        EI=bars.E * I,
        kGA=kappa * bars.G * A,
        mass=bars.DENSITY * A,
        rotary=bars.DENSITY * I,
        guesses=beam_frequencies(drive),
    )


def beam_frequencies(drive: str) -> tuple[float, ...]:
    """Beam frequencies, only to tell the root-finder where to look."""
    model = beam([bars.reference_segment()], bars.ends(drive, "pinned"), edge=0.0)
    modes = undamped_modes(factorised(model), count=8)
    bit = [f for f, plane in zip(modes.frequency, modes.plane, strict=True) if plane == "bit"]
    return tuple(bit[:3])


@pytest.mark.parametrize("drive", ["pinned", "clamped"])
def test_first_three_modes_agree_with_timoshenko(drive: str) -> None:
    """Cowper's coefficient for the first two; the third tells it from Hutchinson's.

    J. R. Hutchinson, J. Appl. Mech. 68 (2001) 87 (from memory), 6(1+nu)^2/(7+12nu+4nu^2), comes
    out of three-dimensional theory for short waves; Cowper's third mode is 0.1 to 0.2 % low.
    """
    model = meshed(drive, 0)
    modes = undamped_modes(factorised(model), count=8, worst_residual=1e-5)
    bending = [
        f
        for f, plane in zip(modes.frequency, modes.plane, strict=True)
        if plane in ("bit", "across")
    ]
    found = np.array(bending[:6]).reshape(3, 2).mean(axis=1)
    np.testing.assert_allclose(found[:2], timoshenko(drive, KAPPA)[:2], rtol=1e-3)
    np.testing.assert_allclose(found, timoshenko(drive, HUTCHINSON), rtol=1e-3)


@pytest.mark.parametrize("refinement", [0, 1])
def test_mid_span_give_agrees_with_timoshenko_and_cowper(refinement: int) -> None:
    compliance = Held(factorised(meshed("pinned", refinement))).edge_compliance
    shear = L / (4 * KAPPA * bars.G * A)
    expected = ref.pinned_deflection(1.0, L / 2, L, bars.E * I) + shear
    np.testing.assert_allclose(np.diag(compliance)[:2], expected, rtol=3e-3)


@pytest.mark.slow
def test_refining_the_mesh_changes_little() -> None:
    give = [Held(factorised(meshed("clamped", step))).edge_compliance[0, 0] for step in (-1, 0, 2)]
    assert give[1] == pytest.approx(give[2], rel=1e-3)
    assert give[0] == pytest.approx(give[2], rel=3e-3)


@pytest.mark.slow
@pytest.mark.parametrize("hole", [{"shape": "square"}, {"shape": "round", "offset": "2 mm"}])
def test_beam_with_its_calibrated_hole_agrees_with_the_solid(make_case, hole) -> None:  # type: ignore[no-untyped-def]
    changes = {f"cross_hole__{key}": value for key, value in hole.items()}
    case = make_case(**changes)
    line, body = factorised(beam_model(case)), factorised(solid_model(case))
    give = [np.diag(Held(one).edge_compliance) for one in (line, body)]
    np.testing.assert_allclose(give[0][:2], give[1][:2], rtol=0.012)
    first = [undamped_modes(one, count=4, counted=False).frequency[:2] for one in (line, body)]
    np.testing.assert_allclose(first[0], first[1], rtol=0.005)
