"""The same case gives the same files, whatever process, hash seed or number of threads."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import barwright.analysis

CHECKOUT = Path(__file__).parents[1]
CASES = CHECKOUT / "cases"
GOOD = CASES / "pump_bracket.yaml"


def run_with(out: Path, *options: str, **environment: str) -> Path:
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "barwright.cli",
            "run",
            str(GOOD),
            "-q",
            "--out",
            str(out),
            *options,
        ],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return out / GOOD.stem


def threads(count: int) -> dict[str, str]:
    return dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), str(count))


@pytest.fixture(scope="module")
def twice(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """One case run, pictures and all, by two processes with other seeds, in other folders."""
    one, two = tmp_path_factory.mktemp("one"), tmp_path_factory.mktemp("two") / "deeper"
    # these two put the names of a drawing's entities in another order
    first, second = (
        run_with(folder, PYTHONHASHSEED=seed, **threads(1))
        for folder, seed in ((one, "3"), (two, "4"))
    )
    return first, second


def numbers(found: Any, where: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(found, dict):
        for key, value in found.items():
            yield from numbers(value, f"{where}.{key}")
    elif isinstance(found, list):
        for place, value in enumerate(found):
            yield from numbers(value, f"{where}[{place}]")
    else:
        yield where, found


RESIDUES = ("residual", "unbalanced")
"""What is nothing but rounding."""
PITCH_BAND = (".speed.first_mode_Hz.low", ".speed.first_mode_Hz.high")
"""Small eigenproblems of stiffness over mass, in which the order of a sum shows sooner."""


def test_the_number_of_threads_changes_no_digit_that_counts(
    tmp_path: Path, twice: tuple[Path, Path]
) -> None:
    several = run_with(tmp_path, "--no-pictures", PYTHONHASHSEED="5", **threads(2))
    one, two = (
        json.loads((folder / "summary.json").read_text()) for folder in (twice[0], several)
    )
    first, second = dict(numbers(one)), dict(numbers(two))
    assert first.keys() == second.keys()
    for where, value in first.items():
        if isinstance(value, float) and not where.endswith(RESIDUES):
            # a sum that is nothing but rounding is as good as 0
            allowed = 1e-10 if where in PITCH_BAND else 1e-12
            assert math.isclose(value, second[where], rel_tol=allowed, abs_tol=1e-15), where
        elif not where.endswith(RESIDUES):
            assert value == second[where], where


def test_every_file_is_the_same_byte_for_byte(twice: tuple[Path, Path]) -> None:
    one, two = ({path.name: path.read_bytes() for path in folder.iterdir()} for folder in twice)
    assert one.keys() == two.keys()
    assert [name for name in one if one[name] != two[name]] == []


def test_results_name_no_folder_of_the_machine(twice: tuple[Path, Path]) -> None:
    hints = {str(folder.parent) for folder in twice} | {str(CHECKOUT), sys.prefix, sys.base_prefix}
    hints |= {str(Path.home()) + "/", os.uname().nodename if hasattr(os, "uname") else "\0"}
    for folder in twice:
        for path in folder.iterdir():
            content = path.read_bytes()
            for hint in hints:
                if len(hint) > 4:  # a machine called vm or a prefix of / says nothing
                    assert hint.encode() not in content, (path.name, hint)


def test_the_example_runs_and_answers() -> None:
    done = subprocess.run(
        [sys.executable, str(CASES / "example.py")], capture_output=True, text=True, check=True
    )
    first, heading, thin, thick = done.stdout.splitlines()
    assert first.startswith("Pump bracket")
    assert "gain margin" in heading
    assert float(thick.split()[-1]) > float(thin.split()[-1])
    assert done.stderr == ""


@pytest.mark.parametrize("name", barwright.analysis.__all__)
def test_every_public_name_is_there_and_documented(name: str) -> None:
    assert getattr(barwright.analysis, name).__doc__
    assert name in dir(barwright.analysis)


def test_a_name_that_is_not_there_is_said_as_python_says_it() -> None:
    with pytest.raises(AttributeError, match=r"barwright\.analysis has no analyze"):
        _ = barwright.analysis.analyze
    with pytest.raises(ImportError):
        from barwright.analysis import analyze  # noqa: F401


def test_no_public_name_is_that_of_a_module() -> None:
    modules = {path.stem for path in (CHECKOUT / "analysis").glob("*.py")}
    assert not modules & set(barwright.analysis.__all__)


def test_the_package_alone_loads_nothing_heavy() -> None:
    code = "import sys, barwright.analysis; print('numpy' in sys.modules, 'yaml' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]
