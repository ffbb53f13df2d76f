"""What the shell offers behind a command: names that a table has, and case files near by."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from barwright.analysis.material import bar_materials, work_materials
from barwright.analysis.trouble import symptom_named, symptoms
from barwright.cli.app import status

CASES = Path(__file__).parents[1] / "cases"
Capture = pytest.CaptureFixture[str]


def offered(
    words: str, monkeypatch: pytest.MonkeyPatch, capsys: Capture, shell: str = "bash"
) -> list[str]:
    """What the shell is told to offer for the last word of a line."""
    line = f"barwright {words}"
    monkeypatch.setenv("_BARWRIGHT_COMPLETE", f"complete_{shell}")
    monkeypatch.setenv("COMP_WORDS", line)
    monkeypatch.setenv("COMP_CWORD", str(line.count(" ")))
    capsys.readouterr()
    with pytest.raises(SystemExit):
        status([])
    return capsys.readouterr().out.split()


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("compare pump.yaml --material mild", ["mild_steel_hot_rolled", "mild_steel_cold_drawn"]),
        ("compare pump.yaml --material 4140_p", ["4140_prehard"]),
        ("compare pump.yaml --support c", ["chuck", "collet", "centres"]),
        ("new my.yaml --work grey", ["grey_iron"]),
        ("new my.yaml --steel drill", ["drill_rod"]),
        ("trouble pump.yaml tap", ["taper"]),
        ("run pump.yaml --hole t", ["table"]),
        ("trouble pump.yaml nonesuch", []),
    ],
)
def test_names_of_a_table_are_offered(
    words: str, expected: list[str], monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    assert offered(words, monkeypatch, capsys) == expected


def test_every_name_offered_is_one_word_and_means_what_it_says(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    steels = offered("new --steel ", monkeypatch, capsys)
    assert [name.replace("_", " ") for name in steels] == [
        name.lower() for name in bar_materials()
    ]
    metals = offered("new --work ", monkeypatch, capsys)
    assert [name.replace("_", " ") for name in metals] == [
        name.lower() for name in work_materials()
    ]
    found = offered("trouble pump.yaml ", monkeypatch, capsys)
    assert [symptom_named(name).name for name in found] == list(symptoms())
    assert not any(" " in name for name in (*steels, *metals, *found))


def test_case_files_here_and_one_folder_down_are_offered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    (tmp_path / "jobs").mkdir()
    for name in ("pump.yaml", "pump.txt", "jobs/one.yaml", "jobs/two.yml"):
        (tmp_path / name).touch()
    monkeypatch.chdir(tmp_path)
    assert offered("run pu", monkeypatch, capsys) == ["pump.yaml"]
    assert offered("run pump.yaml j", monkeypatch, capsys) == ["jobs/one.yaml", "jobs/two.yml"]
    assert offered("check jobs/o", monkeypatch, capsys) == ["jobs/one.yaml"]
    assert offered("plan ", monkeypatch, capsys) == ["jobs/one.yaml", "jobs/two.yml", "pump.yaml"]
    assert offered("run zzz", monkeypatch, capsys) == []
    assert offered("run [", monkeypatch, capsys) == []


@pytest.mark.parametrize("heavy", ["scipy", "numpy", "matplotlib"])
def test_completing_imports_nothing_heavy(heavy: str) -> None:
    code = (
        "import sys; from barwright.cli.options import SYMPTOMS, BAR_METALS; "
        "assert SYMPTOMS('chat') and BAR_METALS('mild'); sys.exit(sys.argv[1] in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code, heavy], check=True)


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
def test_bash_itself_takes_what_is_offered(tmp_path: Path) -> None:
    (tmp_path / "barwright").write_text(
        f'#!/bin/sh\nexec {sys.executable} -m barwright.cli "$@"\n'
    )
    (tmp_path / "barwright").chmod(0o755)
    script = (
        'PATH="$1:$PATH"; eval "$(_BARWRIGHT_COMPLETE=source_bash barwright)"; '
        "COMP_WORDS=(barwright compare x.yaml --material mild_steel_c); COMP_CWORD=4; "
        "_barwright_completion barwright; printf '%s\\n' \"${COMPREPLY[@]}\""
    )
    done = subprocess.run(
        ["bash", "-c", script, "bash", str(tmp_path)], capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["mild_steel_cold_drawn"], done.stderr
