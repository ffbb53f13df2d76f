"""Charts: what they say, that they are whole, alike every time, and that nothing overlaps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image
from results_folders import INCH, METRIC, write_folder
from seen_figures import texts_stand_clear, watched, words_on

from barwright.analysis import charts, end_view, paper
from barwright.analysis.errors import WriteError
from barwright.analysis.finished import Finished, read_finished

DRAWINGS: dict[str, Callable[[Finished, Path], None]] = {
    **charts.CHARTS,
    "end_view.png": end_view.draw_end_view,
}
SPEED = "modes_and_speed.png"
every_drawing = pytest.mark.parametrize("name", DRAWINGS)
both_systems = pytest.mark.parametrize("text", [METRIC, INCH], ids=["mm", "inch"])


@pytest.fixture
def figures(monkeypatch: pytest.MonkeyPatch) -> list[Figure]:
    """Every figure that is drawn, for asking what is on it."""
    return watched(monkeypatch, charts, end_view)


@every_drawing
@both_systems
def test_no_text_runs_into_another_or_off_the_sheet(
    tmp_path: Path, figures: list[Figure], name: str, text: str
) -> None:
    finished = read_finished(write_folder(tmp_path / "run", text))
    DRAWINGS[name](finished, tmp_path / name)
    (figure,) = figures
    texts_stand_clear(figure)


@every_drawing
@both_systems
def test_words_of_a_picture_are_ascii(
    tmp_path: Path, figures: list[Figure], name: str, text: str
) -> None:
    DRAWINGS[name](read_finished(write_folder(tmp_path / "run", text)), tmp_path / name)
    assert words_on(figures[0]).isascii()


@every_drawing
def test_same_results_give_the_same_bytes(tmp_path: Path, name: str) -> None:
    finished = read_finished(write_folder(tmp_path / "run"))
    DRAWINGS[name](finished, tmp_path / "one.png")
    DRAWINGS[name](finished, tmp_path / "two.png")
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()
    assert not list(tmp_path.glob(".*part"))


def words_of(finished: Finished, name: str, figures: list[Figure]) -> str:
    DRAWINGS[name](finished, finished.folder / name)
    return words_on(figures[-1])


def test_movement_at_the_bit_is_said_in_both_systems_with_its_way(
    tmp_path: Path, figures: list[Figure]
) -> None:
    words = words_of(read_finished(write_folder(tmp_path / "run")), "deflection.png", figures)
    # The half sine of 20 um from -40 to 520 mm, at the bit's 250 mm: sin(pi 290/560) = 0.998.
    assert "radial: at the bit 20.0 um (0.786 thou) away from the cut" in words
    assert "against the way the edge moves" in words
    assert "by hand formula: at the bit 19.0 um" in words


def test_inch_case_leads_with_inch_units(tmp_path: Path, figures: list[Figure]) -> None:
    finished = read_finished(write_folder(tmp_path / "run", INCH))
    assert finished.system == "inch"
    assert "movement, thou" in words_of(finished, "deflection.png", figures)
    assert "bar 1.250 in (31.75 mm)" in words_of(finished, "end_view.png", figures)


def test_first_mode_far_above_the_spindle_is_not_sold_as_safety(
    tmp_path: Path, figures: list[Figure]
) -> None:
    finished = read_finished(write_folder(tmp_path / "run"))
    words = words_of(finished, "modes_and_speed.png", figures)
    assert "First bending mode 100 Hz, 50 times the spindle's 2 turns a second" in words
    assert "does not mean that this one will not chatter" in words
    assert "48 times per turn: the cut's beat x 16" in words
    assert "motor: 48 Hz" in words


def test_give_names_every_part_with_its_share(tmp_path: Path, figures: list[Figure]) -> None:
    words = words_of(read_finished(write_folder(tmp_path / "run")), "give.png", figures)
    for said in ("bar", "62 %", "work side", "30 %", "8.0 %", "under 0.1 %"):
        assert said in words
    assert "20.0 um (0.787 thou) under 95 N (21.4 lbf)" in words
    assert "by this push alone" in words


def test_end_view_gives_the_micrometer_reading(tmp_path: Path, figures: list[Figure]) -> None:
    words = words_of(read_finished(write_folder(tmp_path / "run")), "end_view.png", figures)
    # Bore = 2 x reading - bar diameter: (50 + 32)/2.
    assert "edge at the nominal bore: micrometer over bit and bar\n41 mm (1.6142 in)" in words
    # Half of 49 less half of 32.
    assert "chip gap 8.5 mm" in words
    assert "its middle\n5 mm (0.197 in) to the trailing side" in words


def test_end_view_sets_what_the_last_pass_needs(tmp_path: Path, figures: list[Figure]) -> None:
    finished = read_finished(write_folder(tmp_path / "run"))
    table = {"micrometer_reading": np.array([40.9, 41.009]), "depth": np.array([0.1, 0.105])}
    planned = replace(finished, curves={"passes.csv": table})
    words = words_of(planned, "end_view.png", figures)
    # 41.009 mm / 25.4 = 1.61453 in; 0.105 mm / 25.4 = 0.00413 in, of which 0.0041 can be set.
    assert "last pass: micrometer over bit and bar\n41.009 mm (1.6145 in), see Passes" in words
    assert "the last pass cuts 0.105 mm (0.0041 in) deep" in words


def test_speed_to_avoid_leads_with_its_reason(tmp_path: Path, figures: list[Figure]) -> None:
    finished = read_finished(write_folder(tmp_path / "run"))
    speed = {"verdict": "avoid", "reason": "bull gear (132 Hz) lies near the 100 Hz mode."}
    judged = replace(finished, summary={**finished.summary, "speed": speed})
    words = words_of(judged, SPEED, figures)
    assert "Bull gear (132 Hz) lies near the 100 Hz mode.\nFirst bending mode" in words
    assert "nowhere near" not in words


def test_formula_of_two_supports_is_not_drawn_beside_a_steady(
    tmp_path: Path, figures: list[Figure]
) -> None:
    others = "tail: {kind: live centre}, others: [{kind: steady, position: 400 mm}]}"
    text = METRIC.replace("tail: {kind: live centre}}", others)
    words = words_of(
        read_finished(write_folder(tmp_path / "run", text)), "deflection.png", figures
    )
    assert "by hand formula" not in words
    assert "the bar alone on its supports" in words


def test_picture_that_cannot_be_written_says_so_and_leaves_nothing(tmp_path: Path) -> None:
    dots = np.zeros((4, 4, 3), dtype=np.uint8)
    with pytest.raises(WriteError, match="No such file or directory"):
        paper.keep(dots, tmp_path / "missing" / "x.png")


def test_picture_on_a_full_disk_is_not_taken_for_a_picture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut_short(self: object, path: Path, **_: object) -> None:
        path.write_bytes(b"\x89PNG\r\n\x1a\n")

    monkeypatch.setattr(Image.Image, "save", cut_short)
    with pytest.raises(WriteError, match=r"x\.png"):
        paper.keep(np.zeros((4, 4, 3), dtype=np.uint8), tmp_path / "x.png")
    assert list(tmp_path.iterdir()) == []


def test_shade_falls_in_lightness_all_the_way() -> None:
    red, green, blue = paper.HEAT(np.linspace(0, 1, 50))[:, :3].T
    lightness = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    assert np.all(np.diff(lightness) < 0)


def test_dollar_signs_and_long_names_of_the_user_stay_on_the_sheet(
    tmp_path: Path, figures: list[Figure]
) -> None:
    name = "$\\bad{ gear " + "of many words " * 8
    text = METRIC.replace("bull gear", f"'{name}'")
    words = words_of(read_finished(write_folder(tmp_path / "run", text)), SPEED, figures)
    assert "$\\bad{ gear" in words
    assert max(len(line) for line in words.splitlines()) < 140
