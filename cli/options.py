"""Arguments and options that commands share, and what each exit status means."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from . import console

OK, OUTSIDE, WRONG, UNSOLVED = 0, 1, 2, 3

CaseArgument = Annotated[Path, typer.Argument(metavar="CASE", help="Case file (YAML).")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON and nothing else.")]
OutOption = Annotated[Path, typer.Option(help="Folder that holds the results.")]
QuietOption = Annotated[bool, typer.Option("--quiet", "-q", help="Print the answer alone.")]


def print_json(found: Any) -> None:
    """Print plain data as JSON."""
    console.say(json.dumps(found, indent=1, allow_nan=False))
