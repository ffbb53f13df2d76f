"""Arguments and options that commands share, and what each exit status means."""

from __future__ import annotations

import errno
import glob
import json
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from barwright.analysis import errors

from . import console

OK, OUTSIDE, WRONG, UNSOLVED = 0, 1, 2, 3
BUG, CANNOT_CREATE, CANNOT_WRITE, INTERRUPTED, TERMINATED = 70, 73, 74, 130, 143


def _words(table: str) -> Callable[[str], list[str]]:
    """What a shell offers of a table's names: each as one word, for any shell takes that."""

    def offered(incomplete: str) -> list[str]:
        import yaml

        # By hand, because what knows these tables loads what solves.
        text = Path(errors.__file__).with_name(table).read_text(encoding="utf-8")
        names = yaml.load(text, Loader=getattr(yaml, "CBaseLoader", yaml.BaseLoader))
        words = (name.lower().replace(" ", "_") for name in names)
        return [word for word in words if word.startswith(incomplete)]

    return offered


BAR_METALS = _words("bar_materials.yaml")
WORK_METALS = _words("work_materials.yaml")
SYMPTOMS = _words("troubles.yaml")


def yaml_files(incomplete: str) -> list[str]:
    """What a shell offers of case and job files: those here and one folder down."""
    start = glob.escape(incomplete)
    found = (name for way in ("*", "*/*") for name in glob.glob(f"{start}{way}"))
    return sorted(name for name in found if name.endswith((".yaml", ".yml")))


CaseArgument = Annotated[
    Path,
    typer.Argument(metavar="CASE", help="Case file (YAML).", autocompletion=yaml_files),
]
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
