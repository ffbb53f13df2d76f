"""Each bad file says in its first comments which messages it must give, all of them, in order."""

import time
import tracemalloc
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from spoilt_files import outcome, spoilt_file

from barwright.analysis.casefile import LARGEST_FILE, MOST_SHOWN, Source, parse_case, read_case
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
    assert len(FILES) >= 150


def test_a_folder_is_refused(tmp_path: Path) -> None:
    assert _messages(tmp_path) == ["this is a folder; give the case file in it"]


def test_a_missing_file_is_refused_with_its_neighbour(tmp_path: Path) -> None:
    (tmp_path / "bracket.yaml").write_text("title: x")
    said = _messages(tmp_path / "braket.yaml")
    assert said[0].endswith(f"there is no such file; did you mean {tmp_path / 'bracket.yaml'}?")
    nowhere = tmp_path / "no" / "such.yaml"
    assert _messages(nowhere) == ["there is no such file"]


def test_a_device_is_not_a_case() -> None:
    assert _messages(Path("/dev/null")) == ["this is not a file; give a case file"]


def test_a_name_that_is_too_long_is_refused() -> None:
    assert "this cannot be read: file name too long" in _messages(Path("x" * 300))[0]


def test_a_name_with_a_null_in_it_is_refused() -> None:
    assert _messages(Path("a\0b.yaml"))[0].startswith("a\\x00b.yaml: ")


def test_a_large_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    large = tmp_path / "large.yaml"
    with large.open("wb") as stream:
        stream.truncate(50_000_000)
    tracemalloc.start()
    said = _messages(large)
    assert tracemalloc.get_traced_memory()[1] < 5_000_000
    tracemalloc.stop()
    assert "this is larger than 256 kB, which no case is" in said[0]


def test_the_largest_file_is_read_in_good_time(tmp_path: Path) -> None:
    wide = tmp_path / "wide.yaml"
    rows = "".join(f"k{n}: {n}\n" for n in range(30_000))
    wide.write_text(rows[:LARGEST_FILE].rpartition("\n")[0])
    began = time.process_time()
    said = _messages(wide)
    assert time.process_time() - began < 3
    assert len(said) == MOST_SHOWN + 1
    assert said[-1].endswith("more; mend these first")


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    empty = tmp_path / "empty.yaml"
    empty.touch()
    assert _messages(empty) == ["1: this file is empty; write keys such as title: and bar:"]


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"title: x\0y", "this is not text; a case is a text file in YAML"),
        (b"title: x\nbar: \xff\xfe", "2: this is not UTF-8 text; save the file as UTF-8"),
        ("title: x".encode("utf-16"), "this is not text"),
        (b"\x89PNG\r\n\x1a\n\xff\xff", "this is not UTF-8 text"),
    ],
)
def test_what_is_not_text_is_refused(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "binary.yaml"
    path.write_bytes(content)
    assert message in _messages(path)[0]


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "marked.yaml"
    path.write_bytes(b"\xef\xbb\xbfbarr: 1\n")
    assert "1: barr: there is no such key; did you mean bar?" in _messages(path)


@settings(max_examples=300, deadline=None)
@given(
    st.text(
        alphabet=st.one_of(
            st.sampled_from("abr:-[]{}&*!|>'\"#%@`, \n\t0159\x85\u2028"),
            st.characters(exclude_categories=["Cs"]),
        ),
        max_size=200,
    )
)
def test_any_text_is_refused_in_words(text: str) -> None:
    source = Source(file="any.yaml", name="any.yaml", text=text, sha256="")
    with pytest.raises(CaseError) as refused:
        parse_case(source)
    assert str(refused.value).isascii()


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_any_line_may_be_lost_or_doubled(data: st.DataObject) -> None:
    lines = (FOLDER.parents[1] / "cases" / "pump_bracket.yaml").read_text().split("\n")
    at = data.draw(st.integers(0, len(lines) - 1))
    word = data.draw(st.sampled_from(["", lines[at] * 2, lines[at] + "x", lines[at][::-1]]))
    text = "\n".join([*lines[:at], word, *lines[at + 1 :]])
    source = Source(file="any.yaml", name="any.yaml", text=text, sha256="")
    try:
        parse_case(source)
    except CaseError as refused:
        said = str(refused)
    else:
        said = "any.yaml:"
    assert all(line.startswith("any.yaml:") for line in said.split("\n"))


@pytest.mark.parametrize("count", [60, pytest.param(500, marks=pytest.mark.slow)])
def test_whatever_is_spoilt_is_refused_at_its_place(tmp_path: Path, count: int) -> None:
    refused = 0
    for spoilt in map(spoilt_file, range(count)):
        began = time.process_time()
        refused += outcome(spoilt, tmp_path) == "refused"
        assert time.process_time() - began < 2  # some 0.5 s for the widest on an idle machine
    assert refused > 0.8 * count


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_letters_marked_are_in_the_line_named(path: Path) -> None:
    with pytest.raises(CaseError) as refused:
        read_case(path)
    lines = path.read_bytes().decode("utf-8", "replace").splitlines()
    for problem in refused.value.problems:
        if problem.text:
            marked = problem.text[problem.column :][: problem.width]
            assert marked
            assert not marked.startswith(" ")
            assert len(problem.text) == min(120, len(lines[problem.line - 1]))
            assert marked in lines[problem.line - 1] or "?" in marked
            assert problem.text.isascii()
            assert problem.text.isprintable()


@pytest.mark.parametrize(
    ("was", "becomes", "marked"),
    [
        ("diameter: 28 mm", "diameter: 28", "28"),
        ("diameter: 28 mm", "diamter:   28 mm", "diamter"),
        ("diameter: 28 mm", 'diameter: "28 \\u00b5"', r'"28 \u00b5"'),
        ("kind: chuck", "kind: chock", "chock"),
        ("material: grey iron", "material: gray irn  # cast", "gray irn"),
        ("size: 8 mm\n  length", "size: 80 mm\n  length", "80 mm"),
    ],
)
def test_a_terminal_is_shown_the_line_with_what_is_wrong_marked(
    tmp_path: Path, was: str, becomes: str, marked: str
) -> None:
    path = tmp_path / "case.yaml"
    good = (FOLDER.parents[1] / "cases" / "pump_bracket.yaml").read_text()
    assert was in good
    path.write_text(good.replace(was, becomes, 1))
    with pytest.raises(CaseError) as refused:
        read_case(path)
    problem = next(one for one in refused.value.problems if one.text)
    line, carets = problem.shown.split("\n")
    assert f"{problem}\n{line}\n{carets}" in refused.value.with_lines()
    start = carets.index("^")
    assert line[start : start + len(marked)] == marked
    assert carets[start:] == "^" * len(marked)
