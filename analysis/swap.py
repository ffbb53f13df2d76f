"""A results folder changes in one step: readers see the old run or the new one, never half.

A run writes into a hidden sibling and the two names are exchanged at the end, by Linux's
``renameat2`` with RENAME_EXCHANGE where kernel and file system have it, else by two renames
with the old folder kept under a hidden name that the next run puts back. What an interrupted
run left behind is swept when the next one starts. Runs that end at the same moment swap one
after another: each holds a lock on the folder above while it does, which dies with it and
leaves no file behind. The last to end is the one that stays, whole.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import re
import shutil
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from .errors import CreateError, WriteError

try:
    import fcntl
except ImportError:  # Windows, where two runs into one folder at one moment are on their own
    fcntl = None  # type: ignore[assignment]

_AT_FDCWD = -100
_RENAME_EXCHANGE = 2
_STALE_AFTER = 3600.0


def folder_name(name: str) -> str:
    """A case's name as a safe folder name: no path, no surprises, at most 80 characters.

    Examples
    --------
    >>> folder_name("../../sluice gate #2"), folder_name("CON"), folder_name("...")
    ('sluice-gate-2', 'case-con', 'case')
    """
    plain = re.sub(r"[^\w-]+", "-", name, flags=re.ASCII).strip("-_")[:80].strip("-_")
    if not plain:
        return "case"
    reserved = re.fullmatch(r"(?i)con|prn|aux|nul|com[0-9]|lpt[0-9]", plain)
    return f"case-{plain.lower()}" if reserved else plain


def results_name(file: Path) -> str:
    """Name of the results folder of a case file: its own name, without the ending.

    The `case.yaml` that a run or a plan left beside its summary is named after that folder too,
    so that two jobs never share one.

    Examples
    --------
    >>> results_name(Path("cases/stern tube.yaml"))
    'stern-tube'
    """
    above = file.absolute().parent
    left = file.stem == "case" and above.name and (above / "summary.json").is_file()
    if left and above.name.endswith("-case"):
        return folder_name(above.name)  # a run of it before: the same job
    return folder_name(f"{above.name} case" if left else file.stem)


@contextmanager
def new_results(target: Path) -> Iterator[Path]:
    """Give a hidden folder to write into; on success it becomes `target`, whole.

    Raises
    ------
    CreateError
        The folder cannot be made: 73.
    WriteError
        Writing or the swap failed (disk full, read-only): 74. The old results stay.
    """
    if target.is_symlink():
        message = f"{target} is a link; results go into a real folder. Remove it or use --out."
        raise CreateError(message)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with _alone_in(target.parent):
            _sweep(target)
        fresh = target.parent / f".{target.name}.{os.getpid()}-{time.time_ns():x}.new"
        fresh.mkdir()
    except OSError as error:
        msg = f"cannot make {target}: {error.strerror}"
        raise CreateError(msg) from None
    try:
        yield fresh
        with _alone_in(target.parent):
            _swap(fresh, target)
    except OSError as error:
        msg = f"cannot write {target}: {error.strerror or error}"
        raise WriteError(msg) from None
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def replace_text(path: Path, text: str) -> None:
    """Put a text in place of a file's, its permissions kept; see `keep`."""
    keep(path, text.encode("utf-8"))


def keep(path: Path, data: bytes) -> Path:
    """Write a file under a temporary name, then rename; what was there stays if that fails.

    Raises
    ------
    WriteError
        The folder or the disk does not take it: 74.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(data)
        if path.exists():
            shutil.copymode(path, part)
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        message = f"cannot write {path}: {error.strerror or error}"
        raise WriteError(message) from error
    return path


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """Hold the lock of a folder; without one where the file system has no locks."""
    handle = None
    with contextlib.suppress(OSError):
        if fcntl is not None:
            handle = os.open(folder, os.O_RDONLY)
            fcntl.flock(handle, fcntl.LOCK_EX)
    try:
        yield
    finally:
        if handle is not None:
            os.close(handle)


def _swap(fresh: Path, target: Path) -> None:
    if not target.exists():
        fresh.rename(target)
    elif not _exchanged(fresh, target):
        kept = target.parent / f".{target.name}.old"
        target.rename(kept)
        fresh.rename(target)
        shutil.rmtree(kept, ignore_errors=True)


def _exchanged(one: Path, other: Path) -> bool:
    """Exchange two names in one step; False where the system cannot."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        renameat2 = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    done = renameat2(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE)
    return bool(done == 0)


def _sweep(target: Path) -> None:
    """Put back what an interrupted swap left, and remove what dead runs left."""
    kept = target.parent / f".{target.name}.old"
    if kept.is_dir():
        if target.exists():
            shutil.rmtree(kept, ignore_errors=True)
        else:
            kept.rename(target)
    pattern = re.compile(rf"\.{re.escape(target.name)}\.([0-9]+)-[0-9a-f]+\.new")
    for litter in target.parent.iterdir():
        found = pattern.fullmatch(litter.name)
        if found and not _alive(int(found[1]), litter):
            shutil.rmtree(litter, ignore_errors=True)


def _alive(pid: int, litter: Path) -> bool:
    """Whether the run that made a folder may still be writing into it."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    try:
        return time.time() - litter.stat().st_mtime < _STALE_AFTER
    except FileNotFoundError:  # the run that made it has just taken it away itself
        return True
