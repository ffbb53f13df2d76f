"""Each verdict on a speed and its reason, lobes that cannot be aimed at, the pick, the files."""

from __future__ import annotations

import csv
import json
import time
from collections.abc import Mapping
from contextlib import redirect_stdout
from dataclasses import replace
from io import StringIO
from math import inf, nan, pi
from pathlib import Path

import numpy as np
import pytest
from conftest import MakeCase
from PIL import Image

from barwright.analysis.case import Case
from barwright.analysis.chatter import ENDS, End, corners, edge_of, loop_of, onset
from barwright.analysis.modes import Modes, Plane
from barwright.analysis.odds import margin_reach, narrowed
from barwright.analysis.speed_choice import (
    JudgedSpeed,
    Margins,
    Reason,
    SpeedChoice,
    at_speed,
    chatter_reasons,
    choose_speed,
    judged_speed,
    margin_words,
    picked,
    pitch_doubt,
    shake_reasons,
    surface_reasons,
    unbalance_of,
    unbalance_reasons,
)
from barwright.analysis.speed_strip import draw_speed_strip
from barwright.analysis.speeds import check_speed
from barwright.cli.app import status

CASES = Path(__file__).parents[1] / "cases"
Capture = pytest.CaptureFixture[str]


def band(low: float, likely: float, high: float) -> dict[End, float]:
    return {"low": low, "likely": likely, "high": high}


def margins(
    whole: Mapping[End, float],
    bare: Mapping[End, float] | None = None,
    *,
    lobe: float | None = None,
    frequency: float = 300.0,
) -> Margins:
    return Margins(whole=whole, bare=bare or whole, frequency=frequency, lobe=lobe)


QUIET = margins(band(1.2, 3.0, 9.0))


def ringing_at(*pitches: float) -> Modes:
    """Bending modes that only carry their pitches."""
    count = len(pitches)
    bit: Plane = "bit"
    return Modes(
        frequency=np.array(pitches),
        shape=np.zeros((1, count)),
        plane=(bit,) * count,
        purity=np.ones(count),
        residual=np.zeros(count),
        damping=np.zeros(count),
        along=np.zeros((count, 6, 2)),
        angle=0.0,
    )


def judged(case: Case, found: Margins = QUIET, *, rpm: float = 120.0) -> JudgedSpeed:
    return judged_speed(case, ringing_at(300.0, 900.0), rpm / 60, found, 1e-8)


def only(reasons: object) -> Reason:
    (reason,) = list(reasons)  # type: ignore[call-overload]
    assert isinstance(reason, Reason)
    return reason


# --- chatter ---------------------------------------------------------------------------------


def test_quiet_at_the_pessimistic_end_is_good() -> None:
    reason = only(chatter_reasons(QUIET, 1.0))
    assert (reason.verdict, reason.short) == ("good", "quiet at the low end")
    assert "1.2 to 9, likely 3" in reason.text
    assert "even at the pessimistic end of that range; one guess in ten is worse" in reason.text


def test_likely_margin_under_one_is_avoided_band_first() -> None:
    reason = only(chatter_reasons(margins(band(0.1, 0.9, 8.0)), 1.0))
    assert (reason.verdict, reason.short) == ("avoid", "likely to chatter")
    assert "0.1 to 8, likely 0.9, wanted 1: it is likely to sing" in reason.text


def test_less_than_the_margin_wanted_is_avoided_and_said_so() -> None:
    reason = only(chatter_reasons(margins(band(1.1, 1.5, 8.0)), 2.0))
    assert (reason.verdict, reason.short) == ("avoid", "less margin than wanted")


def test_process_damping_never_rescues_a_speed_silently() -> None:
    found = margins(band(0.3, 2.0, 9.0), band(0.3, 0.6, 3.0))
    reason = only(chatter_reasons(found, 1.0))
    assert reason.verdict == "caution"
    assert "without that the margin is 0.3 to 3, likely 0.6" in reason.text


def test_pessimistic_end_under_one_is_a_caution() -> None:
    reason = only(chatter_reasons(margins(band(0.5, 2.0, 9.0)), 1.0))
    assert (reason.verdict, reason.short) == ("caution", "quiet if the guesses hold")


def test_lobe_that_can_be_aimed_at_is_a_caution_with_its_condition() -> None:
    reason = only(chatter_reasons(margins(band(0.2, 0.7, 2.0), lobe=1.6), 1.0))
    assert (reason.verdict, reason.short) == ("caution", "in a gap between lobes")
    assert "0.2 to 2, likely 0.7 at the worst phase" in reason.text
    assert "it sings if the speed wanders" in reason.text


@pytest.mark.parametrize("lobe", [None, 0.9])
def test_no_lobe_or_too_low_a_one_leaves_the_speed_avoided(lobe: float | None) -> None:
    assert only(chatter_reasons(margins(band(0.2, 0.7, 2.0), lobe=lobe), 1.0)).verdict == "avoid"


def test_margin_that_never_sings_is_over_a_hundred() -> None:
    assert margin_words(band(0.5, inf, inf)) == "0.5 to over 100, likely over 100"


# --- surface speed, shakes, unbalance --------------------------------------------------------


@pytest.mark.parametrize(
    ("m_per_min", "verdict", "short"),
    [
        (9.9, "caution", "slow for the bit"),
        (10.1, None, None),
        (29.9, None, None),
        (32.9, "good", "just over the usual speed"),
        (33.1, "caution", "fast for the bit"),
        (39.1, "avoid", "too fast for the bit"),
    ],
)
def test_surface_speed_against_the_range_of_high_speed_steel(
    m_per_min: float, verdict: str | None, short: str | None, make_case: MakeCase
) -> None:
    """Range 20 to 30 m/min: caution under half and over 1.1, avoid over 1.3, by the contract."""
    metal = make_case().work.material.model_copy(
        update={"hss_speed_least": 20 / 60, "hss_speed_most": 30 / 60}
    )
    found = list(surface_reasons(metal, m_per_min / 60, "mm"))
    assert [(one.verdict, one.short) for one in found] == ([(verdict, short)] if verdict else [])
    assert all("m/min" in one.text and "sfm" in one.text for one in found)


def test_metal_without_a_range_is_not_judged_by_surface_speed(make_case: MakeCase) -> None:
    metal = make_case().work.material.model_copy(
        update={"hss_speed_least": None, "hss_speed_most": None}
    )
    assert list(surface_reasons(metal, 5.0, "mm")) == []


def test_beat_of_an_interrupted_cut_on_a_mode_is_avoided(make_case: MakeCase) -> None:
    """Six ports at 150 rpm beat at 15 Hz; the twentieth is out of reach, the tenth is 150 Hz."""
    case = make_case(work__cuts_per_turn=6)
    reason = only(shake_reasons(check_speed(case, ringing_at(150.0, 2000.0), 150 / 60)))
    assert reason.verdict == "avoid"
    assert "interrupted cut" in reason.short
    row = judged_speed(case, ringing_at(150.0, 2000.0), 150 / 60, QUIET, 1e-8)
    assert row.verdict == "avoid"
    assert row.reasons[0] == reason


def test_nothing_near_a_mode_gives_no_reason(make_case: MakeCase) -> None:
    assert list(shake_reasons(check_speed(make_case(), ringing_at(300.0), 2.0))) == []


def test_unbalance_of_a_bit_in_a_centred_hole_by_hand(make_case: MakeCase) -> None:
    """8 mm square bit 40 mm long to a 25 mm radius: 8160 x 64e-6 x 0.04 kg at 5 mm."""
    case = make_case(bit__length="40 mm", cross_hole__offset="0 mm")
    assert unbalance_of(case) == pytest.approx(8160 * 64e-6 * 0.04 * (0.025 - 0.020), rel=1e-9)


def test_hole_off_centre_leaves_the_metal_of_the_bit_less_that_of_the_bar(
    make_case: MakeCase,
) -> None:
    """A 50 mm bit has its middle on the axis, so only the offset of 4 mm is left."""
    case = make_case(bit__length="50 mm", cross_hole__offset="4 mm")
    density = float(case.bar.material.density)
    left = 64e-6 * 0.004 * (8160 * 0.05 - density * 0.03)
    assert unbalance_of(case) == pytest.approx(left, rel=1e-9)


def test_unbalance_is_said_only_when_it_moves_the_edge() -> None:
    assert list(unbalance_reasons(0.2, 5e-9, "mm")) == []
    reason = only(unbalance_reasons(40.0, 3e-6, "mm"))
    assert reason.verdict == "caution"
    assert "40 N" in reason.text


def test_the_pick_owns_up_to_a_surface_speed_just_over_the_usual(make_case: MakeCase) -> None:
    case = make_case()
    metal = case.work.material.model_copy(
        update={"hss_speed_least": 0.05, "hss_speed_most": case.surface_speed / 1.05}
    )
    case = case.model_copy(update={"work": case.work.model_copy(update={"material": metal})})
    rows = [
        judged_speed(case, ringing_at(300.0, 900.0), share * case.spindle_speed, QUIET, 1e-9)
        for share in (0.5, 1.0)
    ]
    pick, _, why = picked(rows)
    assert (pick, pick.verdict) == (rows[1], "good")
    assert why == "the fastest with nothing against it but a surface speed just over the usual"


# --- one speed, and which to take ------------------------------------------------------------


def test_worst_reason_comes_first_and_is_the_verdict(make_case: MakeCase) -> None:
    case = make_case(lathe__lines=[{"name": "motor", "frequency": "270 Hz"}])
    row = judged(case, margins(band(0.1, 0.5, 2.0)))
    assert [one.verdict for one in row.reasons] == ["avoid", "caution"]
    assert row.verdict == "avoid"
    assert row.waves_per_turn == pytest.approx(150.0)


def test_speed_with_nothing_against_it_is_good_and_says_why(make_case: MakeCase) -> None:
    row = judged(make_case())
    assert (row.verdict, row.against) == ("good", ())
    assert row.reasons[0].verdict == "good"


def rows(case: Case, **likely: float) -> list[JudgedSpeed]:
    """Speeds of the lathe with a likely margin each, all cautions."""
    return [
        replace(judged(case, margins(band(0.1, margin, 9.0)), rpm=float(rpm[1:])), on_lathe=True)
        for rpm, margin in likely.items()
    ]


def test_fastest_good_speed_is_picked(make_case: MakeCase) -> None:
    good = [replace(judged(make_case(), rpm=rpm), on_lathe=True) for rpm in (90, 120, 150)]
    first, second, why = picked([*good, *rows(make_case(), n200=3.0)])
    assert [round(first.speed * 60), second and round(second.speed * 60)] == [150, 120]
    assert why == "the fastest with nothing against it"


def test_among_cautions_the_largest_margin_is_picked(make_case: MakeCase) -> None:
    first, second, why = picked(rows(make_case(), n90=2.0, n120=3.0, n150=0.5))
    assert [round(first.speed * 60), second and round(second.speed * 60)] == [120, 90]
    assert "none is free of doubt" in why


def test_where_every_speed_is_avoided_the_cut_is_to_change(make_case: MakeCase) -> None:
    first, _, why = picked(rows(make_case(), n90=0.2, n120=0.3))
    assert round(first.speed * 60) == 120
    assert "change the cut" in why


def test_a_speed_the_lathe_does_not_have_is_never_picked(make_case: MakeCase) -> None:
    here = rows(make_case(), n90=0.2)
    asked = replace(judged(make_case(), rpm=100.0), on_lathe=False)
    first, second, _ = picked([*here, asked])
    assert first is here[0]
    assert second is None


# --- a whole case ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def guessed(make_case: MakeCase) -> Case:
    return make_case(
        cut__force=None,
        work__start_bore="49.6 mm",
        work__radial_stiffness="30 N/um (10 to 100)",
        supports__tail__radial_stiffness="20 N/um (10 to 50)",
        lathe__speeds=[f"{rpm} rpm" for rpm in range(40, 280, 20)],
    )


@pytest.fixture(scope="module")
def choice(guessed: Case) -> SpeedChoice:
    return choose_speed(guessed)


def test_twelve_speeds_take_less_than_four_seconds(guessed: Case) -> None:
    before = time.process_time()
    assert len(choose_speed(guessed).speeds) == 12
    assert time.process_time() - before < 4.0


def test_margins_agree_with_the_search_over_gain(guessed: Case, choice: SpeedChoice) -> None:
    """The vectorised floors against `chatter.onset`, which shares none of their code."""
    likely = narrowed(guessed, margin_reach(guessed))
    found = corners(likely)
    for row in (choice.speeds[0], choice.speeds[-1]):
        case = at_speed(likely, row.speed)
        for end, corner in found.items():
            whole = onset(loop_of(case, corner)).gain_margin
            bare = onset(loop_of(case, corner, damped=False)).gain_margin
            assert row.margins.whole[end] == pytest.approx(whole, rel=0.01)
            assert row.margins.bare[end] == pytest.approx(bare, rel=0.01)


def test_process_damping_helps_and_is_told_apart_at_every_end(choice: SpeedChoice) -> None:
    for row in choice.speeds:
        for end in ENDS:
            assert row.margins.whole[end] > row.margins.bare[end]


def test_at_a_hundred_waves_a_turn_no_lobe_is_advised(choice: SpeedChoice) -> None:
    assert min(row.waves_per_turn for row in choice.speeds) > 50
    assert all(row.margins.lobe is None for row in choice.speeds)
    assert not any("lobe" in reason.short for row in choice.speeds for reason in row.reasons)
    assert any("the speed will not tune chatter out" in note for note in choice.notes)


def test_doubt_of_the_pitch_is_half_of_what_the_guesses_leave_or_two_percent(
    guessed: Case, make_case: MakeCase
) -> None:
    assert pitch_doubt(corners(make_case())) == 0.02
    pitches = [float(c.compliance.planar.frequency.min()) for c in corners(guessed).values()]
    middle = (max(pitches) + min(pitches)) / 2
    assert pitch_doubt(corners(guessed)) == pytest.approx((max(pitches) - middle) / middle)


def test_few_waves_a_turn_can_be_aimed_at(make_case: MakeCase) -> None:
    """A slim typed bar at 1500 rpm: some 5 waves a turn, within 1/(4 x 5) = 5 %."""
    case = make_case(
        bar__diameter="20 mm",
        bar__span="700 mm",
        cross_hole__position="350 mm",
        cross_hole__size="5 mm",
        bit__size="5 mm",
        cut__speed="1500 rpm",
        lathe__speeds=["1500 rpm"],
    )
    found = choose_speed(case)
    assert found.asked.waves_per_turn < 12.5
    lobe = found.asked.margins.lobe
    assert lobe is not None
    assert lobe >= found.asked.margins.whole["likely"] * 0.999
    assert not any("will not tune" in note for note in found.notes)


def test_case_without_lathe_speeds_judges_its_own_and_says_so(make_case: MakeCase) -> None:
    found = choose_speed(make_case())
    assert len(found.speeds) == 1
    assert found.runner_up is None
    assert found.asked is found.pick
    assert any("lists no speeds of the lathe" in note for note in found.notes)


def test_own_speed_is_judged_once_and_marked(make_case: MakeCase) -> None:
    found = choose_speed(make_case(lathe__speeds=["90 rpm", "120.2 rpm"]))
    assert [round(row.speed * 60) for row in found.speeds] == [90, 120]
    assert [row.asked for row in found.speeds] == [False, True]
    assert found.asked.on_lathe


def test_interrupted_cut_gets_no_credit_and_a_note(make_case: MakeCase) -> None:
    plain = choose_speed(make_case(lathe__speeds=["90 rpm"]))
    broken = choose_speed(make_case(lathe__speeds=["90 rpm"], work__cuts_per_turn=2))
    assert broken.asked.margins == plain.asked.margins
    assert any("no credit for the gaps" in note for note in broken.notes)


def test_edge_that_takes_less_force_when_fast_is_used_at_each_speed(make_case: MakeCase) -> None:
    """Above 50 m/min the low-speed factor falls: each speed has its own edge."""
    case = make_case(cut__force=None, lathe__speeds=["120 rpm", "700 rpm"])
    slow, fast = (edge_of(at_speed(case, rpm / 60), "likely") for rpm in (120, 700))
    assert fast.resultant[1] < slow.resultant[1]
    row = choose_speed(case).speeds[-1]
    again = onset(loop_of(at_speed(case, row.speed), corners(case)["likely"])).gain_margin
    assert row.margins.whole["likely"] == pytest.approx(again, rel=0.01)


# --- what is left and printed ----------------------------------------------------------------


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """What the command leaves beside a run of the same case, and what it says when quiet."""
    folder = tmp_path_factory.mktemp("speeds")
    (folder / "pump_bracket").mkdir()
    (folder / "pump_bracket" / "summary.json").write_text("{}")
    case = str(CASES / "pump_bracket.yaml")
    with redirect_stdout(StringIO()) as said:
        assert status(["speeds", case, "--out", str(folder), "-q", "--hole", "table"]) == 0
    return folder, said.getvalue()


def test_speeds_of_a_case_through_the_command_line(tmp_path: Path, capsys: Capture) -> None:
    code = status(["speeds", str(CASES / "mill_gearcase.yaml"), "--out", str(tmp_path)])
    out, err = capsys.readouterr()
    folder = tmp_path / "mill_gearcase-speeds"
    assert code == 1
    assert out.startswith("AVOID at 160 rpm, the speed of this cut")
    assert out.isascii()
    assert "bull gear" in out
    assert "will not tune chatter out" in out
    assert "written:" in err
    assert {one.name for one in folder.iterdir()} == {"speeds.csv", "speeds.json", "speeds.png"}


def test_table_has_a_unit_under_every_name(kept: tuple[Path, str]) -> None:
    with (kept[0] / "pump_bracket-speeds" / "speeds.csv").open(newline="") as file:
        names, units, *found = list(csv.reader(file))
    known = dict(zip(names, units, strict=True))
    assert all(units)
    assert [known[name] for name in ("spindle", "surface_speed", "chatter_frequency")] == [
        "rpm",
        "m/min",
        "Hz",
    ]
    first = dict(zip(names, found[0], strict=True))
    surface = pi * 0.044 * float(first["spindle"])
    assert float(first["surface_speed"]) == pytest.approx(surface, rel=1e-6)


def test_json_alone_is_what_is_kept(tmp_path: Path, capsys: Capture) -> None:
    case = str(CASES / "hinge_knuckle.yaml")
    assert status(["speeds", case, "--out", str(tmp_path), "--json", "--hole", "table"]) == 0
    printed = json.loads(capsys.readouterr().out)
    written = json.loads((tmp_path / "hinge_knuckle-speeds" / "speeds.json").read_text())
    assert printed == written
    assert printed["runner_up"] == "none"
    assert {"spindle_rpm", "verdict"} <= set(printed["asked"])


def test_quiet_prints_the_answer_alone(kept: tuple[Path, str]) -> None:
    assert "Take" in kept[1]
    assert "Why" not in kept[1]


def test_run_of_the_same_case_keeps_its_folder(kept: tuple[Path, str]) -> None:
    assert (kept[0] / "pump_bracket" / "summary.json").read_text() == "{}"


def test_strip_grows_by_a_row_for_each_speed_and_holds_what_is_off_its_scale(
    tmp_path: Path,
) -> None:
    def row(rpm: float, low: float | str, high: float | str) -> dict[str, object]:
        margin = {"low": low, "likely": low, "high": high}
        return {
            "spindle_rpm": rpm,
            "surface_speed_m_per_s": 0.3,
            "on_lathe": True,
            "this_cut": rpm == 60.0,
            "verdict": "good",
            "reasons": [{"verdict": "good", "short": "quiet", "text": "quiet"}],
            "gain_margin": margin,
            "gain_margin_without_process_damping": margin,
        }

    def size(*speeds: dict[str, object]) -> tuple[int, int]:
        found = {
            "case": {"title": "strip $x$"},
            "margin_wanted": 1.5,
            "lathe_has_speeds": True,
            "pick": {"spindle_rpm": 60.0},
            "runner_up": "none",
            "speeds": speeds,
        }
        draw_speed_strip(found, tmp_path / "speeds.png")
        with Image.open(tmp_path / "speeds.png") as image:
            return image.size

    one = size(row(60.0, 1e-4, 2e-4))
    three = size(row(60.0, 1e-4, 2e-4), row(90.0, "none", "none"), row(1200.0, 0.5, 50.0))
    assert one[0] == three[0]
    assert three[1] - one[1] == 2 * 74


def test_nothing_that_sings_leaves_no_waves(make_case: MakeCase) -> None:
    row = judged(make_case(), margins(band(inf, inf, inf), frequency=nan))
    assert row.waves_per_turn != row.waves_per_turn
    assert row.verdict == "good"
