"""Shipped cases and jobs spoilt at random, as slips of the hand and of the disk spoil them.

By hand, ``python tests/spoilt_files.py 100000`` reads as many and says what came of them.
"""

from __future__ import annotations

import random
import re
import resource
import sys
import time
from collections import Counter
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from barwright.analysis.casefile import MOST_SHOWN, read_case_file
from barwright.analysis.errors import CaseError
from barwright.analysis.jobfile import read_job_file

CASES = Path(__file__).parents[1] / "cases"
GOOD = {path: path.read_text() for path in sorted(CASES.glob("*.yaml"))}
JOBS = {path: path.read_text() for path in sorted(CASES.glob("jobs/*.yaml"))}
VALUES: tuple[Any, ...] = (
    *("nan", ".nan", "inf", "-.inf mm", "1e999 mm", "1e308 mm", "9" * 90, "9" * 90 + " mm"),
    *("-3 mm", "-1e3 N/um", "0", "0 mm", "0/0 in", "1/0 in", "1-5/4 in", "1,500 mm", "5 mil"),
    *("3 furlong", "3 kg", "90 rpm", "5 MPa", "44 H7", "44 Z9", "600 H7", "1 to 2", "3 to 2 mm"),
    *("2 mm (3 to 4)", "2 mm (1 to 1e99)", "()", "( to )", "rigid", "true", "null", "~", "", " "),
    *("no", "0x1F mm", "010", "1:30", "2020-01-01", "3 mm mm", "3 mm3", "9**9**9 mm", "a" * 5000),
    *("\x1b[31m", "\x07", "\u202e 3 mm", "\u0663 mm", "[/]", "{0}", "%s%n", "../../x", "\ud7ff"),
    *([], {}, [[]], [{}], {"": ""}, ["3 mm"], ["3 mm", []], {"kind": "chuck"}, {"kind": []}),
    *([{"kind": "live centre"}] * 2, {"low": "1 mm", "high": "2 mm"}, {"x": {"y": {"z": "1"}}}),
)
NAMES = ("", "kind", "bar", "<<", "=", "a" * 3000, "Diameter", "diameter ", "0", "null", "\x1b")
_Way = Callable[[random.Random, Any], None]


# --- the tree --------------------------------------------------------------------------------


def _places(tree: Any) -> list[tuple[Any, Any]]:
    """Every mapping or list in a tree, with each of its keys or numbers."""
    here = tree.items() if isinstance(tree, dict) else enumerate(tree)
    found = []
    for key, value in here if isinstance(tree, (dict, list)) else ():
        found += [(tree, key), *(_places(value) if isinstance(value, (dict, list)) else ())]
    return found


def _lost(draw: random.Random, tree: Any) -> None:
    owner, key = draw.choice(_places(tree))
    del owner[key]


def _renamed(draw: random.Random, tree: Any) -> None:
    owner, key = draw.choice([place for place in _places(tree) if isinstance(place[0], dict)])
    letters = list(key) or [""]
    at = draw.randrange(len(letters))
    letters[at : at + draw.randint(0, 2)] = draw.choice(("", "e", "_", letters[at] * 2))
    name = draw.choice(NAMES) if draw.random() < 0.2 else "".join(letters)
    owner[name] = owner.pop(key)


def _replaced(draw: random.Random, tree: Any) -> None:
    owner, key = draw.choice(_places(tree))
    owner[key] = deepcopy(draw.choice(VALUES))


def _unit_lost(draw: random.Random, tree: Any) -> None:
    """A number without its unit, with another's, a hundred times as large, or below nothing."""
    texts = [(o, k) for o, k in _places(tree) if re.match(r"[.\d]", str(o[k]))]
    owner, key = draw.choice(texts)
    number, _, unit = str(owner[key]).partition(" ")
    units = ("", "mm", "in", "N/um", "kg", "rpm", "Hz", "deg", "MPa", "mm/rev", "%", "H7", "W")
    ways = (f"{number} {draw.choice(units)}", f"{number}00 {unit}", f"-{number} {unit}")
    owner[key] = draw.choice((*ways, f"{number}e{draw.randint(-40, 400)} {unit}"))


def _elsewhere(draw: random.Random, tree: Any) -> None:
    """A piece of the file where another piece should be."""
    (owner, key), (other, name) = (draw.choice(_places(tree)) for _ in range(2))
    owner[key] = deepcopy(other[name])


def _added(draw: random.Random, tree: Any) -> None:
    owner, _ = draw.choice(_places(tree))
    value = deepcopy(draw.choice(VALUES))
    if isinstance(owner, list):
        owner.append(value)
    else:
        owner[draw.choice((*NAMES, "wobble", "span", "measured", "position"))] = value


def _measured(draw: random.Random, tree: Any) -> None:
    what = ("bar.diameter", "bar", "lathe.speeds[99]", "supports.tail.radial_stiffness", "[", "..")
    row = {"what": draw.choice((*what, *VALUES)), "value": draw.choice(VALUES)}
    tree["measured"] = [draw.choice((row, {"what": row["what"]}, row["value"]))]


def _nested(draw: random.Random, tree: Any) -> None:
    owner, key = draw.choice(_places(tree))
    for _ in range(draw.choice((1, 2, 3, 20))):
        owner[key] = [owner[key]] if draw.random() < 0.5 else {"in": owner[key]}


def _many(draw: random.Random, tree: Any) -> None:
    """A list thousands long, or thousands of keys."""
    owner, key = draw.choice(_places(tree))
    count = draw.choice((100, 1000, 3000))
    plain = owner[key] if not isinstance(owner[key], (dict, list)) else "1 mm"
    owner[key] = [plain] * count if draw.random() < 0.5 else {f"k{n}": plain for n in range(count)}


OFTEN: tuple[_Way, ...] = (_lost, _renamed, _replaced, _unit_lost, _elsewhere, _added, _measured)
TREE: tuple[_Way, ...] = (*OFTEN * 4, _nested, _nested, _many)


# --- the text --------------------------------------------------------------------------------


def _line_spoilt(draw: random.Random, lines: list[str]) -> None:
    at = draw.randrange(len(lines))
    line = lines[at]
    name = line.partition(":")[0]
    lines[at : at + 1] = draw.choice(
        (
            [],
            [line, line],
            [line[::-1]],
            ["\t" + line],
            [line.replace("  ", "\t")],
            [" " + line],
            [line.replace(":", "")],
            [line.replace(": ", ":")],
            [line.replace(": ", ": : ")],
            [f"{name}: &a x", f"{name.strip()}2: *a"],
            [f"{name}: !!python/object/apply:os.system [ls]"],
            [f"{name}: !!binary x"],
            [f"{name}: *nowhere"],
            [line, "<<: {a: b}"],
            [line, "---", "title: another"],
            ["--- # again", line],
            [f"{line} # remark", "%YAML 1.1"],
            [f"{name}: |", "  3 mm", "  4 mm"],
            [f"{name}: >-", "  3 mm"],
            [f"{name}: [", line],
            [f'{name}: "'],
            [f"{name}: '3 mm"],
            [f'{name}: "\\x1b[31m\\0\\uffff"'],
            [f"? {name}", ": 3 mm"],
            ["? [a, b]", ": 3 mm"],
            ["@x: `y`"],
            [line + "\r" + line],
            [line + "\x85" + line],
            [line + "\u2028" + line],
        )
    )


def _bomb(draw: random.Random, lines: list[str]) -> None:
    """Anchors upon anchors, merges upon merges, brackets without end."""
    rows = [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 12)]
    merges = [f"m{n}: &m{n} {{<<: [{', '.join([f'*m{n - 1}'] * 9)}]}}" for n in range(1, 12)]
    bombs = (["a0: &a0 [x]", *rows], ["m0: &m0 {x: y}", *merges], ["x: " + "[" * 90_000])
    more = (["x: " + "{a: " * 60_000], ["- " * 60_000], ["? " * 60_000], ["x: " + "'" * 90_001])
    lines[draw.randrange(len(lines)) :] = draw.choice((*bombs, *more))


def _bytes_spoilt(draw: random.Random, content: bytes) -> bytes:
    at = draw.randrange(len(content))
    there = (b"\xff", b"\xc3\x28", b"\0", b"\x07", b"\x1b[2J", b"\xed\xa0\x80", b"\xef\xbb\xbf")
    cut = draw.choice((content[:at], content[at:], content[at:] + content[:at]))
    put = content[:at] + draw.choice(there) + content[at + draw.randint(0, 1) :]
    flipped = content[:at] + bytes([content[at] ^ 1 << draw.randrange(8)]) + content[at + 1 :]
    kind = draw.choice(("utf-16", "utf-32", "utf-7", "latin-1"))
    coded = content.decode("utf-8").encode(kind, "replace")
    long = content + b"# " + b"x" * 300_000
    wide = content + b"".join(b"k%d: 1\n" % n for n in range(draw.choice((2000, 18_000))))
    return draw.choice((cut, put, put, flipped, flipped, coded, draw.choice((long, wide))))


class Spoilt(NamedTuple):
    """A file with something wrong in it, most likely."""

    content: bytes
    job: bool


def spoilt_file(seed: int) -> Spoilt:
    """One file, the same for the same seed."""
    draw = random.Random(seed)
    job = draw.random() < 0.2
    text = draw.choice(list((JOBS if job else GOOD).values()))
    kind = draw.random()
    if kind < 0.7:
        tree = yaml.load(text, Loader=yaml.CBaseLoader)
        for _ in range(draw.choice((1, 1, 1, 2, 4))):
            draw.choice(TREE)(draw, tree)
        return Spoilt(_dumped(tree), job)
    lines = text.split("\n")
    for _ in range(draw.choice((1, 1, 2))):
        (_bomb if kind > 0.985 else _line_spoilt)(draw, lines)
    content = "\n".join(lines).encode()
    return Spoilt(_bytes_spoilt(draw, content) if 0.85 < kind < 0.985 else content, job)


def _dumped(tree: Any) -> bytes:
    text: str = yaml.dump(tree, Dumper=_Plain, sort_keys=False, allow_unicode=True, width=200)
    return text.encode("utf-8", "surrogatepass")


class _Plain(yaml.CSafeDumper):
    """Writes no aliases, and texts that look like something else without a tag."""

    def ignore_aliases(self, data: Any) -> bool:
        """Write everything out."""
        return True


# --- what came of it -------------------------------------------------------------------------

_PLACED = re.compile(r"spoilt\.yaml(:[1-9][0-9]*)?: .+")
_NO_LINE = ("this is larger than 256 kB", "this is not text", "and ")
"""How messages begin that are about a whole file, and the one that counts what is not shown."""


def outcome(spoilt: Spoilt, folder: Path) -> str:
    """What reading a file says: `read`, or `refused` where every line of it has its place.

    Raises
    ------
    AssertionError
        A message without place, or one that a terminal would obey.
    """
    path = folder / "spoilt.yaml"
    path.write_bytes(spoilt.content)
    try:
        (read_job_file if spoilt.job else read_case_file)(path)
    except CaseError as refused:
        assert 1 <= len(refused.problems) <= MOST_SHOWN + 1
        for problem in refused.problems:
            said = str(problem).removeprefix(f"{folder}/")
            assert said.isascii(), said
            assert said.isprintable(), said
            assert _PLACED.fullmatch(said), said
            assert problem.line or problem.message.startswith(_NO_LINE), said
            assert len(said) < 3000, said
        return "refused"
    return "read"


def main() -> None:
    """Read as many spoilt files as are asked for."""
    import tempfile

    count, first = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0
    came: Counter[str] = Counter()
    slowest, which = 0.0, 0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + count):
            spoilt = spoilt_file(seed)
            began = time.process_time()
            try:
                came[outcome(spoilt, Path(folder))] += 1
            except Exception as error:  # each is a find, and the rest are wanted too
                came["broken"] += 1
                print(f"seed {seed}: {type(error).__name__}: {str(error)[:300]}", flush=True)
            spent = time.process_time() - began
            if spent > slowest:
                slowest, which = spent, seed
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{dict(came)}; slowest {slowest:.2f} s (seed {which}); {most:.0f} MB at most")


if __name__ == "__main__":
    main()
