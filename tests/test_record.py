"""What a run leaves behind: keys, units, and files that other readers can open."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from remembered import remember, solved

from barwright.analysis.casefile import read_case_file
from barwright.analysis.record import inputs, write_record
from barwright.analysis.run import Outcome

Done = tuple[Path, Outcome]
CASES = Path(__file__).parents[1] / "cases"


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Done:
    folder = tmp_path_factory.mktemp("record")
    case_file, outcome = solved("press_frame")
    with pytest.MonkeyPatch.context() as patched:
        remember(patched)
        write_record(folder, case_file, outcome)
    return folder, outcome


def load(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "summary.json").read_text())
    return found


# The contract, as far as it is built; a list holds the keys of each of its members.
CONTRACT: dict[str, Any] = {
    "schema": None,
    "barwright": None,
    "case": {"title", "file", "sha256"},
    "model": {"kind", "n_dof", "refinement_change"},
    "cut": {
        "force_radial_N",
        "force_tangential_N",
        "force_axial_N",
        "power_W",
        "torque_Nm",
    },
    "static": {
        "deflection_radial_m",
        "deflection_tangential_m",
        "stiffness_radial_N_per_m",
        "stiffness_tangential_N_per_m",
        "bore_diameter_error_m",
        "ovality_m",
        "give",
        "reactions",
        "hand_check",
    },
    "modes": [{"frequency_Hz", "plane", "residual"}],
    "speed": {
        "spindle_rpm",
        "first_critical_rpm",
        "waves_per_turn",
        "nearest_harmonic",
        "verdict",
    },
    "chatter": {
        "gain_margin",
        "gain_margin_still_bar",
        "gain_margin_without_process_damping",
        "depth_limit_m",
        "nose_radius_limit_m",
        "nose_limit_holds_for",
        "frequency_Hz",
        "whirl_feed_limit_m",
        "verdict",
    },
    "findings": [{"what", "value", "limit", "margin", "ok", "why"}],
    "inputs": [{"name", "value", "unit", "origin"}],
}
NESTED: dict[tuple[str, str], Any] = {
    ("model", "refinement_change"): {"deflection", "first_mode"},
    ("static", "give"): [{"part", "share"}],
    ("static", "reactions"): [{"support", "radial_N", "tangential_N", "moment_Nm"}],
    ("static", "hand_check"): {"formula", "value_m", "difference"},
    ("speed", "nearest_harmonic"): {"order", "source", "frequency_Hz", "separation"},
    ("chatter", "gain_margin"): {"low", "likely", "high"},
    ("chatter", "depth_limit_m"): {"low", "likely", "high"},
}


def holds(found: Any, keys: Any) -> bool:
    """Whether a mapping, or every mapping of a list that is not empty, has all the keys."""
    if keys is None:
        return isinstance(found, str)
    if isinstance(keys, list):
        return bool(found) and all(keys[0] <= set(member) for member in found)
    return bool(keys <= set(found))


def test_summary_has_every_key_of_the_contract(done: Done) -> None:
    found = load(done[0])
    assert found["schema"] == "barwright.summary/1"
    assert [key for key, keys in CONTRACT.items() if not holds(found[key], keys)] == []
    missing = [path for path, keys in NESTED.items() if not holds(found[path[0]][path[1]], keys)]
    assert missing == []
    assert any("range" in entry for entry in found["inputs"])
    assert found["inputs"] == inputs(solved("press_frame")[0])


def test_at_least_six_modes_each_with_plane_and_residual(done: Done) -> None:
    modes = load(done[0])["modes"]
    assert len(modes) >= 6
    assert {mode["plane"] for mode in modes} <= {"bit", "across", "torsion", "axial"}
    assert all(mode["residual"] <= 1e-8 for mode in modes)


def test_nothing_null_and_nothing_of_the_machine(done: Done) -> None:
    folder, _ = done
    text = (folder / "summary.json").read_text()
    assert "null" not in text
    assert "NaN" not in text
    for path in folder.iterdir():
        assert str(Path.home()).encode() not in path.read_bytes()
        assert str(CASES).encode() not in path.read_bytes()


def test_rigid_support_is_a_word(tmp_path: Path) -> None:
    text = (CASES / "press_frame.yaml").read_text()
    path = tmp_path / "rigid.yaml"
    path.write_text(
        text.replace("{kind: live centre}", "{kind: live centre, radial_stiffness: rigid}")
    )
    named = {entry["name"]: entry for entry in inputs(read_case_file(path))}
    assert named["supports.tail.radial_stiffness"]["value"] == "rigid"


@pytest.mark.parametrize(
    "name",
    [
        "deflection.csv",
        "modes.csv",
        "mode_shapes.csv",
        "shakes.csv",
        "findings.csv",
        "inputs.csv",
    ],
)
def test_tables_have_a_row_of_units_and_even_rows(done: Done, name: str) -> None:
    with (done[0] / name).open(newline="") as handle:
        rows = list(csv.reader(handle))
    assert len(rows) > 3
    assert len({len(row) for row in rows}) == 1
    assert not any(set(rows[1]) & set(rows[0]))


def test_cell_that_a_spreadsheet_would_run_is_quoted() -> None:
    from barwright.analysis.record import _safe

    assert _safe("=2+5") == "'=2+5"
    assert _safe("@x") == "'@x"
    assert _safe("-1.5") == "-1.5"
    assert _safe(-1.5) == "-1.5"


def test_deflection_table_meets_the_summary(done: Done) -> None:
    folder, outcome = done
    with (folder / "deflection.csv").open(newline="") as handle:
        rows = list(csv.reader(handle))
    table = np.array(rows[2:], dtype=float)
    at_bit = np.interp(outcome.case.cross_hole.position * 1e3, table[:, 0], table[:, 1])
    expected = outcome.statics.deflection[0]
    expected -= (outcome.statics.loop_compliance - outcome.statics.compliance)[0, 0] * -float(
        outcome.force.radial
    )
    assert at_bit * 1e-6 == pytest.approx(expected, rel=2e-3)


def test_fields_open_in_an_independent_reader(done: Done) -> None:
    """VTK's own reader, not the writer's: same points, wedges of positive volume, named fields."""
    import pyvista

    folder, outcome = done
    grid: Any = pyvista.read(folder / "fields.vtu")
    assert {"deflection_m", "mode_1", "mode_6"} <= set(grid.point_data)
    volume = grid.compute_cell_sizes()["Volume"]
    assert volume.min() > 0
    bar = sum(np.pi / 4 * d**2 * length for d, length in ((0.040, 0.330 + 0.045), (0.030, 0.195)))
    polygon = 24 / (2 * np.pi) * np.sin(2 * np.pi / 24)  # a 24-sided bar for a round one
    assert volume.sum() == pytest.approx(bar * polygon, rel=1e-6)
    on_axis = np.hypot(grid.points[:, 1], grid.points[:, 2]) < 1e-9
    largest = np.abs(grid["deflection_m"][on_axis, 1]).max()
    assert largest == pytest.approx(np.abs(outcome.statics.along[0]).max(), rel=1e-3)
    assert np.linalg.norm(grid["mode_1"], axis=1).max() == pytest.approx(1.0)
