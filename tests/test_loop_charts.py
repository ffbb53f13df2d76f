"""Charts of the loop: drawn from tables alone, nothing overlapping, honest about lobes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from conftest import MakeCase
from matplotlib.figure import Figure
from remembered import solved
from seen_figures import texts_stand_clear, watched, words_on

from barwright.analysis import loop_charts, record
from barwright.analysis.chatter import corners, edge_of, onset_at_speed
from barwright.analysis.finished import Finished, read_finished
from barwright.analysis.loop_curves import LoopCurves, curve_tables, loop_curves
from barwright.analysis.record import write_record

NAMES = ("pump_bracket", "stern_tube")
STOUT = pytest.param("valve_block", marks=pytest.mark.slow)


class Folders(dict[str, Finished]):
    """Finished folders as they are asked for, with nothing in them that no chart reads."""

    def __init__(self, base: Path) -> None:
        self.base = base

    def __missing__(self, name: str) -> Finished:
        folder = self.base / name
        folder.mkdir()
        with pytest.MonkeyPatch.context() as patch:
            for unread in ("setup_checks", "troubles"):
                patch.setattr(record, unread, lambda *_: ())
            write_record(folder, *solved(name))
        self[name] = read_finished(folder)
        return self[name]


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> Folders:
    """A metric case, a hopeless slim bar in inches, and a stout one."""
    return Folders(tmp_path_factory.mktemp("results"))


@pytest.fixture(scope="module")
def curves(make_case: MakeCase) -> LoopCurves:
    """Curves of the plain bar."""
    case = make_case()
    return loop_curves(case, corners(case))


@pytest.fixture
def figures(monkeypatch: pytest.MonkeyPatch) -> list[Figure]:
    """Every figure that is drawn, for asking what is on it."""
    return watched(monkeypatch, loop_charts)


def drawn(finished: Finished, name: str, path: Path, figures: list[Figure]) -> str:
    """Every word on a chart."""
    draw: Callable[[Finished, Path], None] = loop_charts.charts_of(finished)[name]
    draw(finished, path / name)
    return words_on(figures[-1])


@pytest.mark.parametrize("case", [*NAMES, STOUT])
@pytest.mark.parametrize("name", loop_charts.CHARTS)
def test_no_text_runs_into_another_or_off_the_sheet(
    tmp_path: Path, folders: Folders, figures: list[Figure], case: str, name: str
) -> None:
    words = drawn(folders[case], name, tmp_path, figures)
    assert words.isascii()
    (figure,) = figures
    texts_stand_clear(figure)


def test_merged_lobes_are_said_not_to_help(
    tmp_path: Path, folders: Folders, figures: list[Figure]
) -> None:
    words = drawn(folders["pump_bracket"], "lobes.png", tmp_path, figures)
    assert "speed will not tune it out" in words
    assert "Gain margin of this cut" in words
    assert "likely" in words


def test_lobes_that_stand_are_said_to_need_aim(
    tmp_path: Path, folders: Folders, figures: list[Figure]
) -> None:
    words = drawn(folders["stern_tube"], "lobes.png", tmp_path, figures)
    assert "can be aimed at only if pitch and speed are known" in words


def test_legends_stay_within_their_frames(
    tmp_path: Path, folders: Folders, figures: list[Figure]
) -> None:
    drawn(folders["pump_bracket"], "loop.png", tmp_path, figures)
    for axes in figures[0].axes:
        legend = axes.get_legend()
        assert legend is not None
        right = max(text.get_window_extent().x1 for text in legend.get_texts())
        assert right <= axes.get_window_extent().x1 + 2


def test_answer_is_drawn_from_below_the_lowest_mode(
    tmp_path: Path, folders: Folders, figures: list[Figure]
) -> None:
    """A high mode that sings may not push the first one off the sheet."""
    finished = folders["pump_bracket"]
    chatter = {**finished.summary["chatter"], "frequency_Hz": 3000.0}
    high = replace(finished, summary={**finished.summary, "chatter": chatter})
    drawn(high, "loop.png", tmp_path, figures)
    assert figures[0].axes[0].get_xlim()[0] < min(mode.frequency for mode in finished.modes)


def test_pitch_that_sings_names_the_part_that_sings(
    tmp_path: Path, folders: Folders, figures: list[Figure]
) -> None:
    finished = folders["pump_bracket"]
    for sung_by, said in (({"part": "bar"}, "372 Hz: the bar"), ("none", "372 Hz")):
        chatter = {**finished.summary["chatter"], "frequency_Hz": 372.0, "sung_by": sung_by}
        sung = replace(finished, summary={**finished.summary, "chatter": chatter})
        words = drawn(sung, "loop.png", tmp_path, figures)
        assert f"sings first, {said}" in words.splitlines()


def test_inch_case_has_its_give_in_inch_units(
    tmp_path: Path, folders: Folders, figures: list[Figure]
) -> None:
    """1 um/N is 1/25.4 thou over 1/4.4482216 lbf."""
    finished = folders["stern_tube"]
    assert "thou/lbf" in drawn(finished, "loop.png", tmp_path, figures)
    still = next(line for line in figures[0].axes[0].lines if line.get_label() == "standing still")
    table = finished.curves["loop.csv"]
    size = np.hypot(table["still_real"], table["still_imaginary"])
    at = np.searchsorted(table["frequency"], np.asarray(still.get_xdata()))
    assert np.asarray(still.get_ydata()) == pytest.approx(size[at] * 4.4482216 / 25.4, rel=1e-6)


@pytest.mark.parametrize("case", [*NAMES, STOUT])
def test_tables_agree_with_the_summary(folders: Folders, case: str) -> None:
    finished = folders[case]
    margin = finished.summary["chatter"]["gain_margin"]
    lobes = finished.curves["lobes.csv"]
    now = int(np.argmin(np.abs(lobes["speed"] - finished.case.spindle_speed * 60)))
    ends = ("margin_floor_low", "low"), ("margin_floor", "likely"), ("margin_floor_high", "high")
    for column, end in ends:
        assert lobes[column][now] == pytest.approx(margin[end], rel=0.02)
    for table, size, own in (
        ("nose.csv", "nose_radius", 1e3 * finished.case.bit.nose_radius),
        ("lead.csv", "lead_angle", np.degrees(finished.case.bit.lead_angle)),
    ):
        curve = finished.curves[table]
        for end in ("low", "likely", "high"):
            at = int(np.argmin(np.abs(curve[size] - own)))
            assert curve[f"margin_{end}"][at] == pytest.approx(margin[end], rel=0.01)
        assert curve["push"][at] == pytest.approx(
            finished.summary["cut"]["force_radial_N"], rel=1e-6
        )


def test_path_that_just_sings_touches_the_line(folders: Folders) -> None:
    for name in NAMES:
        least = folders[name].curves["loop.csv"]["just_singing_real"].min()
        assert least == pytest.approx(-0.5, abs=0.01)


def test_typed_force_is_the_push_at_the_bits_own_nose(make_case: MakeCase) -> None:
    case = make_case(bit__nose_radius="0.4 mm")
    curves = loop_curves(case, corners(case))
    at = int(np.argmin(np.abs(curves.nose.size - 0.4e-3)))
    assert curves.nose.push[at] == pytest.approx(30.0)
    assert np.all(np.diff(curves.nose.push) > 0)


def test_margin_of_a_speed_is_that_of_one_speed_alone(
    make_case: MakeCase, curves: LoopCurves
) -> None:
    case = make_case()
    found = corners(case)
    lobes = curves.speed.lobes
    now = int(np.argmin(np.abs(lobes.speed - case.spindle_speed)))
    alone = onset_at_speed(
        found["likely"].compliance,
        edge_of(case, "likely"),
        case.spindle_speed,
        damping=found["likely"].process_damping / case.surface_speed,
    )
    assert lobes.limit[now] == pytest.approx(alone.gain_margin, rel=5e-3)


def test_every_table_has_a_unit_for_each_column_and_no_gap(curves: LoopCurves) -> None:
    tables = curve_tables(curves)
    assert sorted(tables) == ["lead.csv", "lobes.csv", "loop.csv", "nose.csv"]
    for columns, rows in tables.values():
        assert rows
        assert all(len(row) == len(columns) for row in rows)
        assert all(isinstance(cell, float) or cell == "none" for row in rows for cell in row)


def test_folder_without_the_tables_has_none_of_the_charts(folders: Folders) -> None:
    assert loop_charts.charts_of(replace(folders["pump_bracket"], curves={})) == {}
