"""The packages are whole, their docstring examples hold, and the README's commands are there."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

import barwright.analysis
import barwright.cli

CHECKOUT = Path(__file__).parents[1]
PACKAGES = (barwright.analysis, barwright.cli)
MODULES = [
    module.name
    for package in PACKAGES
    for module in pkgutil.iter_modules(package.__path__, package.__name__ + ".")
    if not module.name.endswith("__main__")
]


@pytest.mark.parametrize("name", MODULES)
def test_docstring_examples_hold(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


@pytest.mark.parametrize("package", PACKAGES)
def test_installed_package_has_every_file_of_its_folder(package: ModuleType) -> None:
    def files(folder: Path) -> set[Path]:
        found = (*folder.rglob("*.py"), *folder.rglob("*.yaml"), *folder.rglob("py.typed"))
        return {path.relative_to(folder) for path in found}

    name = package.__name__.rpartition(".")[2]
    assert files(Path(package.__path__[0])) == files(CHECKOUT / name)


def test_every_module_has_its_layer() -> None:
    layers = re.findall(r"barwright\.\w+\.\w+", (CHECKOUT / "pyproject.toml").read_text())
    assert sorted(set(MODULES) - set(layers)) == []


def test_every_module_has_its_line_in_the_map() -> None:
    text = (CHECKOUT / "DEVELOPERS.md").read_text()
    short = (name.removeprefix("barwright.").removeprefix("analysis.") for name in MODULES)
    files = [name.replace(".", "/") + ".py" for name in short]
    assert [file for file in files if f"`{file}`" not in text] == []


def test_map_names_no_module_that_is_gone() -> None:
    rows = re.findall(
        r"^\| (`.+?) \| .+ \|$", (CHECKOUT / "DEVELOPERS.md").read_text(), re.MULTILINE
    )
    named = re.findall(r"`((?:cli/)?\w+\.py)`", " ".join(rows))
    files = [name if "/" in name else f"analysis/{name}" for name in named]
    assert [file for file in files if not (CHECKOUT / file).exists()] == []
    assert len(files) > 100


def test_top_level_is_the_one_on_the_card() -> None:
    if shutil.which("git") is None:
        pytest.skip("no git here to say which files belong")
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=CHECKOUT, capture_output=True, text=True, check=False
    ).stdout.split()
    if not tracked:
        pytest.skip("not a git checkout")
    top = {name.split("/")[0] for name in tracked}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "analysis",
        "cli",
        "tests",
        "cases",
        "results",
    }


def test_readme_opens_with_the_job_and_two_commands() -> None:
    text = (CHECKOUT / "README.md").read_text()
    commands = re.findall(r"<!-- (main job|tests) -->\n```sh\n(.+?)\n```", text)
    assert [name for name, _ in commands] == ["main job", "tests"]
    assert all(command.startswith("python3 -m venv .venv && ") for _, command in commands)
    assert text.index("<!-- main job -->") < 1500
    case = re.search(r"cases/\w+\.yaml", commands[0][1])
    assert case is not None
    assert (CHECKOUT / case[0]).exists()


@pytest.mark.parametrize(
    "heavy", ["skfem", "scipy", "matplotlib", "pyvista", "netgen", "meshio", "pint"]
)
def test_help_and_check_import_nothing_heavy(heavy: str) -> None:
    code = (
        "import sys; from barwright.cli.app import status; "
        "status(['check', sys.argv[1]]); sys.exit(sys.argv[2] in sys.modules)"
    )
    case = str(CHECKOUT / "cases" / "pump_bracket.yaml")
    done = subprocess.run(
        [sys.executable, "-c", code, case, heavy], capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()
