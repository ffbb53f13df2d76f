"""A bore log is held to a made-up cut whose short-fall and zero are known."""

from functools import cache
from math import log
from pathlib import Path

import numpy as np
import pytest

from barwright.analysis.bore_log import (
    GAUGE,
    SET_SCATTER,
    ZERO_DOUBT,
    BoreLog,
    Learnt,
    NextPass,
    learn,
    read_bore_log,
)
from barwright.analysis.case import Case
from barwright.analysis.casefile import read_case
from barwright.analysis.cut import Roughing
from barwright.analysis.errors import CaseError, ModelError
from barwright.analysis.fit import NINETY
from barwright.analysis.judge import Band

CASES = Path(__file__).parents[1] / "cases"
CASE = read_case(CASES / "pump_bracket.yaml")
BAR = 0.028
THOUGHT = Band(low=0.02, likely=0.06, high=0.18)


def cut(ratio: float, zero: float, settings: list[float], rng: np.random.Generator) -> BoreLog:
    """Bores that an edge leaves, by the balance of cut and spring written out: e = (X - D)/2 - s.

    With s = ratio e, so e = (X - D) / 2 / (1 + ratio); each bore read with the gauge's scatter.
    """
    bore, read = 0.0430, []
    for setting in settings:
        aimed = 2 * setting - BAR + zero + rng.normal(0, SET_SCATTER)
        bore += 2 * ((aimed - bore) / 2 / (1 + ratio))
        read.append(bore + rng.normal(0, GAUGE))
    return BoreLog(start=0.0430, setting=np.array(settings), bore=np.array(read))


SETTINGS = [0.03570, 0.03585, 0.03585, 0.03595]


@cache
def many() -> list[tuple[float, Learnt]]:
    """Three hundred logs of edges as they are thought to be: the truth, and what was learnt."""
    rng = np.random.default_rng(7)
    sigma = log(THOUGHT.high / THOUGHT.low) / 2 / NINETY
    found = []
    for _ in range(300):
        ratio = THOUGHT.likely * np.exp(sigma * rng.standard_normal())
        logged = cut(ratio, rng.normal(0, ZERO_DOUBT), SETTINGS, rng)
        found.append((ratio, learn(CASE, logged, THOUGHT)))
    return found


def test_interval_of_the_short_fall_holds_the_truth_nine_times_in_ten() -> None:
    held = [found.ratio.low <= ratio <= found.ratio.high for ratio, found in many()]
    assert 0.85 <= np.mean(held) <= 0.95


def test_one_good_log_in_ten_is_widened_and_none_refused() -> None:
    widened = [found.stray.times_likely > 1 for _, found in many()]
    assert 0.05 <= np.mean(widened) <= 0.15


def test_the_error_of_the_next_pass_at_least_halves() -> None:
    """Half a job logged; the bore of the next pass foretold before and after."""
    rng = np.random.default_rng(11)
    sigma = log(THOUGHT.high / THOUGHT.low) / 2 / NINETY
    before: list[float] = []
    after: list[float] = []
    for _ in range(100):
        ratio = THOUGHT.likely * np.exp(sigma * rng.standard_normal())
        zero = rng.normal(0, ZERO_DOUBT)
        whole = cut(ratio, zero, SETTINGS, rng)
        known = BoreLog(start=whole.start, setting=whole.setting[:3], bore=whole.bore[:3])
        learnt = learn(CASE, known, THOUGHT)
        aimed = 2 * SETTINGS[3] - BAR
        for errors, g, z in ((before, THOUGHT.likely, 0.0), (after, learnt.ratio, learnt.zero)):
            left = aimed + z - (aimed + z - known.bore[2]) * g / (1 + g)
            errors.append(abs(left - whole.bore[3]))
    assert np.median(after) < np.median(before) / 2


def test_the_next_setting_lands_in_the_middle_of_the_limits() -> None:
    rng = np.random.default_rng(3)
    exact = cut(0.1, 5e-6, SETTINGS, rng)
    learnt = learn(CASE, exact, THOUGHT)
    assert learnt.next_pass is not None
    aim = (CASE.work.bore.lower + CASE.work.bore.upper) / 2
    assert learnt.next_pass.bore.likely == pytest.approx(aim, abs=1e-9)
    aimed = 2 * learnt.next_pass.reading - BAR + 5e-6
    true = exact.bore[-1] + (aimed - exact.bore[-1]) / 1.1
    assert learnt.next_pass.bore.low <= true <= learnt.next_pass.bore.high


def test_a_bore_at_its_aim_has_no_next_pass() -> None:
    setting = (0.04402 + BAR) / 2
    found = BoreLog(start=0.0438, setting=np.array([setting]), bore=np.array([0.04402]))
    assert learn(CASE, found, THOUGHT).next_pass is None


def test_the_force_factor_is_the_short_falls() -> None:
    learnt = learn(CASE, cut(0.12, 0.0, SETTINGS, np.random.default_rng(1)), THOUGHT)
    assert learnt.force_factor == pytest.approx(learnt.ratio / 0.06)


def test_what_cannot_be_learnt_is_refused() -> None:
    found = cut(0.1, 0.0, SETTINGS, np.random.default_rng(1))
    with pytest.raises(ModelError, match="pull itself into the cut"):
        learn(CASE, found, Band(low=-0.1, likely=0.05, high=0.1))
    far = BoreLog(start=0.043, setting=np.array([0.0457]), bore=np.array([0.0434]))
    with pytest.raises(ModelError, match="is the bar's diameter or the unit another"):
        learn(CASE, far, THOUGHT)


LOG = """gauge: 2 um
setting (mm), bore (mm)
, 43.000
35.700, 43.380
35.850, 43.690
"""


def test_a_log_is_read(tmp_path: Path) -> None:
    path = tmp_path / "bores.csv"
    path.write_text(LOG)
    found = read_bore_log(path)
    assert found.start == pytest.approx(0.043)
    assert found.setting == pytest.approx([0.0357, 0.03585])
    assert found.gauge == pytest.approx(2e-6)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (", 43.000\n", "", "leave its setting empty"),
        ("35.700, 43.380\n35.850, 43.690\n", "", "there is no pass"),
        ("35.850, 43.690", ", 43.690", "needs what the micrometer"),
        ("gauge: 2 um", "gauge: 0 um", "more than 0"),
    ],
)
def test_a_wrong_log_is_told_where(tmp_path: Path, old: str, new: str, said: str) -> None:
    path = tmp_path / "bores.csv"
    path.write_text(LOG.replace(old, new))
    with pytest.raises(CaseError, match=said):
        read_bore_log(path)


def test_each_pass_is_expected_by_the_short_fall_of_its_own_depth() -> None:
    """A pass that leaves twice as much per depth leaves g = 2 x 0.06 of its depth standing."""
    deep, thin = 0.06, 0.12
    setting = np.array([(0.0438 + BAR) / 2, (0.0439 + BAR) / 2])
    found = BoreLog(start=0.0430, setting=setting, bore=np.array([0.04375, 0.04388]))
    learnt = learn(CASE, found, THOUGHT, lambda _, depth: deep if depth > 1e-4 else thin)
    by_hand = [
        before + (aimed - before) / (1 + g)
        for before, aimed, g in ((0.0430, 0.0438, deep), (0.04375, 0.0439, thin))
    ]
    np.testing.assert_allclose(learnt.expected_before, by_hand, rtol=1e-12)


def without_scatter(ratio: float, settings: list[float]) -> BoreLog:
    """Bores exactly as setting and spring make them."""
    bore, read = 0.0430, []
    for setting in settings:
        bore += (2 * setting - BAR - bore) / (1 + ratio)
        read.append(bore)
    return BoreLog(start=0.0430, setting=np.array(settings), bore=np.array(read))


def mistyped(found: BoreLog, number: int, by: float) -> BoreLog:
    bore = found.bore.copy()
    bore[number - 1] += by
    return BoreLog(start=found.start, setting=found.setting, bore=bore)


@pytest.mark.parametrize("number", [1, 2, 3, 4])
@pytest.mark.parametrize("by", [-254e-6, -100e-6, 254e-6])
def test_a_bore_far_off_its_setting_is_refused_by_its_row(number: int, by: float) -> None:
    """Scatter of setting and gauge is 6 um, the zero's 10 um: 0.1 mm is no scatter."""
    found = mistyped(without_scatter(0.06, SETTINGS), number, by)
    side = "large" if by > 0 else "small"
    told = rf"pass {number} \(.* too {side} for .* other passes, .* likely.*measure again"
    with pytest.raises(ModelError, match=told):
        learn(CASE, found, THOUGHT)


@pytest.mark.parametrize("by", [-300e-6, 254e-6])
def test_the_first_bore_far_off_is_refused_by_what_a_run_thinks(by: float) -> None:
    found = mistyped(without_scatter(0.06, SETTINGS[:1]), 1, by)
    with pytest.raises(ModelError, match="what setting and spring make of it"):
        learn(CASE, found, THOUGHT)


def test_a_bore_larger_than_its_setting_cuts_is_told_the_most_that_it_can() -> None:
    """A reading of 35.7 mm over a bar of 28 mm sets 43.4 mm: no edge cuts 43.5 mm with it."""
    found = BoreLog(start=0.043, setting=np.array([0.0357]), bore=np.array([0.0435]))
    with pytest.raises(ModelError, match=r"cuts no more than 43\.4 mm"):
        learn(CASE, found, THOUGHT)


def test_a_heavy_cut_that_every_pass_bears_out_is_learnt_and_not_refused() -> None:
    """Five times the short-fall that was thought, far beyond its range, in every pass alike."""
    learnt = learn(CASE, without_scatter(0.30, SETTINGS), THOUGHT)
    assert learnt.ratio == pytest.approx(0.30, rel=0.1)


def next_reach(found: BoreLog) -> float:
    following = learn(CASE, found, THOUGHT).next_pass
    assert following is not None
    return (following.bore.high - following.bore.low) / 2


def test_a_bore_that_is_off_but_possible_widens_what_is_expected() -> None:
    exact = without_scatter(0.06, SETTINGS)
    odd = mistyped(exact, 3, -30e-6)
    assert learn(CASE, odd, THOUGHT).stray.number == 3
    assert next_reach(odd) > 1.4 * next_reach(exact)


def test_a_log_that_fits_is_as_sure_as_its_scatter_and_what_was_thought() -> None:
    """Least squares by hand, from D' = X - q (X - D) with q = g/(1 + g).

    So dD'/dz = 1 - q and dD'/d(ln g) = -(X - D) q (1 - q).
    """
    ratio = THOUGHT.likely
    q = ratio / (1 + ratio)
    found = without_scatter(ratio, SETTINGS)
    asked = 2 * found.setting - BAR - np.concatenate([[found.start], found.bore[:-1]])
    slopes = np.column_stack([-asked * q * (1 - q), np.full(asked.size, 1 - q)])
    square = GAUGE**2 * (1 + q**2) + SET_SCATTER**2 * (1 - q) ** 2
    thought = np.array([log(THOUGHT.high / THOUGHT.low) / 2 / NINETY, ZERO_DOUBT])
    known = np.linalg.inv(slopes.T @ slopes / square + np.diag(thought**-2.0))
    learnt = learn(CASE, found, THOUGHT)
    assert learnt.next_pass is not None
    assert learnt.stray.widens == 1
    left = 2 * learnt.next_pass.reading - BAR - found.bore[-1]
    row = np.array([-left * q * (1 - q), 1 - q])
    by_hand = NINETY * np.sqrt(row @ known @ row + square)
    assert next_reach(found) == pytest.approx(by_hand, rel=0.02)


# --- the rule of the passes ------------------------------------------------------------------


def logged(start: float, bore: float, ratio: float = THOUGHT.likely) -> BoreLog:
    """One pass, with what it left of its depth."""
    aimed = bore + ratio * (bore - start)
    return BoreLog(start=start, setting=np.array([(aimed + BAR) / 2]), bore=np.array([bore]))


def next_of(found: BoreLog, case: Case = CASE) -> NextPass:
    following = learn(case, found, THOUGHT).next_pass
    assert following is not None
    return following


@pytest.mark.parametrize(
    ("bore", "cuts"),
    [
        # From 43.6 to 44.0125 mm in two cuts of 0.103 mm a side; a tenth more is the same cut, and
        # where a pass came short, two of up to a quarter more do for three.
        (43.512, 2),
        (43.620, 2),
        (43.700, 2),
        (43.780, 2),
        (43.790, 1),
        (43.900, 1),
        # 0.3 mm a side and more, before the start of the cut: as many as are no deeper.
        (43.400, 3),
    ],
)
def test_the_next_pass_leaves_a_cut_as_deep_behind_it(bore: float, cuts: int) -> None:
    following = next_of(logged(0.0430, bore * 1e-3))
    assert following.cuts == cuts
    share = (44.0125 - bore) / cuts
    assert following.bore.likely == pytest.approx((bore + share) * 1e-3, abs=1e-9)
    assert following.depth == pytest.approx(share / 2 * 1e-3, abs=1e-9)
    assert following.ends_at is None


def test_the_last_two_cuts_come_out_equal_though_the_spring_was_thought_wrong() -> None:
    """An edge that leaves three times as much as thought, cut as the log says, twice.

    The first pass was too thin to tell.
    """
    ratio, found = 0.18, logged(0.04358, 0.0436, 0.18)
    bores = [0.0436]
    for _ in range(2):
        setting = next_of(found).reading
        bores.append(bores[-1] + (2 * setting - BAR - bores[-1]) / (1 + ratio))
        found = BoreLog(
            start=found.start,
            setting=np.append(found.setting, setting),
            bore=np.append(found.bore, bores[-1]),
        )
    one, other = np.diff(bores)
    assert other == pytest.approx(one, rel=0.25)
    # In one cut the spring that nobody knew of is left whole: (0.18 - 0.06)/1.18 of 0.41 mm.
    assert abs(bores[-1] - 0.0440125) < 0.12 / 1.18 * 0.4125e-3 / 3


def test_a_last_cut_a_little_deeper_than_the_one_before_is_not_halved_again() -> None:
    """The cut before took 0.095 mm a side of 0.103 mm, so 0.116 mm are left."""
    first = logged(0.0430, 0.04359)
    second = logged(0.04359, 0.04378)
    both = BoreLog(
        start=first.start,
        setting=np.append(first.setting, second.setting),
        bore=np.append(first.bore, second.bore),
    )
    assert next_of(both).cuts == 1


def test_what_is_left_of_the_roughing_goes_to_the_start_of_the_last_cuts() -> None:
    """42.0 to 43.6 mm in two passes of 0.4 mm a side; 0.6 mm left takes two, 0.4 mm one."""
    rough = Roughing.model_validate(
        {"start_bore": "42 mm", "passes": 2, "feed": "0.2 mm/rev", "speed": "120 rpm"}
    )
    case = CASE.model_copy(update={"roughing": rough})
    for bore, after, cuts in ((0.0428, 0.0436, 1), (0.0424, 0.0430, 2)):
        following = next_of(logged(0.0420, bore), case)
        assert following.bore.likely == pytest.approx(after, abs=1e-9)
        assert following.cuts == cuts
        assert following.ends_at == pytest.approx(0.0436)
    assert next_of(logged(0.0428, 0.0436), case).ends_at is None
