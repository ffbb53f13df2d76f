"""The drawing of the bar: opened by another reader, measured, and read."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import ezdxf
import pytest
from ezdxf import bbox
from results_folders import INCH, METRIC, write_folder

from barwright.analysis.bar_drawing import DXF, SVG, write_bar_drawing
from barwright.analysis.finished import Finished, read_finished
from barwright.analysis.sheet_blocks import Circle, Drawing, Label, Line
from barwright.analysis.svg import svg

FLATTED = METRIC.replace(
    "span: 520 mm}",
    "span: 520 mm, centre_hole_diameter: 9 mm, "
    "flats: [{start: 230 mm, end: 270 mm, depth: 2 mm, side: leading}]}",
)


def drawn(tmp_path: Path, text: str = METRIC) -> Finished:
    done = read_finished(write_folder(tmp_path / "run", text))
    write_bar_drawing(done)
    return done


def sizes(document: ezdxf.document.Drawing) -> list[str]:
    """What each dimension says, as it is lettered."""
    found = []
    for size in document.modelspace().query("DIMENSION"):
        block = document.blocks.get(size.dxf.geometry)
        found += [one.plain_text() for one in block.query("MTEXT")]
    return found


@pytest.mark.parametrize("text", [METRIC, INCH, FLATTED], ids=["metric", "inch", "flat"])
def test_the_dxf_file_is_sound(tmp_path: Path, text: str) -> None:
    done = drawn(tmp_path, text)
    checked = ezdxf.readfile(done.folder / DXF).audit()
    assert checked.errors == []
    assert checked.fixes == []


def test_dimensions_measure_the_bar_from_its_drive_end(tmp_path: Path) -> None:
    """The chuck grips the bar's first stretch: a station of the case lies so much further on."""
    done = drawn(tmp_path)
    grip = -done.case.ends[0] * 1e3
    assert grip > 0
    found = sizes(ezdxf.readfile(done.folder / DXF))
    assert found == [f"{grip + 250:.4g}", f"{grip + 520:.4g}", "5", "10"]


def test_an_inch_job_is_drawn_in_inches(tmp_path: Path) -> None:
    done = drawn(tmp_path, INCH)
    document = ezdxf.readfile(done.folder / DXF)
    assert document.header["$INSUNITS"] == 1
    assert document.header["$MEASUREMENT"] == 0
    assert sizes(document) == ["10.5", "18", "24", "0.1875", "0.375"]


def test_a_metric_job_is_drawn_in_millimetres_and_full_size(tmp_path: Path) -> None:
    done = drawn(tmp_path)
    document = ezdxf.readfile(done.folder / DXF)
    assert document.header["$INSUNITS"] == 4
    first, last = done.case.ends
    outlines = [
        bbox.extents([one]) for one in document.modelspace().query("LWPOLYLINE[layer=='OUTLINE']")
    ]
    longest = max(outlines, key=lambda box: box.size.x)
    assert longest.size.x == pytest.approx(1e3 * (last - first))
    assert longest.size.y == pytest.approx(1e3 * done.case.bar.diameter)


def test_the_hole_lies_towards_the_trailing_side_in_the_view_from_above(tmp_path: Path) -> None:
    """Seen from the bit's side with the tail on the right, the leading side is below."""
    done = drawn(tmp_path)
    space = ezdxf.readfile(done.folder / DXF).modelspace()
    lines = {round(one.dxf.insert.y, 6): one.dxf.text for one in space.query("TEXT")}
    assert any("from above, leading side below" in text for text in lines.values())
    boxes = [bbox.extents([one]) for one in space.query("LWPOLYLINE[layer=='OUTLINE']")]
    bars = sorted((box for box in boxes if box.size.x > 400), key=lambda box: box.center.y)
    hole = next(box for box in boxes if box.size.x == pytest.approx(10) == box.size.y)
    assert hole.center.y - bars[-1].center.y == pytest.approx(5.0)


def test_same_bar_same_bytes(tmp_path: Path) -> None:
    done = drawn(tmp_path)
    first = [(done.folder / name).read_bytes() for name in (DXF, SVG)]
    write_bar_drawing(done)
    assert [(done.folder / name).read_bytes() for name in (DXF, SVG)] == first
    assert not ezdxf.options.write_fixed_meta_data_for_testing


def words(path: Path) -> str:
    return " ".join(text for one in ET.parse(path).iter() for text in one.itertext())


def test_the_svg_file_says_what_to_make(tmp_path: Path) -> None:
    text = words(drawn(tmp_path, FLATTED).folder / SVG)
    for said in (
        "4140 prehard",
        "5 mm (0.197 in) to the trailing side",
        "flat 2 mm deep, leading side",
        "6 mm from the leading side",
        "mouth 9 mm",
        "60 deg",
        "dia 32 mm",
        "Break sharp edges",
    ):
        assert said in text
    assert "a guess" not in text


def test_words_and_dimensions_measure_from_the_same_end(tmp_path: Path) -> None:
    """The case counts from the jaw face; every length on paper counts from the bar's end."""
    stepped = METRIC.replace(
        "span: 520 mm}",
        "span: 520 mm, steps: [{start: 300 mm, end: 520 mm, diameter: 25 mm}]}",
    )
    done = drawn(tmp_path, stepped)
    grip = -done.case.ends[0] * 1e3
    turned = f"{grip + 300:.4g} mm to {grip + 520:.4g} mm from the drive end"
    assert turned in words(done.folder / SVG)
    assert f"{grip + 300:.4g}" in sizes(ezdxf.readfile(done.folder / DXF))


def test_a_guessed_centre_hole_is_called_a_guess(tmp_path: Path) -> None:
    assert "mouth 8 mm (0.315 in) (a quarter of the end: a guess)" in words(
        drawn(tmp_path).folder / SVG
    )


def test_words_of_the_user_stay_words(tmp_path: Path) -> None:
    title = "'</svg><script>x</script> & \"q\"'"
    text = METRIC.replace("title: 32 mm bar, chuck and live centre", f"title: {title}")
    assert title in text
    done = drawn(tmp_path, text)
    tree = ET.parse(done.folder / SVG)
    assert not [one for one in tree.iter() if "script" in one.tag]
    assert "<script>x</script>" in words(done.folder / SVG)
    assert ezdxf.readfile(done.folder / DXF).audit().errors == []


def test_strokes_come_out_as_they_are() -> None:
    strokes = (
        Line(points=((0.0, 1.0), (2.0, 3.0)), dash=(1.0, 0.5)),
        Circle(centre=(4.0, 5.0), radius=6.0, fill=0.5),
        Label(at=(7.0, 8.0), text="a<b", angle=90.0, bold=True),
    )
    root = ET.fromstring(
        svg(Drawing(width=10.0, height=20.0, strokes=strokes, words="w"), alone=True)
    )
    names = {one.tag.rpartition("}")[2]: one.attrib for one in root.iter()}
    assert root.attrib["viewBox"] == "0 0 10 20"
    assert names["polyline"]["stroke-dasharray"] == "1 0.5"
    assert names["circle"]["fill"] == "#808080"
    assert names["text"]["transform"] == "rotate(-90 7 8)"
