"""The nouns of a case against one another; every message stands in `broken_cases`."""

from pathlib import Path
from typing import Any

import pytest
import yaml
from pydantic import ValidationError

from barwright.analysis.case import Case, conflicts

PUMP = Path(__file__).parents[1] / "cases" / "pump_bracket.yaml"


def _case(**changes: dict[str, Any]) -> Case:
    """The pump bracket with some values changed: ``bar={"span": "400 mm"}``."""
    values = yaml.load(PUMP.read_text(), Loader=yaml.CBaseLoader)
    for section, change in changes.items():
        values[section] = values[section] | change
    return Case.model_validate(values)


def _keys(case: Case) -> list[tuple[str | int, ...]]:
    return [conflict.key for conflict in conflicts(case)]


def test_a_sound_case_has_no_conflicts() -> None:
    assert conflicts(_case()) == ()


def test_two_fifths_of_the_bar_are_the_largest_hole() -> None:
    fits = {"size": "11.2 mm", "offset": "0 mm"}
    assert _keys(_case(cross_hole=fits)) == []
    assert _keys(_case(cross_hole=fits | {"size": "11.3 mm"})) == [("cross_hole", "size")]


def test_half_of_the_hole_is_the_largest_offset() -> None:
    assert _keys(_case(cross_hole={"offset": "-4 mm"})) == []
    assert _keys(_case(cross_hole={"offset": "4.1 mm"})) == [("cross_hole", "offset")]


def test_a_limit_that_a_message_gives_is_accepted_in_inches_too() -> None:
    # 4 mm is 0.15748 in, shown as 0.1575 in, which is 0.5 um more.
    assert _keys(_case(cross_hole={"offset": "0.1575 in"})) == []


def test_a_bit_may_be_just_short_of_the_far_wall() -> None:
    # half of 44 and half of 28 mm: 36 mm
    assert _keys(_case(bit={"length": "35.9 mm"})) == []
    assert _keys(_case(bit={"length": "36 mm"})) == [("bit", "length")]


def test_the_cut_may_reach_the_upper_limit_of_the_bore() -> None:
    # 44 H7 ends at 44.025: from 43.6 that is 0.2125 on the radius
    assert _keys(_case(cut={"depth": "0.2125 mm"})) == []
    assert _keys(_case(cut={"depth": "0.22 mm"})) == [("cut", "depth")]


def test_the_bore_passes_the_bit_on_both_sides() -> None:
    # position 185 of 380 mm: 185 on one side, 195 on the other
    assert _keys(_case(work={"length": "185 mm"})) == []
    assert _keys(_case(work={"length": "186 mm"})) == [("work", "length")]


def test_an_overhung_bar_is_held_by_a_chuck_but_not_by_a_centre() -> None:
    assert _keys(_case(supports={"tail": None})) == []
    dog = {"kind": "dead centre with dog"}
    assert _keys(_case(supports={"drive": dog, "tail": None})) == [("supports",)]


def test_a_steady_holds_up_a_bar_that_has_no_tail_centre() -> None:
    dog, steady = {"kind": "dead centre with dog"}, {"kind": "steady", "position": "300 mm"}
    assert _keys(_case(supports={"drive": dog, "tail": None, "others": [steady]})) == []


def test_a_wide_step_behind_the_travel_may_be_wider_than_the_bore() -> None:
    behind = {"start": "0 mm", "end": "40 mm", "diameter": "50 mm"}
    assert _keys(_case(bar={"steps": [behind]})) == []
    within = behind | {"end": "150 mm"}
    assert _keys(_case(bar={"steps": [within]})) == [("work", "start_bore")]


def test_steps_that_touch_do_not_overlap() -> None:
    steps = [
        {"start": "20 mm", "end": "40 mm", "diameter": "30 mm"},
        {"start": "0 mm", "end": "20 mm", "diameter": "32 mm"},
    ]
    assert _keys(_case(bar={"steps": steps})) == []


@pytest.mark.parametrize("kind", ["steady", "bushing"])
def test_a_bushing_at_the_tail_lets_the_hole_stand_beyond_it(kind: str) -> None:
    case = _case(
        bar={"tail_overhang": "60 mm"},
        cross_hole={"position": "410 mm"},
        supports={"tail": {"kind": kind}},
        work={"length": None},
    )
    assert (("cross_hole", "position") in _keys(case)) == (kind == "steady")


@pytest.mark.parametrize(
    ("diameter", "message"),
    [
        (float("nan"), "nan is not a quantity; give a number"),
        (float("inf"), "inf is not a quantity; give a number"),
        (True, "this needs one quantity such as 1-1/4 in"),
        (200.0, "out of range: this must be at most 100000 mm"),
    ],
)
def test_a_number_from_python_is_held_to_the_same_bounds(diameter: float, message: str) -> None:
    with pytest.raises(ValidationError, match=message):
        _case(bar={"diameter": diameter})


def test_a_bore_from_python_is_a_fit_and_not_a_number() -> None:
    with pytest.raises(ValidationError, match="this needs a size with its limits such as 44 H7"):
        _case(work={"bore": 0.044})
