"""The witness called for a case: it agrees with the plan it is given, and knows what it hears."""

from __future__ import annotations

from dataclasses import replace
from math import inf, isnan, nan
from pathlib import Path

import numpy as np
import pytest

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.casefile import read_case
from barwright.analysis.chatter import changed, corners
from barwright.analysis.cutting_history import History, Pass
from barwright.analysis.force import cutting_force
from barwright.analysis.judge import Band
from barwright.analysis.model import factorised
from barwright.analysis.passes import PassPlan, plan_passes
from barwright.analysis.statics import solve_statics
from barwright.analysis.witness import (
    Witness,
    late_vibration,
    sound_of,
    whole_passes,
    witness,
    worst_sound,
)

CASES = Path(__file__).parents[1] / "cases"


def planned(case: Case) -> PassPlan:
    force = cutting_force(case)
    statics = solve_statics(case, force, factorised(beam_model(case)))
    return plan_passes(case, statics, force, Band.of(abs(statics.diameter_error)))


def called(case: Case, turns: int) -> Witness:
    return witness(case, corners(case)["likely"], planned(case), turns=turns)


def without_ports(name: str) -> Case:
    case = read_case(CASES / f"{name}.yaml")
    return case.model_copy(update={"work": case.work.model_copy(update={"cuts_per_turn": 0})})


@pytest.fixture(scope="module")
def valve() -> tuple[PassPlan, Witness]:
    case = read_case(CASES / "valve_block.yaml")
    return planned(case), called(case, 6)


def test_each_pass_falls_short_as_planned(valve: tuple[PassPlan, Witness]) -> None:
    """The plan's secant balance of cut and spring against the bar stepped through time."""
    plan, found = valve
    assert len(found.rubbing.passes) == len(plan.passes) == 2
    for one, cut in zip(plan.passes, found.rubbing.passes, strict=True):
        assert cut.short_of_size / 2 == pytest.approx(one.short_fall.likely, rel=0.03)


def test_error_of_the_old_bore_is_copied_as_planned(valve: tuple[PassPlan, Witness]) -> None:
    plan, found = valve
    copied = found.rubbing.passes[0].eccentricity_copied
    assert copied == pytest.approx(plan.copied.likely, rel=0.05)


def test_passes_are_set_to_where_the_micrometer_says(valve: tuple[PassPlan, Witness]) -> None:
    """Bore = 2 x reading - bar diameter, by geometry."""
    plan, found = valve
    set_to = [2 * one.reading - plan.bar_diameter for one in plan.passes]
    assert found.planned == pytest.approx(set_to, rel=1e-12)


def test_unlike_supports_bore_the_oval_of_the_statics() -> None:
    case = without_ports("mill_gearcase")
    # The history takes the work side as alike both ways.
    alike = {"vertical_stiffness": None, "horizontal_stiffness": None}
    case = case.model_copy(update={"work": case.work.model_copy(update=alike)})
    last = called(case, 12).rubbing.passes[-1]
    thin = changed(case, depth=planned(case).passes[0].advance)
    statics = solve_statics(thin, cutting_force(thin), factorised(beam_model(thin)))
    assert last.ovality == pytest.approx(statics.ovality, rel=0.03)


def test_supports_alike_bore_no_oval(valve: tuple[PassPlan, Witness]) -> None:
    assert valve[1].rubbing.passes[-1].ovality < 1e-9


def test_ports_leave_no_wall_where_they_are() -> None:
    found = called(read_case(CASES / "mill_gearcase.yaml"), 1)
    wall = found.rubbing.passes[0].wall[0]
    share = found.ports * found.port_width / (2 * np.pi)
    assert found.ports == 3
    assert np.isnan(wall).mean() == pytest.approx(share, abs=0.002)


def test_an_old_bore_that_is_not_given_is_one_pass_of_the_cut() -> None:
    case = read_case(CASES / "valve_block.yaml")
    case = case.model_copy(update={"work": case.work.model_copy(update={"start_bore": None})})
    found = called(case, 1)
    assert [one.advance for one in found.rubbing.passes] == [case.cut.depth]
    assert found.planned == pytest.approx([(case.work.bore.lower + case.work.bore.upper) / 2])


def test_a_hopeless_bar_runs_away_and_says_when() -> None:
    found = called(read_case(CASES / "stern_tube.yaml"), 60)
    assert worst_sound(found.sharp) == "runs away"
    assert found.sharp.passes[-1].turns < 60
    assert not whole_passes(found.sharp)


def a_pass(vibration: list[float], growth: float, *, ran_away: bool = False) -> Pass:
    turns, empty = len(vibration) + 1, np.zeros(0)
    return Pass(
        advance=1e-4,
        turns=turns,
        ran_away=ran_away,
        time=empty,
        motion=np.zeros((0, 3)),
        force=np.zeros((0, 3)),
        orbit=np.zeros((0, 2)),
        position=empty,
        angle=empty,
        wall=np.zeros((turns, 0)),
        vibration=np.array(vibration),
        growth=growth,
        lost_contact=0.0,
        short_of_size=0.0,
        eccentricity=0.0,
        ovality=0.0,
        eccentricity_copied=nan,
        ovality_copied=nan,
    )


@pytest.mark.parametrize(
    ("vibration", "growth", "sound"),
    [
        ([1e-6 * 0.7**k for k in range(40)], 0.7, "quiet"),
        ([1e-9 * 1.05**k for k in range(40)], 1.05, "sings"),
        ([2e-5] * 40, 1.0, "sings"),
        ([1e-8] * 40, 1.0, "quiet"),
        ([1e-16 * 1.01**k for k in range(40)], 1.01, "quiet"),
        ([5e-6 * 0.9**k for k in range(8)], 0.9, "quiet"),
        ([], nan, "quiet"),
    ],
    ids=[
        "dies",
        "grows",
        "stays loud",
        "stays unseen",
        "round-off",
        "dying still loud",
        "one turn",
    ],
)
def test_what_grows_or_stays_and_can_be_seen_sings(
    vibration: list[float], growth: float, sound: str
) -> None:
    assert sound_of(a_pass(vibration, growth)) == sound


def test_the_loudest_pass_is_the_verdict() -> None:
    quiet, sings = a_pass([0.0] * 9, nan), a_pass([1e-5] * 9, 1.0)
    away = a_pass([1e-3], inf, ran_away=True)
    history = History(passes=(quiet, sings), speed=2.0, steps_per_turn=80)
    assert worst_sound(history) == "sings"
    assert worst_sound(replace(history, passes=(quiet, sings, away))) == "runs away"
    assert whole_passes(replace(history, passes=(quiet, away))) == (quiet,)


def test_vibration_is_that_of_the_last_quarter() -> None:
    assert late_vibration(a_pass([9.0] * 6 + [3.0, 4.0], 1.0)) == pytest.approx(12.5**0.5)
    assert late_vibration(a_pass([], nan)) == 0.0
    assert isnan(a_pass([], nan).growth)
