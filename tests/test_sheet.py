"""The shop sheet: one page, nothing off it or on top of anything, and the numbers of the run."""

from __future__ import annotations

import hashlib
import json
import math
import os
import random
import re
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from inked import POINT, Box, ink
from late_runs import late_run
from pypdf import PdfReader
from remembered import late, remember, solved

from barwright.analysis import record, sheet, sheet_content, sheet_drawing, typesetting
from barwright.analysis.casefile import CaseFile, read_case, read_case_file
from barwright.analysis.finished import Finished, read_finished
from barwright.analysis.lettering import clean, printable
from barwright.analysis.run import Outcome
from barwright.analysis.sheet_blocks import A4, LETTER, PAPERS, Circle, Items, Label, Line, Table
from barwright.analysis.typesetting import Page
from barwright.cli import printing, run_lines
from barwright.cli.app import status

CASES = sorted((Path(__file__).parents[1] / "cases").glob("*.yaml"))
METRIC, INCH, FULL = "pump_bracket", "sluice_gate_pivot", "mill_gearcase"
SHOWN = (METRIC, INCH, FULL)
Capture = pytest.CaptureFixture[str]


class Runs(dict[str, Path]):
    """Shipped cases run on the beam as they are asked for, each with its verdict of the screen."""

    def __init__(self, base: Path) -> None:
        self.base = base

    def __missing__(self, name: str) -> Path:
        folder = self.base / name
        folder.mkdir()
        case_file = read_case_file(CASES[0].with_name(f"{name}.yaml"))
        outcome = solved(name)[1] if name == METRIC else late(name)  # which is run whole below
        keep_record(folder, case_file, outcome)
        (folder / "verdict.txt").write_text(run_lines.verdict(outcome))
        self[name] = folder
        return folder


def keep_record(folder: Path, case_file: CaseFile, outcome: Outcome) -> None:
    """What a run leaves, but for its curves: none is on a sheet."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(record, "curve_tables", lambda _: {})
        record.write_record(folder, case_file, outcome)


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Runs:
    return Runs(tmp_path_factory.mktemp("results"))


@pytest.fixture
def metric(runs: Runs, tmp_path: Path) -> Path:
    """Results of the metric case, to be spoilt."""
    return Path(shutil.copytree(runs[METRIC], tmp_path / "spoilt"))


SLOW = [
    pytest.param("stern_tube", "letter", marks=pytest.mark.slow),
]
EVERY = [*((case, paper) for case in SHOWN for paper in PAPERS), *SLOW]
OWN = [(METRIC, "a4"), (INCH, "letter"), (FULL, "letter"), *SLOW]


def page_of(folder: Path, paper: str = "a4") -> Page:
    return sheet.page_of(read_finished(folder), PAPERS[paper])


@cache
def page_as_shipped(folder: Path, paper: str = "a4") -> Page:
    """The page of results that no test spoils, set once."""
    return page_of(folder, paper)


def change(folder: Path, **changes: Any) -> None:
    """Replace, or with None remove, parts of a summary."""
    path = folder / "summary.json"
    found = json.loads(path.read_text()) | changes
    kept = {name: value for name, value in found.items() if value is not None}
    path.write_text(json.dumps(kept))


def summary(folder: Path) -> Any:
    return json.loads((folder / "summary.json").read_text())


def labels(page: Page) -> list[Label]:
    return [one for one in page.strokes if isinstance(one, Label)]


def spread_of(page: Page) -> Iterator[Box]:
    for one in page.strokes:
        if isinstance(one, Label):
            yield ink(one)
        elif isinstance(one, Line):
            xs, ys = zip(*one.points, strict=True)
            yield Box(min(xs), min(ys), max(xs), max(ys), "line")
        else:
            (x, y), r = one.centre, one.radius
            yield Box(x - r, y - r, x + r, y + r, "circle")


# --- the page --------------------------------------------------------------------------------


@pytest.mark.parametrize(("case", "paper"), EVERY)
def test_every_case_takes_one_page_of_its_paper(
    runs: Runs, tmp_path: Path, case: str, paper: str
) -> None:
    folder = Path(shutil.copytree(runs[case], tmp_path / case))
    sheet.write_sheet(folder, "a4" if paper == "a4" else "letter")
    (page,) = PdfReader(folder / "sheet.pdf").pages
    # ISO 216: 210 by 297 mm; ANSI/ASME Y14.1 size A: 8-1/2 by 11 in.
    wanted = (210 / POINT, 297 / POINT) if paper == "a4" else (8.5 * 72, 11 * 72)
    assert (page.mediabox.width, page.mediabox.height) == pytest.approx(wanted, abs=0.1)
    size = "A4" if paper == "a4" else "letter"
    assert f"@page {{ size: {size} portrait;" in (folder / "sheet.html").read_text()


@pytest.mark.parametrize(("case", "paper"), EVERY)
def test_nothing_is_drawn_outside_the_margins(runs: Runs, case: str, paper: str) -> None:
    page = page_as_shipped(runs[case], paper)
    edge = PAPERS[paper]
    inside = Box(edge.margin, edge.margin, edge.width - edge.margin, edge.height - edge.margin)
    assert [box for box in spread_of(page) if not box.within(inside, 0.4)] == []


@pytest.mark.parametrize(("case", "paper"), EVERY)
def test_no_block_lies_on_another_and_no_word_on_a_word(runs: Runs, case: str, paper: str) -> None:
    page = page_as_shipped(runs[case], paper)
    boxes = [
        Box(one.at[0], one.at[1], one.at[0] + one.drawing.width, one.at[1] + one.drawing.height)
        for one in page.placed
    ]
    assert [pair for pair in combinations(boxes, 2) if pair[0].meets(pair[1])] == []
    inked = [ink(label) for label in labels(page)]
    assert [(a.text, b.text) for a, b in combinations(inked, 2) if a.meets(b, 0.15)] == []


@pytest.mark.parametrize(("case", "paper"), EVERY)
def test_letters_can_be_read_at_arms_length(runs: Runs, case: str, paper: str) -> None:
    page = page_as_shipped(runs[case], paper)
    assert min(label.points for label in labels(page)) >= 7.5
    first = summary(runs[case])["passes"]["passes"][0]
    reading = shown_size(first["micrometer_reading_m"], inch=is_inch(runs[case]))
    assert max(label.points for label in labels(page) if label.text == reading) >= 9.0


# --- what it says ----------------------------------------------------------------------------


def is_inch(folder: Path) -> bool:
    return read_finished(folder).system == "inch"


def shown_size(value: float, *, inch: bool) -> str:
    return f"{value / 0.0254:.4f}" if inch else f"{1e3 * value:.3f}"


@pytest.mark.parametrize("case", SHOWN)
def test_its_numbers_are_those_of_the_summary(runs: Runs, case: str) -> None:
    folder = runs[case]
    found, inch = summary(folder), is_inch(folder)
    said = [label.text for label in labels(page_as_shipped(folder))]
    assert (folder / "verdict.txt").read_text() in said
    for one in found["passes"]["passes"]:
        assert shown_size(one["micrometer_reading_m"], inch=inch) in said
        low, high = (shown_size(one["bore_m"][end], inch=inch) for end in ("low", "high"))
        assert (low if low == high else f"{low} to {high}") in said
    turns = [one["spindle_rpm"] for one in found["speeds"]["speeds"]]
    shown = [text for text in said if re.fullmatch(r"\d+ rpm", text)]
    assert set(shown) <= {f"{one:.0f} rpm" for one in turns}
    assert f"{found['speeds']['asked']['spindle_rpm']:.0f} rpm" in shown
    cut = len(turns) - len(shown)
    assert not cut or f"and {cut} more" in said
    assert any(found["case"]["sha256"][:16] in text for text in said)
    whole = " ".join(said)
    for check in found["setup_checks"]:
        assert check["what"][1:] in whole
    margins = found["chatter"]["gain_margin"]
    low = f"{margins['low']:.2g}"
    assert f"margin {low} to" in whole


@pytest.mark.parametrize(("case", "paper"), OWN)
def test_page_and_browser_say_the_same_words(
    runs: Runs, tmp_path: Path, case: str, paper: str
) -> None:
    folder = Path(shutil.copytree(runs[case], tmp_path / case))
    sheet.write_sheet(folder, "a4" if paper == "a4" else "letter")
    printed = PdfReader(folder / "sheet.pdf").pages[0].extract_text()
    shown = Words()
    shown.feed((folder / "sheet.html").read_text(encoding="utf-8"))
    # Numbers of lists and the boxes to tick are the browser's own.
    numbered = re.compile(r"^\d\.$", re.MULTILINE)
    left = Counter(letters(numbered.sub("", printed)))
    assert left == Counter(letters(" ".join(shown.text)))


def letters(text: str) -> str:
    """The letters alone: where lines break is the business of each."""
    return "".join(printable(text).split())


class Words(HTMLParser):
    """Text of a page that a reader sees, and everything that a tag refers to."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self.tags: list[str] = []
        self.references: list[str] = []
        self._hidden = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self._hidden = tag in ("style", "title", "script")
        refers = ("src", "href", "srcset", "action", "data", "poster", "xlink:href")
        self.references += [value or "" for name, value in attrs if name in refers]

    def handle_endtag(self, tag: str) -> None:
        self._hidden = False

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.text.append(data)


def test_the_page_for_a_browser_asks_for_nothing(metric: Path) -> None:
    sheet.write_sheet(metric)
    text = (metric / "sheet.html").read_text(encoding="utf-8")
    page = Words()
    page.feed(text)
    assert page.references == []
    assert not {"script", "link", "img", "iframe", "object", "base"} & set(page.tags)
    assert "url(" not in text
    assert "@import" not in text
    assert "content=\"default-src 'none'; style-src 'unsafe-inline'\"" in text


def test_same_run_gives_the_same_bytes_wherever_it_lies(runs: Runs, tmp_path: Path) -> None:
    folders = [
        Path(shutil.copytree(runs[METRIC], tmp_path / place))
        for place in ("here", "some where else")
    ]
    sheet.write_sheet(folders[0])
    code = "import sys; from pathlib import Path; from barwright.analysis.sheet import "
    code += "write_sheet; write_sheet(Path(sys.argv[1]))"
    other = "2" if os.environ.get("PYTHONHASHSEED") == "1" else "1"
    environment = os.environ | {"PYTHONHASHSEED": other}
    subprocess.run([sys.executable, "-c", code, str(folders[1])], check=True, env=environment)
    made = []
    for folder in folders:
        made.append([(folder / name).read_bytes() for name in ("sheet.html", "sheet.pdf")])
        said = PdfReader(folder / "sheet.pdf").pages[0].extract_text()
        assert str(tmp_path) not in said + (folder / "sheet.html").read_text()
    assert made[0] == made[1]


@pytest.mark.parametrize(
    "title",
    [
        "<script>alert(1)</script></title></svg>\" onload='x' & {{ 7*7 }} {% raw %}",
        "one long title " * 30,
        "W" * 400,
        "Wäsche, Ø 44, ±5 µm, Łódź, Кронштейн 軸受台 🛠, right \u202eto left\u202c \u200bnothing",
    ],
)
def test_any_title_can_be_printed(metric: Path, title: str) -> None:
    text = (metric / "case.yaml").read_text(encoding="utf-8")
    quoted = json.dumps(title, ensure_ascii=False)
    text = re.sub(r"^title: .*$", lambda _: f"title: {quoted}", text, flags=re.MULTILINE)
    (metric / "case.yaml").write_text(text, encoding="utf-8")
    page = sheet.write_sheet(metric)
    assert len(PdfReader(metric / "sheet.pdf").pages) == 1
    assert all(box.right <= A4.width - A4.margin + 0.4 for box in spread_of(page))
    browser = Words()
    browser.feed((metric / "sheet.html").read_text(encoding="utf-8"))
    assert "script" not in browser.tags
    assert not any("onload" in tag for tag in browser.tags)
    assert clean(title, 120) in browser.text


def test_missing_letters_are_written_with_the_nearest() -> None:
    assert printable("Ţepuşă") == "Tepusa"
    assert printable("café ± µ") == "café ± µ"
    assert printable("軸") == "?"
    assert printable("Кронштейн, объём") == "Kronshtein, obem"
    assert clean("a\x00b\x1b[31mc") == "ab[31mc"


@pytest.mark.parametrize("part", ["setup_checks", "trouble", "speeds", "holding"])
def test_what_a_run_does_not_say_is_not_on_the_sheet(runs: Runs, metric: Path, part: str) -> None:
    heads = {
        "setup_checks": "Check before cutting",
        "trouble": "If it chatters",
        "speeds": "Speeds: ",
        "holding": "proud",
    }
    whole = " ".join(label.text for label in labels(page_as_shipped(runs[METRIC])))
    assert heads[part] in whole
    change(metric, **{part: None})
    less = " ".join(label.text for label in labels(page_of(metric)))
    assert heads[part] not in less


@pytest.mark.parametrize("paper", PAPERS)
def test_a_few_passes_are_never_cut(metric: Path, paper: str) -> None:
    found, count = summary(metric), 6
    one = found["passes"]["passes"][0]
    planned = found["passes"] | {"passes": [one | {"number": k + 1} for k in range(count)]}
    change(metric, passes=planned, setup_checks=2 * found["setup_checks"])
    (page,) = sheet.pages_of(read_finished(metric), PAPERS[paper])
    assert typesetting.fits(page.sheet)
    blocks = [block for row in page.sheet.rows for column in row.columns for block in column]
    passes = next(one for one in blocks if isinstance(one, Table) and one.title == "Passes")
    assert [row[0].text for row in passes.rows] == [str(k + 1) for k in range(count)]


@pytest.mark.parametrize("paper", PAPERS)
def test_too_much_is_cut_and_says_how_much(metric: Path, paper: str) -> None:
    found = summary(metric)
    one = found["passes"]["passes"][0]
    planned = found["passes"] | {"passes": [one | {"number": k} for k in range(1, 31)]}
    checks = 5 * found["setup_checks"]
    asked = found["speeds"]["speeds"]
    other = [asked[0] | {"spindle_rpm": 10.0 + k, "this_cut": False} for k in range(30)]
    speeds = found["speeds"] | {"speeds": [*other, *asked]}
    change(metric, passes=planned, setup_checks=checks, speeds=speeds)
    page, second = sheet.pages_of(read_finished(metric), PAPERS[paper])
    assert typesetting.fits(page.sheet)
    blocks = [block for row in page.sheet.rows for column in row.columns for block in column]
    boxes = next(one for one in blocks if isinstance(one, Items) and one.mark == "box")
    assert boxes.left_out + len(boxes.items) == len(checks)
    passes = next(one for one in blocks if isinstance(one, Table) and one.title == "Passes")
    assert passes.left_out + len(passes.rows) == 30
    assert typesetting.fits(second.sheet)
    whole = next(one for one in second.sheet.rows[1].columns[0] if isinstance(one, Table))
    assert [row[0].text for row in whole.rows] == [str(k) for k in range(1, 31)]
    said = [label.text for label in labels(page)]
    assert any(f"and {boxes.left_out} more" in text for text in said)
    assert any(text == "90 rpm" for text in said), "the cut's own speed is gone"


@pytest.mark.parametrize("seed", range(3))
def test_no_text_in_the_results_breaks_the_page(metric: Path, seed: int) -> None:
    chance = random.Random(seed)
    bits = ["<", "&", '"', "{{", "%}", "\u202e", "\x00", "Ж", "軸", "\n", " ", "\\"]
    bits += ["-" * 30, "a" * 70]

    def text() -> str:
        return "".join(chance.choice(bits) for _ in range(chance.randint(0, 120)))

    found = summary(metric)
    for check in found["setup_checks"]:
        check |= {"what": text(), "limit_text": text()}
    for trouble in found["trouble"]:
        for one in trouble["tries"]:
            one["do"] = text()
    for speed in found["speeds"]["speeds"]:
        for reason in speed["reasons"]:
            reason["short"] = text()
    found["chatter"]["reason"] = text()
    change(metric, **found)
    page = sheet.write_sheet(metric, "a4" if seed % 2 else "letter")
    assert typesetting.fits(page.sheet)
    assert len(PdfReader(metric / "sheet.pdf").pages) == 1
    browser = Words()
    browser.feed((metric / "sheet.html").read_text(encoding="utf-8"))
    assert browser.references == []


def test_a_case_that_says_little_has_its_sheet_too(tmp_path: Path) -> None:
    text = """
title: Overhung bar
bar: {material: mild steel cold drawn, diameter: 30 mm, span: 150 mm}
cross_hole: {size: 8 mm, position: 135 mm}
bit: {size: 8 mm}
supports: {drive: {kind: chuck}}
work: {material: grey iron, bore: 50 mm}
cut: {depth: 0.2 mm, feed: 0.1 mm/rev, speed: 120 rpm}
"""
    (tmp_path / "case.yaml").write_text(text)
    case_file = read_case_file(tmp_path / "case.yaml")
    keep_record(tmp_path, case_file, late_run(case_file.case))
    said = " ".join(label.text for label in labels(page_of(tmp_path)))
    for words in ("not given", "travel is not known", "tail free", "no limits given"):
        assert words in said, words


def test_paper_follows_the_units_of_the_case(runs: Runs) -> None:
    papers = {name: sheet.paper_of(read_finished(runs[name])) for name in (METRIC, INCH)}
    assert papers == {METRIC: A4, INCH: LETTER}
    assert sheet.paper_of(read_finished(runs[INCH]), "a4") is A4


def test_a_planned_job_shows_its_own_passes_and_budget(metric: Path) -> None:
    last = summary(metric)["passes"]["passes"]
    rough = last[0] | {"micrometer_reading_m": 0.035123, "spindle_rpm": 60.0}
    plan = {
        "job": {"start_bore_m": 0.0421},
        "passes": [rough, *last],
        "budget": [{"part": "clear of the jaws", "length_m": 0.0127}],
    }
    (metric / "plan.json").write_text(json.dumps(plan))
    said = " ".join(label.text for label in labels(page_of(metric)))
    for words in ("35.123", "bore now 42.1 mm", "clear of the jaws 12.7 mm"):
        assert words in said, words


def test_a_depth_has_the_digits_that_a_micrometer_shows(runs: Runs, tmp_path: Path) -> None:
    """79.9975 um are 3.1495 thou, of which a micrometer shows 3.1."""
    folder = Path(shutil.copytree(runs[INCH], tmp_path / INCH))
    passes = summary(folder)["passes"]
    passes["passes"][-1] |= {"advance_m": 79.9975e-6}
    passes["passes"][-1]["depth_m"]["likely"] = 79.9781e-6
    change(folder, passes=passes)
    page = page_of(folder, "letter")
    said = [label.text for label in labels(page)]
    assert "3.1 thou" in said
    assert "(about 3.1 thou (80 um))" in " ".join(said)
    assert not [text for text in said if "3.15" in text]


# --- drawings --------------------------------------------------------------------------------


@pytest.mark.parametrize("case", [path.stem for path in CASES])
def test_views_are_to_the_scale_they_name(runs: Runs, case: str) -> None:
    finished = replace(read_finished(runs[METRIC]), **of_case(case))
    side = sheet_drawing.side_view(finished, 190.0, 50.0)
    end = sheet_drawing.end_view(finished, 92.0, 45.0)
    assert side.height <= 50.0
    bar = max(
        (one for one in side.strokes if isinstance(one, Line) and one.weight == 0.45),
        key=lambda one: len(one.points),
    )
    length = max(x for x, _ in bar.points) - min(x for x, _ in bar.points)
    thick = max(y for _, y in bar.points) - min(y for _, y in bar.points)
    first, last = finished.case.ends
    widest = max(d for d in (finished.case.bar.diameter, *(s.diameter for s in stepped(finished))))
    assert length / thick == pytest.approx((last - first) / widest, rel=1e-6)
    assert length == pytest.approx(1e3 * (last - first) * named_scale(side), rel=2e-3)
    rings = sorted(one.radius for one in end.strokes if isinstance(one, Circle))
    assert rings[-1] == pytest.approx(
        500 * finished.case.work.bore.nominal * named_scale(end), rel=2e-3
    )


def of_case(name: str) -> dict[str, Any]:
    """What the drawings know of a shipped case."""
    case = read_case(CASES[0].with_name(f"{name}.yaml"))
    return {"case": case, "system": case.own}


def stepped(finished: Finished) -> Any:
    return finished.case.bar.steps


def named_scale(view: Any) -> float:
    """Scale as the caption has it."""
    caption = next(s.text for s in view.strokes if isinstance(s, Label) and "drawn" in s.text)
    found = re.search(r"drawn ([\d.]+) : ([\d.]+)", caption.rstrip("."))
    assert found
    return float(found[1]) / float(found[2].rstrip("."))


def test_travel_takes_the_work_past_the_bit(runs: Runs) -> None:
    case = read_finished(runs[METRIC]).case
    travel = sheet_drawing.travel_of(case)
    # 90 mm of bore past an 8 mm bit at 185 mm of 380 mm.
    assert travel.length == pytest.approx(0.098)
    assert travel.room == pytest.approx((0.185 - 0.004 - 0.090, 0.380 - 0.189 - 0.090))
    assert travel.start[0] == pytest.approx(0.189)
    assert travel.end[1] == pytest.approx(0.181)


def test_short_travel_is_named_on_its_own_line(runs: Runs) -> None:
    side = sheet_drawing.side_view(read_finished(runs["sluice_gate_pivot"]), 190.0, 40.0)
    # 2-1/2 in of bore past a 5/16 in bit.
    assert "2.8125 in" in {one.text for one in side.strokes if isinstance(one, Label)}


def test_work_that_meets_the_jaws_is_said_so(metric: Path) -> None:
    text = (metric / "case.yaml").read_text()
    changed = text.replace("position: 185 mm", "position: 92 mm")
    (metric / "case.yaml").write_text(changed)
    said = [label.text for label in labels(page_of(metric))]
    assert any(text.startswith("MEETS by 2 mm") for text in said)


@pytest.mark.parametrize("case", [path.stem for path in CASES])
def test_least_relief_just_clears_the_heel(case: str) -> None:
    found = read_case(CASES[0].with_name(f"{case}.yaml"))
    radius, size = found.edge_radius, found.bit.size
    square = found.cross_hole.shape == "square"
    face = -found.cross_hole.middle - (size / 2 if square else 0.0)
    deep = size if square else size / 2
    edge = math.sqrt(radius**2 - face**2)

    def farthest(relief: float) -> float:
        slope = math.tan(math.radians(relief))
        points = ((face + deep * k / 500, edge - slope * deep * k / 500) for k in range(501))
        return max(math.hypot(x, y) for x, y in points)

    least = sheet_content.least_relief(found)
    assert farthest(least) == pytest.approx(radius, rel=1e-9)
    assert farthest(least - 0.5) > radius * (1 + 1e-5)


# --- the command -----------------------------------------------------------------------------


PLAINLY = ("-q", "--no-pictures", "--hole", "table")


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A results folder that the command line left for the metric case."""
    out = tmp_path_factory.mktemp("out")
    case = Path(shutil.copy(CASES[0].with_name(f"{METRIC}.yaml"), out / "bracket.yaml"))
    with pytest.MonkeyPatch.context() as patch:
        remember(patch)
        assert status(["run", str(case), *PLAINLY, "--out", str(out)]) == 0
    return out


def test_run_leaves_a_sheet(ran: Path) -> None:
    assert len(PdfReader(ran / "bracket" / "sheet.pdf").pages) == 1
    assert (ran / "bracket" / "sheet.html").read_text().startswith("<!doctype html>")


@pytest.mark.parametrize("what", ["bracket", "bracket.yaml"])
def test_sheet_is_made_again_on_other_paper(ran: Path, capsys: Capture, what: str) -> None:
    assert status(["sheet", str(ran / what), "--out", str(ran), "--paper", "letter"]) == 0
    assert "one page, Letter" in capsys.readouterr().out
    (page,) = PdfReader(ran / "bracket" / "sheet.pdf").pages
    assert float(page.mediabox.height) == pytest.approx(792)


def test_sheet_of_a_case_that_was_changed_is_refused(ran: Path, capsys: Capture) -> None:
    case = ran / "bracket.yaml"
    text = case.read_text()
    case.write_text(text.replace("speed: 90 rpm", "speed: 60 rpm"))
    assert status(["sheet", str(case), "--out", str(ran)]) == 2
    assert "changed since it was run" in capsys.readouterr().err
    case.write_text(text)


@pytest.mark.parametrize("command", ["sheet", "report"])
@pytest.mark.parametrize("what", ["bracket/case.yaml", "bracket.yaml"])
def test_sheet_and_report_say_that_the_case_was_changed_since_the_run(
    ran: Path, capsys: Capture, what: str, command: str
) -> None:
    case, folder = ran / what, ran / "bracket"
    text = case.read_text()
    case.write_text(text.replace("speed: 90 rpm", "speed: 60 rpm"))
    assert status([command, str(folder)]) == 0
    said = capsys.readouterr()
    assert f"{case} was changed since this run" in said.err
    assert f"barwright run {case}" in said.err
    page = (folder / f"{command}.html").read_text()
    assert f"CHANGED SINCE THIS RUN: {case.name}." in page
    case.write_text(text)
    assert status([command, str(folder)]) == 0
    assert "changed" not in capsys.readouterr().err
    assert "CHANGED SINCE" not in (folder / f"{command}.html").read_text()


def test_a_mark_of_the_byte_order_is_no_change(ran: Path, capsys: Capture) -> None:
    found = json.loads((ran / "bracket" / "summary.json").read_text())
    marked = hashlib.sha256(b"\xef\xbb\xbf" + (ran / "bracket.yaml").read_bytes()).hexdigest()
    kept = json.dumps(found)
    found["case"]["sha256"] = marked
    (ran / "bracket" / "summary.json").write_text(json.dumps(found))
    assert status(["sheet", str(ran / "bracket")]) == 0
    assert "changed" not in capsys.readouterr().err
    (ran / "bracket" / "summary.json").write_text(kept)


def test_the_case_in_a_results_folder_is_printed_from_that_folder(
    ran: Path, capsys: Capture
) -> None:
    assert status(["sheet", str(ran / "bracket" / "case.yaml"), "--out", str(ran)]) == 0
    assert str(ran / "bracket" / "sheet.pdf") in capsys.readouterr().out


@pytest.mark.parametrize(
    ("spoil", "words"),
    [(None, "holds no results"), ("{", "is not the summary"), ('{"schema": 1}', "is not the sum")],
)
def test_sheet_without_a_run_is_refused(
    tmp_path: Path, capsys: Capture, spoil: str | None, words: str
) -> None:
    if spoil is not None:
        (tmp_path / "summary.json").write_text(spoil)
    assert status(["sheet", str(tmp_path)]) == 2
    assert words in " ".join(capsys.readouterr().err.split())


def test_a_sheet_that_fails_does_not_take_the_run_down(
    tmp_path: Path, remembering: None, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        message = "no paper"
        raise RuntimeError(message)

    monkeypatch.setattr(sheet, "write_sheet", broken)
    case = str(CASES[0].with_name(f"{METRIC}.yaml"))
    assert status(["run", case, *PLAINLY, "--out", str(tmp_path)]) == 0
    assert "no shop sheet: RuntimeError: no paper" in capsys.readouterr().err
    assert (tmp_path / METRIC / "summary.json").exists()
    assert printing.sheet_of_run(tmp_path / METRIC) is not None


def test_bought_sizes_are_named_as_their_drawers_are(runs: Runs) -> None:
    for folder in (runs[METRIC], runs[INCH]):
        found = read_finished(folder)
        wanted = [one["name"] for one in summary(folder)["holding"]["screws"]]
        assert wanted
        fact = next(one for one in sheet_content.making(found).facts if "screw" in one.name)
        assert all(name in fact.value for name in wanted)
