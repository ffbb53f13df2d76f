"""Where a record comes from: which program wrote it, from which case."""

from __future__ import annotations

from importlib.metadata import version
from typing import Any

from .casefile import CaseFile


def provenance(schema: str, case_file: CaseFile) -> dict[str, Any]:
    """Head of a record: its schema, the version, and the case with its fingerprint; no path."""
    return {
        "schema": schema,
        "barwright": version("barwright"),
        "case": {
            "title": case_file.case.title,
            "file": case_file.name,
            "sha256": case_file.sha256,
        },
    }
