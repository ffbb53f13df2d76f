"""The length budget: adds up, and the work walked through by hand hits nothing."""

from __future__ import annotations

from math import fsum
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planned_jobs import TWO_LANDS, plain_job

from barwright.analysis.choice import SupportName
from barwright.analysis.job import BoringJob
from barwright.analysis.length_budget import (
    LengthBudget,
    groupings,
    length_budget,
    overruns,
    shortages,
)

BIT = 0.008
DRIVES: tuple[SupportName, ...] = ("chuck", "centres")


def _one_bit(job: BoringJob, drive: SupportName = "chuck") -> LengthBudget:
    return length_budget(job, drive, ((0, len(job.work.lands) - 1),), BIT, "mm")


def test_span_of_one_bit_is_twice_the_bore_and_what_stands_beside_it() -> None:
    # 12 jaws + 10 casting + 80 + 6 run-out + 8 bit + 12 run-in + 80 + 5 casting + 15 tail = 228
    budget = _one_bit(plain_job())
    assert budget.span == pytest.approx(0.230)  # up to the next 5 mm
    assert {one.name: one.length for one in budget.parts}["to a round length"] == (
        pytest.approx(0.002)
    )
    assert budget.stock == pytest.approx(0.270)  # and 40 mm in the jaws
    assert budget.room == pytest.approx(0.310)  # and 20 mm of quill, 60 mm of chuck
    assert budget.travel == pytest.approx(0.106)  # 80 + 6 + 8 + 12


def test_a_dog_costs_its_length() -> None:
    job = plain_job()
    assert _one_bit(job, "centres").span - _one_bit(job).span == pytest.approx(0.025)
    assert _one_bit(job, "centres").stock == pytest.approx(_one_bit(job, "centres").span)


def test_an_inch_job_by_hand() -> None:
    # A 5 in bore, run-in and run-out 1/2 in each, 3/8 in bit, 1/4 in of casting each side, 1-1/2
    # in of dog and its room, 1/2 in of tail: 2 x 5 + 1 + 3/8 + 1/2 + 1-1/2 + 1/2 = 13-7/8 in.
    job = plain_job(
        work={"lands": ["5 in"], "beyond_head": "1/4 in", "beyond_tail": "1/4 in"},
        lathe={"dog": {"length": "1 in", "clear": "1/2 in"}, "tail_clear": "1/2 in"},
        travel={"run_in": "1/2 in", "run_out": "1/2 in"},
    )
    budget = length_budget(job, "centres", ((0, 0),), 0.375 * 0.0254, "inch")
    assert budget.span / 0.0254 == pytest.approx(13.875)


def test_two_stations_far_apart_save_the_travel_between_the_lands() -> None:
    job = plain_job(work=TWO_LANDS)
    one, two = (length_budget(job, "chuck", groups, BIT, "mm") for groups in groupings(job, BIT))
    assert one.span - two.span == pytest.approx(0.170 - 0.030)
    assert one.travel - two.travel == pytest.approx(0.170 - 0.030)
    assert two.stations[1].position - two.stations[0].position == pytest.approx(0.140)


@pytest.mark.parametrize(
    "work",
    [{**TWO_LANDS, "gaps_reached": "no"}, {**TWO_LANDS, "gaps": ["20 mm"]}, {"lands": ["80 mm"]}],
)
def test_one_station_where_no_hand_or_no_bit_goes_between(work: dict[str, Any]) -> None:
    assert len(groupings(plain_job(work=work), BIT)) == 1


def test_lands_are_shared_so_that_the_longest_stretch_is_short() -> None:
    job = plain_job(work={"lands": ["20 mm"] * 3, "gaps": ["30 mm", "100 mm"]})
    one, two, three = groupings(job, BIT)
    assert one == ((0, 2),)
    assert two == ((0, 1), (2, 2))  # 70 mm and 20 mm, not 20 mm and 140 mm
    assert three == ((0, 0), (1, 1), (2, 2))


def test_the_whole_travel_is_not_for_the_bit_of_a_short_land() -> None:
    # Lands of 80 and 20 mm: the short one has 30 mm to spare at either end of the travel. Before
    # its cut that bit stands 30 + 8 of bit + 12 of run-in past its land, in a gap of 40 mm.
    job = plain_job(work={"lands": ["80 mm", "20 mm"], "gaps": ["40 mm"]})
    budget = length_budget(job, "chuck", ((0, 0), (1, 1)), BIT, "mm")
    (found,) = overruns(job, budget, BIT)
    assert (found.station.lands, found.land) == ("land 2", 0)
    assert found.by == pytest.approx(0.010)
    alike = plain_job(work={"lands": ["50 mm", "50 mm"], "gaps": ["40 mm"]})
    level = length_budget(alike, "chuck", ((0, 0), (1, 1)), BIT, "mm")
    assert not list(overruns(alike, level, BIT))


def test_a_long_carriage_is_given_room_at_both_ends() -> None:
    lathe = {"headstock_room": "20 mm", "tailstock_room": "30 mm"}
    short = _one_bit(plain_job(lathe={**lathe, "carriage_length": "80 mm"}))
    long = _one_bit(plain_job(lathe={**lathe, "carriage_length": "300 mm"}))
    names = [part.name for part in long.parts]
    # 110 mm past the bore at each end; 22 + 20 mm there is at the head, 20 + 30 + 20 at the tail
    at = {part.name: part.length for part in long.parts}
    assert at["room for the carriage at the headstock"] == pytest.approx(0.110 - 0.042)
    assert at["room for the carriage at the tailstock"] == pytest.approx(0.110 - 0.070)
    assert not any("carriage" in part.name for part in short.parts)
    assert names[-1] in ("to a round length", "room for the carriage at the tailstock")
    assert all(one.ok for one in long.clearances)


def test_what_the_lathe_is_too_short_for_is_said_with_both_numbers() -> None:
    job = plain_job(lathe={"between_centres": "300 mm", "carriage_travel": "100 mm"})
    assert list(shortages(job, _one_bit(job), "mm")) == [
        "its span of 230 mm takes 310 mm of the lathe, which has 300 mm",
        "the carriage must move 106 mm and can move 100 mm",
    ]


LENGTHS = st.floats(5.0, 200.0).map(lambda length: f"{length:.2f} mm")


@settings(max_examples=150, deadline=None)
@given(
    lands=st.lists(LENGTHS, min_size=1, max_size=4),
    gap=st.floats(0.0, 200.0),
    drive=st.sampled_from(DRIVES),
    carriage=st.none() | st.floats(100.0, 600.0).map(lambda length: f"{length:.1f} mm"),
)
def test_the_work_walked_from_end_to_end_clears_bit_and_supports(
    lands: list[str], gap: float, drive: SupportName, carriage: str | None
) -> None:
    """Moves the work along the bar as a hand would, knowing nothing of how the span was made."""
    gaps = [f"{gap + 7 * k:.2f} mm" for k in range(len(lands) - 1)]
    job = plain_job(work={"lands": lands, "gaps": gaps}, lathe={"carriage_length": carriage})
    dog = 0.025 if drive == "centres" else 0.0
    for groups in groupings(job, BIT):
        budget = length_budget(job, drive, groups, BIT, "mm")
        assert fsum(part.length for part in budget.parts) == pytest.approx(budget.span, abs=1e-9)
        assert not [one for one in budget.clearances if not one.ok]
        faces = []
        for station in budget.stations:
            # where the first face stands when this bit is clear of its stretch at either side
            faces.append(station.position + BIT / 2 + 0.012 - station.start)
            faces.append(station.position - BIT / 2 - 0.006 - station.end)
        assert max(faces) - min(faces) == pytest.approx(budget.travel, abs=1e-6)
        assert min(faces) - 0.010 >= dog + 0.012 - 1e-6
        assert max(faces) + job.work.length + 0.005 <= budget.span - 0.015 + 1e-6
        assert all(0 < one.position < budget.span for one in budget.stations)


def test_a_bit_that_no_hand_reaches_comes_out_of_the_casting_to_be_set() -> None:
    """50 mm of casting past the bore and a quarter inch for the micrometer, not 12 mm."""
    work = {"beyond_head": "50 mm"}
    inside = length_budget(plain_job(work=work), "chuck", ((0, 0),), 0.008, "mm")
    outside = length_budget(
        plain_job(work=work | {"bit_reached": "no"}), "chuck", ((0, 0),), 0.008, "mm"
    )
    assert outside.travel - inside.travel == pytest.approx(0.050 + 0.00635 - 0.012)
