"""Our beam against textbooks: every row of `barwright verify`, and closed forms at full digits.

The rows print a handful of digits and stiffen the shear to make an Euler bar of ours; here the
bar keeps its shear, and the closed form of a Timoshenko bar is met to round-off.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf, pi

import numpy as np
import pytest
import references as ref

from barwright.analysis import reference_bars as bars
from barwright.analysis.model import Held, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.reference_bars import SPAN, ends, spring
from barwright.analysis.timoshenko import Mount, beam, segment
from barwright.analysis.verification import Check, checks, run_checks

PIECE = bars.reference_segment()
EI, KGA = PIECE.bending_bit, PIECE.shear_bit
MESH = 5e-8  # sixteen elements on the third mode of a thin bar; see test_convergence
PLACES = (0.05, 0.1, 0.17, 0.2, 0.3, 0.39)


@pytest.mark.parametrize("check", checks(), ids=lambda check: check.id)
def test_every_row_of_verify_agrees_within_its_tolerance(check: Check) -> None:
    (result,) = run_checks([check])
    assert result.ok, f"{check.what}: {check.expected} {check.unit} expected, got {result.got}"


def real_deflection(holds: tuple[Mount, ...], place: float) -> float:
    """Metres per newton under the load, the bar with its shear."""
    held = bars.held_bar(holds, place, PIECE)
    edge = held.factored.model.edge[:, 0]
    return float(edge @ held.solve(edge).motion[:, 0])


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize(
    ("k1", "k2", "kt"),
    [(30e6, 20e6, 0.0), (30e6, 20e6, 2e4), (1e9, 1e5, 1e3), (5e6, 5e8, 1e6)],
)
def test_deflection_on_springs_is_that_of_the_force_method(
    k1: float, k2: float, kt: float, place: float
) -> None:
    holds = spring(0.0, k1, kt, ground=True), spring(SPAN, k2)
    exact = ref.sprung_deflection(1.0, place, SPAN, EI, k1=k1, k2=k2, kt=kt, kGA=KGA)
    assert real_deflection(holds, place) == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize("place", PLACES)
def test_deflection_between_rigid_pins_is_bending_plus_shear(place: float) -> None:
    bending = ref.pinned_deflection(1.0, place, SPAN, EI)
    shear = place * (SPAN - place) / (SPAN * KGA)
    found = real_deflection(ends("pinned", "pinned"), place)
    assert found == pytest.approx(bending + shear, rel=1e-10)


@pytest.mark.parametrize("place", [*PLACES, SPAN])
def test_cantilever_deflection_is_bending_plus_shear(place: float) -> None:
    exact = ref.cantilever_deflection(1.0, place, EI) + place / KGA
    found = real_deflection(ends("clamped", "free"), place)
    assert found == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize(
    ("tail", "formula"),
    [("pinned", ref.clamped_pinned_deflection), ("clamped", ref.clamped_deflection)],
)
@pytest.mark.parametrize("place", [0.1, 0.2, 0.3])
def test_euler_deflection_agrees_with_roark(
    tail: str, formula: Callable[[float, float, float, float], float], place: float
) -> None:
    exact = formula(bars.FORCE, place, SPAN, EI) * 1e6
    assert bars.deflection(ends("clamped", tail), place) == pytest.approx(exact, rel=2e-6)


def test_sag_of_a_clamped_and_pinned_bar_is_the_exact_one_not_the_rounded_185() -> None:
    exact = ref.uniform_sag_clamped_pinned(PIECE.mass * 9.80665, SPAN, EI) * 1e6
    assert bars.sag(ends("clamped", "pinned")) == pytest.approx(exact, rel=1e-6)


def test_worst_place_of_a_load_is_root_two_less_one_from_the_pin() -> None:
    found, place = bars.worst_place("clamped", "pinned")
    assert found == pytest.approx(ref.worst_clamped_pinned(), rel=1e-6)
    assert 1 - place / SPAN == pytest.approx(2**0.5 - 1, rel=1e-4)


def test_stepped_cantilever_agrees_with_castigliano() -> None:
    I1, I2 = pi * 0.03**4 / 64, pi * 0.02**4 / 64
    exact = ref.stepped_tip(100.0, bars.E, 0.1, I1, 0.1, I2) * 1e6
    assert bars.stepped_tip((0.03, 0.02), (0.1, 0.1)) == pytest.approx(exact, rel=1e-6)


@pytest.mark.parametrize(
    ("tail", "root"),
    [
        ("pinned", ref.clamped_pinned_root),
        ("clamped", ref.clamped_root),
        ("free", ref.clamped_free_root),
        ("guided", ref.clamped_guided_root),
    ],
)
def test_frequency_numbers_are_roots_of_the_characteristic_equation(
    tail: str, root: Callable[[int], float]
) -> None:
    found = bars.euler_roots(ends("clamped", tail), 3)
    assert found == pytest.approx([root(n) for n in (1, 2, 3)], rel=1e-6)


@pytest.mark.parametrize("K", [0.5, 5.0, 50.0, 5e3])
def test_clamp_and_tail_spring_follow_their_characteristic_equation(K: float) -> None:
    holds = spring(0.0, inf, inf, ground=True), bars.spring_ends(K, 0.0)[1]
    first, second = ref.clamped_free_root(1), ref.clamped_pinned_root(1)
    exact = ref.clamped_spring_root(K, first, second)
    assert bars.euler_roots(holds, 1)[0] == pytest.approx(exact, rel=1e-6)


@pytest.mark.parametrize("R", [0.05, 3.0, 300.0])
def test_pin_and_tilt_spring_follow_their_characteristic_equation(R: float) -> None:
    exact = ref.tilt_spring_root(R, pi, ref.clamped_pinned_root(1))
    assert bars.euler_roots(bars.spring_ends(inf, R), 1)[0] == pytest.approx(exact, rel=1e-6)


@pytest.mark.parametrize("ratio", [0.1, 3.0, 20.0])
def test_mass_at_mid_span_follows_its_characteristic_equation(ratio: float) -> None:
    found = bars.euler_roots(ends("pinned", "pinned"), 1, bars.middle_mass(ratio))[0]
    assert found == pytest.approx(ref.middle_mass_root(ratio), rel=1e-6)


@pytest.mark.parametrize("slenderness", [4.0, 8.0, 16.0, 40.0])
def test_pinned_timoshenko_bar_has_its_closed_form_frequencies(slenderness: float) -> None:
    piece = bars.reference_segment(length=slenderness * bars.DIAMETER)
    found = bars.bending(piece, ends("pinned", "pinned", piece.end), count=3)
    exact = [
        ref.timoshenko_pinned(
            n,
            piece.end,
            E=bars.E,
            G=bars.G,
            rho=bars.DENSITY,
            A=pi * bars.DIAMETER**2 / 4,
            I=pi * bars.DIAMETER**4 / 64,
            kappa=6 * 1.29 / (7 + 6 * 0.29),
        )
        for n in (1, 2, 3)
    ]
    assert found == pytest.approx(exact, rel=MESH)


SPRUNG = [
    (spring(0.0, 30e6, 2e4, ground=True), spring(SPAN, 20e6)),
    (spring(0.0, 30e6, 0.0, ground=True), spring(SPAN, 1e6, 500.0)),
    (spring(0.0, inf, inf, ground=True), spring(SPAN, inf)),
    (spring(0.0, inf, inf, ground=True), spring(SPAN, 0.0)),
    (spring(0.0, inf, inf, ground=True), spring(SPAN, inf, inf)),
]


@pytest.mark.parametrize("holds", SPRUNG)
def test_timoshenko_bar_on_springs_has_the_exact_frequencies(
    holds: tuple[Mount, Mount],
) -> None:
    found = bars.bending(PIECE, holds, count=3)
    drive, tail = (ref.End(radial=hold.vertical, tilt=hold.tilt) for hold in holds)
    exact = ref.timoshenko_frequencies(
        drive,
        tail,
        SPAN,
        EI=EI,
        kGA=KGA,
        mass=PIECE.mass,
        rotary=PIECE.rotary_bit,
        guesses=found,
    )
    assert found == pytest.approx(exact, rel=MESH)


@pytest.mark.slow
def test_sixty_bars_at_random_are_as_force_method_and_transfer_matrix_have_them() -> None:
    draw = np.random.default_rng(0)
    for _ in range(60):
        diameter = draw.uniform(0.008, 0.08)
        length = diameter * draw.uniform(8, 30)
        piece = bars.reference_segment(length, diameter)
        bend = piece.bending_bit / length**3
        k1, k2 = bend * 10 ** draw.uniform(0, 4, 2)
        kt = bend * length**2 * 10 ** draw.uniform(-2, 2)
        holds = spring(0.0, k1, kt, ground=True), spring(length, k2)
        place = length * draw.uniform(0.1, 0.9)
        held = bars.held_bar(holds, place, piece)
        edge = held.factored.model.edge[:, 0]
        by_force = ref.sprung_deflection(
            1.0, place, length, piece.bending_bit, k1=k1, k2=k2, kt=kt, kGA=piece.shear_bit
        )
        assert edge @ held.solve(edge).motion[:, 0] == pytest.approx(by_force, rel=1e-9)
        found = bars.bending(piece, holds, count=3)
        by_transfer = ref.timoshenko_frequencies(
            ref.End(radial=k1, tilt=kt),
            ref.End(radial=k2, tilt=0.0),
            length,
            EI=piece.bending_bit,
            kGA=piece.shear_bit,
            mass=piece.mass,
            rotary=piece.rotary_bit,
            guesses=found,
        )
        assert found == pytest.approx(by_transfer, rel=1e-6)


@pytest.mark.parametrize("tail", ["free", "pinned"])
def test_clamped_rectangular_bar_has_the_exact_timoshenko_frequencies(tail: str) -> None:
    section = bars.square_section(0.1, 0.3, 5 / 6)
    piece = segment(0.0, 1.0, section, E=bars.E, G=bars.E / 2.6, density=bars.DENSITY)
    found = bars.bending(piece, ends("clamped", tail, 1.0), count=3)
    exact = ref.timoshenko_frequencies(
        ref.End(radial=inf, tilt=inf),
        ref.End(radial=inf if tail == "pinned" else 0.0, tilt=0.0),
        1.0,
        EI=piece.bending_bit,
        kGA=piece.shear_bit,
        mass=piece.mass,
        rotary=piece.rotary_bit,
        guesses=found,
    )
    assert found == pytest.approx(exact, rel=MESH)


@pytest.mark.parametrize("spin", [0.0, 1000 / 60, 50.0, 1000.0])
def test_spinning_shaft_splits_as_rayleigh_has_it(spin: float) -> None:
    steel = {"E": bars.E, "rho": bars.DENSITY}
    circle = {"A": pi * bars.DIAMETER**2 / 4, "I": pi * bars.DIAMETER**4 / 64}
    exact = [f for n in (1, 2) for f in ref.rayleigh_shaft_whirl(n, spin, SPAN, **steel, **circle)]
    assert bars.spinning_shaft(spin) == pytest.approx(exact, rel=1e-6)


@pytest.mark.parametrize("damping", [0.005, 0.02, 0.3])
@pytest.mark.parametrize("ratio", [0.3, 0.99, 1.5, 4.0])
def test_unbalanced_disc_whirls_as_jeffcott_has_it(ratio: float, damping: float) -> None:
    found = bars.jeffcott_amplitude(ratio, damping)
    assert found == pytest.approx(ref.jeffcott(ratio, damping), rel=2e-5)


def test_torsion_and_stretch_between_fixed_and_free_are_quarter_waves() -> None:
    model = beam([PIECE], ends("clamped", "free"), edge=SPAN, longest=SPAN / 12)
    modes = undamped_modes(factorised(model), count=12)
    speed = {"torsion": bars.G, "axial": bars.E}
    for plane, modulus in speed.items():
        exact = (modulus / bars.DENSITY) ** 0.5 / (4 * SPAN)
        found = bars.in_plane(modes, plane)
        assert found[0] == pytest.approx(exact, rel=1e-9)


def test_twist_of_a_cantilever_is_torque_times_length_over_gj() -> None:
    arm = 0.02
    model = beam([PIECE], ends("clamped", "free"), edge=SPAN, arm=arm)
    given = Held(factorised(model)).edge_compliance
    GJ = bars.G * np.pi * bars.DIAMETER**4 / 32
    bending = ref.cantilever_deflection(1.0, SPAN, EI) + SPAN / KGA
    assert given[1, 1] == pytest.approx(bending + arm**2 * SPAN / GJ, rel=1e-10)
    stretch = SPAN / (bars.E * np.pi * bars.DIAMETER**2 / 4)
    assert given[2, 2] == pytest.approx(stretch + arm**2 * SPAN / EI, rel=1e-10)
    assert given[0, 2] == pytest.approx(-arm * SPAN**2 / (2 * EI), rel=1e-10)
