"""Many cases, or a table of variants, through the command line."""

from __future__ import annotations

import csv
import json
import os
import pickle
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from remembered import remember, solved

from barwright.analysis import crew, record
from barwright.analysis import run as running
from barwright.analysis.casefile import read_case_file
from barwright.analysis.errors import CaseError, SolveError
from barwright.analysis.variant_table import read_variants, varied
from barwright.cli import batch_lines
from barwright.cli.app import status

CASES = Path(__file__).parents[1] / "cases"
GOOD, SLIM = CASES / "pump_bracket.yaml", CASES / "stern_tube.yaml"
MEASURED = CASES / "sluice_gate_pivot.yaml"
Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Results of a case that was run by itself, its hole from the table."""
    out = tmp_path_factory.mktemp("alone")
    call = ["run", str(GOOD), "-q", "--no-pictures", "--hole", "table", "--out", str(out)]
    with pytest.MonkeyPatch.context() as patched:
        remember(patched)
        assert status(call) == 0
    return out / GOOD.stem


@pytest.fixture
def one_by_one(remembering: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no crew do what many cases or variants ask for; all of it goes through pickles still."""

    def done(job: Callable[[Any], Any], tasks: Sequence[Any], _: int) -> Iterator[tuple[int, Any]]:
        for number, task in enumerate(tasks):
            found = job(pickle.loads(pickle.dumps(task)))
            yield number, pickle.loads(pickle.dumps(found))

    monkeypatch.setattr(crew, "done_by_crew", done)


def test_many_cases_leave_what_each_leaves_alone(
    tmp_path: Path, alone: Path, capsys: Capture
) -> None:
    wrong = [tmp_path / "w rong \u00fc.yaml", tmp_path / "wrong2.yaml"]
    for path in wrong:
        path.write_text(GOOD.read_text().replace("diameter: 28 mm", "diameter: 28"))
    out = tmp_path / "results"
    call = ["run", str(GOOD), *map(str, wrong), str(tmp_path / "missing.yaml"), "--no-pictures"]
    assert status([*call, "--hole", "table", "--out", str(out), "--jobs", "2"]) == 2
    said = capsys.readouterr()
    assert said.out.startswith("4 cases: 1 within limits, 0 outside, 3 without an answer.")
    assert said.out.isascii()
    assert said.err.count("has no unit") == 1
    cause, *places = said.err.splitlines()[:3]
    assert cause.startswith("bar.diameter: `28` has no unit")
    assert [place.rpartition("/")[2] for place in places] == [
        "w rong \\xfc.yaml:89",
        "wrong2.yaml:89",
    ]
    assert "there is no such file" in said.err
    assert [path.name for path in out.iterdir()] == ["pump_bracket"]
    for path in alone.iterdir():
        assert (out / GOOD.stem / path.name).read_bytes() == path.read_bytes(), path.name


@pytest.fixture
def last_first(remembering: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the last of many be done first."""

    def done(job: Callable[[Any], Any], tasks: Sequence[Any], _: int) -> Iterator[tuple[int, Any]]:
        for number in reversed(range(len(tasks))):
            yield number, job(tasks[number])

    monkeypatch.setattr(crew, "done_by_crew", done)


@pytest.mark.slow
@pytest.mark.usefixtures("last_first")
def test_json_of_many_is_a_list_in_the_order_asked(tmp_path: Path, capsys: Capture) -> None:
    missing = str(tmp_path / "missing.yaml")
    call = ["run", missing, str(SLIM), str(GOOD), "--no-pictures", "--json", "--hole", "table"]
    assert status([*call, "--out", str(tmp_path)]) == 2
    first, *others = json.loads(capsys.readouterr().out)
    assert first["case"]["file"] == missing
    assert first["problems"][0].endswith("there is no such file")
    kept = [tmp_path / case.stem / "summary.json" for case in (SLIM, GOOD)]
    assert others == [json.loads(path.read_text()) for path in kept]


@pytest.mark.slow
@pytest.mark.usefixtures("last_first")
def test_the_status_is_the_highest_of_any(tmp_path: Path) -> None:
    call = ["run", str(GOOD), str(SLIM), "-q", "--no-pictures", "--hole", "table"]
    assert status([*call, "--out", str(tmp_path)]) == 1


def test_two_cases_that_would_share_a_folder_are_refused(tmp_path: Path, capsys: Capture) -> None:
    twin = tmp_path / "Pump_Bracket.yaml"  # one folder where the disk knows no capitals
    twin.write_text(GOOD.read_text())
    assert status(["run", str(GOOD), str(twin), "--out", str(tmp_path / "out")]) == 2
    assert "would both leave their results in" in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "out").exists()


def test_what_cannot_be_written_is_said_of_each(
    tmp_path: Path, one_by_one: None, capsys: Capture
) -> None:
    (tmp_path / "results").write_text("in the way")
    twin = tmp_path / "twin.yaml"
    twin.write_text(GOOD.read_text())
    call = ["run", str(GOOD), str(twin), "-q", "--no-pictures", "--hole", "table"]
    assert status([*call, "--out", str(tmp_path / "results")]) == 73
    told = capsys.readouterr()
    assert told.out.startswith("2 cases: 0 within limits, 0 outside, 2 without an answer.")
    assert "cannot make" in told.err
    for case in (GOOD, twin):
        assert str(case) in told.err


def test_within_and_outside_and_without_an_answer_are_counted_apart(capsys: Capture) -> None:
    rows = [
        batch_lines.Answered(name=str(code), status=code, summary={}, cells=())
        for code in (0, 1, 1, 1)
    ]
    batch_lines.answer([*rows, batch_lines.failed("c", SolveError("no root"))], "case")
    batch_lines.answer(rows, "variant")
    assert capsys.readouterr().out.splitlines() == [
        "5 cases: 1 within limits, 3 outside, 1 without an answer.",
        "4 variants: 1 within limits, 3 outside.",
    ]


KILLED = """
import os, signal, sys
from pathlib import Path
from barwright.analysis import run
from barwright.cli import running

def killed(task):
    case, order = task
    if "valve" in case.name:
        os.kill(os.getpid(), signal.SIGSEGV)
    return running._case_in_worker(task)

if __name__ == "__main__":
    real, running._case_in_worker = running._case_in_worker, killed
    from barwright.cli import app
    sys.exit(app.status(sys.argv[1:]))
"""


@pytest.mark.slow
def test_a_worker_that_crashes_costs_its_case_alone(tmp_path: Path) -> None:
    script = tmp_path / "crashing.py"
    script.write_text(KILLED)
    cases = [str(CASES / f"{name}.yaml") for name in ("valve_block", "stern_tube")]
    out = tmp_path / "results"
    call = ["run", *cases, "--no-pictures", "--hole", "table", "--out", str(out), "--jobs", "1"]
    done = subprocess.run(
        [sys.executable, str(script), *call],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 70
    assert "2 cases: 0 within limits, 1 outside, 1 without an answer." in done.stdout
    assert "died (signal 11, SIGSEGV)" in done.stderr
    assert "valve_block.yaml" in done.stderr
    assert "Traceback" not in done.stderr
    assert [path.name for path in out.iterdir()] == ["stern_tube"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("sent", "code", "jobs"), [(signal.SIGINT, 130, 2), (signal.SIGTERM, 143, 1)]
)
def test_stopped_in_the_middle_keeps_what_is_done(
    tmp_path: Path, sent: int, code: int, jobs: int
) -> None:
    out = tmp_path / "results"
    cases = [tmp_path / f"case{number}.yaml" for number in range(12)]
    for path in cases:
        path.write_text(GOOD.read_text())
    start = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    with subprocess.Popen(
        [
            sys.executable,
            "-c",
            start + "from barwright.cli.app import main; main()",
            "run",
            *map(str, cases),
            "--no-pictures",
            "--hole",
            "table",
            "--out",
            str(out),
            "--jobs",
            str(jobs),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    ) as child:
        end = time.monotonic() + 300
        while not (out / f"case{jobs - 1}").exists() and time.monotonic() < end:
            time.sleep(0.05)
        os.killpg(child.pid, sent)  # as a terminal does: everyone hears it
        _, err = child.communicate(timeout=30)
    assert child.returncode == code
    assert b"Traceback" not in err
    assert b"of 12 cases done" in err
    kept = sorted(path for path in out.iterdir() if not path.name.startswith("."))
    assert 1 <= len(kept) < 12
    for folder in kept:
        assert json.loads((folder / "summary.json").read_text())["case"]["file"].startswith("case")


def test_causes_are_said_once_and_long_lists_counted(capsys: Capture) -> None:
    rows = [batch_lines.failed(f"c{number}", SolveError("no root")) for number in range(11)]
    batch_lines.failures([*rows, batch_lines.failed("x", RuntimeError("oh"))])
    err = capsys.readouterr().err
    assert err.count("no root") == 1
    assert "  and 3 more\n" in err
    assert "has a fault here" in err
    assert [row.status for row in rows] == [3] * 11
    assert batch_lines.failed("x", RuntimeError("oh")).status == 70
    assert batch_lines.failed("x", OSError(28, "full")).causes == (("x", "cannot write: full"),)


# --- variants --------------------------------------------------------------------------------


def table_of(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "table.csv"
    path.write_text(text)
    return path


@pytest.mark.slow
def test_variants_give_what_a_run_of_each_gives_however_many_work_at_once(
    tmp_path: Path, alone: Path, request: pytest.FixtureRequest, capsys: Capture
) -> None:
    table = table_of(
        tmp_path,
        "name, bar.diameter (mm), cut.depth (mm), bar.material\n"
        "as it is, , , \n"
        "thin, 27, 0.1, 1018\n"
        "fat, 46, 0.2, 4140 prehard\n",
    )
    call = ["run", str(GOOD), "--variants", str(table), "--hole", "table", "--out", str(tmp_path)]
    assert status([*call, "--jobs", "2"]) == 2
    said = capsys.readouterr()
    assert said.out.startswith("3 variants: 2 within limits, 0 outside, 1 without an answer.")
    assert f"{table}:4" in said.err
    folder = tmp_path / "pump_bracket-variants"
    with (folder / "variants.csv").open(newline="") as handle:
        heading, units, *rows = list(csv.reader(handle))
    unit = dict(zip(heading, units, strict=True))
    assert (unit["bar.diameter"], unit["cut.depth"], unit["first_mode_low"]) == ("mm", "mm", "Hz")
    first, thin, fat = (dict(zip(heading, row, strict=True)) for row in rows)
    assert (first["bar.diameter"], first["bar.material"]) == ("28", "4140 prehard")
    summary = json.loads((alone / "summary.json").read_text())
    assert float(first["stiffness_radial"]) == pytest.approx(
        summary["static"]["stiffness_radial_N_per_m"] / 1e6, rel=1e-8
    )
    assert float(first["gain_margin_likely"]) == pytest.approx(
        summary["chatter"]["gain_margin"]["likely"], rel=1e-8
    )
    changed = tmp_path / "thin.yaml"
    text = GOOD.read_text()
    for was, becomes in (
        ("\n  diameter: 28 mm", "\n  diameter: 27 mm"),
        ("\n  depth: 0.2 mm", "\n  depth: 0.1 mm"),
        ("\n  material: 4140 prehard", "\n  material: 1018"),
    ):
        assert text.count(was) == 1
        text = text.replace(was, becomes)
    changed.write_text(text)
    capsys.readouterr()
    request.getfixturevalue("one_by_one")  # from here on, the table once more too
    single = ["run", str(changed), "--no-pictures", "--hole", "table", "--json"]
    status([*single, "--out", str(tmp_path)])
    run = json.loads(capsys.readouterr().out)
    assert float(thin["first_mode_likely"]) == pytest.approx(
        run["speed"]["first_mode_Hz"]["likely"], rel=1e-8
    )
    assert "does not pass through the bore" in fat["problem"]
    assert fat["within_limits"] == ""
    by_two = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert status(call) == 2
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == by_two


def test_json_of_variants_is_their_summary(
    tmp_path: Path, one_by_one: None, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    case_file, outcome = solved(GOOD.stem)
    summary = record.summary(case_file, outcome)
    monkeypatch.setattr(running, "analyse", lambda case, *_: replace(outcome, case=case))
    monkeypatch.setattr(record, "summary", lambda *_: summary)
    table = table_of(tmp_path, "bar.diameter, supports.tail.radial_stiffness\n1 in, rigid\n")
    call = ["run", str(GOOD), "--variants", str(table), "--json", "--hole", "table"]
    assert status([*call, "--out", str(tmp_path)]) == 0
    printed = json.loads(capsys.readouterr().out)
    kept = tmp_path / "pump_bracket-variants" / "summary.json"
    assert printed == json.loads(kept.read_text())
    (only,) = printed["variants"]
    assert only["inputs"] == {
        "bar.diameter": 0.0254,
        "supports.tail.radial_stiffness": "rigid",
    }


def test_a_table_belongs_to_one_case(tmp_path: Path, capsys: Capture) -> None:
    table = table_of(tmp_path, "bar.diameter (mm)\n25\n")
    assert status(["run", str(GOOD), str(SLIM), "--variants", str(table)]) == 2
    assert "belongs to one case" in capsys.readouterr().err
    assert status(["run", str(GOOD), "--history", "--variants", str(table)]) == 2
    assert "no bores cut turn by turn" in " ".join(capsys.readouterr().err.split())


def test_a_measured_value_gives_way_to_the_row(tmp_path: Path) -> None:
    case_file = read_case_file(MEASURED)
    table = read_variants(
        table_of(tmp_path, "supports.tail.radial_stiffness (N/um), cut.depth\n77, 4 thou\n"),
        case_file,
    )
    found = varied(case_file, table.rows[0])
    assert found.case.supports.tail is not None
    assert float(found.case.supports.tail.radial_stiffness) == 77e6
    origin = {one.name: one.origin for one in found.inputs}
    assert origin["supports.tail.radial_stiffness"] == "typed"
    assert float(case_file.case.supports.tail.radial_stiffness) != 77e6  # type: ignore[union-attr]


def test_a_value_in_a_list_can_be_varied(tmp_path: Path) -> None:
    case_file = read_case_file(GOOD)
    table = read_variants(
        table_of(tmp_path, "cross_hole.set_screws[0].diameter (mm), work.bore\n5, 45 H7\n"),
        case_file,
    )
    found = varied(case_file, table.rows[0]).case
    assert float(found.cross_hole.set_screws[0].diameter) == pytest.approx(0.005)
    assert found.work.bore.nominal == 0.045


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("bar.diametre (mm)\n25\n", "no heading was found"),
        ("bar.diametre (mm), cut.depth (mm)\n25, 1\n", "did you mean bar.diameter?"),
        ("bar.diameter (mm), supports.drive.kind\n25, collet\n", "this column is not known"),
        ("bar.diameter (mm), cut.depth (mm)\n", "there is no reading below the heading"),
    ],
)
def test_a_table_that_does_not_fit_the_case_is_refused(
    tmp_path: Path, text: str, message: str
) -> None:
    with pytest.raises(CaseError) as refused:
        read_variants(table_of(tmp_path, text), read_case_file(GOOD))
    assert message in str(refused.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("name, bar.diameter\na, 25\n", ":2: bar.diameter: `25` has no unit"),
        ("name, bar.diameter (mm)\na, 25 kg\n", ":2: bar.diameter: `25 kg`"),
        ("name, bar.material\na, unobtainium\n", "`unobtainium` is not in the table"),
        ("name, supports.drive.position (mm)\na, 5\n", "is not a value of this case"),
    ],
)
def test_a_row_that_cannot_be_names_its_line(tmp_path: Path, text: str, message: str) -> None:
    case_file = read_case_file(GOOD)
    table = read_variants(table_of(tmp_path, text), case_file)
    with pytest.raises(CaseError) as refused:
        varied(case_file, table.rows[0])
    assert message in str(refused.value)
