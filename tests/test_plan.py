"""Whole plans: every job gets a set-up that a hand can check, or the exact reason why not."""

from __future__ import annotations

import json
import re
from functools import cache, partial
from itertools import pairwise
from math import fsum
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from late_runs import late_run, later
from planned_jobs import TWO_LANDS, plain_job
from random_jobs import job_at_random

from barwright.analysis import plan as planning
from barwright.analysis.bar_choice import judged_bars
from barwright.analysis.case import conflicts
from barwright.analysis.casefile import Source, read_case
from barwright.analysis.job import BoringJob, job_conflicts
from barwright.analysis.jobfile import JobFile, read_job_file
from barwright.analysis.plan import Plan, fitness, make_plan, packing_height, preferred
from barwright.analysis.plan_record import plan_summary, verdict, write_plan
from barwright.analysis.sheet_drawing import travel_of
from barwright.analysis.swap import results_name
from barwright.analysis.units import Own
from barwright.cli import plan_lines
from barwright.cli.app import status

JOBS = Path(__file__).parents[1] / "cases" / "jobs"
ROLLER, PUMP = (JOBS / f"{name}.yaml" for name in ("roller_stand", "pump_barrel"))
_NUMBER = re.compile(r"[0-9.]+ (?:mm|in)\b")
SOURCE = Source(file="job.yaml", name="job.yaml", text="title: t\n", sha256="0")
FEW_CUTS = {"speeds": ["90 rpm"], "feeds": ["0.1 mm/rev"]}
"""A lathe with one cut to choose from, for jobs whose set-up alone is asked for."""


def planned(job: BoringJob, system: Own = "mm", name: str = "j") -> Plan:
    """The plan of a job, its case and its cuts run only as far as a test looks."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(planning, "analyse", late_run)
        patch.setattr(planning, "_planned", partial(later, planning._planned))
        return make_plan(job, system, name)


@cache
def shipped_plan(path: Path) -> Plan:
    """The plan of a shipped job, made once."""
    job_file = read_job_file(path)
    system: Own = "inch" if "ipr" in job_file.source.text else "mm"
    return planned(job_file.job, system, path.name)


def _file(job: BoringJob) -> JobFile:
    return JobFile(job=job, inputs=(), source=SOURCE)


# --- whether it is a job for a bar -----------------------------------------------------------


def test_a_blind_bore_is_no_job_for_a_bar() -> None:
    plan = make_plan(plain_job(work={"blind": "yes"}), "mm")
    assert plan.verdict.fitness == "not for a bar"
    assert "closed at one end" in plan.verdict.why
    assert plan.chosen is None
    assert verdict(plan) == "not a job for a bar"


@pytest.mark.parametrize(
    ("work", "swing", "word"),
    [
        ({"casting_mass": "5 kg", "farthest": "100 mm"}, "280 mm", "perhaps easier"),
        ({"casting_mass": "40 kg", "farthest": "100 mm"}, "280 mm", "for a line-boring bar"),
        ({"casting_mass": "5 kg", "farthest": "150 mm"}, "280 mm", "for a line-boring bar"),
        ({"casting_mass": "5 kg"}, "280 mm", "for a line-boring bar"),
        (
            {"casting_mass": "5 kg", "farthest": "100 mm", **TWO_LANDS},
            "280 mm",
            "for a line-boring bar",
        ),
        (
            {"casting_mass": "5 kg", "farthest": "100 mm", "lands": ["190 mm"]},
            "280 mm",
            "for a line-boring bar",
        ),
    ],
)
def test_a_short_light_job_may_be_easier_on_the_faceplate(
    work: dict[str, Any], swing: str, word: str
) -> None:
    assert fitness(plain_job(work=work, lathe={"swing": swing}), "mm").fitness.startswith(word)


def test_a_bore_that_stands_too_high_is_refused_by_how_much() -> None:
    job = plain_job(work={"axis_height": "100 mm"}, lathe={"height_over_slide": "90 mm"})
    plan = make_plan(job, "mm")
    assert plan.chosen is None
    assert "10 mm too high" in plan.obstacles[0]
    assert packing_height(plain_job()) is None


# --- the set-up ------------------------------------------------------------------------------


def test_centres_are_taken_where_the_chuck_brings_next_to_nothing() -> None:
    rigid = {"radial_stiffness": "rigid"}
    job = plain_job(
        lathe={
            "chuck": {"grip": "40 mm", "clear": "37 mm", "tilt_stiffness": "1 N.m/rad", **rigid},
            "dog": {"length": "25 mm", "clear": "12 mm", **rigid},
        }
    )
    (bar,) = judged_bars(job, "mm")
    assert {one.drive for one in bar.set_ups} == {"centres", "chuck"}
    assert preferred(bar.set_ups).drive == "centres"


def test_the_set_up_taken_is_never_far_from_the_stiffest() -> None:
    plan = planned(plain_job(work=TWO_LANDS, lathe=FEW_CUTS))
    set_ups = plan.bars[0].set_ups
    taken = preferred(set_ups)
    assert plan.chosen is not None
    assert plan.chosen.set_up is taken
    assert taken.least_stiffness >= 0.9 * 0.95 * max(one.least_stiffness for one in set_ups)
    assert len(taken.budget.stations) == 2
    assert any("2 bit stations instead of one" in note for note in plan.notes)


def test_gaps_that_no_hand_reaches_leave_one_station() -> None:
    (bar,) = judged_bars(plain_job(work={**TWO_LANDS, "gaps_reached": "no"}), "mm")
    assert {len(one.budget.stations) for one in bar.set_ups} == {1}


# --- the shipped jobs ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "path", [ROLLER, pytest.param(PUMP, marks=pytest.mark.slow)], ids=["roller", "pump"]
)
def test_a_shipped_job_is_planned_within_limits_and_its_cases_are_read(
    path: Path, tmp_path: Path
) -> None:
    job_file, plan = read_job_file(path), shipped_plan(path)
    assert plan.ok
    assert plan.chosen is not None
    write_plan(tmp_path, job_file, plan)
    found = json.loads((tmp_path / "plan.json").read_text())
    assert found["verdict"] == "within limits"
    for station in found["stations"]:
        case = read_case(tmp_path / station["case"])
        assert case.cross_hole.position == pytest.approx(station["position_m"])
        assert case.bar.span == pytest.approx(found["span_m"])
    passes = plan.chosen.outcome.passes.every
    assert passes[0].bore_before.likely == pytest.approx(job_file.job.work.start_bore, abs=1e-9)
    assert len(passes) == len(found["passes"]) == sum(len(cut.passes) for cut in plan.chosen.cuts)
    head = (tmp_path / "case.yaml").read_text().splitlines()[0]
    assert head.startswith(f"# Made by barwright plan from the job {path.name}; a case like any")
    for name in ("summary.json", "job.yaml", "passes.csv", "fields.vtu"):
        assert (tmp_path / name).is_file()


# --- any job ---------------------------------------------------------------------------------


def check_any_job(seed: int, folder: Path) -> str:
    """Plan a job drawn at random and hold the plan to what a hand would check; its verdict."""
    raw = job_at_random(seed)
    job = BoringJob.model_validate(raw)
    if job_conflicts(job):
        return "refused"
    plan = make_plan(job, "inch" if " in" in raw["work"]["start_bore"] else "mm")
    found = plan_summary(_file(job), plan)
    json.dumps(found, allow_nan=False)
    if plan.chosen is None:
        assert not plan.ok
        assert plan.obstacles or plan.verdict.fitness == "not for a bar" or _all_refused(plan)
        return verdict(plan)
    check_set_up(job, found)
    check_cuts(job, found)
    for number, written in enumerate(plan.chosen.cases):
        (folder / f"{number}.yaml").write_text(written.source.text)
        assert conflicts(read_case(folder / f"{number}.yaml")) == ()
    assert plan.ok == (not found["misses"])
    return verdict(plan)


def _all_refused(plan: Plan) -> bool:
    """Whether every bar is refused, each time with two numbers that do not go together."""
    return all(
        not bar.ok
        and bar.conflicts
        and all(len(_NUMBER.findall(why)) >= 2 for why in bar.conflicts)
        for bar in plan.bars
    )


def check_set_up(job: BoringJob, found: dict[str, Any]) -> None:
    """The budget adds up, bar and bit clear, the lathe has room."""
    work, lathe, bit = job.work, job.lathe, found["bit"]
    assert fsum(part["length_m"] for part in found["budget"]) == pytest.approx(found["span_m"])
    bar = next(one for one in found["bars"] if one["name"] == found["bar"] and one["ok"])
    hole = min(work.start_bore, work.access or work.start_bore)
    assert bar["diameter_m"] + 2 * 0.002 <= hole + 1e-6
    assert bit["size_m"] <= bar["diameter_m"] / 3 + 1e-6
    assert bit["size_m"] in [float(size) for size in job.stock.bits]
    # at size its tail stays inside the far wall; drawn back, both ends clear the bore as it is
    assert bit["length_m"] < work.bore.lower / 2 + bar["diameter_m"] / 2
    assert bit["length_m"] < work.start_bore
    assert bit["length_m"] > work.bore.upper / 2
    assert bar["length_m"] >= found["bar_needed_m"] - 1e-6
    assert found["room_between_centres_m"] <= lathe.between_centres + 1e-6
    assert found["carriage_travel_m"] <= (lathe.carriage_travel or 1e9) + 1e-6
    assert all(one["ok"] and one["room_m"] >= -1e-6 for one in found["collisions"])
    lands = sum(station["bored_m"] for station in found["stations"])
    assert lands == pytest.approx(sum(work.lands))


def check_cuts(job: BoringJob, found: dict[str, Any]) -> None:
    """Speeds are the lathe's, passes open the bore to its size, the last two alike."""
    speeds = [60 * float(speed) for speed in job.lathe.speeds]
    for cut in found["cuts"]:
        assert min(abs(cut["spindle_rpm"] - one) for one in speeds) < 1e-6
        if job.lathe.feeds:
            assert cut["feed_m_per_rev"] in [float(feed) for feed in job.lathe.feeds]
    passes = found["passes"]
    assert [one["number"] for one in passes] == list(range(1, len(passes) + 1))
    assert passes[0]["bore_before_m"]["likely"] == pytest.approx(float(job.work.start_bore))
    for before, after in pairwise(passes):
        assert after["bore_m"]["likely"] > before["bore_m"]["likely"]
    assert job.work.bore.lower <= passes[-1]["bore_m"]["likely"] <= job.work.bore.upper
    if len(passes) > 1:
        assert passes[-1]["advance_m"] == pytest.approx(passes[-2]["advance_m"])


def test_jobs_at_random_are_planned_or_refused_with_the_exact_conflict(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(planning, "analyse", late_run)
    seen = [check_any_job(seed, _fresh(tmp_path, seed)) for seed in (0, 1, 2, 5)]
    assert set(seen) == {"within limits", "no set-up fits", "not a job for a bar", "refused"}


@pytest.mark.slow
@pytest.mark.parametrize("tens", range(3))  # to 20 by hand; ten jobs take a quarter of a minute
def test_more_jobs_at_random(tens: int, tmp_path: Path) -> None:
    for seed in range(10 * tens, 10 * tens + 10):
        check_any_job(seed, _fresh(tmp_path, seed))


def _fresh(folder: Path, seed: int) -> Path:
    made = folder / str(seed)
    made.mkdir()
    return made


# --- the command -----------------------------------------------------------------------------


@pytest.fixture
def ready(monkeypatch: pytest.MonkeyPatch, remembering: None) -> None:
    """The command finds its plan made."""
    monkeypatch.setattr("barwright.analysis.plan.make_plan", lambda *_: shipped_plan(ROLLER))


def _status(path: Path, out: Path, *more: str) -> int:
    return status(["plan", str(path), "--out", str(out), "--no-pictures", *more])


@pytest.mark.usefixtures("ready")
def test_the_command_answers_first_and_leaves_a_case_that_check_accepts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _status(ROLLER, tmp_path) == 0
    said = capsys.readouterr().out
    assert said.startswith("CAN BE DONE")
    assert "Length budget" in said
    assert "SPAN" in said
    assert said.isascii()
    assert status(["check", str(tmp_path / ROLLER.stem / "case.yaml")]) == 0


def test_the_command_names_every_bar_where_none_goes_in(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "tight.yaml"
    text = ROLLER.read_text().replace("access: 40 mm", "access: 24 mm")
    path.write_text(text)
    assert _status(path, tmp_path) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert said.startswith("NO SET-UP FITS")
    for size, needs in (("30 mm", "36.4 mm"), ("25 mm", "31.4 mm"), ("38 mm", "44.4 mm")):
        assert f"bar {size} needs {needs} bore (3.2 mm all round for chips); access is 24 mm" in (
            said
        )
    assert sorted(one.name for one in (tmp_path / "tight").iterdir()) == ["job.yaml", "plan.json"]


@pytest.mark.usefixtures("ready")
def test_the_command_prints_the_plan_as_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _status(ROLLER, tmp_path, "--json") == 0
    said = json.loads(capsys.readouterr().out)
    assert said == json.loads((tmp_path / ROLLER.stem / "plan.json").read_text())
    assert said["schema"] == "barwright.plan/1"


@pytest.mark.usefixtures("ready")
def test_quiet_is_the_answer_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _status(ROLLER, tmp_path, "-q") == 0
    assert "Length budget" not in capsys.readouterr().out


def test_a_missing_job_is_the_callers_mistake(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _status(tmp_path / "none.yaml", tmp_path) == 2
    assert "there is no such file" in capsys.readouterr().err


# --- what a newcomer found missing -----------------------------------------------------------


def test_a_bore_above_half_the_swing_is_refused_where_the_slide_is_not_measured() -> None:
    plan = make_plan(plain_job(work={"axis_height": "150 mm"}, lathe={"swing": "280 mm"}), "mm")
    assert plan.chosen is None
    assert any("swings only 140 mm above its bed" in line for line in plan.obstacles)


@pytest.fixture(scope="module")
def weighed() -> Plan:
    return planned(plain_job(work={"casting_mass": "10 kg", "start_bore": "38 mm"}))


def test_heights_not_given_are_said_to_be_unknown(weighed: Plan) -> None:
    assert any("work.axis_height and lathe.height_over_slide are" in one for one in weighed.notes)


def test_the_casting_is_in_the_mass_that_the_case_moves(weighed: Plan) -> None:
    """10 kg of casting on a slide guessed at 30 kg, 12 to 90."""
    assert weighed.chosen is not None
    mass = weighed.chosen.cases[0].case.work.mass
    assert (float(mass), getattr(mass, "low", 0), getattr(mass, "high", 0)) == (40.0, 22.0, 100.0)


def test_the_written_case_has_round_figures_and_marks_what_was_chosen(weighed: Plan) -> None:
    assert weighed.chosen is not None
    text = weighed.chosen.cases[0].source.text
    position = weighed.chosen.set_up.budget.stations[0].position * 1e3
    assert position == pytest.approx(round(position * 2) / 2, abs=1e-6)
    assert not re.search(r"\d{6}", text)
    chosen = [
        line.split(":")[0].strip() for line in text.splitlines() if "# chosen by plan" in line
    ]
    assert {"diameter", "span", "position", "depth", "feed", "speed", "passes"} <= set(chosen)
    assert not {"bore", "start_bore"} & set(chosen[: chosen.index("passes") - 1])


def test_the_speed_is_given_a_reason_and_chuck_or_centres_one_sentence(weighed: Plan) -> None:
    assert sum("because it is near the slow end" in one for one in weighed.notes) == 1
    assert sum("between centres" in one.lower() for one in weighed.notes) == 1


def test_two_jobs_do_not_share_a_results_folder(tmp_path: Path) -> None:
    for name in ("pump", "stand"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "summary.json").write_text("{}")
    found = {results_name(tmp_path / name / "case.yaml") for name in ("pump", "stand")}
    assert found == {"pump-case", "stand-case"}


def test_depth_judged_and_setting_of_the_bit_are_told_apart_as_a_micrometer_has_them() -> None:
    """76.2 um are 3 thou of an inch; 79.9975 um are 3.1495, of which a micrometer shows 3.1."""
    case = SimpleNamespace(spindle_speed=160 / 60, surface_speed=0.372)

    def said(advance: float) -> str:
        cut = SimpleNamespace(depth=76.2e-6, feed=152.4e-6)
        passes = (SimpleNamespace(advance=advance),) * 2
        planned: Any = SimpleNamespace(stage="last two", passes=passes, cut=cut, case=case)
        return plan_lines._cut(planned, "inch", under_skin=False)

    assert said(76.5e-6).startswith("Last two: 2 passes 3 thou (76 um) deep, 0.006 ipr")
    assert said(76.5e-6).endswith("along the bore).")
    assert said(79.9975e-6).endswith(
        "along the bore). To come to size the bit goes out by 3.1 thou (80 um) in each."
    )


@pytest.mark.parametrize(("room", "hit"), [("5 mm", True), ("20 mm", False)])
def test_a_hole_too_small_for_the_edge_is_refused_where_the_bit_would_cut_it(
    monkeypatch: pytest.MonkeyPatch, room: str, hit: bool
) -> None:
    """An 8 mm bit that runs out by 6 mm takes 14 mm past the bore."""
    where = {"access": "41 mm", "access_at": "tail", "access_room": room}
    chosen = object()  # whether anything is, is all that is asked
    monkeypatch.setattr(planning, "_chosen", lambda *_: chosen)
    monkeypatch.setattr(planning, "_notes", lambda *_: ())
    plan = make_plan(plain_job(work=where), "mm")
    assert (plan.chosen is None) is hit
    assert any("would cut that hole" in one for one in plan.obstacles) is hit


def test_a_small_hole_that_lies_nobody_knows_where_is_a_caution() -> None:
    plan = planned(plain_job(work={"access": "41 mm"}, lathe=FEW_CUTS))
    assert any(one.startswith("CAUTION: the smallest hole is 41 mm") for one in plan.notes)


def test_plan_and_drawing_tell_one_travel_and_one_room(weighed: Plan) -> None:
    assert weighed.chosen is not None
    budget, travel = weighed.chosen.set_up.budget, travel_of(weighed.chosen.cases[0].case)
    assert travel.length == pytest.approx(budget.travel, abs=1e-6)
    rooms = [one.room for one in budget.clearances if one.what.startswith("casting")]
    assert travel.room == pytest.approx(rooms, abs=1e-6)
