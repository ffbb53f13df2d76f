"""A job file: YAML text -> `BoringJob`, by the rules of a case file, with the same errors."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .casefile import Source, entry_schema, parse_entry, read_source
from .inputs import Input
from .job import BoringJob, job_conflicts


@dataclass(frozen=True, slots=True)
class JobFile:
    """A job with the file it came from and the origin of every value."""

    job: BoringJob
    inputs: tuple[Input, ...]
    source: Source


def read_job_file(path: str | Path) -> JobFile:
    """Job written in a file.

    Raises
    ------
    CaseError
        With every problem of the file, each with its line and key.
    """
    return parse_job(read_source(path))


def parse_job(source: Source) -> JobFile:
    """Job written in the text of a source."""
    what = "a job: write keys such as title: and work:"
    job, found = parse_entry(source, BoringJob, job_conflicts, what)
    return JobFile(job=job, inputs=found, source=source)


def job_schema() -> dict[str, Any]:
    """JSON Schema of a job file, for editors that complete and check."""
    return entry_schema(
        BoringJob,
        "barwright job",
        "A bore to be cut, the lathe and the steel on hand, for barwright plan.",
    )
