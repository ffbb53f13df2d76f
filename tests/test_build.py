"""The wheel: the same bytes from the same files, nothing missing, at work far from the files."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Callable
from pathlib import Path
from zipfile import ZipFile

import pytest

CHECKOUT = Path(__file__).parents[1]
NEEDED = ("analysis", "cli", "pyproject.toml", "README.md", "LICENSE")
PACKED = {".py", ".yaml", ".j2", ".css", ".js", ".typed"}
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def wheel_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[[float], Path]:
    """Return a function that builds the wheel from a copy whose files were touched then."""

    def built(touched: float) -> Path:
        folder = tmp_path_factory.mktemp("build")
        for name in NEEDED:
            copy = shutil.copytree if (CHECKOUT / name).is_dir() else shutil.copy
            copy(CHECKOUT / name, folder / name)
        for path in folder.rglob("*"):
            os.utime(path, (touched, touched))
        done = subprocess.run(
            [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", "out", "."],
            cwd=folder,
            env=os.environ | {"SOURCE_DATE_EPOCH": "1700000000"},
            capture_output=True,
            text=True,
            check=False,
        )
        if "No matching distribution found for setuptools" in done.stderr:
            pytest.skip("no index here to fetch setuptools from")
        assert done.returncode == 0, done.stderr
        (wheel,) = (folder / "out").glob("*.whl")
        return wheel

    return built


@pytest.fixture(scope="module")
def wheel(wheel_of: Callable[[float], Path]) -> Path:
    return wheel_of(1.6e9)


def test_the_same_files_make_the_same_bytes(
    wheel: Path, wheel_of: Callable[[float], Path]
) -> None:
    assert wheel.read_bytes() == wheel_of(1.7e9).read_bytes()


def test_the_wheel_has_every_file_of_both_packages_and_no_other(wheel: Path) -> None:
    with ZipFile(wheel) as packed:
        names = {Path(name) for name in packed.namelist()}
    packages = {name for name in names if name.parts[0] == "barwright"}
    assert packages == {
        Path("barwright") / path.relative_to(CHECKOUT)
        for folder in ("analysis", "cli")
        for path in (CHECKOUT / folder).iterdir()
        if path.suffix in PACKED or path.name == "py.typed"
    }
    assert {name.parts[0] for name in names - packages} == {"barwright-0.1.0.dist-info"}


def test_the_wheel_runs_a_case_in_another_folder(wheel: Path, tmp_path: Path) -> None:
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", tmp_path / "env"], check=True)
    there = next((tmp_path / "env").glob("lib/python*/site-packages"))
    # What barwright needs is taken from here by path alone, which leaves an editable install out.
    (there / "needed.pth").write_text(sysconfig.get_path("purelib") + "\n")
    with ZipFile(wheel) as packed:
        packed.extractall(there)
    shutil.copy(CHECKOUT / "cases" / "valve_block.yaml", tmp_path)
    environment = {n: v for n, v in os.environ.items() if not n.startswith("PYTHON")}
    command = "from barwright.cli.app import main; main()"
    arguments = ["run", "valve_block.yaml", "-q", "--no-pictures", "--hole", "table"]
    done = subprocess.run(
        [tmp_path / "env" / "bin" / "python", "-c", command, *arguments],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "results" / "valve_block" / "sheet.html").stat().st_size > 1000
