"""Each bad file says in its first comments which messages it must give, all of them, in order."""

from pathlib import Path

import pytest

from barwright.analysis.casefile import LARGEST_FILE, MOST_SHOWN, read_case
from barwright.analysis.errors import CaseError

FOLDER = Path(__file__).with_name("broken_cases")
FILES = sorted(FOLDER.glob("*.yaml"))
OPENING = "# expects: "


def _messages(path: Path) -> list[str]:
    """What reading a bad file says, each line without the name of the file."""
    with pytest.raises(CaseError) as refused:
        read_case(path)
    return [line.removeprefix(f"{path}:").strip() for line in str(refused.value).split("\n")]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_bad_file_gives_its_message(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").split("\n")
    expected = [line.removeprefix(OPENING) for line in lines if line.startswith(OPENING)]
    said = _messages(path)
    assert [line.replace(": ", ":", 1) for line in said] == [
        line.replace(": ", ":", 1) for line in expected
    ]
    assert all(line.isascii() and line.isprintable() for line in said)


def test_there_are_enough_bad_files() -> None:
    assert len(FILES) >= 100
