"""A study: exact quantiles of one spring, seeds and workers, narrowing, words, files, pictures."""

from __future__ import annotations

import csv
import json
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import MakeCase
from PIL import Image
from scipy.stats import norm

from barwright.analysis import study as studying
from barwright.analysis.case import Case
from barwright.analysis.casefile import read_case
from barwright.analysis.doubt import doubts, is_size
from barwright.analysis.study import Study, Trials, chance, spread_of, study, swept
from barwright.analysis.study_words import learnt_by, said
from barwright.analysis.trial import NAMES
from barwright.cli.app import status

CASES = Path(__file__).parents[1] / "cases"
PUMP = CASES / "pump_bracket.yaml"
Capture = pytest.CaptureFixture[str]
CERTAIN: dict[str, Any] = {
    "bar__material": {
        "elastic_modulus": "205 GPa",
        "density": "7850 kg/m3",
        "yield_strength": "600 MPa",
    },
    "bar__damping_ratio": "0.01",
    "supports__drive__damping": "3000 N.s/m",
    "supports__tail__damping": "1000 N.s/m",
    "work__material": {
        "specific_force": "1160 MPa",
        "force_exponent": "0.26",
        "normal_force": "340 MPa",
        "normal_exponent": "0.45",
        "process_damping": "0.2 N/um",
    },
    "work__axial_stiffness": "30 N/um",
    "work__mass": "40 kg",
    "work__damping_ratio": "0.04",
    "cut__edge_wear": "1.15",
}


@pytest.fixture(scope="module")
def pump() -> Study:
    return study(read_case(PUMP), samples=256, seed=3)


def test_two_springs_in_series_have_the_exact_quantiles(make_case: MakeCase) -> None:
    work = {**CERTAIN, "work__radial_stiffness": "30 N/um (10 to 90)"}
    case = make_case(**work)
    assert [one.name for one in doubts(case)] == ["work.radial_stiffness"]
    firm = make_case(**{**CERTAIN, "work__radial_stiffness": "rigid"})
    found = study(case, samples=256).spread["deflection"]
    bar = study(firm, samples=16).spread["deflection"].middle
    # The bar and the work side give one after the other under 30 N, the second log-normal.
    spread = np.log(3.0) / norm.ppf(0.95)
    work_side = 30.0 / (30e6 * np.exp(spread * norm.ppf([0.9, 0.5, 0.1])))
    wanted = bar + work_side
    np.testing.assert_allclose([found.low, found.middle, found.high], wanted, rtol=8e-3)


def test_nothing_in_doubt_leaves_no_band(make_case: MakeCase) -> None:
    found = study(make_case(**CERTAIN), samples=16)
    assert found.drivers == ()
    assert all(one.low == one.high for one in found.spread.values())


def test_answers_do_not_depend_on_the_workers() -> None:
    case = read_case(PUMP)
    alone, shared = (study(case, samples=80, seed=9, processes=n) for n in (1, 2))
    for name in NAMES:
        np.testing.assert_array_equal(
            getattr(alone.answers, name), getattr(shared.answers, name), strict=True
        )
    assert alone.drivers == shared.drivers


def test_another_seed_gives_other_draws_and_nearly_the_same_bands(pump: Study) -> None:
    other = study(read_case(PUMP), samples=256, seed=4)
    assert not np.array_equal(other.points, pump.points)
    for name in ("size_error", "gain_margin", "first_mode"):
        ours, theirs = pump.spread[name], other.spread[name]
        assert theirs.middle == pytest.approx(ours.middle, rel=0.1)


def measured(stiffness: str) -> dict[str, Any]:
    return {**CERTAIN, "cut__force": None, "work__radial_stiffness": stiffness}


def test_a_measured_value_narrows_every_band_it_moves(make_case: MakeCase) -> None:
    factors = [
        study(make_case(**measured(text)), samples=64).spread["size_error"].factor
        for text in ("30 N/um (10 to 90)", "30 N/um (20 to 45)", "30 N/um (28 to 32)")
    ]
    assert factors[0] > 1.1 * factors[1]
    assert factors[1] > 1.02 * factors[2] > 1.02


def test_what_drives_an_answer_is_what_knowing_it_narrows(make_case: MakeCase) -> None:
    found = study(
        make_case(
            **measured("30 N/um (10 to 90)"), supports__tail__radial_stiffness="20 N/um (19 to 21)"
        ),
        samples=256,
    )
    named = {one.doubt.name: one for one in found.drivers}
    work_side, tail = named["work.radial_stiffness"], named["supports.tail.radial_stiffness"]
    assert work_side.influence["size_error"].first.value > 0.7
    assert work_side.known["size_error"].narrowing > 0.4
    assert tail.influence["size_error"].total.value < 0.05
    assert tail.known["size_error"].narrowing < 0.1


def test_knowing_a_value_never_widens_a_band(pump: Study) -> None:
    for one in pump.drivers:
        for gain in one.known.values():
            assert 1.0 <= gain.then <= gain.now
            assert 0.0 <= gain.narrowing <= 1.0


def test_drivers_of_one_answer_share_its_scatter(pump: Study) -> None:
    for name in ("size_error", "first_mode"):
        alone = sum(one.influence[name].first.value for one in pump.drivers)
        together = sum(one.influence[name].total.value for one in pump.drivers)
        assert 0.7 < alone < 1.35
        assert together > 0.7


def test_rubbing_never_raises_the_chance_of_chatter(pump: Study) -> None:
    assert pump.chatter.value <= pump.chatter_undamped.value
    assert pump.chatter.value == (pump.answers.gain_margin < 1.0).mean()


def test_depth_limit_and_margin_never_contradict_each_other(pump: Study) -> None:
    found, planned = pump.answers, float(pump.case.cut.depth)
    quiet = found.gain_margin >= 1.0
    assert (found.depth_limit[quiet] >= planned).all()
    assert (found.depth_limit[~quiet] <= planned).all()


def test_a_chance_has_wilsons_interval() -> None:
    found = chance(np.arange(100) < 20)
    z, n, p = norm.ppf(0.95), 100, 0.2
    wanted = z / (1 + z**2 / n) * np.sqrt(p * (1 - p) / n + z**2 / (4 * n**2))
    assert found.value == 0.2
    assert found.error == pytest.approx(wanted, rel=1e-12)


def test_a_quantile_may_be_none() -> None:
    found = spread_of(np.array([0.0, 1.0, inf, inf]))
    assert (found.low, found.middle, found.high) == (0.0, 1.0, inf)
    assert found.factor == inf


def test_sizes_are_taken_at_a_few_values(make_case: MakeCase) -> None:
    case = make_case(supports__drive__dog_position="15 mm (10 to 20)")
    known = doubts(case)
    column = [is_size(one.key) for one in known].index(True)
    found = study(case, samples=64)
    values = swept(found)[known[column]]
    levels = Trials(case, known).levels
    assert np.unique(values).size == levels == 16
    assert values.mean() == pytest.approx(0.015, rel=0.01)


def test_every_doubt_has_words_and_a_way_to_learn_it() -> None:
    for path in CASES.glob("*.yaml"):
        case: Case = read_case(path)
        for one in doubts(case):
            words, how = said(case, one.key), learnt_by(case, one)
            assert (words + how).isascii()
            assert "_" not in words + how
            assert len(how) > 10


def test_study_leaves_what_it_says(tmp_path: Path, capsys: Capture) -> None:
    code = status(["study", str(PUMP), "--samples", "64", "--seed", "2", "--out", str(tmp_path)])
    told = capsys.readouterr()
    assert code == 0
    assert "Measure this first" in told.out
    assert "in 100 chatter at this cut" in " ".join(told.out.split())
    folder = tmp_path / "pump_bracket-study"
    found = json.loads((folder / "study.json").read_text(encoding="utf-8"))
    assert found["schema"] == "barwright.study/1"
    assert (found["draws"], found["seed"]) == (64, 2)
    band = found["bands"]["size_error_m"]
    assert 0 < band["low"] < band["middle"] < band["high"] < 1e-4
    for name in ("drivers.png", "bands.png"):
        with Image.open(folder / name) as image:
            assert image.size[0] == 1600
            assert len(image.convert("L").getcolors() or ()) > 10
    with (folder / "draws.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 64 + 1
    margins = np.array([float(row["gain_margin"].replace("none", "inf")) for row in rows[1:]])
    share = found["chatter_at_planned_cut"]["value"]
    assert (margins < 1.0).mean() == pytest.approx(share, abs=1e-9)


def test_study_in_json_is_the_file(
    tmp_path: Path, pump: Study, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    monkeypatch.setattr(studying, "study", lambda *_, **__: pump)
    call = ["study", str(PUMP), "--out", str(tmp_path), "--json"]
    status(call)
    told = json.loads(capsys.readouterr().out)
    kept = (tmp_path / "pump_bracket-study" / "study.json").read_text(encoding="utf-8")
    assert told == json.loads(kept)


def test_study_of_a_bar_that_sings_says_so(tmp_path: Path, capsys: Capture) -> None:
    call = ["study", str(CASES / "stern_tube.yaml"), "--samples", "64", "--out", str(tmp_path)]
    assert status([*call, "--quiet"]) == 1
    assert capsys.readouterr().out.startswith("MORE LIKELY TO CHATTER THAN NOT")


def test_too_few_draws_are_refused(tmp_path: Path, capsys: Capture) -> None:
    assert status(["study", str(PUMP), "--samples", "3", "--out", str(tmp_path)]) == 2
    assert "samples" in capsys.readouterr().err
