"""Trouble finder: the table is whole, and a number that decides changes the order."""

from __future__ import annotations

import ast
from math import inf, pi
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from conftest import MakeCase
from late_runs import late_run, later

from barwright.analysis import cause, remedy
from barwright.analysis.case import Case, conflicts
from barwright.analysis.casefile import read_case
from barwright.analysis.cause import VERDICTS, Standing, Verdict
from barwright.analysis.firmness import firmer, likely_margin
from barwright.analysis.marks import read_marks
from barwright.analysis.remedy import REMEDIES, Remedy, Workshop
from barwright.analysis.trouble import (
    Trouble,
    Try,
    lacks,
    possible,
    symptom_named,
    symptoms,
    trouble,
    troubles,
)
from barwright.analysis.trouble_record import marks_summary, troubles_summary

CHUCK = {"kind": "chuck", "grip": "40 mm"}
TABLE_FORCE = {"cut__force": None}
WANTED = (
    "chatter",
    "chatter on the finish cut only",
    "chatter near one end",
    "undersize but parallel",
    "oversize",
    "taper",
    "bell mouth",
    "barrel or waist",
    "out of round with two lobes",
    "out of round with three lobes",
    "bores out of line",
    "step or ring",
    "bit slips",
    "chips pack",
    "bar whips",
    "tailstock backs off",
    "chuck slips",
    "dog knocks",
)


@pytest.fixture(scope="module")
def shop(make_case: MakeCase) -> Workshop:
    """The plain bar with the force of the table and a work side that gives."""
    return at_work(make_case(**TABLE_FORCE, work__radial_stiffness="30 N/um"))


@pytest.fixture(scope="module")
def listed(shop: Workshop) -> tuple[Trouble, ...]:
    """Every symptom of that bar."""
    return troubles(shop.case, shop.outcome)


def at_work(case: Case) -> Workshop:
    """A workshop of the case, which is run as far as a cause or a try asks for it."""
    assert not conflicts(case)
    return Workshop(case, later(late_run, case))


WORKED: dict[str, Workshop] = {}


def of_case(make_case: MakeCase, **changes: Any) -> Workshop:
    """A workshop of the plain case with changes; several tests start from the same."""
    key = repr(sorted(changes.items()))
    if key not in WORKED:
        WORKED[key] = at_work(make_case(**changes))
    return WORKED[key]


# --- the table -------------------------------------------------------------------------------


def test_the_table_has_every_symptom_with_causes_and_tries() -> None:
    assert tuple(symptoms()) == WANTED
    for symptom in symptoms().values():
        assert len(symptom.causes) >= 3
        assert len(symptom.tries) >= 3


def test_every_number_of_the_table_is_known_and_every_known_one_is_used() -> None:
    causes = {row.number for one in symptoms().values() for row in one.causes if row.number}
    tries = {row.number for one in symptoms().values() for row in one.tries if row.number}
    assert causes == set(VERDICTS)
    assert tries == set(REMEDIES)


def test_a_cause_has_words_of_its_own_or_a_number_never_both() -> None:
    for symptom in symptoms().values():
        for row in symptom.causes:
            assert bool(row.why) != bool(row.number), row.cause
            assert row.prove
        assert all(row.effort in (0, 1, 2, 3) for row in symptom.tries)


def test_the_table_is_plain_ascii_and_lines_of_the_shop() -> None:
    text = Path(cause.__file__).with_name("troubles.yaml").read_text(encoding="utf-8")
    assert text.isascii()
    for word in ("receptance", "node", "DOF", "eigen"):
        assert word not in text


def test_a_symptom_is_found_by_what_the_shop_calls_it() -> None:
    assert symptom_named("Oval").name == "out of round with two lobes"
    assert symptom_named("bell-mouth").name == "bell mouth"
    assert symptom_named("  CHATTER ").name == "chatter"


@pytest.mark.parametrize(
    ("text", "meant"), [("chater", "chatter"), ("tapper", "taper"), ("bit slip s", "bit slips")]
)
def test_a_misspelt_symptom_is_offered_the_nearest(text: str, meant: str) -> None:
    with pytest.raises(ValueError, match=f"did you mean {meant}"):
        symptom_named(text)


def test_an_unknown_symptom_is_told_what_there_is() -> None:
    with pytest.raises(ValueError, match=r"is not a symptom in the table\. It has: chatter, "):
        symptom_named("the cat is ill")


def test_a_case_has_only_the_symptoms_that_its_parts_can_have(make_case: MakeCase) -> None:
    centres, chuck = make_case(), make_case(supports__drive=CHUCK)
    names = [{one.name for one in possible(case)} for case in (centres, chuck)]
    assert names[0] - names[1] == {"dog knocks"}
    assert names[1] - names[0] == {"chuck slips"}
    assert lacks(chuck, symptoms()["dog knocks"]) == "no dog"


# --- order -----------------------------------------------------------------------------------


def test_causes_stand_in_the_order_of_their_standing(listed: tuple[Trouble, ...]) -> None:
    order: list[Standing] = ["likely", "open", "unlikely", "ruled out"]
    for one in listed:
        places = [order.index(row.standing) for row in one.causes]
        assert places == sorted(places)


def test_a_free_try_comes_before_a_dear_one_and_the_most_gain_first(shop: Workshop) -> None:
    rows = symptoms()["chatter"].tries
    found = trouble(shop, symptoms()["chatter"]).tries
    assert [one.do for one in found[:2]] == [row.do for row in rows if row.effort == 0]
    cuts = [shop.remedy(row.number) for row in rows if row.effort == 1]
    gains = [one.margin for one in cuts if one is not None and not one.idle]
    told = [one.margin for one in found[2 : 2 + len(gains)]]
    assert told == sorted((gain for gain in gains if gain), reverse=True)


def test_what_buys_nothing_comes_last(make_case: MakeCase) -> None:
    # With the work side rigid there is nothing to firm up there.
    found = trouble(of_case(make_case, **TABLE_FORCE), symptoms()["chatter"])
    place = [one.do for one in found.tries].index("make the work side twice as firm")
    assert found.tries[place].gain == "buys nothing here"
    assert all(one.margin is not None and one.margin < 1.03 for one in found.tries[place:])


# --- what the numbers say --------------------------------------------------------------------


def said(number: str, shop: Workshop) -> Verdict:
    return VERDICTS[number](shop)


M6 = {"cross_hole__set_screws": [{"diameter": "6 mm"}]}
FLIPS: list[tuple[str, dict[str, Any], Standing, dict[str, Any], Standing]] = [
    ("fine feed", {"cut__feed": "0.03 mm/rev"}, "likely", {}, "unlikely"),
    ("too fast", {"cut__speed": "600 rpm"}, "likely", {}, "unlikely"),
    ("give of work side", {"work__radial_stiffness": "1 N/um"}, "likely", {}, "unlikely"),
    ("give of tail", {"supports__tail__radial_stiffness": "0.5 N/um"}, "likely", {}, "unlikely"),
    ("give of drive", {"supports__drive__radial_stiffness": "1 N/um"}, "likely", {}, "unlikely"),
    ("give of bar", {}, "likely", {"supports__tail__radial_stiffness": "0.1 N/um"}, "unlikely"),
    (
        "bit sticks out",
        {"cross_hole__size": "2 mm", "bit__size": "2 mm"},
        "likely",
        {},
        "unlikely",
    ),
    (
        "springs off",
        {"work__bore": "50 +0.01 -0 mm"},
        "likely",
        {"work__bore": "50 +2 -0 mm"},
        "unlikely",
    ),
    ("gaps", {"work__cuts_per_turn": 2}, "likely", {}, "unlikely"),
    ("two gaps", {"work__cuts_per_turn": 2}, "likely", {}, "ruled out"),
    ("three gaps", {"work__cuts_per_turn": 3}, "likely", {"work__cuts_per_turn": 2}, "unlikely"),
    ("feeds at tail", {"cut__feed_towards": "tailstock"}, "likely", {}, "unlikely"),
    ("dead tail", {"supports__tail": {"kind": "dead centre"}}, "likely", {}, "unlikely"),
    ("small gap", {"bar__diameter": "45 mm"}, "likely", {}, "unlikely"),
    ("long chips", {"work__material": "low-carbon steel"}, "likely", {}, "unlikely"),
    (
        "weak hold",
        M6 | {"cut__force": {"radial": "3 kN", "tangential": "3 kN"}},
        "likely",
        M6,
        "unlikely",
    ),
    ("strips", M6 | {"bar__material": "6061"}, "likely", M6, "unlikely"),
    (
        "jaws",
        {"supports__drive": CHUCK, "cut__force": {"radial": "30 N", "tangential": "2 kN"}},
        "likely",
        {},
        "ruled out",
    ),
    ("bent in jaws", {"supports__drive": CHUCK}, "open", {}, "ruled out"),
    ("pin", {}, "open", {"supports__drive": CHUCK}, "ruled out"),
    (
        "worn along",
        {"work__length": "190 mm", "cut__feed": "0.05 mm/rev"},
        "likely",
        {"work__length": "30 mm"},
        "open",
    ),
    ("warm", {}, "open", {"work__bore": "50 +1 -0 mm"}, "unlikely"),
    (
        "proud screw",
        M6 | {"bar__diameter": "49.5 mm"},
        "likely",
        {},
        "ruled out",
    ),
    ("thrust", {}, "open", {"supports__tail": {"kind": "bushing"}}, "ruled out"),
    (
        "bent",
        {
            "bar__run_out": {
                "readings": [
                    {"at": "100 mm", "reading": "42 um"},
                    {"at": "200 mm", "reading": "60 um"},
                    {"at": "300 mm", "reading": "42 um"},
                ]
            }
        },
        "likely",
        {},
        "open",
    ),
    (
        "run-out",
        {
            "bar__run_out": {
                "readings": [
                    {"at": "100 mm", "reading": "42 um"},
                    {"at": "200 mm", "reading": "60 um"},
                    {"at": "300 mm", "reading": "42 um"},
                ]
            }
        },
        "likely",
        {},
        "open",
    ),
    ("unlike supports", {"supports__tail__vertical_stiffness": "1 N/um"}, "likely", {}, "open"),
    (
        "dwell",
        {"work__bore": "50 +0.004 -0 mm"},
        "likely",
        {"work__bore": "50 +2 -0 mm"},
        "unlikely",
    ),
    (
        "partly engaged",
        {"work__bore": "50 +0.01 -0 mm"},
        "open",
        {"work__bore": "50 +2 -0 mm"},
        "unlikely",
    ),
]


@pytest.mark.parametrize(
    ("number", "one", "first", "other", "second"), FLIPS, ids=[row[0] for row in FLIPS]
)
def test_a_number_of_the_case_decides(
    make_case: MakeCase,
    number: str,
    one: dict[str, Any],
    first: Standing,
    other: dict[str, Any],
    second: Standing,
) -> None:
    assert said(number, of_case(make_case, **one)).standing == first
    assert said(number, of_case(make_case, **other)).standing == second


def _gearcase_with_nose(radius: float) -> Case:
    case = read_case(Path(__file__).parents[1] / "cases" / "mill_gearcase.yaml")
    return case.model_copy(update={"bit": case.bit.model_copy(update={"nose_radius": radius})})


def test_a_nose_is_blamed_only_where_a_smaller_one_is_quieter_and_this_one_is_not_quiet(
    make_case: MakeCase,
) -> None:
    """Thin under the nose says nothing by itself: the case solved with half of it does."""
    bare = of_case(make_case)  # its typed force knows of no nose
    gained = bare.remedy("smaller nose")
    assert gained is not None
    assert gained.idle
    assert said("round nose", bare).standing == "unlikely"
    case, small = (_gearcase_with_nose(radius) for radius in (0.4e-3, 0.2e-3))
    assert likely_margin(case) < 1 < likely_margin(small)
    assert said("round nose", at_work(case)).standing == "likely"
    cleared = of_case(
        make_case,
        **TABLE_FORCE,
        work__radial_stiffness="30 N/um",
        bit__nose_radius="0.1 mm",
        cut__depth="0.3 mm",
        cut__speed="60 rpm",
    )
    assert said("round nose", cleared).standing == "unlikely"


def test_a_thin_finish_is_blamed_only_where_it_is_thinner_than_the_nose(
    make_case: MakeCase, shop: Workshop
) -> None:
    thin = said("thin finish", shop)
    assert thin.standing in ("likely", "open")
    gained = shop.finishing.remedy("deeper")
    assert gained is not None
    assert (thin.standing == "open") == gained.idle
    sharp = of_case(make_case, **TABLE_FORCE, bit__nose_radius="0.05 mm")
    assert said("thin finish", sharp).standing == "unlikely"


def test_a_bar_that_sings_is_past_its_margin_and_a_stout_quiet_one_is_not(
    make_case: MakeCase,
) -> None:
    slim = of_case(
        make_case, **TABLE_FORCE, bar__diameter="16 mm", cross_hole__size="4 mm", bit__size="4 mm"
    )
    assert slim.outcome.chatter.margin["likely"] < 1
    assert said("past margin", slim).standing == "likely"
    quiet = of_case(make_case, cut__force={"radial": "0.01 N", "tangential": "0.01 N"})
    assert said("past margin", quiet).standing in ("open", "unlikely")


def test_a_gear_at_the_pitch_of_a_mode_shakes_the_bar(make_case: MakeCase, shop: Workshop) -> None:
    pitch = shop.outcome.modes.first_bending
    gear = {"lines": [{"name": "gear", "frequency": f"{pitch:.1f} Hz"}]}
    shaken = of_case(make_case, **TABLE_FORCE, work__radial_stiffness="30 N/um", lathe=gear)
    assert said("shaken", shaken).standing == "likely"
    assert said("shaken", shop).standing == "unlikely"


def test_speed_is_not_to_be_tuned_at_a_hundred_waves_a_turn(
    make_case: MakeCase, shop: Workshop
) -> None:
    many = said("unlucky speed", shop)
    assert many.standing == "ruled out"
    assert "will not tune it out" in many.why
    few = of_case(
        make_case, **TABLE_FORCE, work__radial_stiffness="30 N/um", cut__speed="4000 rpm"
    )
    assert few.outcome.chatter.marks_per_turn < 12.5  # a quarter wave in 2 per cent
    assert said("unlucky speed", few).standing == "open"


def test_rubbing_is_cleared_where_the_cut_is_quiet_without_it(
    make_case: MakeCase, shop: Workshop
) -> None:
    limit = shop.rubbing_speed
    assert limit is not None
    # At that speed the likely margin is just the wanted one, to the 5 % of the search.
    assert shop.margin_at(limit) >= shop.case.limits.chatter_margin > shop.margin_at(1.06 * limit)
    assert said("lost rubbing", shop).standing == "likely"
    quiet = of_case(make_case, cut__force={"radial": "0.01 N", "tangential": "0.01 N"})
    assert said("lost rubbing", quiet).standing == "ruled out"
    assert quiet.rubbing_speed is None


def test_a_long_thin_bar_at_speed_is_near_its_critical_speed_and_a_stout_slow_one_is_not(
    make_case: MakeCase, shop: Workshop
) -> None:
    assert said("critical", shop).standing == "ruled out"
    first = shop.outcome.whirl.first_critical
    fast = of_case(
        make_case,
        **TABLE_FORCE,
        work__radial_stiffness="30 N/um",
        cut__speed=f"{0.8 * first * 60:.0f} rpm",
    )
    assert said("critical", fast).standing == "likely"


def test_the_bar_whirls_from_a_feed_of_its_own(make_case: MakeCase, shop: Workshop) -> None:
    slim = TABLE_FORCE | {"bar__diameter": "25 mm", "bar__span": "800 mm"}
    slim |= {"cross_hole__position": "400 mm", "bit__nose_radius": "0.8 mm"}
    slim |= {"work__material": "leaded bronze", "cut__depth": "0.25 mm"}
    limit = of_case(make_case, **slim).outcome.chatter.whirl_feed_limit
    assert isinstance(limit, float)
    above = of_case(make_case, **slim, cut__feed=f"{1.1e3 * limit:.5f} mm/rev")
    assert said("whirls", above).standing == "likely"
    assert said("fine feed", above).standing == "ruled out"
    assert said("whirls", shop).standing != "likely"


@pytest.mark.parametrize(
    ("limit", "value"), [("none", inf), ("no usable feed", 0.0), ("no usable radius", 0.0)]
)
def test_a_limit_in_words_is_read_as_what_it_means(limit: str, value: float) -> None:
    assert cause.bound(limit) == value
    assert cause.bound(2e-4) == 2e-4


# --- truths ----------------------------------------------------------------------------------


@pytest.mark.parametrize("symptom", ["taper", "barrel or waist"])
def test_spring_of_the_bar_is_ruled_out_for_what_changes_along_the_bore(
    make_case: MakeCase, symptom: str
) -> None:
    # Even a bar as soft as this cuts the same all along: the bit stays at one station of it.
    soft = of_case(make_case, supports__tail__radial_stiffness="0.5 N/um")
    found = trouble(soft, symptoms()[symptom])
    spring = next(one for one in found.causes if one.cause == "spring of the bar")
    assert spring.standing == "ruled out"
    assert spring is not found.causes[0]


def test_jaws_that_turn_with_the_bit_leave_no_lobes(shop: Workshop) -> None:
    for lobes in ("two", "three"):
        found = trouble(shop, symptoms()[f"out of round with {lobes} lobes"])
        jaws = next(one for one in found.causes if "jaws of the bar" in one.cause)
        assert jaws.standing == "ruled out"


# --- what a try brings -----------------------------------------------------------------------


def test_a_gain_is_that_of_the_case_solved_again(make_case: MakeCase) -> None:
    # The whole run with its twice as stiff tail, not the search of the finder.
    changes = TABLE_FORCE | {"work__radial_stiffness": "30 N/um"}
    shop = of_case(make_case, **changes)
    names = {
        "supports__tail__radial_stiffness": "40 N/um",
        "supports__tail__damping": "2000 N.s/m",
    }
    firm = of_case(make_case, **changes, **names)
    found = shop.remedy("firmer tail")
    assert found is not None
    margins = [one.outcome.chatter.margin["likely"] for one in (firm, shop)]
    assert found.margin == pytest.approx(margins[0] / margins[1], rel=2e-3)


def test_a_smaller_nose_is_told_as_a_run_with_it(make_case: MakeCase) -> None:
    changes = TABLE_FORCE | {"work__radial_stiffness": "30 N/um"}
    shop = of_case(make_case, **changes)
    small = of_case(make_case, **changes, bit__nose_radius="0.2 mm")
    found = shop.remedy("smaller nose")
    assert found is not None
    assert "0.2 mm" in found.do
    margins = [one.outcome.chatter.margin["likely"] for one in (small, shop)]
    assert found.margin == pytest.approx(margins[0] / margins[1], rel=2e-3)


def test_slower_is_a_speed_that_the_lathe_has(make_case: MakeCase) -> None:
    changes = TABLE_FORCE | {"work__radial_stiffness": "30 N/um"}
    ladder = {"speeds": ["25 rpm", "75 rpm", "120 rpm", "300 rpm"]}
    found = of_case(make_case, **changes, lathe=ladder).remedy("slower")
    assert found is not None
    assert found.do in ("go slower: 25 rpm", "go slower: 75 rpm")
    bottom = of_case(make_case, **changes, lathe={"speeds": ["120 rpm", "300 rpm"]})
    none = bottom.remedy("slower")
    assert none is not None
    assert none.gain == "the lathe has no slower speed"
    assert none.idle


def test_a_try_that_cannot_be_built_is_left_out(make_case: MakeCase) -> None:
    # A bar 3 mm thicker does not go through this bore with its bit.
    tight = of_case(make_case, bar__diameter="48 mm", work__start_bore="49 mm")
    assert tight.remedy("thicker bar") is None
    assert not [one for one in trouble(tight, symptoms()["chatter"]).tries if "thicker" in one.do]


def test_a_firmer_tail_makes_a_bore_rounder_where_the_tail_is_what_is_unlike(
    make_case: MakeCase,
) -> None:
    unlike = of_case(make_case, supports__tail__vertical_stiffness="1 N/um")
    found = unlike.remedy("rounder tail")
    assert found is not None
    assert " in place of " in found.gain
    _, left = unlike.bench.size(firmer(unlike.case, "tail", 2.0))
    # Give of the tail halves both ways, and with it the difference that makes the oval.
    assert left == pytest.approx(unlike.outcome.statics.ovality / 2, rel=0.02)
    assert of_case(make_case).remedy("rounder tail") is None


def test_the_feed_is_turned_round_only_where_it_goes_at_the_tail(make_case: MakeCase) -> None:
    assert of_case(make_case).remedy("other feed way") is None
    turned = of_case(make_case, cut__feed_towards="tailstock").remedy("other feed way")
    assert turned is not None
    assert turned.do == "feed towards the headstock"


@pytest.mark.parametrize(
    ("tried", "idle"),
    [
        (Remedy(gain="opens the bore"), False),
        (Remedy(gain="not worth making", vain=True), True),
        (Remedy(gain="not worth making", margin=2.0, vain=True), True),
        (Remedy(gain="1.5 times", margin=1.5), False),
        (Remedy(gain="buys nothing", margin=1.02), True),
    ],
)
def test_what_is_not_worth_making_is_idle_whatever_it_is_about(tried: Remedy, idle: bool) -> None:
    assert tried.idle is idle


def test_a_spring_pass_not_worth_making_comes_last(make_case: MakeCase) -> None:
    shop = of_case(make_case, **TABLE_FORCE, cut__depth="0.1 mm")
    assert shop.outcome.passes.spring.worth == 0
    tried = shop.remedy("spring pass")
    assert tried is not None
    assert tried.vain
    tries = trouble(shop, symptoms()["undersize but parallel"]).tries
    assert tries[-1].gain.startswith("not worth making")


def test_steps_are_as_round_as_the_case_has_them(make_case: MakeCase) -> None:
    metric = of_case(make_case, **TABLE_FORCE)
    inch = of_case(make_case, **TABLE_FORCE, work__bore="1.968 +.002 -0 in")
    for shop, step in ((metric, "3 mm (0.12 in)"), (inch, "1/8 in (3.2 mm)")):
        tried = shop.remedy("thicker bar")
        assert tried is not None
        assert tried.do == f"make the bar {step} thicker"


# --- marks -----------------------------------------------------------------------------------


def test_marks_times_turns_is_the_pitch(shop: Workshop) -> None:
    found = read_marks(shop.case, shop.outcome, 150)
    assert found.frequency == pytest.approx(150 * 2.0)
    assert found.low == pytest.approx(149 * 2.0 * 0.98)
    assert found.high == pytest.approx(151 * 2.0 * 1.02)


def test_a_speed_counted_with_a_watch_narrows_the_pitch(shop: Workshop) -> None:
    loose = read_marks(shop.case, shop.outcome, 150)
    counted = read_marks(shop.case, shop.outcome, 150, counted_speed=2.0)
    assert counted.high - counted.low < (loose.high - loose.low) / 2


def test_marks_of_the_first_mode_name_the_bar(make_case: MakeCase) -> None:
    rigid = of_case(make_case, **TABLE_FORCE)
    found = read_marks(rigid.case, rigid.outcome, rigid.outcome.modes.first_bending / 2.0)
    assert found.fitting[0].name == "first bending of the bar"
    assert not [one for one in found.singers if one.name == "work side, across the bar"]


def test_marks_of_the_work_side_name_the_work_side(make_case: MakeCase) -> None:
    known = of_case(
        make_case, **TABLE_FORCE, work__radial_stiffness="30 N/um", work__mass="100 kg"
    )
    pitch = (30e6 / 100) ** 0.5 / (2 * pi)
    found = read_marks(known.case, known.outcome, pitch / 2.0)
    assert found.fitting[0].name == "work side, across the bar"
    assert found.fitting[0].frequency == pytest.approx(pitch)


def test_as_many_marks_as_a_gear_has_teeth_are_no_chatter(make_case: MakeCase) -> None:
    gear = {"lines": [{"name": "bull gear", "per_turn": "72"}]}
    geared = of_case(make_case, **TABLE_FORCE, lathe=gear)
    assert read_marks(geared.case, geared.outcome, 72).fitting[0].name == "bull gear, not chatter"
    assert "bull gear, not chatter" not in [
        one.name for one in read_marks(geared.case, geared.outcome, 80).fitting
    ]


def test_marks_far_from_everything_fit_nothing(make_case: MakeCase) -> None:
    rigid = of_case(make_case, **TABLE_FORCE)
    found = read_marks(rigid.case, rigid.outcome, 12)
    assert not found.fitting
    assert found.singers[0].apart > 2


# --- record ----------------------------------------------------------------------------------


def test_the_record_leaves_out_what_no_number_decides(listed: tuple[Trouble, ...]) -> None:
    kept = troubles_summary(listed)
    assert {row["symptom"] for row in kept} == set(WANTED) - {"chuck slips"}
    tries = [one for row in kept for one in row["tries"]]
    assert all(one.get("gain", "x") for one in tries)
    assert any("gain" not in one for one in tries)
    assert any("gain_margin_times" in one for one in tries)
    for row in kept:
        assert {one["standing"] for one in row["causes"]} <= set(cause.STANDINGS)


def test_a_gain_without_limit_is_a_word_in_the_record() -> None:
    endless = remedy.Remedy(gain="over 100 times", margin=inf)
    row = Trouble(symptom="x", causes=(), tries=(Try(do="y", gain=endless.gain, margin=inf),))
    assert troubles_summary([row])[0]["tries"][0]["gain_margin_times"] == "none"


def test_marks_in_the_record_are_in_hertz(shop: Workshop) -> None:
    found = marks_summary(read_marks(shop.case, shop.outcome, 150))
    assert found["frequency_Hz"]["likely"] == pytest.approx(300.0)
    assert found["spindle_rpm"] == pytest.approx(120.0)
    assert found["parts"]


def test_no_text_for_the_shop_is_beyond_ascii(listed: tuple[Trouble, ...]) -> None:
    for row in troubles_summary(listed):
        for text in (
            *(value for one in row["causes"] for value in one.values() if isinstance(value, str)),
            *(value for one in row["tries"] for value in one.values() if isinstance(value, str)),
        ):
            assert text.isascii()


def test_likely_margin_is_that_of_a_run(shop: Workshop) -> None:
    run = shop.outcome.chatter.margin["likely"]
    assert likely_margin(shop.case) == pytest.approx(run, rel=2e-3)


@pytest.mark.parametrize(
    ("number", "whole"),
    [
        ("sag", "at the bit wherever the work stands: it turns under its sag"),
        ("small gap", "or more is wanted in this metal"),
        ("thin finish", "the whole push is along the bit"),
    ],
)
def test_what_a_number_says_is_a_whole_sentence(
    make_case: MakeCase, number: str, whole: str
) -> None:
    thin = {"cut__depth": "0.05 mm", "bit__nose_radius": "0.4 mm"}
    assert whole in said(number, of_case(make_case, **thin)).why


@pytest.mark.parametrize("module", [cause, remedy])
def test_no_half_of_a_sentence_stands_alone(module: ModuleType) -> None:
    """Text on a line of its own that nothing takes; a description stands first."""
    assert module.__file__ is not None
    tree = ast.parse(Path(module.__file__).read_text())
    inside = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    assert not [
        one.lineno
        for node in inside
        for one in node.body[1:]
        if isinstance(one, ast.Expr) and isinstance(one.value, ast.Constant | ast.JoinedStr)
    ]
