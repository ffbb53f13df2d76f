"""A bore log is held to a made-up cut whose short-fall and zero are known."""

from math import log
from pathlib import Path

import numpy as np
import pytest

from barwright.analysis.bore_log import (
    GAUGE,
    SET_SCATTER,
    ZERO_DOUBT,
    BoreLog,
    learn,
    read_bore_log,
)
from barwright.analysis.casefile import read_case
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


def test_interval_of_the_short_fall_holds_the_truth_nine_times_in_ten() -> None:
    rng = np.random.default_rng(7)
    sigma = log(THOUGHT.high / THOUGHT.low) / 2 / NINETY
    held = []
    for _ in range(300):
        ratio = THOUGHT.likely * np.exp(sigma * rng.standard_normal())
        found = learn(CASE, cut(ratio, rng.normal(0, ZERO_DOUBT), SETTINGS, rng), THOUGHT)
        held.append(found.ratio.low <= ratio <= found.ratio.high)
    assert 0.85 <= np.mean(held) <= 0.95


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
