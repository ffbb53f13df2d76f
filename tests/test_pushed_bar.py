"""The quick bar against the whole one, and against a formula of Roark's."""

from dataclasses import replace
from math import pi
from pathlib import Path

import pytest
from references import sprung_deflection

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.casefile import read_case
from barwright.analysis.model import Factored, Held, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.pushed_bar import PushedBar, Springs, pushed_bar

CASES = Path(__file__).parents[1] / "cases"
NAMES = ["pump_bracket", "sluice_gate_pivot", "mill_gearcase", "press_frame"]


def moved_springs(share: float) -> Springs:
    return {
        ("tail", "vertical"): 20e6 * share,
        ("tail", "horizontal"): 26e6 * share,
        ("drive", "vertical"): 60e6 * share,
        ("drive", "tilt"): 3e4 / share,
    }


def whole(case: Case, quick: PushedBar, moved: Springs) -> Factored:
    """The case's whole beam on the same springs."""
    bar = factorised(beam_model(case))
    holds = quick._held_by(moved)
    return bar.held_by(
        *(
            replace(hold, motion=own.motion)
            for hold, own in zip(holds, bar.model.holds, strict=False)
        )
    )


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("share", [0.2, 1.0, 5.0])
def test_give_and_pitches_are_the_whole_bars(name: str, share: float) -> None:
    case = read_case(CASES / f"{name}.yaml")
    quick = pushed_bar(case, [case.cross_hole.position, 0.9 * case.bar.span])
    moved = moved_springs(share)
    bar = whole(case, quick, moved)
    gives, compliance = quick.gives(moved), Held(bar).edge_compliance
    assert gives[0, 0, 0, 0] == pytest.approx(compliance[0, 0], rel=1e-9)
    modes = undamped_modes(bar, count=8, counted=False)
    pitches = quick.pitches(moved)
    assert pitches["up and down"] == pytest.approx(modes.first("bit"), rel=1e-6)
    assert pitches["sideways"] == pytest.approx(modes.first("across"), rel=1e-6)


@pytest.mark.parametrize("x", [0.1, 0.2, 0.3])
def test_give_of_a_bar_on_two_springs(x: float) -> None:
    """Roark's beams, simple supports, with the supports' own give and the bar's shear added."""
    case = read_case(CASES / "sluice_gate_pivot.yaml")
    D, L, k1, k2 = 0.025, 0.4, 30e6, 20e6
    bar = case.bar.model_copy(
        update={"diameter": D, "span": L, "steps": (), "flats": (), "carries": ()}
    )
    hole = case.cross_hole.model_copy(update={"position": 0.2, "set_screws": ()})
    case = case.model_copy(update={"bar": bar, "cross_hole": hole})
    E, G, nu = (getattr(bar.material, n) for n in ("elastic_modulus", "shear_modulus", "poisson"))
    moved: Springs = {("drive", "vertical"): k1, ("tail", "vertical"): k2}
    give = pushed_bar(case, [x], hole=False).gives(moved)[0, 0, 0, 0]
    bent = sprung_deflection(1.0, x, L, E * pi * D**4 / 64, k1=k1, k2=k2)
    kappa = 6 * (1 + nu) ** 2 / (7 + 12 * nu + 4 * nu**2)  # Hutchinson 2001, from memory
    sheared = x * (L - x) / (kappa * G * pi * D**2 / 4 * L)
    assert give == pytest.approx(bent + sheared, rel=1e-6)


def test_give_between_two_places_is_the_same_both_ways() -> None:
    """Maxwell's reciprocity."""
    case = read_case(CASES / "pump_bracket.yaml")
    gives = pushed_bar(case, [0.05, 0.3]).gives({})
    assert gives[0, 0, 1, 0] == pytest.approx(gives[1, 0, 0, 0], rel=1e-9)


def test_a_stiffer_steel_gives_less_by_the_bars_part_alone() -> None:
    case = read_case(CASES / "pump_bracket.yaml")
    steel = case.bar.material.model_copy(update={"elastic_modulus": 1.1 * 205e9})
    base = case.bar.material.model_copy(update={"elastic_modulus": 205e9})

    def of(metal: object) -> PushedBar:
        bar = case.bar.model_copy(update={"material": metal})
        return pushed_bar(case.model_copy(update={"bar": bar}), [0.185])

    one, other = of(base).gives({}, modulus=1.1), of(steel).gives({})
    assert one[0, 0, 0, 0] == pytest.approx(other[0, 0, 0, 0], rel=1e-9)
