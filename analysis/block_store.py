"""Blocks of cross-holes kept on disk, so that each shape is found once on a machine.

One file a shape, named by what it holds. A file that is damaged, of another version or of
another shape is as good as none: the block is found anew and the file replaced in one step, so
that programs that run side by side never read half of one. Where no folder can be written the
block is found each time.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
import zipfile
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import numpy as np

from .hole_block import BlockShape, HoleBlock

VERSION = 7
"""Raised whenever a block would come out otherwise for the same shape."""

FOLDER_NAME = "BARWRIGHT_CACHE"
"""Environment variable that names another folder."""

_PARTS = {"give": (6, 6), "carried": (6, 6), "seat": (6, 6), "drift": (6, 3), "cut_out": (4,)}


def store_folder() -> Path:
    """Folder for what can be found again: the user's own, as each system has it."""
    if named := os.environ.get(FOLDER_NAME):
        return Path(named)
    if sys.platform == "win32":
        own = os.environ.get("LOCALAPPDATA")
        return Path(own or Path.home() / "AppData" / "Local") / "barwright" / "Cache"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "barwright"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "barwright"


def _label(shape: BlockShape) -> str:
    """What a file says that it holds."""
    return f"hole block {VERSION}: {shape!r}"


def _file(shape: BlockShape) -> Path:
    name = hashlib.sha256(_label(shape).encode()).hexdigest()[:24]
    return store_folder() / f"hole-{name}.npz"


def _read(shape: BlockShape) -> HoleBlock | None:
    """Block of a shape as it is on disk; None if it is not there or not whole."""
    try:
        with np.load(BytesIO(_file(shape).read_bytes()), allow_pickle=False) as stored:
            if str(stored["label"]) != _label(shape):
                return None
            parts = {name: np.asarray(stored[name], dtype=np.float64) for name in _PARTS}
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
    if any(parts[name].shape != size for name, size in _PARTS.items()):
        return None
    if not all(np.isfinite(part).all() for part in parts.values()):
        return None
    return HoleBlock(**parts)


def _write(shape: BlockShape, block: HoleBlock) -> None:
    """Put a block on disk in one step; a folder that cannot be written is no error."""
    file = _file(shape)
    parts = {name: getattr(block, name) for name in _PARTS}
    with suppress(OSError):
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=file.parent, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as stream:
                np.savez(stream, allow_pickle=False, label=np.array(_label(shape)), **parts)
            os.replace(temporary, file)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise


def _found(shape: BlockShape) -> HoleBlock:
    # Mesher and elements are loaded where a shape is new, and only there.
    from .block_solid import hole_block

    return hole_block(shape)


@lru_cache(maxsize=64)
def kept_block(shape: BlockShape, find: Callable[[BlockShape], HoleBlock] = _found) -> HoleBlock:
    """Block of a shape: from disk, or found by `find` and put there.

    Raises
    ------
    SolveError
        The mesher fails.
    """
    known = _read(shape)
    if known is None:
        known = find(shape)
        _write(shape, known)
    return known
