"""A results folder that is not as a run left it is refused in words, file by file."""

from __future__ import annotations

from pathlib import Path

import pytest
from results_folders import write_folder

from barwright.analysis.errors import CaseError
from barwright.analysis.finished import read_finished


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_folder(tmp_path_factory.mktemp("finished") / "pump")


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("summary.json", b""),
        ("summary.json", b"[1, 2]"),
        ("summary.json", b'{"static": '),
        ("summary.json", b"[" * 100_000),
        ("plan.json", b"\xff"),
        ("deflection.csv", b"station,radial\nmm,um\n1,2,3\n"),
        ("deflection.csv", b"station,radial\nmm,um\n1\n"),
        ("deflection.csv", b'station,radial\nmm,um\n1,"2\n'),
        ("modes.csv", b"number,frequency\n-,Hz\n1,100\n"),
        ("modes.csv", b"number,frequency,plane\n-,Hz,-\ninf,100,bit\n"),
        ("shakes.csv", b"source,order,frequency,mode,separation\n-,-,Hz,Hz,-\nmotor,none,x,1,1\n"),
        ("passes.csv", b"depth\nmm\nmany\n"),
        ("loop.csv", b"depth\nmm\n\0\n"),
        ("case.yaml", b"title: pump"),
    ],
)
def test_what_no_run_leaves_is_refused_with_the_name_of_the_file(
    folder: Path, name: str, content: bytes
) -> None:
    path = folder / name
    was = path.read_bytes() if path.exists() else None
    path.write_bytes(content)
    try:
        with pytest.raises(CaseError) as refused:
            read_finished(folder)
    finally:
        path.unlink() if was is None else path.write_bytes(was)
    said = str(refused.value)
    assert said.startswith(str(path))
    assert name == "case.yaml" or said.endswith("; run the case again")
    assert said.isascii()


def test_a_folder_without_a_summary_is_no_finished_run(folder: Path) -> None:
    (folder / "summary.json").rename(folder / "kept")
    try:
        with pytest.raises(CaseError, match=r"summary\.json: this is not as a run leaves it"):
            read_finished(folder)
    finally:
        (folder / "kept").rename(folder / "summary.json")
