"""What `run --history` prints and leaves, through the command line; that it loads nothing else."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from functools import partial
from pathlib import Path
from typing import Any

import meshio
import numpy as np
import pytest

from barwright.analysis import witness
from barwright.cli.app import status

CASES = Path(__file__).parents[1] / "cases"
Done = tuple[Path, str]
TURNS = 20
"""Of each pass of the cut that is looked at whole; a third of those of a run."""


def run_history(name: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> Done:
    case = str(CASES / f"{name}.yaml")
    call = ["run", case, "--history", "--no-pictures", "--hole", "table"]
    status([*call, "--out", str(folder)])
    return folder / name, " ".join(capsys.readouterr().out.split())


def table(path: Path) -> tuple[list[str], list[str], list[list[str]]]:
    with path.open(encoding="utf-8", newline="") as handle:
        names, units, *rows = csv.reader(handle)
    return names, units, rows


def history_of(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "summary.json").read_text())["history"]
    return found


def test_an_interrupted_cut_is_told_and_kept_both_ways(
    tmp_path: Path,
    remembering: None,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(witness, "witness", partial(witness.witness, turns=TURNS))
    folder, said = run_history("mill_gearcase", tmp_path, capsys)
    assert said.isascii()
    assert "Cut turn by turn, a second opinion" in said
    assert said.index("edge that does not rub") < said.index("likely rubbing")
    assert "3 gaps in the wall 20 degrees wide each" in said
    assert "off centre" in said
    found = history_of(folder)
    assert found["assumed"]["ports_per_turn"] == 3
    assert found["assumed"]["old_bore_off_centre_m"] == 50e-6
    assert {"verdict", "verdict_without_process_damping"} <= set(found)
    for passes in (found["passes"], found["passes_without_process_damping"]):
        assert [one["number"] for one in passes] == [1, 2]
        assert {"vibration_m", "growth_per_turn", "short_fall_on_radius_m"} <= set(passes[0])
        assert 0.0 < passes[0]["off_centre_copied"] < 0.1
        assert "off_centre_copied" not in passes[1]
    check_tables(folder)
    check_surface(folder, found)


def check_tables(folder: Path) -> None:
    names, units, rows = table(folder / "history.csv")
    assert (names[:3], units[3], units[4]) == (["edge_rubs", "pass", "turn"], "s", "um")
    assert len(rows) == 2 * 2 * TURNS * 12
    values = np.array([[float(cell) for cell in row[4:7]] for row in rows])
    assert np.all(values[:, 0] <= values[:, 1])
    assert np.all(values[:, 1] <= values[:, 2])
    names, units, rows = table(folder / "bore.csv")
    assert names[0] == "angle"
    assert len(names) == 1 + 2 * 2 * 3
    assert set(units) == {"deg", "um"}
    assert sum(row[1] == "none" for row in rows) / len(rows) == pytest.approx(1 / 6, abs=0.005)


def check_surface(folder: Path, found: dict[str, Any]) -> None:
    """Radius drawn is the mean plus the error as many times too large as is said."""
    for name in ("bore.vtu", "bore_sharp.vtu"):
        mesh = meshio.read(folder / name)
        used = np.unique(mesh.cells_dict["quad"])
        error = np.asarray(mesh.point_data["wall_error_m"], dtype=float)[used]
        radius = np.hypot(*mesh.points[used, 1:].T)
        slope, _ = np.polyfit(error, radius, 1)
        assert slope == pytest.approx(found["surface_exaggeration"], rel=1e-3)
        assert radius.mean() == pytest.approx(found["planned_bores_m"][-1] / 2, rel=0.01)
        length = (TURNS - 1) * found["assumed"]["feed_m"]
        assert np.ptp(mesh.points[:, 0]) == pytest.approx(length, rel=1e-5)


def test_a_cut_that_runs_away_is_said_plainly_and_leaves_no_bore(
    tmp_path: Path, remembering: None, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, said = run_history("stern_tube", tmp_path, capsys)
    assert "runs away in turn 1 of pass 1" in said
    assert "no bore is left to speak of" in said
    assert history_of(folder)["verdict_without_process_damping"] == "runs away"
    assert (folder / "history.csv").exists()
    assert not list(folder.glob("bore*"))


def test_quiet_run_keeps_one_line_of_it(
    tmp_path: Path, remembering: None, capsys: pytest.CaptureFixture[str]
) -> None:
    case = str(CASES / "stern_tube.yaml")
    call = ["run", case, "--history", "--no-pictures", "-q", "--hole", "table"]
    status([*call, "--out", str(tmp_path)])
    out = capsys.readouterr().out
    assert "Cut turn by turn, a second opinion" in out
    assert "Assumed" not in out


def in_child(code: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=False
    )


def test_a_run_without_it_loads_no_compiler_and_leaves_no_history(tmp_path: Path) -> None:
    code = (
        "import sys; from barwright.analysis import chatter; chatter.STEPS = 4; "
        "from barwright.cli.app import status; status(['run', sys.argv[1], '--no-pictures', "
        "'-q', '--hole', 'table', '--out', sys.argv[2]]); "
        "sys.exit('numba' in sys.modules)"
    )
    done = in_child(code, str(CASES / "stern_tube.yaml"), str(tmp_path))
    assert done.returncode == 0
    assert "turn by turn" not in done.stdout
    assert not (tmp_path / "stern_tube" / "history.csv").exists()
    assert "history" not in json.loads((tmp_path / "stern_tube" / "summary.json").read_text())


@pytest.mark.slow
def test_it_runs_where_compiled_code_cannot_be_kept(tmp_path: Path) -> None:
    """No folder that numba could keep its code in; it compiles anew, some ten seconds."""
    code = (
        "import sys; import numba.core.caching as kept; kept.CacheImpl._locator_classes = []; "
        "kept.CompileResultCacheImpl._locator_classes = []; "
        "from barwright.cli.app import status; "
        "sys.exit(status(['run', sys.argv[1], '--history', '--no-pictures', '-q', '--out', "
        "sys.argv[2]]))"
    )
    done = in_child(code, str(CASES / "stern_tube.yaml"), str(tmp_path))
    assert done.returncode == 1, done.stderr
    assert "Cut turn by turn" in done.stdout
