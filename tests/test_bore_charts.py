"""Charts of the bore cut turn by turn: nothing overlaps, and what is drawn too large is said."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from remembered import solved
from seen_figures import texts_stand_clear, watched, words_on

from barwright.analysis import bore_charts, pictures, record
from barwright.analysis.bore_charts import charts_of
from barwright.analysis.finished import Finished, read_finished
from barwright.analysis.firmness import likely_corner
from barwright.analysis.pictures import draw_in_child
from barwright.analysis.witness import witness

TURNS = 20
DRAWN = [
    ("mill_gearcase", "bore_round.png"),
    ("mill_gearcase", "history.png"),
    ("stern_tube", "history.png"),
]


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Finished]:
    """An interrupted cut that sings with a sharp edge, and in inches one that runs away."""
    found = {}
    with pytest.MonkeyPatch.context() as patch:
        for unread in ("setup_checks", "troubles"):
            patch.setattr(record, unread, lambda *_: ())
        for name in ("mill_gearcase", "stern_tube"):
            folder = tmp_path_factory.mktemp(name)
            case_file, outcome = solved(name)
            case = case_file.case
            cut = witness(case, likely_corner(case), outcome.passes, turns=TURNS)
            record.write_record(folder, case_file, replace(outcome, history=cut))
            found[name] = read_finished(folder)
    return found


@pytest.fixture
def figures(monkeypatch: pytest.MonkeyPatch) -> list[Figure]:
    """Every figure that is drawn, for asking what is on it."""
    return watched(monkeypatch, bore_charts)


def drawn(finished: Finished, name: str, path: Path, figures: list[Figure]) -> str:
    charts_of(finished)[name](finished, path / name)
    return words_on(figures[-1])


@pytest.mark.parametrize(("case", "name"), DRAWN)
def test_no_text_runs_into_another_or_off_the_sheet(
    tmp_path: Path, folders: dict[str, Finished], figures: list[Figure], case: str, name: str
) -> None:
    words = drawn(folders[case], name, tmp_path, figures)
    assert words.isascii()
    assert "$" not in words
    assert "Assumed" in words
    assert "second opinion" in words
    (figure,) = figures
    texts_stand_clear(figure)


def test_a_trace_is_as_many_times_too_large_as_is_said(
    tmp_path: Path, folders: dict[str, Finished], figures: list[Figure]
) -> None:
    finished = folders["mill_gearcase"]
    words = drawn(finished, "bore_round.png", tmp_path, figures)
    axes = figures[0].axes[0]
    times = float(
        next(t.get_text() for t in axes.texts if "too large" in t.get_text())
        .splitlines()[1]
        .split()[0]
    )
    assert f"{times:g} times too large" in words
    (line,) = [line for line in axes.lines if line.get_label() == "last pass"]
    radius = np.hypot(np.asarray(line.get_xdata()), np.asarray(line.get_ydata()))[:-1]
    wall = finished.curves["bore.csv"][f"rubbing_pass_2_turn_{TURNS - 2}"]
    there = np.isfinite(wall)
    planned = finished.summary["history"]["planned_bores_m"][-1] / 2
    assert (radius[there] - 1) * planned * 1e6 == pytest.approx(times * wall[there], abs=1e-6)
    assert np.array_equal(np.isnan(radius), ~there)


def test_both_walls_are_drawn_to_one_scale_and_their_gaps_named(
    tmp_path: Path, folders: dict[str, Finished], figures: list[Figure]
) -> None:
    words = drawn(folders["mill_gearcase"], "bore_round.png", tmp_path, figures)
    scales = {line for line in words.splitlines() if line.endswith("times too large")}
    assert len(scales) == 1
    # Three ports, and a wall with the rubbing of the edge and one without.
    ports = folders["mill_gearcase"].summary["history"]["assumed"]["ports_per_turn"]
    assert words.splitlines().count("gap") == 2 * ports


def test_a_cut_that_runs_away_has_its_movement_drawn_and_no_bore(
    tmp_path: Path, folders: dict[str, Finished], figures: list[Figure]
) -> None:
    finished = folders["stern_tube"]
    assert set(charts_of(finished)) == {"history.png"}
    words = drawn(finished, "history.png", tmp_path, figures)
    assert "runs away in turn 1 of pass 1" in words
    assert "thou" in words


def test_same_results_give_the_same_bytes(tmp_path: Path, folders: dict[str, Finished]) -> None:
    for name, draw in charts_of(folders["mill_gearcase"]).items():
        for copy in ("one", "two"):
            (tmp_path / copy).mkdir(exist_ok=True)
            draw(folders["mill_gearcase"], tmp_path / copy / name)
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


@pytest.mark.picture
def test_the_walls_are_drawn_side_by_side(
    folders: dict[str, Finished], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The child draws what the history brings, and leaves out the rest of its pictures."""
    code = """
import sys
from barwright.analysis import draw, loop_charts, pictures
pictures.CHARTS = ()
draw.draw_scenes = loop_charts.charts_of = lambda _: {}
sys.exit(pictures.main(sys.argv[1:]))
"""
    monkeypatch.setattr(
        pictures, "child_command", lambda folder: [sys.executable, "-c", code, str(folder)]
    )
    monkeypatch.setattr(pictures, "CHARTS", ())
    folder = folders["mill_gearcase"].folder
    drawing = draw_in_child(folder)
    if drawing.note and "libosmesa6" in drawing.note:
        pytest.skip(drawing.note)
    assert drawing.note is None
    assert set(drawing.names) == {"history.png", "bore_round.png", "bore_surface.png"}
