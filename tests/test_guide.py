"""README is true: its commands run, they say what it shows, and its pictures are the program's."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path
from typing import Any

import guide
import numpy as np
import pytest
import typer
from numpy.typing import NDArray
from PIL import Image
from remembered import remember

from barwright.analysis.bore_log import read_bore_log
from barwright.analysis.casefile import read_case
from barwright.analysis.push import read_push
from barwright.cli.app import app, status
from barwright.cli.examples import EXAMPLES

CASES = guide.CHECKOUT / "cases"
COMMANDS: dict[str, Any] = typer.main.get_command(app).commands  # type: ignore[attr-defined]
ROWS = dict(re.findall(r"^\| `(barwright [^`]+)` \| (.+) \|$", guide.readme(), re.MULTILINE))
ALT = {
    name: " ".join(text.split())
    for text, name in re.findall(r"!\[([^]]+)\]\(cases/guide/([^)]+)\)", guide.readme())
}
MEAN, MOST = 0.004, 0.25
"""Difference of grey, of full scale, that two pictures coarsened sixteen times may have: over all,
and at any place. Another machine's shading and letters stay below; a mark moved by a tenth of the
bar was 0.0006 and 0.59, another axis of the loop 0.0046 and 0.24."""


def options(command: str) -> set[str]:
    return {name for one in COMMANDS[command].params for name in (*one.opts, *one.secondary_opts)}


def test_table_has_every_command() -> None:
    assert sorted(row.split()[1] for row in ROWS) == sorted(COMMANDS)


@pytest.mark.parametrize("row", ROWS)
def test_row_of_the_table_can_be_typed(row: str) -> None:
    _, command, *words = shlex.split(row)
    COMMANDS[command].make_context(command, words)
    assert set(re.findall(r"--[a-z-]+", ROWS[row])) <= options(command)


@pytest.mark.parametrize("line", re.findall(r"`(barwright [^`\n]+)`", guide.readme()))
def test_command_named_in_passing_can_be_typed(line: str) -> None:
    _, command, *words = shlex.split(line)
    assert command in COMMANDS
    if words:
        COMMANDS[command].make_context(command, words)


def test_every_option_that_is_named_is_one() -> None:
    ours = {name for command in COMMANDS for name in options(command)}
    assert set(re.findall(r"`(--[a-z-]+)", guide.readme())) <= ours


@pytest.mark.parametrize("command", EXAMPLES)
def test_example_in_the_help_can_be_typed(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    example, after = EXAMPLES[command]
    _, named, *words = shlex.split(example.partition(" > ")[0])
    assert named == command
    COMMANDS[command].make_context(command, words)
    assert [
        word for word in words if word.startswith("cases/") and not (CASES.parent / word).exists()
    ] == []
    for other in re.findall(r"barwright (\w+)", after):
        assert other in COMMANDS
    assert status([command, "--help"]) == 0
    said = capsys.readouterr().out
    assert f"  Example: {example}\n  Next:    {after}\n" in said
    assert max(map(len, said.splitlines())) <= 88


def test_list_of_commands_has_whole_sentences_in_the_order_of_a_job(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert status(["--help"]) == 0
    _, _, listed = capsys.readouterr().out.partition("Commands:\n")
    rows = re.findall(r"^  (\w+) +(\S.*)$", listed.partition("\n\n")[0], re.MULTILINE)
    assert [name for name, _ in rows] == list(EXAMPLES)
    assert [first for _, first in rows if not first.endswith(".") or first.endswith("...")] == []


def test_tables_of_readings_are_read(tmp_path: Path) -> None:
    push, bores = guide.blocks("text")
    for name, table in (("push.csv", push), ("bores.csv", bores)):
        (tmp_path / name).write_text(table)
    test = read_push(tmp_path / "push.csv")
    assert test.instruments.resolution == pytest.approx(2.54e-6)
    assert test.series[0].pull.size == 4
    assert test.series[0].pull_at == pytest.approx(7.25 * 0.0254)
    assert read_bore_log(tmp_path / "bores.csv").start == pytest.approx(0.0436)


def test_lines_of_the_job_are_in_its_file_in_order() -> None:
    head, *lines = guide.blocks("yaml")[0].splitlines()
    rest = iter((guide.CHECKOUT / head.removeprefix("# ")).read_text().splitlines())
    assert [line for line in lines if line not in rest] == []


def test_measured_lines_are_taken_by_a_case(tmp_path: Path) -> None:
    text, _, _ = (CASES / "sluice_gate_pivot.yaml").read_text().partition("\nmeasured:")
    (block,) = guide.blocks("yaml")[1:]
    (tmp_path / "case.yaml").write_text(f"{text}\n{block}")
    (row,) = read_case(tmp_path / "case.yaml").measured
    assert row.what == "supports.tail.radial_stiffness"


def test_cases_of_the_table_are_all_that_are_shipped() -> None:
    named = re.findall(r"^\| `([\w/]+\.yaml)` \|", guide.readme(), re.MULTILINE)
    shipped = [str(path.relative_to(CASES)) for path in CASES.rglob("*.yaml")]
    assert sorted(named) == sorted(shipped)


def test_pictures_are_there_and_light() -> None:
    assert set(ALT) == set(guide.SOURCES) == {path.name for path in guide.PICTURES.iterdir()}
    sizes = [path.stat().st_size for path in guide.PICTURES.iterdir()]
    assert max(sizes) < 120_000
    assert sum(sizes) < 600_000


@pytest.fixture(scope="module")
def followed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    folder = tmp_path_factory.mktemp("guide")
    with pytest.MonkeyPatch.context() as patched:
        remember(patched)
        return folder / "results", guide.follow(folder)


@pytest.mark.parametrize(
    ("shown", "wrong"),
    [
        (("a", "b", "c"), None),
        (("a", "...", "c"), None),
        (("...", "b", "..."), None),
        (("b", "c"), "b"),
        (("a", "c"), "c"),
        (("...", "c", "b", "..."), "b"),
        (("a", "b"), "(and then) c"),
    ],
)
def test_excerpt_is_held_to_every_line(shown: tuple[str, ...], wrong: str | None) -> None:
    assert guide.first_wrong(shown, "a\nb\nc\n") == wrong


@pytest.mark.slow
def test_excerpts_are_what_the_commands_say(followed: tuple[Path, dict[str, str]]) -> None:
    _, said = followed
    wrong = {one.command: guide.first_wrong(one.lines, said[one.command]) for one in guide.shown()}
    assert {command: line for command, line in wrong.items() if line is not None} == {}


def told(results: Path) -> dict[str, tuple[str, ...]]:
    """What the words beside each picture must say, from the numbers that it was drawn from."""

    def read(name: str) -> Any:
        return json.loads((results / name).read_text())

    run = read("pump_barrel/summary.json")
    size = {one["name"]: one["value"] for one in run["inputs"]}
    margin = run["chatter"]["gain_margin"]
    band = "{low:.2g} to {high:.2g}, likely {likely:.2g}".format(**margin)
    bent = np.loadtxt(results / "pump_barrel/deflection.csv", delimiter=",", skiprows=2)
    bending = next(one for one in run["modes"] if one["plane"] == "bit")
    last = run["passes"]["passes"][-1]
    speeds = read("pump_barrel-case-speeds/speeds.json")
    avoided = [one["spindle_rpm"] for one in speeds["speeds"] if one["verdict"] == "avoid"]
    driver = max(
        read("pump_barrel-case-study/study.json")["drivers"]["values"],
        key=lambda one: one["gain_margin"]["first_order"]["value"],
    )
    return {
        "set_up.png": (
            f"{size['bar.diameter'] / 0.0254:.3f} in bar",
            f"span {size['bar.span'] / 0.0254:.3f} in",
            f"bit at {size['cross_hole.position'] / 0.0254:.3f} in",
        ),
        "sheet.png": (f"{last['micrometer_reading_m'] / 0.0254:.4f} in over bit and bar",),
        "bent_bar.png": (f"{np.hypot(bent[:, 1], bent[:, 2]).max() / 25.4:.3f} thou",),
        "first_mode.png": (f"{bending['frequency_Hz']:.0f} Hz",),
        "margin.png": (band,),
        "compare.png": (band,),
        "speeds.png": (f"take {speeds['pick']['spindle_rpm']:.0f} rpm", f"{min(avoided):.0f} rpm"),
        "drivers.png": (
            driver["what"],
            f"{100 * driver['gain_margin']['first_order']['value']:.0f} %",
        ),
    }


@pytest.mark.slow
def test_words_beside_each_picture_say_its_number(
    followed: tuple[Path, dict[str, str]],
) -> None:
    for name, numbers in told(followed[0]).items():
        for number in numbers:
            assert number in ALT[name], f"{name}: {number}"


def coarse(picture: Image.Image) -> NDArray[np.float64]:
    """Shades of grey from 0 to 1, sixteen dots in one: letters blur, lines and shapes stay."""
    size = (picture.width // 16, picture.height // 16)
    return np.asarray(picture.convert("L").resize(size, Image.Resampling.BOX)) / 255


def alike(one: Image.Image, other: Image.Image) -> bool:
    if one.size != other.size:
        return False
    apart = np.abs(coarse(one) - coarse(other))
    return bool(apart.mean() <= MEAN and apart.max() <= MOST)


def test_a_picture_is_told_from_itself_with_a_line_moved() -> None:
    with Image.open(guide.PICTURES / "first_mode.png") as kept:
        same = kept.convert("RGB")
        changed = same.copy()
        changed.paste((29, 33, 64), (400, 120, 1200, 128))
    assert alike(same, same)
    assert not alike(same, changed)
    assert not alike(same, same.resize((800, 323)))


@pytest.mark.slow
@pytest.mark.picture
def test_pictures_are_those_that_the_program_draws_now(
    followed: tuple[Path, dict[str, str]],
) -> None:
    stale, missing = [], []
    for name in guide.SOURCES:
        fresh = guide.picture(followed[0], name)
        if fresh is None:
            missing.append(name)
            continue
        with Image.open(guide.PICTURES / name) as kept:
            if not alike(kept, fresh):
                stale.append(name)
    assert stale == [], "python tests/guide.py makes them again"
    if missing:
        pytest.skip(f"not drawn on this machine: {', '.join(missing)}")
