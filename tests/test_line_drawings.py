"""Drawings in line: no text leaves its drawing or meets another, in letters of any face."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from typing import Any

import chromium
import pytest
from inked import POINT, Box, ink
from results_folders import INCH, METRIC, write_folder

from barwright.analysis.bar_drawing import bar_drawing, on_paper
from barwright.analysis.finished import Finished, read_finished
from barwright.analysis.sheet_blocks import SMALL, Drawing, Label
from barwright.analysis.sheet_drawing import end_view, side_view
from barwright.analysis.svg import svg

CASES = Path(__file__).parents[1] / "cases"
FLATTED = METRIC.replace(
    "span: 520 mm}",
    "span: 520 mm, flats: [{start: 230 mm, end: 270 mm, depth: 2 mm, side: leading}]}",
)
PLANNED = """
title: Piston pump barrel, 3.000 in
bar: {material: 4140 prehard, diameter: 2 in, span: 15-5/8 in}
cross_hole:
  {size: 1/2 in, position: 8-1/8 in, offset: 1/4 in, set_screws: [{diameter: 3/8 in}]}
bit: {size: 1/2 in, length: 2-7/32 in}
supports: {drive: {kind: dead centre with dog}, tail: {kind: dead centre}}
work: {material: grey iron, bore: 3.000 +.002 -0 in, start_bore: 2-3/4 in, length: 5-1/2 in}
cut: {depth: 8 thou, feed: .006 ipr, speed: 70 rpm}
"""
"""The set-up that the guide of README comes to."""
JOBS = {
    "planned": PLANNED,
    "metric": METRIC,
    "inch": INCH,
    "flatted": FLATTED,
    **{
        name: (CASES / f"{name}.yaml").read_text(encoding="utf-8")
        for name in ("pump_bracket", "sluice_gate_pivot", "mill_gearcase", "press_frame")
    },
}
TEXTS = """[...document.querySelectorAll('svg')].map(svg => {
    const frame = svg.getBoundingClientRect(), scale = svg.viewBox.baseVal.width / frame.width;
    return [...svg.querySelectorAll('text')].map(text => {
        const box = text.getBoundingClientRect();
        const em = parseFloat(text.getAttribute('font-size'));
        return [
            text.textContent, (box.left - frame.left) * scale, (box.top - frame.top) * scale,
            (box.right - frame.left) * scale, (box.bottom - frame.top) * scale,
            em, text.hasAttribute('transform'),
        ];
    });
})"""


def ink_in_browser(told: list[Any]) -> Box:
    """The same as a browser drew it: a line is higher than its letters by a fifth of an em."""
    text, left, top, right, bottom, em, turned = told
    spare = 0.22 * em
    if turned:
        return Box(left + spare, top, right - spare, bottom, text)
    return Box(left, top + spare, right, bottom - spare, text)


def drawings(folder: Path, text: str) -> tuple[Drawing, ...]:
    """What is drawn in line of a run: the bar, and the set-up and its end as a report has them."""
    done: Finished = read_finished(write_folder(folder, text))
    return (
        on_paper(bar_drawing(done)),
        side_view(done, 190.0, 70.0),
        end_view(done, 110.0, 62.0),
    )


def wrong(drawing: Drawing, boxes: list[Box]) -> list[tuple[str, ...]]:
    """Texts that leave the drawing, and pairs of them that meet."""
    left = [
        (one.text,)
        for one in boxes
        if min(one.left, one.top) < -0.1
        or one.right > drawing.width + 0.1
        or one.bottom > drawing.height + 0.1
    ]
    return left + [(a.text, b.text) for a, b in combinations(boxes, 2) if a.meets(b, 0.15)]


@pytest.mark.parametrize("job", JOBS)
def test_no_text_leaves_its_drawing_or_meets_another(tmp_path: Path, job: str) -> None:
    found = {}
    for drawing in drawings(tmp_path / "run", JOBS[job]):
        labels = [ink(one) for one in drawing.strokes if isinstance(one, Label)]
        assert labels
        found[drawing.words] = wrong(drawing, labels)
    assert [one for one in found.items() if one[1]] == []


@pytest.mark.parametrize("job", JOBS)
def test_the_bar_to_be_made_has_room_for_wide_letters_that_are_let_run(
    tmp_path: Path, job: str
) -> None:
    """Not every program that shows `bar.svg` minds how wide a text is to be."""
    drawing = drawings(tmp_path / "run", JOBS[job])[0]
    boxes = [ink(one) for one in drawing.strokes if isinstance(one, Label) and not one.bold]
    wide = [one._replace(right=one.left + 1.18 * (one.right - one.left)) for one in boxes]
    assert wrong(drawing, wide) == []


@pytest.fixture(scope="module")
def browser() -> Iterator[chromium.Page]:
    with chromium.page(chromium.NO_3D) as page:
        yield page


@pytest.mark.skipif(chromium.PROGRAM is None, reason="no Chromium: apt-get install chromium")
@pytest.mark.parametrize("family", ["DejaVu Sans", "DejaVu Sans Mono", None])
def test_letters_of_another_face_take_no_more_room(
    tmp_path: Path, browser: chromium.Page, family: str | None
) -> None:
    """A machine without the face that the drawing was measured in draws in a wider one."""
    drawn = [one for job, text in JOBS.items() for one in drawings(tmp_path / job, text)]
    page = "".join(svg(one, sized=True) for one in drawn)
    if family is not None:
        page = f"<style>text {{ font-family: '{family}'; }}</style>{page}"
    (tmp_path / "page.html").write_text(f"<!doctype html><meta charset=utf-8>{page}")
    browser.open(tmp_path / "page.html")
    told = browser.run(TEXTS)
    assert [len(one) for one in told] == [
        sum(isinstance(stroke, Label) for stroke in one.strokes) for one in drawn
    ]
    found = [
        (drawing.words, wrong(drawing, [ink_in_browser(one) for one in texts]))
        for drawing, texts in zip(drawn, told, strict=True)
    ]
    assert [one for one in found if one[1]] == []


def test_a_letter_that_the_paper_lacks_is_not_squeezed_into_the_room_of_another() -> None:
    """The width is known of letters that the paper has; of others only that of their stand-in."""
    drawing = Drawing(
        width=50.0,
        height=9.0,
        strokes=(Label(at=(1.0, 5.0), text="bore"), Label(at=(1.0, 8.0), text="軸受台")),
        words="w",
    )
    first, second = [line for line in svg(drawing).splitlines() if "<text" in line]
    # Adobe's widths of Helvetica, thousandths of an em: b 556, o 556, r 333, e 556.
    wide = 2.001 * SMALL * POINT
    assert f'textLength="{wide:.2f}"' in first
    assert "textLength" not in second
