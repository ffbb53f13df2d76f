"""The command that says which folders and files barwright reads and writes."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from . import console
from .options import OK, JsonOption, QuietOption, print_json


def where(
    clear: Annotated[
        bool,
        typer.Option(
            "--clear", help="Delete what is kept to save time; it is made again when needed."
        ),
    ] = False,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say which files and folders it uses on this machine."""
    if clear:
        _clear()
    found = _places()
    if as_json:
        print_json(found)
    elif quiet:
        console.say(console.plain(found["kept"]["folder"]))
    else:
        _print(found)
    raise typer.Exit(OK)


def _kept() -> list[Path]:
    from barwright.analysis.block_store import store_folder

    return sorted(store_folder().glob("hole-*.npz"))


def _clear() -> None:
    from barwright.analysis.errors import WriteError

    files = _kept()
    try:
        for file in files:
            file.unlink(missing_ok=True)
    except OSError as error:
        message = f"cannot delete {file}: {error.strerror or error}"
        raise WriteError(message) from None
    console.note(f"{len(files)} kept files deleted")


def _places() -> dict[str, Any]:
    from importlib.metadata import version

    from barwright.analysis.block_store import FOLDER_NAME, store_folder

    files = _kept()
    return {
        "barwright": version("barwright"),
        "python": {"version": sys.version.partition(" ")[0], "program": sys.executable},
        "program": {"folder": str(Path(__file__).parent)},
        "kept": {
            "folder": str(store_folder()),
            "files": len(files),
            "bytes": sum(file.stat().st_size for file in files),
            "moved_by": FOLDER_NAME,
        },
        "results": {"folder": str(Path("results").absolute()), "moved_by": "--out"},
        "environment": {
            name: os.environ[name]
            for name in (FOLDER_NAME, "BARWRIGHT_DEBUG", "NO_COLOR", "TERM")
            if name in os.environ
        },
    }


def _print(found: dict[str, Any]) -> None:
    kept = found["kept"]
    console.say(f"barwright {found['barwright']} on Python {found['python']['version']}")
    size = f"{kept['files']} files, {kept['bytes'] / 1e6:.1f} MB"
    rows = [
        ("program", found["program"]["folder"]),
        ("Python", found["python"]["program"]),
        ("compiled code", "beside the program, in __pycache__ (NUMBA_CACHE_DIR moves it)"),
        ("results", f"{found['results']['folder']} (--out moves them)"),
        ("kept to save time", f"{kept['folder']}: {size} ({kept['moved_by']} moves it)"),
    ]
    console.table((name, console.plain(text)) for name, text in rows)
    for name, value in found["environment"].items():
        console.say(f"  set here: {name}={console.plain(value)}")
    console.say("  Nothing is sent anywhere.")
