"""`barwright trouble` and the checks of a run, as they are printed and recorded."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from late_runs import late_run
from scipy.io import wavfile

from barwright.analysis import run
from barwright.analysis.case import Case
from barwright.analysis.run import Outcome
from barwright.analysis.setup_checks import UNITS
from barwright.analysis.trouble import symptoms
from barwright.cli.app import status
from barwright.cli.console import WIDTH

CASES = Path(__file__).parents[1] / "cases"
CHUCKED = str(CASES / "pump_bracket.yaml")
CENTRES = str(CASES / "sluice_gate_pivot.yaml")
SLIM = str(CASES / "stern_tube.yaml")

Capture = pytest.CaptureFixture[str]
RUNS: dict[str, Outcome] = {}


@pytest.fixture(autouse=True)
def _each_case_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every command runs a shipped case as far as it asks, and none runs it a second time."""

    def run_once(case: Case, *_: object, **__: object) -> Outcome:
        if case.title not in RUNS:
            RUNS[case.title] = late_run(case)
        return RUNS[case.title]

    monkeypatch.setattr(run, "analyse", run_once)


def test_left_to_itself_it_lists_what_the_case_can_have(capsys: Capture) -> None:
    assert status(["trouble", CHUCKED]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    for name in symptoms():
        assert (f"\n  {name}\n" in out) == (name != "dog knocks")
    assert out.isascii()
    assert max(map(len, out.splitlines())) <= WIDTH + 6


def test_one_symptom_gives_causes_and_then_tries_in_order(capsys: Capture) -> None:
    assert status(["trouble", SLIM, "chatter"]) == 0
    out = capsys.readouterr().out
    causes, tries = out.split("Try these, in this order")
    assert causes.startswith("Chatter: look at these, in this order\n   1. ")
    assert causes.index("[look here first]") < causes.index("[not likely here]")
    assert causes.index("[not likely here]") < causes.index("[not this]")
    assert tries.index("   1. ") < tries.index("   2. ")
    assert "times the gain margin" in tries
    assert "will not tune it out" in causes
    assert out.isascii()


def test_a_symptom_may_be_said_in_several_words_and_by_another_name(capsys: Capture) -> None:
    assert status(["trouble", CHUCKED, "bell", "mouth"]) == 0
    assert capsys.readouterr().out.startswith("Bell mouth: look")
    assert status(["trouble", CHUCKED, "oval"]) == 0
    assert capsys.readouterr().out.startswith("Out of round with two lobes: look")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["chater"], "did you mean chatter?"),
        (["dog", "knocks"], "dog knocks: the bar of this case has no dog"),
        (["--marks", "0"], "give 2 to 10000"),
        (["--marks", "nan"], "give 2 to 10000"),
        (["--rpm", "90 rpm"], "add --marks"),
        (["--marks", "146", "--rpm", "90"], "write a unit, such as 120 rpm"),
        (["--marks", "146", "--rpm", "0 rpm"], "0 rpm is not above 0"),
    ],
)
def test_a_wrong_call_is_status_two_and_says_what_would_be_right(
    arguments: list[str], told: str, capsys: Capture
) -> None:
    assert status(["trouble", CHUCKED, *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert told in " ".join(err.replace("│", " ").split())


def test_a_wrong_case_is_status_two(tmp_path: Path, capsys: Capture) -> None:
    case = tmp_path / "broken.yaml"
    case.write_text(Path(CHUCKED).read_text().replace("diameter: 28 mm", "diameter: 28"))
    assert status(["trouble", str(case), "taper"]) == 2
    assert "broken.yaml:" in capsys.readouterr().err


def test_marks_say_which_part_sings(capsys: Capture) -> None:
    assert status(["trouble", CHUCKED, "--marks", "146"]) == 0
    out = capsys.readouterr().out
    # 146 marks, 1.5 turns a second; a mark and 2 per cent of speed either way.
    assert out.startswith("146 marks round the bore at 90 rpm: 213 to 225 Hz, likely 219 Hz\n")
    assert "Nearest is" in out
    assert "Chatter: look" not in out


def test_marks_that_nothing_fits_say_what_to_do_next(capsys: Capture) -> None:
    assert status(["trouble", CHUCKED, "--marks", "12"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Nothing in the case sings there; the nearest is" in out
    assert "Count the marks again, and the turns with a watch (--rpm)" in out
    assert "Nearest is" not in out


def test_a_recording_says_which_part_sings(tmp_path: Path, capsys: Capture) -> None:
    rate, path = 16_000, tmp_path / "cut.wav"
    at = np.arange(4 * rate) / rate
    rng = np.random.default_rng(1)
    sound = 0.4 * np.sin(2 * np.pi * 366.0 * at) + 0.02 * rng.standard_normal(at.size)
    wavfile.write(path, rate, (sound * 20_000).astype(np.int16))
    assert status(["trouble", CHUCKED, "--recording", str(path)]) == 0
    out = capsys.readouterr().out
    assert "likely 366 Hz" in out
    assert "bar" in out.partition("Nearest is")[2][:80]
    # A cut in which nothing sings is not solved around.
    wavfile.write(path, rate, (0.1 * rng.standard_normal(at.size) * 20_000).astype(np.int16))
    assert status(["trouble", CHUCKED, "--recording", str(path)]) == 3
    assert "nothing sings" in capsys.readouterr().err
    assert status(["trouble", CHUCKED, "--recording", str(path), "--marks", "100"]) == 2
    assert "not both" in capsys.readouterr().err


def test_marks_and_a_symptom_give_both(capsys: Capture) -> None:
    assert status(["trouble", CHUCKED, "chatter", "--marks", "146", "--rpm", "88 rpm"]) == 0
    out = capsys.readouterr().out
    assert out.index("146 marks") < out.index("Chatter: look")


def test_json_is_the_answer_and_nothing_else(capsys: Capture) -> None:
    assert status(["trouble", CENTRES, "taper", "--marks", "100", "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    found: dict[str, Any] = json.loads(out)
    assert [row["symptom"] for row in found["trouble"]] == ["taper"]
    assert set(found["trouble"][0]["causes"][0]) == {
        "cause",
        "prove",
        "why",
        "standing",
        "computed",
    }
    assert found["marks"]["frequency_Hz"]["likely"] == pytest.approx(200.0)


def test_a_run_records_checks_and_trouble_and_prints_the_limits(
    tmp_path: Path, capsys: Capture
) -> None:
    assert status(["run", CENTRES, "--out", str(tmp_path), "--no-pictures"]) == 0
    out = capsys.readouterr().out
    found = json.loads((tmp_path / "sluice_gate_pivot" / "summary.json").read_text())
    block = out.split("Check before cutting\n")[1].split("\n\n")[0]
    for row in found["setup_checks"]:
        assert row["what"] in block
        assert row["unit"] in UNITS.values()
        assert row["limit"] > 0
        assert set(row) >= {"what", "how", "limit", "unit", "limit_text", "why", "origin"}
    # A job in inches: thou first. A quarter of its thousandth.
    assert "at most 0.25 thou (6.4 um)" in block
    assert [row["symptom"] for row in found["trouble"]] == [
        name for name in symptoms() if name != "chuck slips"
    ]
