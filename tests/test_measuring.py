"""The commands that take readings, as a person types them."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from late_runs import late_run

from barwright.analysis import run
from barwright.analysis.casefile import read_case_file
from barwright.cli.app import status

CASES = Path(__file__).parents[1] / "cases"
PUSH = """resolution: 1 um
at (mm), pull (N), reading (um)
20, 0, 0
20, 150, 3.2
20, 300, 6.2
185, 0, 0
185, 150, 28.4
185, 300, 57.0
360, 0, 0
360, 150, 7.3
360, 300, 14.5
"""
# An edge that leaves 0.3 of each depth standing: bore = X - 0.3/1.3 (X - bore before).
BORES = """setting (mm), bore (mm)
, 43.000
35.650, 43.231
35.800, 43.515
35.800, 43.580
35.950, 43.826
35.950, 43.883
36.000, 43.973
"""

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A folder with a case and its readings."""
    shutil.copy(CASES / "pump_bracket.yaml", tmp_path / "bracket.yaml")
    (tmp_path / "push.csv").write_text(PUSH)
    (tmp_path / "bores.csv").write_text(BORES)
    return tmp_path


@pytest.fixture
def as_far_as_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """A log asks a run for its spring and its passes; the loop is not solved for it."""
    monkeypatch.setattr(run, "analyse", late_run)


def fit(shop: Path, *more: str) -> int:
    case, push, out = shop / "bracket.yaml", shop / "push.csv", shop / "results"
    return status(["fit", str(case), "--push", str(push), "--out", str(out), *more])


def test_what_was_measured_comes_first_and_the_case_stays(shop: Path, capsys: Capture) -> None:
    before = (shop / "bracket.yaml").read_bytes()
    assert fit(shop) == 0
    out, err = capsys.readouterr()
    assert out.startswith("MEASURED: Pump bracket")
    assert "tail, radial: " in out
    assert "was thought 20 N/um (10 to 50)" in out
    assert out.isascii()
    assert "--write" in err
    assert (shop / "bracket.yaml").read_bytes() == before
    found = json.loads((shop / "results" / "bracket-fit" / "fit.json").read_text())
    tail = next(one for one in found["told"] if one["what"] == "supports.tail.radial_stiffness")
    # By hand: 300 N at the very tail sags 14.5 um, nearly all of it the tail's: 21 N/um.
    assert tail["after_N_per_m"]["likely"] == pytest.approx(300 / 14.5e-6, rel=0.15)
    assert (shop / "results" / "bracket-fit" / "fit.png").stat().st_size > 10_000


def test_write_puts_the_rows_into_the_case_and_the_run_narrows(shop: Path) -> None:
    assert fit(shop, "--write", "-q") == 0
    measured = [i for i in read_case_file(shop / "bracket.yaml").inputs if i.origin == "measured"]
    assert {one.name for one in measured} == {
        "supports.drive.radial_stiffness",
        "supports.drive.tilt_stiffness",
        "supports.tail.radial_stiffness",
    }
    for one in measured:
        assert one.range is not None
        # The guesses span a factor of five and ten.
        assert one.range[1] / one.range[0] < 4


def test_readings_that_cannot_tell_are_status_one_with_the_remedy(
    shop: Path, capsys: Capture
) -> None:
    text = "resolution: 0.25 thou\nat (in), pull (lbf), reading (thou)\n7.3,0,0\n7.3,20,.5\n"
    (shop / "push.csv").write_text(text)
    assert fit(shop, "-q") == 1
    out = capsys.readouterr().out
    assert out.startswith("THE READINGS CANNOT TELL")
    # 2 divisions at 89 N: fifteen times that for the thirty wanted, 1300 N in two digits.
    assert "2 divisions" in out
    assert "use a finer indicator (with this one it would" in out
    assert "take 1300 N)" in out


def test_json_is_what_is_left_on_disk(shop: Path, capsys: Capture) -> None:
    assert fit(shop, "--json") == 0
    printed = json.loads(capsys.readouterr().out)
    kept = json.loads((shop / "results" / "bracket-fit" / "fit.json").read_text())
    assert printed == kept


def test_no_readings_is_a_wrong_call(shop: Path, capsys: Capture) -> None:
    assert status(["fit", str(shop / "bracket.yaml")]) == 2
    assert "give readings" in capsys.readouterr().err


def test_a_wrong_column_names_file_row_and_remedy(shop: Path, capsys: Capture) -> None:
    (shop / "push.csv").write_text("at (mm), pull (N), reading (kg)\n20, 0, 0\n")
    assert fit(shop) == 2
    err = capsys.readouterr().err
    assert "push.csv:2: reading: `0 kg` is a mass; this needs a length" in err


def test_design_says_which_test_and_takes_bars_at_hand(shop: Path, capsys: Capture) -> None:
    call = ["fit", str(shop / "bracket.yaml"), "--design", "--test-bar", "1-1/2 in x 10 in"]
    assert status(call) == 0
    out = capsys.readouterr().out
    assert out.startswith("TO LEARN MOST")
    assert status([*call[:3], "--test-bar", "thick"]) == 2
    assert "diameter x length" in capsys.readouterr().err
    assert status([*call, "--json"]) == 0
    tests = json.loads(capsys.readouterr().out)["tests"]
    assert {round(one["bar_diameter_m"], 6) for one in tests} == {0.028, 0.0381}


def test_design_says_what_its_places_keep_clear_of_and_where_nothing_is_free(
    tmp_path: Path, capsys: Capture
) -> None:
    case = tmp_path / "gate.yaml"
    text = (CASES / "sluice_gate_pivot.yaml").read_text()
    for dog, said in (
        ("3/4 in", "at 2.250 in, 7.750 in, 14.750 in"),
        ("3-1/2 in", "No place close to the drive is free: what stands there reaches to 7.000 in"),
    ):
        case.write_text(text.replace("dog_position: 3/4 in", f"dog_position: {dog}"))
        assert status(["fit", str(case), "--design"]) == 0
        out = " ".join(capsys.readouterr().out.split())
        assert said in out
        assert "Places keep 0.750 in from what holds the bar, the dog and the work" in out


def test_run_out_is_named_and_given_as_the_case_has_it(shop: Path, capsys: Capture) -> None:
    path = shop / "out.csv"
    path.write_text(
        "indicator: 10 um\nat (mm); reading (um); high at (deg)\n"
        "10; 10; 20\n100; 60; 15\n185; 80; 20\n280; 60; 25\n370; 10; 10\n"
    )
    assert status(["fit", str(shop / "bracket.yaml"), "--run-out", str(path)]) == 0
    out = capsys.readouterr().out
    assert out.startswith("RUN-OUT, BENT")
    assert status(["fit", str(shop / "bracket.yaml"), "--run-out", str(path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["run_out"]["pattern"] == "bent"
    assert fit(shop, "--run-out", str(path), "--json") == 0
    assert json.loads(capsys.readouterr().out)["run_out"] == told["run_out"]
    lines = out.partition("under bar:\n")[2]
    assert [line.strip() for line in lines.splitlines()] == [
        line.strip() for line in told["for_the_case"]
    ]
    text = (shop / "bracket.yaml").read_text().replace("bar:\n", f"bar:\n{lines}", 1)
    (shop / "bracket.yaml").write_text(text)
    run_out = read_case_file(shop / "bracket.yaml").case.bar.run_out
    assert run_out is not None
    assert [one.reading for one in run_out.readings] == pytest.approx(
        [10e-6, 60e-6, 80e-6, 60e-6, 10e-6]
    )


BENT = (
    "indicator: 10 um\nat (mm); reading (um); high at (deg)\n"
    "10; 10; 0\n100; 60; 0\n185; 80; 0\n280; 60; 0\n370; 10; 0\n"
)


def test_run_out_is_written_into_the_case_and_the_settings_allow_for_it(
    shop: Path, as_far_as_read: None, capsys: Capture
) -> None:
    path, case = shop / "out.csv", shop / "bracket.yaml"
    path.write_text(BENT)
    before = run.analyse(read_case_file(case).case).passes.passes[-1].reading
    call = ["fit", str(case), "--run-out", str(path)]
    assert status(call) == 0
    assert "--write" in capsys.readouterr().err
    assert status([*call, "--write"]) == 0
    assert f"now in {case}: 5 run-out readings" in capsys.readouterr().err
    after = run.analyse(read_case_file(case).case).passes.passes[-1].reading
    # Its hump stands 40 um towards the bit there: the reading is so much smaller.
    assert before - after == pytest.approx(40e-6, rel=0.05)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("80; 0", "80;", "out.csv: reading 3: this reading has no high_at and others have one"),
        ("370;", "900;", "out.csv: reading 5: at: "),
    ],
)
def test_run_out_that_no_bar_has_is_told_in_its_own_file(
    shop: Path, capsys: Capture, old: str, new: str, said: str
) -> None:
    before = (shop / "bracket.yaml").read_bytes()
    (shop / "out.csv").write_text(BENT.replace(old, new))
    call = ["fit", str(shop / "bracket.yaml"), "--run-out", str(shop / "out.csv"), "--write"]
    assert status(call) == 2
    assert said in capsys.readouterr().err
    assert (shop / "bracket.yaml").read_bytes() == before


def test_push_and_run_out_are_written_together(shop: Path, capsys: Capture) -> None:
    (shop / "out.csv").write_text(BENT)
    assert fit(shop, "--run-out", str(shop / "out.csv"), "--write", "--json") == 0
    json.loads(capsys.readouterr().out)
    found = read_case_file(shop / "bracket.yaml")
    assert found.case.bar.run_out is not None
    assert any(one.origin == "measured" for one in found.inputs)


def test_log_gives_the_next_setting_first(
    shop: Path, as_far_as_read: None, capsys: Capture
) -> None:
    call = ["log", str(shop / "bracket.yaml"), "--bores", str(shop / "bores.csv")]
    assert status(call) == 0
    out = capsys.readouterr().out
    assert out.startswith("NEXT PASS")
    assert "Set the micrometer over bit and bar to 36.0" in out
    assert status([*call, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    low, high = (found["next_pass"]["bore_m"][end] for end in ("low", "high"))
    assert low < 0.0440125 < high
    share = found["short_fall_per_depth"]
    # The run thought a tenth of that: what was measured moves it most of the way.
    assert 0.2 < share["low"] < share["high"] < 0.45
    assert status([*call, "--write"]) == 0
    case = read_case_file(shop / "bracket.yaml").case
    assert case.cut.edge_wear == pytest.approx(
        1.15 * found["force_over_what_was_thought"]["likely"], rel=0.01
    )


def test_log_gives_no_setting_from_a_slip_and_widens_what_it_expects_for_a_doubtful_bore(
    shop: Path, as_far_as_read: None, capsys: Capture
) -> None:
    call = ["log", str(shop / "bracket.yaml"), "--bores", str(shop / "bores.csv"), "-q"]
    (shop / "bores.csv").write_text(BORES.replace("43.973", "43.873"))
    assert status(call) == 2
    out, err = capsys.readouterr()
    assert "Set the micrometer" not in out
    assert "pass 6 (setting 36 mm, bore 43.873 mm)" in err
    # By hand 0.1 mm less than 44 - 0.3/1.3 x 0.117 mm; the others are rounded, so nearly that.
    assert "too small for what setting and spring, and the other passes, make of it" in err
    (shop / "bores.csv").write_text(BORES.replace("43.973", "43.950"))
    assert status(call) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Set the micrometer" in out
    assert "Pass 6 came out" in out
    assert "times as wide for it" in out


# From 43.6 mm on, 0.206 mm a side in two: after a cut of 0.05 mm, 0.156 mm a side are left.
EARLY = "setting (mm), bore (mm)\n, 43.600\n35.845, 43.670\n35.870, 43.720\n"


def test_log_keeps_the_last_two_cuts_alike_and_says_so(
    shop: Path, as_far_as_read: None, capsys: Capture
) -> None:
    (shop / "bores.csv").write_text(EARLY)
    call = ["log", str(shop / "bracket.yaml"), "--bores", str(shop / "bores.csv")]
    assert status(call) == 0
    out = " ".join(capsys.readouterr().out.split())
    # (44.0125 - 43.720) / 2 = 0.146 mm a side; half of it is 0.073 mm.
    assert "Expect" in out
    assert "likely 43.866 mm" in out
    assert "That is half of what is left, 73 um on the radius" in out
    assert "settings cut small by" in out
    assert status([*call, "--json"]) == 0
    following = json.loads(capsys.readouterr().out)["next_pass"]
    assert following["cuts_left"] == 2
    assert following["depth_m"] == pytest.approx(0.0000731, rel=0.01)


@pytest.mark.parametrize(
    ("call", "first"),
    [
        (["fit", "--push", "push_test.csv"], "MEASURED"),
        (["fit", "--run-out", "run_out.csv"], "RUN-OUT, BENT"),
        (["log", "--bores", "bores.csv"], "NEXT PASS"),
    ],
)
def test_shipped_readings_are_read(
    shop: Path, as_far_as_read: None, capsys: Capture, call: list[str], first: str
) -> None:
    command, option, name = call
    where = [] if command == "log" else ["--out", str(shop / "results")]
    readings = str(CASES / "readings" / name)
    assert status([command, str(CASES / "pump_bracket.yaml"), option, readings, *where]) == 0
    assert capsys.readouterr().out.startswith(first)
