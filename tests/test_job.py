"""Job files: read by the rules of a case, wrong ones refused in words, shipped ones whole."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from planned_jobs import plain_job

from barwright.analysis.errors import CaseError
from barwright.analysis.job import BoringJob, job_conflicts
from barwright.analysis.jobfile import job_schema, read_job_file
from barwright.cli.app import status

HERE = Path(__file__).parent
JOBS = sorted((HERE.parent / "cases" / "jobs").glob("*.yaml"))
BROKEN = sorted((HERE / "broken_jobs").glob("*.yaml"))
OPENING = "# expects: "


@pytest.mark.parametrize("path", BROKEN, ids=lambda path: path.stem)
def test_a_bad_job_gives_its_messages(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").split("\n")
    expected = [line.removeprefix(OPENING) for line in lines if line.startswith(OPENING)]
    with pytest.raises(CaseError) as refused:
        read_job_file(path)
    said = [line.removeprefix(f"{path}:").strip() for line in str(refused.value).split("\n")]
    assert said == expected
    assert all(line.isascii() and line.isprintable() for line in said)


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.stem)
def test_a_shipped_job_is_read_and_says_what_it_shows(path: Path) -> None:
    head = path.read_text().splitlines()[:3]
    assert head[0] == "# yaml-language-server: $schema=job.schema.json"
    assert head[1].startswith("# Shows: ")
    assert head[2].startswith("# Numbers: ")
    assert isinstance(read_job_file(path).job, BoringJob)


def test_the_committed_schema_of_a_job_is_the_one_the_code_gives() -> None:
    committed = json.loads((HERE.parent / "cases" / "jobs" / "job.schema.json").read_text())
    assert committed == job_schema()


def test_a_value_left_out_of_a_job_is_marked_as_a_guess() -> None:
    found = {one.name: one for one in read_job_file(JOBS[0]).inputs}
    assert found["work.start_bore"].origin == "typed"
    assert found["lathe.quill"].origin == "default guess"
    assert found["lathe.quill"].range == (0.012, 0.032)


def test_lengths_along_the_bore_add_up() -> None:
    job = BoringJob.model_validate(
        {
            "title": "t",
            "work": {
                "material": "grey iron",
                "bore": "45 H8",
                "start_bore": "42 mm",
                "lands": ["30 mm", "40 mm"],
                "gaps": ["110 mm"],
                "access": "38 mm",
            },
            "lathe": {"between_centres": "600 mm"},
            "stock": {"bars": [], "bits": []},
        }
    )
    assert job.work.length == pytest.approx(0.180)
    assert job.work.passes_through == 0.038


def test_the_command_prints_the_schema_of_a_job(capsys: pytest.CaptureFixture[str]) -> None:
    assert status(["schema", "--job"]) == 0
    assert json.loads(capsys.readouterr().out) == job_schema()


@pytest.mark.parametrize(
    ("work", "meant"),
    [
        ({"start_bore": "1.65 mm"}, "1.650 in"),
        ({"start_bore": "42 mm", "lands": ["80 in"]}, "80 mm"),
    ],
)
def test_a_size_in_the_wrong_unit_is_asked_about(work: dict[str, Any], meant: str) -> None:
    found = job_conflicts(plain_job(work=work))
    assert any(f"did you mean {meant}?" in one.message for one in found)


def test_sizes_in_the_right_unit_are_not_asked_about() -> None:
    assert not job_conflicts(plain_job())
