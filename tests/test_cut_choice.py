"""Which cut: speeds and feeds the lathe has, under the skin, as light as the limits ask."""

from __future__ import annotations

from math import pi

import pytest
from planned_jobs import PLAIN, plain_job

from barwright.analysis.bar_choice import judged_bars, station_case
from barwright.analysis.cut_choice import (
    Bench,
    Trial,
    bench,
    finish_depths,
    finishing,
    ranked,
    rough_counts,
    roughing,
    usable_feeds,
    usable_speeds,
)
from barwright.analysis.job import BoringJob
from barwright.analysis.judge import Band
from barwright.analysis.material import work_materials
from barwright.analysis.passes import roughing_passes, short_falls
from barwright.analysis.run import analyse


def _bench(job: BoringJob) -> Bench:
    return bench(station_case(job, judged_bars(job, "mm")[0].set_ups[0], 0))


def test_no_speed_is_faster_than_a_long_bar_is_begun_with() -> None:
    iron = work_materials()["grey iron"]
    found = usable_speeds(iron, [n / 60 for n in (45, 65, 90, 135, 300)], 0.0225)
    assert iron.hss_speed_least is not None
    # 12 m/min is 85 rpm at 45 mm; half as much again is 127 rpm
    assert [round(60 * speed) for speed in found] == [90, 65, 45]


def test_the_slowest_speed_where_all_are_too_fast() -> None:
    found = usable_speeds(work_materials()["grey iron"], [10.0, 20.0], 0.0225)
    assert found == (10.0,)


def test_feeds_are_those_of_the_lathe_next_to_the_usual_one() -> None:
    job = plain_job(lathe={"feeds": ["0.02 mm/rev", "0.06 mm/rev", "0.12 mm/rev", "0.9 mm/rev"]})
    # 0.02 is below what the metal's force is known for, 0.9 is no boring feed
    assert usable_feeds(job, 1e-4, "mm") == pytest.approx((1.2e-4, 0.6e-4))
    coarse = plain_job(lathe={"feeds": ["0.6 mm/rev", "0.9 mm/rev"]})
    assert usable_feeds(coarse, 1e-4, "mm") == pytest.approx((6e-4,))


def test_the_last_two_cuts_leave_the_skin_to_the_first() -> None:
    clean = plain_job()
    cast = plain_job(work={"skin": "yes", "skin_depth": "0.8 mm"})
    assert max(finish_depths(clean, 1.0e-3, "mm")) == pytest.approx(0.25e-3)
    # 1.0 - 0.8 leaves 0.1 for each of two
    assert max(finish_depths(cast, 1.0e-3, "mm")) == pytest.approx(0.1e-3)


def test_one_depth_stands_above_a_large_nose_radius() -> None:
    job = plain_job(stock={"nose_radius": "0.4 mm"})
    assert max(finish_depths(job, 3e-3, "mm")) == pytest.approx(0.5e-3)


@pytest.mark.parametrize(("stock", "depths"), [(0.06e-3, (0.03e-3,)), (0.04e-3, (0.04e-3,))])
def test_little_stock_is_taken_whole(stock: float, depths: tuple[float, ...]) -> None:
    assert finish_depths(plain_job(), stock, "mm") == pytest.approx(depths)


def test_roughing_takes_no_more_than_the_bit_bears_and_no_less_than_the_last_cuts() -> None:
    counts = rough_counts(3.0e-3, 0.2e-3, 0.006)  # a third of a 6 mm bit is 2 mm, so 1.6 mm rules
    assert min(counts) == 2
    assert all(3.0e-3 / count >= 0.2e-3 for count in counts)


def test_every_trial_is_a_cut_that_the_lathe_can_set() -> None:
    job = plain_job()
    trials = finishing(job, _bench(job), 1.5e-3, 0.08, "mm")
    assert trials
    assert {trial.cut.speed for trial in trials} <= set(job.lathe.speeds)
    assert {trial.cut.feed for trial in trials} <= set(job.lathe.feeds)


def test_the_trial_taken_first_has_the_margin_that_a_run_gives() -> None:
    job = plain_job()
    on = _bench(job)
    trial = finishing(job, on, 1.5e-3, 0.08, "mm")[0]
    run = analyse(on.case.model_copy(update={"cut": trial.cut}))
    assert trial.margin["likely"] == pytest.approx(run.chatter.margin["likely"], rel=0.02)
    assert trial.size_error == pytest.approx(abs(run.statics.diameter_error), rel=0.01)


def test_minutes_are_of_cutting_metal() -> None:
    job = plain_job()
    trial = finishing(job, _bench(job), 1.5e-3, 0.08, "mm")[0]
    assert trial.cut.speed is not None
    by_hand = 2 * 80 / (trial.cut.feed * 1e3 * trial.cut.speed * 60)
    assert trial.minutes == pytest.approx(by_hand)


def test_the_first_roughing_cut_goes_under_the_skin_where_it_can() -> None:
    job = plain_job(work={"skin": "yes", "skin_depth": "0.8 mm", "start_bore": "40 mm"})
    trial = roughing(job, _bench(job), 2.3e-3, 0.2e-3, 0.08, "mm")[0]
    assert trial.good
    assert trial.cut.depth >= 0.8e-3


def test_a_longer_bar_is_not_given_a_heavier_roughing_cut() -> None:
    chips = []
    for past in ("5 mm", "45 mm", "90 mm"):
        work = {"start_bore": "38 mm", "beyond_head": past, "beyond_tail": past}
        job = plain_job(
            work=work, stock={"bars": [PLAIN["stock"]["bars"][0] | {"diameter": "28 mm"}]}
        )
        cut = roughing(job, _bench(job), 3.3e-3, 0.2e-3, 0.08, "mm")[0].cut
        chips.append(cut.depth * cut.feed)
    assert chips == sorted(chips, reverse=True)


def test_a_bar_that_sings_gets_the_least_bad_cut_with_what_it_misses() -> None:
    job = plain_job(limits={"chatter_margin": 1e4, "size_error": "0.1 um"})
    trials = finishing(job, _bench(job), 1.5e-3, 0.08, "mm")
    assert trials[0].misses == (
        "the gain margin against chatter",
        "the size error of the bore",
    )
    assert trials[0].shortfall == min(trial.shortfall for trial in trials)
    assert not trials[0].good


def test_good_trials_come_before_others_and_quiet_ones_before_quick_ones() -> None:
    job = plain_job()
    trials = finishing(job, _bench(job), 1.5e-3, 0.08, "mm")
    goods = [trial.good for trial in ranked(trials)]
    assert goods == sorted(goods, reverse=True)

    def quiet(trial: Trial) -> float:
        return 0 if trial.margin["low"] >= 1 else 1 if trial.bare >= 1 else 2

    grades = [quiet(trial) for trial in ranked(trials) if trial.good]
    assert grades == sorted(grades)


def test_roughing_passes_open_the_bore_by_what_is_asked() -> None:
    passes = roughing_passes(0.040, 2e-3, 3, Band.of(0.05, 0.01, 0.2), 0.030, 4.0)
    assert passes[-1].bore.likely == pytest.approx(0.044)
    # the edge leaves standing what short_falls says of equal advances
    left = short_falls([passes[0].advance] * 3, 0.05)
    for number, one in enumerate(passes):
        set_to = 0.040 + 2 * passes[0].advance * (number + 1)
        assert one.bore.likely == pytest.approx(set_to - 2 * left[number])
        assert one.reading == pytest.approx((set_to + 0.030) / 2)
        assert one.bore.low <= one.bore.likely <= one.bore.high
    assert sum(one.depth.likely for one in passes) == pytest.approx(2e-3)


def test_edge_speed_of_the_usable_speeds_is_under_that_of_the_table() -> None:
    for metal in work_materials().values():
        if metal.hss_speed_most is None:
            continue
        for radius in (0.01, 0.05):
            speeds = [k * 1.0 for k in range(1, 200)]
            fastest = usable_speeds(metal, speeds, radius)[0]
            assert 2 * pi * radius * fastest <= max(metal.hss_speed_most, 2 * pi * radius)
