"""Arguments and options that commands share, and what each exit status means."""

from __future__ import annotations

import errno
import json
from pathlib import Path
from typing import Annotated, Any

import typer

from barwright.analysis import errors

from . import console

OK, OUTSIDE, WRONG, UNSOLVED = 0, 1, 2, 3
BUG, CANNOT_CREATE, CANNOT_WRITE, INTERRUPTED, TERMINATED = 70, 73, 74, 130, 143

CaseArgument = Annotated[Path, typer.Argument(metavar="CASE", help="Case file (YAML).")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON and nothing else.")]
OutOption = Annotated[Path, typer.Option(help="Folder that holds the results.")]
QuietOption = Annotated[bool, typer.Option("--quiet", "-q", help="Print the answer alone.")]

_STATUS: tuple[tuple[type[errors.BarwrightError], int], ...] = (
    (errors.CaseError, WRONG),
    (errors.ModelError, WRONG),
    (errors.SolveError, UNSOLVED),
    (errors.CreateError, CANNOT_CREATE),
    (errors.WriteError, CANNOT_WRITE),
)


def status_of(error: errors.BarwrightError) -> int:
    """Exit status of an error that we have words for."""
    return next((code for kind, code in _STATUS if isinstance(error, kind)), BUG)


def of_disk(error: Exception) -> bool:
    """Whether the disk is at fault, full or failing: then nothing of a run may stay."""
    if isinstance(error, OSError):
        return error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EROFS)
    return isinstance(error, errors.WriteError)


def fault(error: Exception) -> str:
    """What to say of an error that we have no words for."""
    return f"barwright has a fault here, not your case: {type(error).__name__}: {error}"


def print_json(found: Any) -> None:
    """Print plain data as JSON."""
    console.say(json.dumps(found, indent=1, allow_nan=False))
