"""Which bar: chips, bits, length and stiffness, each bar with its reason."""

from __future__ import annotations

import pytest
from planned_jobs import TWO_LANDS, plain_job

from barwright.analysis.bar_choice import (
    bar_wanted,
    bit_for,
    chip_gap,
    judged_bars,
    station_case,
)
from barwright.analysis.case import conflicts
from barwright.analysis.job import BoringJob
from barwright.analysis.material import bar_materials


def _with_bars(*bars: tuple[str, str, str], **sections: dict[str, object]) -> BoringJob:
    rows = [{"material": m, "diameter": d, "length": length} for m, d, length in bars]
    return plain_job(stock={"bars": rows, **sections.pop("stock", {})}, **sections)


def test_a_bar_that_chips_cannot_pass_is_named_with_its_numbers() -> None:
    job = _with_bars(
        ("1018", "18 mm", "600 mm"),
        work={"start_bore": "44 mm", "access": "19 mm", "chip_gap": "2 mm"},
    )
    (bar,) = judged_bars(job, "mm")
    assert not bar.ok
    assert bar.conflicts == (
        "bar 18 mm needs 22 mm bore (2 mm all round for chips); access is 19 mm",
    )


@pytest.mark.parametrize(
    ("start", "material", "gap"),
    [
        ("15 mm", "grey iron", 2.0),  # no less than 2 mm
        ("25 mm", "grey iron", 2.5),  # a tenth of the bore
        ("40 mm", "grey iron", 3.2),  # no more than 1/8 in where chips break
        ("40 mm", "low-carbon steel", 4.8),  # half as much again where they curl
    ],
)
def test_room_for_chips(start: str, material: str, gap: float) -> None:
    job = plain_job(work={"start_bore": start, "material": material})
    assert chip_gap(job) == pytest.approx(gap * 1e-3)


@pytest.mark.parametrize(
    ("bits", "size"),
    [
        (["6 mm", "8 mm", "10 mm", "12 mm"], 8.0),  # 30 % of 30 mm is 9 mm
        (["9.8 mm", "12 mm"], 9.8),  # under a third, for want of a smaller one
        (["12 mm"], None),
    ],
)
def test_the_bit_is_the_largest_that_is_good_for_the_bar(
    bits: list[str], size: float | None
) -> None:
    job = plain_job(stock={"bits": bits})
    found = bit_for(job, job.stock.bars[0])
    assert found is None if size is None else found == pytest.approx(size * 1e-3)


def test_a_bar_too_thin_for_every_bit_is_named_with_the_smallest() -> None:
    job = plain_job(stock={"bits": ["12 mm"]})
    assert judged_bars(job, "mm")[0].conflicts == (
        "bar 30 mm takes a bit of 10 mm at most, 33% of it; the smallest on hand is 12 mm",
    )


def test_a_bar_too_short_for_every_way_of_driving_it_says_how_short() -> None:
    job = _with_bars(("1018", "30 mm", "200 mm"))
    assert judged_bars(job, "mm")[0].conflicts == (
        "in the chuck it must be 270 mm long and is 200 mm",
        "between centres it must be 255 mm long and is 200 mm",
    )


def test_a_bore_that_opens_too_far_for_one_bit_is_named() -> None:
    # 20.5 mm free on the radius, the tail's corner the bit's 6 mm beside it: 20.5 + 19.602.
    job = _with_bars(
        ("1018", "20 mm", "600 mm"),
        work={"bore": "90 H8", "start_bore": "42 mm"},
        stock={"bits": ["6 mm"]},
    )
    (why,) = judged_bars(job, "mm")[0].conflicts
    # edge at 45.027 mm and half an M5 screw beyond; 42 mm less 0.5 mm at each end
    assert "must be 47.52" in why
    assert "under 40.102 mm to clear the bore as it is when drawn back" in why


def test_the_thicker_bar_comes_first_and_of_two_alike_the_stronger_steel() -> None:
    job = _with_bars(
        ("1018", "25 mm", "600 mm"),
        ("mild steel hot rolled", "30 mm", "600 mm"),
        ("4140 prehard", "30 mm", "600 mm"),
        ("6061", "30 mm", "600 mm"),
        ("1018", "60 mm", "600 mm"),
        stock={"bits": ["6 mm", "8 mm"]},
    )
    found = judged_bars(job, "mm")
    assert [one.bar.material.name for one in found[:2]] == [
        "4140 prehard",
        "mild steel hot rolled",
    ]
    assert [one.ok for one in found] == [True, True, True, True, False]
    assert bar_materials()["4140 prehard"].yield_strength > (
        bar_materials()["mild steel hot rolled"].yield_strength
    )


def test_stiffness_at_the_bit_is_never_above_the_plain_bar_between_rigid_ends() -> None:
    # 1/k is at least a^2 b^2 / 3EIL of a plain bar on centres plus the work side's 1/30 N/um
    job = plain_job()
    for one in judged_bars(job, "mm")[0].set_ups:
        if one.drive != "centres":
            continue
        (station,), L = one.budget.stations, one.budget.span
        a, d = station.position, 0.030
        EI = bar_materials()["4140 prehard"].elastic_modulus * 3.14159265 * d**4 / 64
        plain = 1 / (a**2 * (L - a) ** 2 / (3 * EI * L) + 1 / 30e6)
        assert 0.3 * plain < one.least_stiffness < plain


def test_two_stations_are_as_many_times_stiffer_as_the_run_of_each_case_says() -> None:
    one, two = None, None
    for set_up in judged_bars(plain_job(work=TWO_LANDS), "mm")[0].set_ups:
        if set_up.drive == "centres":
            one, two = (set_up, two) if len(set_up.stiffness) == 1 else (one, set_up)
    assert one is not None
    assert two is not None
    # span cubed and supports: between the ratio of spans and its cube
    ratio = one.budget.span / two.budget.span
    assert ratio < two.least_stiffness / one.least_stiffness < ratio**3


def test_every_station_makes_a_case_without_conflict_and_the_others_are_its_empty_holes() -> None:
    job = plain_job(work=TWO_LANDS)
    for set_up in judged_bars(job, "mm")[0].set_ups:
        for number, station in enumerate(set_up.budget.stations):
            case = station_case(job, set_up, number)
            assert conflicts(case) == ()
            assert case.cross_hole.position == station.position
            assert len(case.bar.other_holes) == len(set_up.budget.stations) - 1


def test_what_the_job_says_of_its_supports_and_work_side_goes_into_the_case() -> None:
    job = plain_job(
        work={"radial_stiffness": "12 N/um"},
        lathe={"chuck": {"grip": "33 mm", "tilt_stiffness": "20 kN.m/rad"}, "dog": None},
    )
    case = station_case(job, judged_bars(job, "mm")[0].set_ups[0], 0)
    assert case.work.radial_stiffness == pytest.approx(12e6)
    assert case.supports.drive.tilt_stiffness == pytest.approx(20e3)
    assert getattr(case.supports.drive, "grip", None) == pytest.approx(0.033)
    assert "radial_stiffness" not in case.supports.drive.model_fields_set


def test_what_would_go_in_is_said_where_no_bar_does() -> None:
    job = plain_job(work={"access": "24 mm"})
    # 24 less 3.2 at each side; a third of it; lengths as the budget's own test has them
    assert bar_wanted(job, "mm") == (
        "a bar of up to 17.6 mm would go in, with a bit of 5.867 mm at most, at least 270 mm long "
        "in the chuck or 255 mm long between centres"
    )
    assert bar_wanted(plain_job(lathe={"between_centres": "100 mm"}), "mm") is None
