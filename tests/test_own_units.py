"""What is written in inches is said in inches first, what is written in millimetres metric first.

One walk over all that a command prints. A quantity of the other system may stand only right behind
one of the own: in brackets, behind an equals sign, or as the second line of a table of passes.
"""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

import pytest

from barwright.analysis.units import Own
from barwright.cli.app import status

ROOT = Path(__file__).parents[1]
CASES: dict[Own, Path] = {
    "inch": ROOT / "cases" / "sluice_gate_pivot.yaml",
    "mm": ROOT / "cases" / "pump_bracket.yaml",
}
JOBS: dict[Own, Path] = {
    "inch": ROOT / "cases" / "jobs" / "pump_barrel.yaml",
    "mm": ROOT / "cases" / "jobs" / "roller_stand.yaml",
}
BORES: dict[Own, str] = {
    "inch": "setting (in), bore (in)\n, 1.8650\n1.5601, 1.8702\n",
    "mm": "setting (mm), bore (mm)\n, 43.600\n35.905, 43.795\n35.950, 43.885\n",
}
READINGS = ROOT / "cases" / "readings"

UNITS: dict[Own, str] = {
    "mm": "mm um N kN N/um N.m kN.m/rad N.s/m MPa GPa kg kg/m3 m/min W kW mm/rev C",
    "inch": "in thou uin lbf lbf/thou lbf.in lbf.ft/deg lbf.s/in ksi Mpsi lb lb/in3 sfm hp ipr F",
}
NUMBER = r"(?<![\w./-])(?:\d+-)?\d+(?:[./]\d+)?(?:e[+-]?\d+)?"
QUANTITY = {
    own: re.compile(rf"(?:{NUMBER} to )?{NUMBER} (?:{'|'.join(units.split())})(?![\w/])(?!\.\w)")
    for own, units in UNITS.items()
}
NO_INCHES = re.compile(r"(\d) in (?=\d|the |a |each |its |all |pass)")
"""The word: `8 times in 10`, `1 in the way`."""
BEHIND = re.compile(r"\s*(?:\([^()]*\))?\s*[(=]\s*")
"""What may stand between a quantity and the same in the other system: brackets, or its range."""


def wrong_way_round(text: str, own: Own) -> list[str]:
    """Quantities of the other system that no own one stands right before, with what does."""
    other: Own = "mm" if own == "inch" else "inch"
    flat = " ".join(NO_INCHES.sub(r"\1 of ", text).replace("+-", "").split())
    found = []
    for one in QUANTITY[other].finditer(flat):
        ends = [first.end() for first in QUANTITY[own].finditer(flat[: one.start()])]
        if not ends or not BEHIND.fullmatch(flat[ends[-1] : one.start()]):
            found.append(flat[max(0, one.start() - 50) : one.end()])
    return found


def without_second_rows(text: str) -> str:
    """The text without the line below a pass, which says its sizes in the other system."""
    lines, kept, passed = text.splitlines(), [], False
    for line in lines:
        if not (passed and line.startswith(" " * 8)):
            kept.append(line)
        passed = bool(re.match(r"  pass \d+ ", line))
    return "\n".join(kept)


def said(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert status(arguments) in (0, 1), arguments
    return without_second_rows(capsys.readouterr().out)


def words_of_report(folder: Path) -> str:
    """The words of a report without those that it takes from a source."""
    text = (folder / "report.html").read_text(encoding="utf-8")
    text = re.sub(r"(?s)<(script|style|svg)\b.*?</\1>", " ", text)
    text = html.unescape(re.sub(r"<[^>]+>", " | ", text))
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    for factor in summary["cut"]["factors"]:
        text = text.replace(factor["source"], "")
    return text


@pytest.mark.parametrize(
    ("text", "own", "wrong"),
    [
        ("spring 0.13 thou (3.4 um); limit 1/2 in (12.7 mm)", "inch", 0),
        ("radial 2.02 lbf (0.653 to 5.73) = 8.98 N (2.91 to 25.5)", "inch", 0),
        ("at 1.7 to 6.5 um (0.067 to 0.26 thou)", "mm", 0),
        ("spring 3.4 um (0.13 thou)", "inch", 1),
        ("torque 0.65 N.m, power 8 W", "inch", 2),
        ("8 times in 10, 1 in the way", "mm", 0),
        ("a bore of 1.875 in", "mm", 1),
        ("1-1/4 in (31.75 mm) of 58.9 sfm", "inch", 0),
    ],
)
def test_the_walk_tells_one_order_from_the_other(text: str, own: Own, wrong: int) -> None:
    assert len(wrong_way_round(text, own)) == wrong


@pytest.mark.parametrize("own", ["inch", "mm"])
def test_what_is_read_is_said_in_its_own_units_first(
    own: Own, capsys: pytest.CaptureFixture[str]
) -> None:
    assert wrong_way_round(said(["check", str(CASES[own])], capsys), own) == []


@pytest.mark.slow
@pytest.mark.usefixtures("remembering")
@pytest.mark.parametrize("own", ["inch", "mm"])
def test_every_command_says_its_own_units_first(
    own: Own, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    case, out, bores = str(CASES[own]), ["--out", str(tmp_path)], tmp_path / "bores.csv"
    bores.write_text(BORES[own])
    symptoms = (
        "chatter",
        "undersize but parallel",
        "bit slips",
        "chips pack",
        "tailstock backs off",
    )
    for arguments in (
        ["run", case, "--no-pictures", "--report", "--history", *out],
        ["trouble", case],
        *(["trouble", case, one] for one in symptoms),
        ["trouble", case, "--marks", "146"],
        ["speeds", case, *out],
        ["compare", case, *out],
        ["study", case, "--samples", "128", *out],
        ["fit", case, "--design"],
        ["fit", case, "--push", str(READINGS / "push_test.csv"), *out],
        ["fit", case, "--run-out", str(READINGS / "run_out.csv")],
        ["log", case, "--bores", str(bores)],
        ["plan", str(JOBS[own]), "--no-pictures", *out],
    ):
        assert wrong_way_round(said(arguments, capsys), own) == [], arguments
    assert wrong_way_round(words_of_report(tmp_path / CASES[own].stem), own) == []
