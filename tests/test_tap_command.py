"""`barwright tap`: what it prints, writes, and how it leaves."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from scipy.io import wavfile
from tap_sounds import Ring, Scene, recorded

from barwright.cli.app import status

Capture = pytest.CaptureFixture[str]
CASES = Path(__file__).parents[1] / "cases"
SCENE = Scene(
    rings=(Ring(pitch=148.0, damping=0.010), Ring(pitch=412.0, damping=0.008, size=0.5)),
    rate=8000,
    hum=(50.0, (0.2, 0.1, 0.1)),
)


@pytest.fixture
def taps(tmp_path: Path) -> Path:
    path = tmp_path / "front taps.wav"
    wavfile.write(path, 8000, recorded(SCENE).sound)
    return path


def test_it_prints_pitch_and_damping_and_leaves_files(taps: Path, capsys: Capture) -> None:
    out = taps.parent / "results"
    assert status(["tap", str(taps), "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert said.isascii()
    assert "2 pitches from 5 taps" in said
    assert "Mains hum at 50 Hz" in said
    assert "barwright fit CASE" in said
    folder = out / "front-taps-tap"
    assert {path.name for path in folder.iterdir()} == {"tap.json", "tap.csv", "tap.png"}
    found = json.loads((folder / "tap.json").read_text())
    for pitch, ring in zip(found["pitches"], SCENE.rings, strict=True):
        assert pitch["frequency_Hz"]["likely"] == pytest.approx(ring.pitch, rel=0.01)
        assert pitch["damping_ratio"]["likely"] == pytest.approx(ring.damping, rel=0.25)
    names, units, *rows = csv.reader((folder / "tap.csv").read_text().splitlines())
    assert (names[0], units[0], len(rows)) == ("pitch", "Hz", 2)
    dots = np.asarray(Image.open(folder / "tap.png").convert("L"))
    assert 0.01 < np.mean(dots < 128) < 0.3


def test_json_is_the_same_as_the_file(taps: Path, capsys: Capture) -> None:
    out = taps.parent / "results"
    assert status(["tap", str(taps), "--out", str(out), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    kept = json.loads((out / "front-taps-tap" / "tap.json").read_text())
    assert said == {"recordings": [kept]}


def test_one_bad_file_does_not_hide_the_good_one(taps: Path, capsys: Capture) -> None:
    call = ["tap", str(taps.parent / "none.wav"), str(taps), "-q", "--out", str(taps.parent)]
    assert status(call) == 2
    said = capsys.readouterr()
    assert "none.wav: is not there" in said.err
    assert "front taps.wav: 2 pitches" in said.out


def test_a_recording_of_nothing_is_3(tmp_path: Path, capsys: Capture) -> None:
    wavfile.write(tmp_path / "quiet.wav", 8000, np.zeros(16000, dtype=np.int16))
    assert status(["tap", str(tmp_path / "quiet.wav"), "--out", str(tmp_path)]) == 3
    assert "no tap found: the recording is silent" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["quiet.wav"]


def test_a_recorder_that_rides_the_level_is_told_so(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "phone.wav"
    sound = recorded(Scene(rings=SCENE.rings, rate=16000, noise=26.0, rides_level=True)).sound
    wavfile.write(path, 16000, sound)
    assert status(["tap", str(path), "--out", str(tmp_path / "r")]) == 0
    said = capsys.readouterr().out
    assert "Damping refused" in said
    assert "refused" in said.split("taps\n")[-1]
    text = (tmp_path / "r" / "phone-tap" / "tap.json").read_text()
    assert "damping_ratio" not in text


def test_fit_takes_the_first_pitch_that_was_heard(tmp_path: Path, capsys: Capture) -> None:
    """A bar heard 8 % lower than thought has softer supports, and the fit comes nearer to it.

    Two pitches are in the sound: the mains' hum and one a decade too high are not the bar's first.
    """
    scene = Scene(
        rings=(Ring(pitch=335.0, damping=0.012), Ring(pitch=3100.0, damping=0.004)),
        rate=8000,
        hum=(50.0, (0.2, 0.1, 0.1)),
    )
    sound, case = tmp_path / "side.wav", tmp_path / "case.yaml"
    wavfile.write(sound, 8000, recorded(scene).sound)
    case.write_text((CASES / "pump_bracket.yaml").read_text())
    asked = ["fit", str(case), "--tap", str(sound), "--out", str(tmp_path / "out")]
    assert status([*asked, "--write"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("MEASURED: Pump bracket")
    assert "sideways  335 Hz" in said
    assert "Not told by these readings: drive, radial." in said
    found = json.loads((tmp_path / "out" / "case-fit" / "fit.json").read_text())
    (pitch,) = found["pitches"]
    assert pitch["way"] == "sideways"
    assert pitch["heard_Hz"] == pytest.approx(335.0, rel=0.01)
    assert pitch["heard_Hz"] < pitch["after_Hz"] < pitch["before_Hz"] - 15
    told = {row["what"]: row for row in found["told"] if row["tells"]}
    tail = told["supports.tail.radial_stiffness"]
    assert tail["after_N_per_m"]["likely"] < tail["before_N_per_m"]["likely"]
    ratio = told["bar.damping_ratio"]
    assert ratio["after_ratio"]["high"] < ratio["before_ratio"]["high"]
    assert "how: tap" in case.read_text()


def test_fit_says_where_no_pitch_of_the_bar_was_heard(tmp_path: Path, capsys: Capture) -> None:
    sound = tmp_path / "side.wav"
    high = Scene(rings=(Ring(pitch=1300.0, damping=0.010),), rate=8000)
    wavfile.write(sound, 8000, recorded(high).sound)
    case = str(CASES / "pump_bracket.yaml")
    assert status(["fit", case, "--tap", str(sound), "--out", str(tmp_path)]) == 2
    assert "Hz was heard sideways, where this bar should ring" in " ".join(
        capsys.readouterr().err.split()
    )
