"""Blocks on disk: found once, never half read, and no reason to fail."""

from __future__ import annotations

import multiprocessing
from pathlib import Path

import numpy as np
import pytest

from barwright.analysis import block_store
from barwright.analysis.block_store import FOLDER_NAME, kept_block, store_folder
from barwright.analysis.hole_block import BlockShape, HoleBlock

SHAPE = BlockShape(shape="round", size=0.25, screws=((0.2, "leading", 0.01),))


class Finder:
    """Gives another block each time, and counts."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self, shape: BlockShape) -> HoleBlock:
        self.count += 1
        part = np.full((6, 6), float(self.count))
        return HoleBlock(
            give=part,
            carried=2 * part,
            seat=3 * part,
            drift=part[:, :3],
            cut_out=np.full(4, shape.size),
        )


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(FOLDER_NAME, str(tmp_path / "kept"))
    kept_block.cache_clear()
    return tmp_path / "kept"


def forgotten(find: Finder, shape: BlockShape = SHAPE) -> HoleBlock:
    """Ask as a new process would."""
    kept_block.cache_clear()
    return kept_block(shape, find)


def test_shape_is_found_once_and_then_read(folder: Path) -> None:
    find = Finder()
    first, again = forgotten(find), forgotten(find)
    assert find.count == 1
    for name in ("give", "carried", "seat", "drift", "cut_out"):
        np.testing.assert_array_equal(getattr(first, name), getattr(again, name))
    assert [file.suffix for file in folder.iterdir()] == [".npz"]


def test_every_shape_has_a_file_of_its_own(folder: Path) -> None:
    find = Finder()
    forgotten(find)
    forgotten(find, BlockShape(shape="round", size=0.25))
    assert find.count == len(list(folder.iterdir())) == 2


@pytest.mark.parametrize("harm", ["cut short", "emptied", "scribbled", "a flipped byte"])
def test_damaged_file_is_found_anew(folder: Path, harm: str) -> None:
    find = Finder()
    forgotten(find)
    (file,) = folder.iterdir()
    whole = file.read_bytes()
    middle = len(whole) // 2
    file.write_bytes(
        {
            "cut short": whole[:middle],
            "emptied": b"",
            "scribbled": b"not numbers at all",
            "a flipped byte": whole[:middle] + bytes([whole[middle] ^ 255]) + whole[middle + 1 :],
        }[harm]
    )
    assert forgotten(find).give[0, 0] == 2.0
    assert forgotten(find).give[0, 0] == 2.0


def test_pickled_objects_are_never_read(folder: Path) -> None:
    find = Finder()
    forgotten(find)
    (file,) = folder.iterdir()
    label = np.array("x", dtype=object)
    names = ("give", "carried", "seat", "drift", "cut_out")
    np.savez(file, allow_pickle=True, label=label, **dict.fromkeys(names, label))
    assert forgotten(find).give[0, 0] == 2.0


def test_another_version_is_found_anew(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    find = Finder()
    forgotten(find)
    monkeypatch.setattr(block_store, "VERSION", block_store.VERSION + 1)
    assert forgotten(find).give[0, 0] == 2.0


def test_file_of_another_shape_or_with_holes_in_it_is_found_anew(folder: Path) -> None:
    find = Finder()
    forgotten(find)
    (file,) = folder.iterdir()
    with np.load(file) as stored:
        parts = dict(stored)
    for change in (
        {"label": np.array("another")},
        {"give": np.zeros((3, 3))},
        {"seat": np.full((6, 6), np.nan)},
    ):
        np.savez(file, **(parts | change))
        count = find.count
        forgotten(find)
        assert find.count == count + 1


def test_folder_that_cannot_be_made_is_no_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv(FOLDER_NAME, str(tmp_path / "file" / "kept"))
    find = Finder()
    assert forgotten(find).give[0, 0] == 1.0
    assert forgotten(find).give[0, 0] == 2.0


def _hammer(folder: str, rounds: int) -> int:
    import os

    os.environ[FOLDER_NAME] = folder
    wrong = 0
    for number in range(rounds):
        shape = BlockShape(shape="round", size=round(0.1 + 0.01 * (number % 3), 3))
        kept_block.cache_clear()
        wrong += kept_block(shape, Finder()).cut_out[0] != shape.size
        if number % 5 == 0:
            for file in store_folder().glob("*.npz"):
                file.unlink(missing_ok=True)
    return wrong


def test_programs_side_by_side_never_read_half_a_file(folder: Path) -> None:
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        assert pool.starmap(_hammer, [(str(folder), 60)] * 2) == [0, 0]
    assert not list(folder.glob("*.part"))


def test_folder_is_the_users_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FOLDER_NAME, raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_CACHE_HOME", "/somewhere")
    assert store_folder() == Path("/somewhere/barwright")
    monkeypatch.setattr("sys.platform", "darwin")
    assert store_folder().parts[-3:] == ("Library", "Caches", "barwright")
    monkeypatch.setattr("sys.platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", "/local")
    assert store_folder() == Path("/local/barwright/Cache")
