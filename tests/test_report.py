"""The report: the answer first, all of the run's numbers, one file that lets nothing in or out."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import shutil
from html.parser import HTMLParser
from pathlib import Path

import pytest
from PIL import Image
from results_folders import write_folder

from barwright.analysis import report as report_module
from barwright.analysis.bodies import write_bodies
from barwright.analysis.casefile import read_case_file
from barwright.analysis.errors import WriteError
from barwright.analysis.finished import read_finished
from barwright.analysis.record import write_record
from barwright.analysis.report import size_of, write_report
from barwright.analysis.run import analyse
from barwright.analysis.sheet_content import answer, named
from barwright.analysis.swap import results_name
from barwright.cli import reporting
from barwright.cli.app import status

CASES = Path(__file__).parents[1] / "cases"
HOSTILE = '<script>alert(1)</script> & "quoted" ](x) \\x1b[31m {{ 7*7 }}'


class Read(HTMLParser):
    """A page as a reader sees it: its words, its tags, its scripts and styles."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.inside: dict[str, list[str]] = {"script": [], "style": []}
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        tag, given = self.tags[-1] if self.tags else ("", {})
        if self.cdata_elem in self.inside and tag == self.cdata_elem:
            if given.get("type", "run") == "run":
                self.inside[tag].append(data)
        else:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run with its 3-D files, and two pictures; nothing here changes it."""
    folder = tmp_path_factory.mktemp("report") / "bracket"
    folder.mkdir()
    case_file = read_case_file(CASES / "pump_bracket.yaml")
    write_record(folder, case_file, analyse(case_file.case))
    write_bodies(read_finished(folder))
    for name in ("give.png", "mode_1.png"):
        Image.effect_noise((320, 200), 80).convert("RGB").save(folder / name)
    write_report(folder)
    return folder


@pytest.fixture
def run(made: Path, tmp_path: Path) -> Path:
    """The same, for a test that changes it."""
    return Path(shutil.copytree(made, tmp_path / "bracket"))


def page(folder: Path) -> Read:
    return Read((folder / "report.html").read_text(encoding="utf-8"))


def test_the_answer_comes_before_everything_else(made: Path) -> None:
    read = page(made)
    said = answer(read_finished(made))
    assert 0 < read.text.index(said) < read.text.index("Bore wanted")
    assert read.text.index("Bore wanted") < read.text.index("Limits and margins")


def test_a_verdict_is_said_in_words_and_not_by_its_colour(made: Path) -> None:
    text = (made / "report.html").read_text()
    cells = re.findall(r'<td class="mark (\w+)">([^<]*)</td>', text)
    assert {kind for kind, _ in cells} >= {"ok", "caution", "avoid"}
    assert all(word.lower() == kind for kind, word in cells)
    style = "".join(page(made).inside["style"])
    assert ".mark.avoid" in style
    assert not re.findall(r"\.mark[^{}]*\{[^}]*background", style)


def test_every_limit_every_guess_and_every_check_is_on_the_page(made: Path) -> None:
    text = page(made).text
    found = json.loads((made / "summary.json").read_text())
    for one in found["findings"]:
        assert " ".join(one["what"].split()) in text
        assert " ".join(one["why"].split()) in text
    for one in found["setup_checks"]:
        assert one["what"] in text
        assert one["limit_text"] in text
    guessed = [one for one in found["inputs"] if one["origin"] == "default guess"]
    for one in guessed:
        assert named(one["name"]) in text
    assert found["case"]["sha256"] in text
    assert found["static"]["hand_check"]["formula"] in text
    assert f"barwright {found['barwright']}" in text


def test_pictures_carry_their_number_in_words(made: Path) -> None:
    pictures = [given for tag, given in page(made).tags if tag == "img"]
    assert len(pictures) == 2
    give = json.loads((made / "summary.json").read_text())["static"]["give"]
    largest = max(give, key=lambda one: one["share"])
    words = [str(one["alt"]) for one in pictures]
    assert any(f"{largest['part']} {largest['share']:.0%}" in text for text in words)
    assert any("360 Hz" in text for text in words)
    assert all((one["width"], one["height"]) == ("320", "200") for one in pictures)


def test_nothing_is_fetched_and_only_our_own_script_and_style_may_run(made: Path) -> None:
    """The policy names each by the hash of its text (W3C, Content Security Policy Level 2)."""
    read = page(made)
    policy = next(
        str(given["content"])
        for tag, given in read.tags
        if tag == "meta" and given.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy.startswith("default-src 'none'")
    for kind in ("script", "style"):
        text = "".join(read.inside[kind])
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in policy
    assert "unsafe" not in policy
    for _, given in read.tags:
        assert not any(name.startswith("on") or name == "style" for name in given)
        for name in ("src", "href"):
            assert str(given.get(name) or "#").startswith(("data:image/png;base64,", "#"))


def test_pictures_and_scenes_in_the_page_are_those_of_the_folder(made: Path) -> None:
    text = (made / "report.html").read_text()
    for name in ("set_up", "bent_bar"):
        kept = re.search(rf'<script type="text/plain" id="{name}">([^<]+)</script>', text)
        assert kept
        assert base64.b64decode(kept[1]) == (made / f"{name}.glb").read_bytes()
    assert base64.b64encode((made / "give.png").read_bytes()).decode() in text


def test_words_of_the_user_stay_words(run: Path) -> None:
    path = run / "case.yaml"
    title = "title: Pump bracket, 44 H7 in grey iron"
    hostile = f"title: '{HOSTILE}'"
    text = path.read_text()
    assert title in text
    path.write_text(
        text.replace(title, hostile).replace("part: pump bracket", f"part: '{HOSTILE}'")
    )
    write_report(run)
    read = page(run)
    assert sum(tag == "script" and "type" not in given for tag, given in read.tags) == 1
    assert '<script>alert(1)</script> & "quoted"' in read.text
    assert "{{ 7*7 }}" in read.text


def test_the_same_results_give_the_same_page(run: Path) -> None:
    first = (run / "report.html").read_bytes()
    write_report(run)
    assert (run / "report.html").read_bytes() == first
    assert str(run.parent).encode() not in first


def test_a_page_too_large_for_the_mail_gets_pictures_of_fewer_shades(
    run: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = (run / "report.html").stat().st_size
    monkeypatch.setattr(report_module, "LARGEST", before - 1)
    write_report(run)
    assert (run / "report.html").stat().st_size < before - 30_000


@pytest.mark.parametrize(
    "part", ["strength", "holding", "speeds", "setup_checks", "trouble", "passes", "behaviour"]
)
def test_a_part_that_the_run_has_not_is_absent(run: Path, part: str) -> None:
    path = run / "summary.json"
    found = json.loads(path.read_text())
    del found[part]
    path.write_text(json.dumps(found))
    write_report(run)
    assert answer(read_finished(run)) in page(run).text


def test_a_page_of_numbers_alone_where_nothing_was_drawn(run: Path) -> None:
    for path in (*run.glob("*.glb"), *run.glob("*.png")):
        path.unlink()
    write_report(run)
    read = page(run)
    assert not any(tag in ("img", "canvas") for tag, _ in read.tags)
    assert any(tag == "svg" for tag, _ in read.tags)


def beside(run: Path, what: str, found: dict[str, object], record: str = "") -> None:
    folder = run.with_name(f"{run.name}-{what}")
    folder.mkdir()
    (folder / f"{record or what}.json").write_text(json.dumps(found))


def comparison(sha256: str) -> dict[str, object]:
    band = {"low": 1.0, "likely": 2.0, "high": 3.0}
    return {
        "case": {"sha256": sha256},
        "steel": {"answer": "Take whichever is on the shelf."},
        "variants": [
            {
                "rank": 1,
                "support": "chuck",
                "material": "butter",
                "diameter_m": 0.03,
                "span_m": 0.4,
                "this_case": True,
                "within_limits": False,
                "reason": "there is no other",
                "gain_margin": band,
                "size_error_m": {"low": 1e-6, "likely": 2e-6, "high": 4e-6},
                "first_mode_Hz": band,
            }
        ],
    }


def test_a_comparison_of_this_case_is_taken_in_and_of_another_is_not(run: Path) -> None:
    own = json.loads((run / "summary.json").read_text())["case"]["sha256"]
    beside(run, "compare", comparison(own))
    write_report(run)
    text = page(run).text
    assert "Take whichever is on the shelf." in text
    assert "1. chuck, butter, 30 mm" in text
    shutil.rmtree(run.with_name(f"{run.name}-compare"))
    beside(run, "compare", comparison("0" * 64))
    write_report(run)
    assert "on the shelf" not in page(run).text


def test_a_comparison_of_the_case_in_the_folder_belongs_to_the_folder(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`compare results/NAME/case.yaml` names what it leaves after that folder and the case."""
    own = json.loads((run / "summary.json").read_text())["case"]["sha256"]
    folder = run.with_name(f"{results_name(run / 'case.yaml')}-compare")
    beside(run, folder.name.removeprefix(f"{run.name}-"), comparison(own), "compare")
    assert status(["report", str(run)]) == 0
    assert "Take whichever is on the shelf." in page(run).text
    assert f"taken in: {folder}/" in capsys.readouterr().out


def test_a_comparison_of_the_case_as_it_was_before_is_named(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    beside(run, "compare", comparison("0" * 64))
    assert status(["report", str(run)]) == 0
    said = capsys.readouterr()
    assert "taken in" not in said.out
    assert f"{run.name}-compare/ is of another version of the case. Run compare" in said.err


def test_a_tail_off_the_line_is_named_only_where_it_bends_the_bar(run: Path) -> None:
    path = run / "summary.json"
    found = json.loads(path.read_text())
    assert found["strength"]["misalignment_moment_Nm"]["high"] > 0
    assert "what reverses each turn is sag and a tail off the line." in page(run).text
    found["strength"]["misalignment_moment_Nm"] = {"low": 0.0, "likely": 0.0, "high": 0.0}
    path.write_text(json.dumps(found))
    write_report(run)
    assert "what reverses each turn is sag." in page(run).text


def test_a_screw_strips_at_so_many_times_the_torque_that_is_advised(run: Path) -> None:
    """Held back to 0.7 of what strips it: the margin at its full torque is another number."""
    path = run / "summary.json"
    found = json.loads(path.read_text())
    found["holding"]["screws"][0] |= {
        "torque_Nm": 6.25,
        "seating_torque_Nm": 9.83,
        "strips_at_torque_Nm": 8.93,
        "strip_margin": 0.908,
    }
    path.write_text(json.dumps(found))
    write_report(run)
    text = page(run).text
    (said,) = re.findall(r"M6 set screw (.*?times that)", text)
    assert said.startswith("6.2 N.m (55 lbf.in), less than the 9.8 N.m (87 lbf.in) that seat it;")
    assert said.endswith("strips at 8.9 N.m (79 lbf.in), 1.4 times that")


def test_a_damaged_record_beside_it_is_left_out(run: Path) -> None:
    folder = run.with_name(f"{run.name}-study")
    folder.mkdir()
    (folder / "study.json").write_text("{")
    write_report(run)
    assert "What is in doubt" not in page(run).text


def test_a_page_that_cannot_be_written_says_where(run: Path) -> None:
    (run / "report.html").unlink()
    (run / "report.html").mkdir()
    with pytest.raises(WriteError, match=r"cannot write .*report\.html"):
        write_report(run)
    assert not list(run.glob(".*.part"))


def test_size_of_a_picture_is_read_from_its_head(tmp_path: Path) -> None:
    Image.new("RGB", (123, 45)).save(tmp_path / "a.png")
    assert size_of(tmp_path / "a.png") == (123, 45)


# --- the command -----------------------------------------------------------------------------


def test_report_is_made_again_by_its_command(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (run / "report.html").unlink()
    assert status(["report", str(run)]) == 0
    assert "opens in any browser" in capsys.readouterr().out
    assert (run / "report.html").exists()
    assert status(["report", str(run), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["bytes"] == (run / "report.html").stat().st_size


def test_report_of_nothing_says_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert status(["report", str(tmp_path)]) == 2
    assert "barwright run CASE" in " ".join(capsys.readouterr().err.split())


def test_a_run_whose_report_fails_is_a_run_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_folder(tmp_path / "run")

    def broken(*_: object) -> None:
        message = "no ink"
        raise RuntimeError(message)

    monkeypatch.setattr(report_module, "write_report", broken)
    said = reporting.of_run(folder, folder, with_report=True)
    assert said == ["no report: RuntimeError: no ink"]
    assert (folder / "set_up.glb").exists()
    assert (folder / "bar.dxf").exists()
    assert reporting.of_run(folder, folder, with_report=False) == []
