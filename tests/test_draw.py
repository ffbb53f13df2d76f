"""Scenes: to scale, the right way up, and in a child process, since drawing may end it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from results_folders import INCH, METRIC, PLANES, write_folder
from seen_figures import texts_stand_clear, watched

from barwright.analysis import draw, parts, pictures
from barwright.analysis.casefile import read_case
from barwright.analysis.finished import read_finished
from barwright.analysis.parts import Block, Turned


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with every scene drawn, or a skip where this machine cannot draw."""
    folder = write_folder(tmp_path_factory.mktemp("draw") / "run", planes=PLANES)
    outcome = pictures.draw_in_child(folder)
    if outcome.note:
        pytest.skip(outcome.note)
    return folder


def dots(path: Path) -> NDArray[np.int64]:
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"), dtype=np.int64)


@pytest.mark.picture
def test_every_mode_has_its_picture(drawn: Path) -> None:
    names = sorted(path.name for path in drawn.glob("mode_*.png"))
    assert names == ["mode_1.png", "mode_2.png", "mode_3.png", "mode_4.png"]


def bent_rows(path: Path, top: int, bottom: int) -> NDArray[np.intp]:
    """Rows of the darkest shade in the middle column of a stretch of the picture."""
    stretch = dots(path)[top:bottom]
    return np.flatnonzero(np.abs(stretch[:, 860] - [0x1D, 0x21, 0x40]).sum(axis=1) < 24.0)


@pytest.mark.picture
def test_bar_bends_away_from_the_bit_seen_from_the_side_and_back_seen_from_above(
    drawn: Path,
) -> None:
    height = dots(drawn / "deflected.png").shape[0]
    band = (height - 260) // 2
    middle = band / 2
    side = bent_rows(drawn / "deflected.png", 130, 130 + band)
    above = bent_rows(drawn / "deflected.png", 130 + band, 130 + 2 * band)
    # Down the picture is away from the bit; up the picture, from above, is the trailing side.
    assert side.mean() > middle + 10
    assert above.mean() < middle - 10
    # Twice as far across as along the bit.
    assert (middle - above.mean()) / (side.mean() - middle) == pytest.approx(2.0, abs=0.35)


@pytest.mark.picture
def test_set_up_is_to_scale(drawn: Path) -> None:
    case = read_case(drawn / "case.yaml")
    first, last, _ = parts.reach(parts.parts_of(case))
    per_metre = (1600 - 120) / (last - first)
    image = dots(drawn / "setup.png")
    # A column of the bar, clear of work and supports, at 400 mm from the jaws.
    column = image[:, 60 + int((0.40 - first) * per_metre)]
    start = 156
    dark = [row for row in range(start, start + 250) if column[row].max() < 150]
    assert max(dark) - min(dark) == pytest.approx(0.032 * per_metre, abs=4)


class BlankStage:
    """A stage that draws nothing: what is laid over its picture is there all the same."""

    def cleared(self) -> BlankStage:
        return self

    def add_mesh(self, *_: object, **__: object) -> None:
        """Leave the sheet white."""

    def shoot(self, frame: draw.Frame, view: draw.View) -> NDArray[np.uint8]:
        assert view in ("side", "above")
        return np.full((frame.height, draw.WIDTH, 3), 255, dtype=np.uint8)


def test_marks_of_a_mode_stand_where_they_belong(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bit rides on the bent bar; each support's name is close under its mark."""
    figures = watched(monkeypatch, draw)
    finished = read_finished(write_folder(tmp_path / "run"))
    surface = draw.body_surface(finished.folder / "fields.vtu")
    stage: Any = BlankStage()
    draw.draw_mode(stage, finished, surface, finished.modes[0], tmp_path / "mode.png")
    texts_stand_clear(figures[0])
    axes = figures[0].axes[0]
    marks = {str(line.get_marker()): line for line in axes.lines}
    first, last = finished.case.ends
    metre = (axes.get_xlim()[1] - axes.get_xlim()[0]) / draw.WIDTH
    # A half sine of the bar's length, drawn SWING dots high, the bit a little off its middle.
    swing = draw.SWING * np.sin(np.pi * (0.250 - first) / (last - first))
    height = float(np.asarray(marks["v"].get_ydata())[0]) / metre
    assert height == pytest.approx(0.016 / metre + swing + 10, abs=2)
    below = float(np.asarray(marks["^"].get_ydata())[0])
    for name in ("drive: chuck", "tail: live centre"):
        text = next(text for text in axes.texts if text.get_text() == name)
        assert (below - text.get_position()[1]) / metre == pytest.approx(26, abs=1)


def test_parts_put_the_bit_and_the_bore_where_the_case_says(tmp_path: Path) -> None:
    case = read_finished(write_folder(tmp_path / "run")).case
    found = parts.parts_of(case)
    bit = next(part for part in found if isinstance(part, Block) and part.colour == parts.BIT)
    assert bit.x == pytest.approx((0.245, 0.255))
    assert bit.r == pytest.approx((-0.015, 0.025))
    assert bit.t == pytest.approx((-0.010, 0.0), abs=1e-12)
    work = next(part for part in found if isinstance(part, Turned) and part.half)
    stations, radii = np.array(work.profile).T
    # Bored on the side that has passed the bit: the headstock's, as it is fed that way.
    assert radii[stations < 0.2].min() == pytest.approx(0.025)
    assert radii[stations > 0.3].min() == pytest.approx(0.0245)


@pytest.mark.parametrize(
    "supports",
    [
        "{drive: {kind: collet}, tail: {kind: bushing}, others: [{kind: steady, position: 9 in}]}",
        "{drive: {kind: chuck}}",
        "{drive: {kind: dead centre with dog}, tail: {kind: live centre}}",
    ],
)
def test_every_support_meets_the_bar(tmp_path: Path, supports: str) -> None:
    old = "{drive: {kind: dead centre with dog}, tail: {kind: dead centre}}"
    path = tmp_path / "case.yaml"
    path.write_text(INCH.replace(old, supports), encoding="utf-8")
    case = read_case(path)
    first, last, radius = parts.reach(parts.parts_of(case))
    assert first < case.ends[0]
    assert last >= case.ends[1]
    assert radius < 6 * case.bar.diameter


def test_metric_case_is_metric(tmp_path: Path) -> None:
    assert read_finished(write_folder(tmp_path / "run", METRIC)).system == "mm"
