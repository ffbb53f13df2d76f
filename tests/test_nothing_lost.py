"""Whatever goes wrong while results are written, the last ones stay, whole."""

from __future__ import annotations

import errno
import io
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from remembered import remember, solved

from barwright.analysis import pictures, record
from barwright.analysis.casefile import CaseFile, read_case_file
from barwright.analysis.errors import WriteError
from barwright.analysis.run import Outcome
from barwright.analysis.swap import folder_name, new_results, replace_text
from barwright.cli import app
from barwright.cli.app import status

CASES = Path(__file__).parents[1] / "cases"
GOOD = CASES / "pump_bracket.yaml"
Capture = pytest.CaptureFixture[str]


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


# --- the n-th write fails ---------------------------------------------------------------------


class _Full(io.FileIO):
    """A file on a disk that takes so many writes and no more."""

    left = 0

    def write(self, data: Any) -> int:
        if _Full.left == 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        _Full.left -= 1
        return super().write(data)


def _opened(real: Callable[..., Any], folder: Path) -> Callable[..., Any]:
    def opened(file: Any, mode: str = "r", *args: Any, **kwargs: Any) -> Any:
        inside = isinstance(file, (str, Path)) and folder in Path(file).absolute().parents
        if not inside or not set(mode) & set("wxa"):
            return real(file, mode, *args, **kwargs)
        raw = io.BufferedWriter(_Full(file, mode.replace("b", "").replace("t", "")))
        if "b" in mode:
            return raw
        encoding, errors, newline = map(kwargs.get, ("encoding", "errors", "newline"))
        return io.TextIOWrapper(raw, encoding, errors, newline)

    return opened


@pytest.fixture
def good(remembering: None) -> tuple[CaseFile, Outcome, dict[str, Any]]:
    case_file, outcome = solved(GOOD.stem)
    return case_file, outcome, record.summary(case_file, outcome)


@pytest.fixture
def full_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[int], None]]:
    """Set after how many more writes below `tmp_path` the disk is full."""
    import builtins

    shim = _opened(open, tmp_path)
    monkeypatch.setattr(io, "open", shim)
    monkeypatch.setattr(builtins, "open", shim)

    def writes_left(count: int) -> None:
        _Full.left = count

    yield writes_left
    _Full.left = -1


@pytest.mark.filterwarnings("ignore::ResourceWarning")  # a file that could not be closed
def test_whichever_write_fails_the_old_results_stay(
    tmp_path: Path,
    good: tuple[CaseFile, Outcome, dict[str, Any]],
    full_disk: Callable[[int], None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case_file, outcome, summary = good
    monkeypatch.setattr(record, "summary", lambda *_: summary)
    target = tmp_path / "results" / "case"

    def written() -> None:
        with new_results(target) as fresh:
            record.write_record(fresh, case_file, outcome)

    full_disk(-1)
    written()
    before = contents(target)
    count = 0
    while True:
        full_disk(count)
        try:
            written()
        except WriteError as error:
            assert "No space left on device" in str(error)
        else:
            break
        full_disk(-1)
        assert contents(target) == before
        assert [path.name for path in target.parent.iterdir()] == ["case"]
        count += 1
    assert count >= len(before)
    assert contents(target) == before


@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.parametrize("step", [9, pytest.param(4, marks=pytest.mark.slow)])
def test_a_full_disk_is_status_74_whatever_is_being_written(
    tmp_path: Path,
    good: tuple[CaseFile, Outcome, dict[str, Any]],
    full_disk: Callable[[int], None],
    monkeypatch: pytest.MonkeyPatch,
    capsys: Capture,
    step: int,
) -> None:
    monkeypatch.setattr(record, "summary", lambda *_: good[2])
    call = ["run", str(GOOD), "-q", "--no-pictures", "--report", "--hole", "table"]
    call += ["--out", str(tmp_path)]
    full_disk(-1)
    assert status(call) == 0
    before = contents(tmp_path / GOOD.stem)
    count = 0
    capsys.readouterr()
    while True:
        full_disk(count)
        code = status(call)
        full_disk(-1)
        said = capsys.readouterr()
        if code == 0:
            break
        assert code == 74, said.err
        assert said.out == ""
        assert "No space left on device" in said.err
        assert contents(tmp_path / GOOD.stem) == before
        count += step
    assert count >= len(before)
    assert "report.html" in before
    assert contents(tmp_path / GOOD.stem) == before


def test_a_picture_that_the_disk_does_not_take_stops_the_run(
    tmp_path: Path, remembering: None, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    words = "import sys; print('cannot write give.png: No space left', file=sys.stderr)"
    child = [sys.executable, "-c", f"{words}; sys.exit(74)"]
    monkeypatch.setattr(pictures, "child_command", lambda folder: child)
    assert status(["run", str(GOOD), "-q", "--hole", "table", "--out", str(tmp_path)]) == 74
    assert "cannot write give.png: No space left" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_case_file_that_cannot_be_replaced_stays(
    tmp_path: Path, full_disk: Callable[[int], None]
) -> None:
    path = tmp_path / "case.yaml"
    full_disk(-1)
    path.write_text("old")
    full_disk(0)
    with pytest.raises(WriteError, match="No space left"):
        replace_text(path, "new")
    full_disk(-1)
    assert contents(tmp_path) == {"case.yaml": b"old"}


IN_TMPFS = """
set -e
mount -t tmpfs -o size={size}k none {folder}
{run}
cp {folder}/results/pump_bracket/summary.json {kept} 2>/dev/null || true
dd if=/dev/zero of={folder}/filler bs=1k count={filler} 2>/dev/null || true
code=0
{run}
cmp {folder}/results/pump_bracket/summary.json {kept} && echo same
ls -A {folder}/results
exit $code
"""


@pytest.mark.slow
def test_a_disk_that_is_really_full_is_status_74(tmp_path: Path) -> None:
    if shutil.which("unshare") is None or os.geteuid() != 0:
        pytest.skip("mounting needs root")
    allowed = subprocess.run(["unshare", "-m", "true"], capture_output=True, check=False)
    if allowed.returncode:
        pytest.skip("this machine does not let a disk be mounted")
    folder = tmp_path / "disk"
    folder.mkdir()
    script = IN_TMPFS.format(
        size=16000,
        filler=20000,
        folder=folder,
        kept=tmp_path / "kept.json",
        run=f"{sys.executable} -m barwright.cli run {GOOD} -q --no-pictures --hole table "
        f"--out {folder}/results || code=$?",
    )
    done = subprocess.run(
        ["unshare", "-m", "bash", "-c", script], capture_output=True, text=True, check=False
    )
    assert done.returncode == 74, done.stderr
    assert "No space left on device" in done.stderr
    assert done.stdout.splitlines()[-2:] == ["same", "pump_bracket"]


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="permissions of Unix")
def test_a_folder_that_takes_nothing_is_status_73_and_old_results_stay(tmp_path: Path) -> None:
    out = tmp_path / "results"
    call = ["run", str(GOOD), "-q", "--no-pictures", "--hole", "table", "--out", str(out)]
    with new_results(out / GOOD.stem) as fresh:
        (fresh / "summary.json").write_text("old")
    before = contents(out / GOOD.stem)
    command = [sys.executable, "-m", "barwright.cli", *call]
    out.chmod(0o555)
    try:
        if os.geteuid() == 0:  # root may write anywhere until it gives that right away
            if not shutil.which("setpriv"):
                pytest.skip("root writes anywhere")
            command = ["setpriv", "--bounding-set=-dac_override", *command]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert done.returncode == 73, done.stderr
        assert "cannot make" in done.stderr
        assert contents(out / GOOD.stem) == before
    finally:
        out.chmod(0o755)


# --- killed -----------------------------------------------------------------------------------

KILL_LOOP = """
import os, random, signal, sys, time
from pathlib import Path
from barwright.analysis.swap import new_results
target, kills = Path(sys.argv[1]), int(sys.argv[2])
random.seed(7)
mixed = absent = seen = 0
for _ in range(kills):
    child = os.fork()
    if child == 0:
        k = os.getpid()
        while True:
            k += 1
            with new_results(target) as fresh:
                for name in "abc":
                    (fresh / name).write_text(str(k))
    time.sleep(random.random() * 0.006)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    if target.exists():
        seen += 1
        mixed += len({(target / name).read_text() for name in "abc"}) != 1
    elif seen:
        absent += 1
with new_results(target) as fresh:
    (fresh / "a").write_text("end")
print(mixed, absent, seen, len(list(target.parent.iterdir())))
"""


def killed(tmp_path: Path, kills: int) -> tuple[int, ...]:
    done = subprocess.run(
        [sys.executable, "-c", KILL_LOOP, str(tmp_path / "case"), str(kills)],
        capture_output=True,
        text=True,
        check=True,
    )
    return tuple(map(int, done.stdout.split()))


@pytest.mark.parametrize("kills", [100, pytest.param(700, marks=pytest.mark.slow)])
def test_however_often_it_is_killed_nothing_is_mixed_or_lost(tmp_path: Path, kills: int) -> None:
    mixed, absent, seen, left = killed(tmp_path, kills)
    assert (mixed, absent) == (0, 0)
    assert seen > kills / 2
    assert left == 1  # the litter of every kill is swept


@pytest.mark.slow
@pytest.mark.usefixtures("remembering")
def test_the_whole_command_killed_anywhere_leaves_one_run(tmp_path: Path) -> None:
    call = ["run", str(GOOD), "-q", "--no-pictures", "--hole", "table", "--out", str(tmp_path)]
    assert status(call) == 0
    before = contents(tmp_path / GOOD.stem)
    for number in range(8):
        child = subprocess.Popen(
            [sys.executable, "-m", "barwright.cli", *call],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            child.wait(0.3 + 0.5 * number)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()
        assert contents(tmp_path / GOOD.stem) == before
    assert status(call) == 0
    assert [path.name for path in tmp_path.iterdir()] == [GOOD.stem]


# --- several at once --------------------------------------------------------------------------

WRITER = """
import os, sys
from pathlib import Path
from barwright.analysis import swap
if sys.argv[3] == "renames":
    swap._exchanged = lambda one, other: False
for k in range(int(sys.argv[2])):
    with swap.new_results(Path(sys.argv[1])) as fresh:
        for name in "abcdef":
            (fresh / name).write_text(f"{os.getpid()} {k}")
"""


def read_whole(target: Path) -> set[str] | None:
    """What every file of one folder says, read through that folder; None where it went."""
    try:
        handle = os.open(target, os.O_RDONLY)
    except FileNotFoundError:
        return None
    try:
        found = set()
        for name in "abcdef":
            file = os.open(name, os.O_RDONLY, dir_fd=handle)
            found.add(os.read(file, 100).decode())
            os.close(file)
    except FileNotFoundError:
        return None
    finally:
        os.close(handle)
    return found


@pytest.mark.skipif(os.name != "posix", reason="needs folders by handle")
@pytest.mark.parametrize("way", ["exchange", "renames"])
@pytest.mark.parametrize(
    ("count", "rounds"), [(3, 15), pytest.param(8, 50, marks=pytest.mark.slow)]
)
def test_runs_at_once_into_one_folder_leave_one_of_them_whole(
    tmp_path: Path, count: int, rounds: int, way: str
) -> None:
    target = tmp_path / "case"
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(target), str(rounds), way],
            stderr=subprocess.PIPE,
        )
        for _ in range(count)
    ]
    reads = 0
    while any(writer.poll() is None for writer in writers):
        found = read_whole(target)
        if found is not None:
            assert len(found) == 1
            reads += 1
    for writer in writers:
        assert writer.communicate()[1] == b""
        assert writer.returncode == 0
    assert reads
    assert len(read_whole(target) or ()) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["case"]


# --- pictures that cannot be drawn ------------------------------------------------------------


def test_a_drawing_that_is_killed_costs_its_pictures_alone(
    tmp_path: Path, remembering: None, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    killed = [sys.executable, "-c", "import os; os.kill(os.getpid(), 9)"]
    monkeypatch.setattr(pictures, "child_command", lambda folder: killed)
    assert status(["run", str(GOOD), "-q", "--hole", "table", "--out", str(tmp_path)]) == 0
    said = capsys.readouterr()
    assert said.out.startswith("WITHIN LIMITS")
    assert "no pictures: the drawing ended with signal 9" in said.err
    assert (tmp_path / GOOD.stem / "summary.json").exists()


# --- names and texts that bite ----------------------------------------------------------------

NAMES = [
    "..",
    ".",
    "/",
    "//",
    "../../etc/passwd",
    "..\\..\\windows",
    "/abs/olute",
    "C:\\x",
    "C:x",
    "~root",
    "$HOME",
    "`id`",
    "$(id)",
    "a;rm -rf b",
    "a|b",
    "con",
    "NUL.txt",
    "Com1",
    "aux.",
    " trailing ",
    "dot.",
    "new\nline",
    "tab\tb",
    "\x1b]0;x\x07",
    "\u202egnp.exe",
    "\u00c5ngstr\u00f6m",
    "\u6f22\u5b57",
    "x" * 300,
    "-rf",
    "a\\u0000b",
]


@pytest.mark.parametrize("name", NAMES)
def test_no_name_of_a_case_leads_out_of_the_results(tmp_path: Path, name: str) -> None:
    out = tmp_path / "out"
    with new_results(out / folder_name(name)) as fresh:
        (fresh / "a").write_text("x")
    (made,) = out.iterdir()
    assert made.parent == out
    assert re.fullmatch(r"[A-Za-z0-9][\w-]{0,79}", made.name, flags=re.ASCII)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize(
    "name", ["pump bracket (2)", "Buchse \u00d8 44", "\u6f22\u5b57", "a'b\"c"]
)
def test_a_file_with_any_name_is_read_and_its_results_found(
    tmp_path: Path, remembering: None, capsys: Capture, name: str
) -> None:
    path = tmp_path / f"{name}.yaml"
    path.write_text(GOOD.read_text())
    out = tmp_path / "my results \u00e9"
    call = ["run", str(path), "-q", "--no-pictures", "--hole", "table", "--out", str(out)]
    assert status(call) == 0
    summary = json.loads((out / folder_name(name) / "summary.json").read_text())
    assert summary["case"]["file"].isascii()
    assert capsys.readouterr().out.isascii()


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437", "utf-16"])
def test_every_message_reaches_a_console_of_another_alphabet(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, encoding: str
) -> None:
    case = tmp_path / "Welle \u00d8 \u6f22.yaml"
    case.write_text(GOOD.read_text().replace("title: Pump", "title: \u00d8\u6f22 \u202e Pump"))
    shown = {name: io.TextIOWrapper(io.BytesIO(), encoding) for name in ("stdout", "stderr")}
    for name, stream in shown.items():
        monkeypatch.setattr(sys, name, stream)
    monkeypatch.setattr(sys, "argv", ["barwright", "check", str(case)])
    monkeypatch.setattr(signal, "signal", lambda *_: None)
    with pytest.raises(SystemExit) as left:
        app.main()
    assert left.value.code == 0
    for stream in shown.values():
        stream.seek(0)
    assert "Pump bracket" in shown["stdout"].read()
    assert shown["stderr"].read().startswith("next: barwright run")


TEXTS = [
    "[/]",
    "a[/]b",
    "[red]x",
    "[link=http://x]y",
    "\\[x]",
    "{0}",
    "{{ 7*7 }}",
    "{% raw %}",
    "%s%n",
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "</title><b>",
    "&lt;b&gt;",
    "]]>",
    "<!--",
    '"><svg/onload=x>',
    "javascript:alert(1)",
    "=cmd()",
    "=1+1",
    "+1+cmd",
    "-1-cmd",
    "@SUM(A1)",
    "\t=1",
    "'quoted",
    '"quoted"',
    "a,b;c",
    "\x1b[31mred",
    "\x1b]8;;http://x\x07y",
    "\x07",
    "\x9b31m",
    "\u202etxt.exe",
    "\u200b",
    "\ufeffbom",
    "\u2028line",
    "\x7f",
    "\u00d8 44 \u00b1 \u00b5m",
    "\u6f22\u5b57",
    "\U0001f600",
    "a" * 199,
    "../../x",
    "C:\\x\\y",
    "$(id) `id`",
]


def yaml_text(text: str) -> str:
    """Text in double quotes, with escapes for what YAML does not take raw."""
    return '"' + "".join(f"\\U{ord(letter):08x}" for letter in text) + '"'


@pytest.fixture(scope="module")
def hostile(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Callable[[str], tuple[Path, CaseFile]]]:
    """Results whose title, part and lathe are a text; solved once, for no text changes numbers."""
    _, outcome = solved(GOOD.stem)
    folder = tmp_path_factory.mktemp("hostile")

    def written(text: str) -> tuple[Path, CaseFile]:
        said = yaml_text(text)
        case = folder / "case.yaml"
        body = GOOD.read_text()
        for was in (
            "title: Pump bracket, 44 H7 in grey iron",
            "part: pump bracket",
            "name: small metric engine lathe (invented)",
        ):
            assert was in body
            body = body.replace(was, f"{was.partition(':')[0]}: {said}")
        case.write_text(body, encoding="utf-8")
        case_file = read_case_file(case)
        from dataclasses import replace

        with new_results(folder / "results") as fresh:
            record.write_record(fresh, case_file, replace(outcome, case=case_file.case))
        return folder / "results", case_file

    with pytest.MonkeyPatch.context() as patched:
        remember(patched)
        yield written


@pytest.mark.parametrize("text", TEXTS)
def test_no_text_steers_console_table_or_json(
    hostile: Callable[[str], tuple[Path, CaseFile]], text: str, capsys: Capture
) -> None:
    folder, case_file = hostile(text)
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    assert summary["case"]["title"] == case_file.case.title
    for table in folder.glob("*.csv"):
        for line in table.read_text(encoding="utf-8").splitlines():
            for cell in line.split(","):
                runs = cell.strip('"').startswith(("=", "+", "@", "\t", "\r"))
                assert not runs or re.fullmatch(r"[+][\d.e+-]+", cell), cell
    assert status(["check", str(folder.parent / "case.yaml")]) == 0
    out = capsys.readouterr().out
    assert out.isascii()
    assert not set(out) - set(map(chr, range(32, 127))) - {"\n"}
