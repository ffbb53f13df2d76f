"""A case file: YAML text -> `Case`, with file, line and key in every error, and back again.

The file is composed, not loaded: every scalar stays the text that was typed, with its line and
column, so nothing is guessed at (`010`, `1:30`, `no`), and our own grammar reads the quantities.
Anchors, aliases, tags and merges are refused, for a page of them can ask for more memory than
the machine has.
"""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Literal, NoReturn, TypeVar, get_origin

import yaml
from pydantic import ValidationError

from .case import Case, Conflict, conflicts
from .entry import Entry
from .errors import CaseError, Problem
from .inputs import SI_UNIT, inputs
from .inputs import Input as Input  # what a case file is made of
from .keys import (
    Key,
    dotted,
    field_at,
    holds_quantity,
    keys_named,
    kind_of,
    model_in,
    models_at,
    parts,
    supports_by_kind,
    undotted,
    value_names,
)
from .material import BarMaterial, WorkMaterial, is_shipped
from .units import (
    EXAMPLES,
    Estimate,
    Fit,
    System,
    UnitError,
    parse_fit,
    parse_quantity,
    quoted,
    show,
)

LARGEST_FILE = 256_000  # bytes
DEEPEST = 12  # levels; a case has five
MOST_SHOWN = 20  # problems
_WIDEST = 120  # letters of a line that is shown
CHOSEN = "# chosen by plan"
"""Remark behind a value that a plan chose; it is read back as the value's origin."""
SCHEMA_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_E = TypeVar("_E", bound=Entry)


# --- what comes out --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Source:
    """The bytes of a case file, read once.

    Attributes
    ----------
    file
        Path as it was given, for messages.
    name
        Name of the file alone.
    sha256
        Fingerprint of its bytes.
    """

    file: str
    name: str
    text: str
    sha256: str


@dataclass(frozen=True, slots=True)
class CaseFile:
    """A case with the file it came from and the origin of every value."""

    case: Case
    inputs: tuple[Input, ...]
    source: Source

    @property
    def name(self) -> str:
        """Name of the file alone."""
        return self.source.name

    @property
    def sha256(self) -> str:
        """Fingerprint of the file's bytes."""
        return self.source.sha256


# --- reading ---------------------------------------------------------------------------------


def read_case(path: str | Path) -> Case:
    """Case written in a file.

    Raises
    ------
    CaseError
        With every problem of the file, each with its line and key.
    """
    return read_case_file(path).case


def read_case_file(path: str | Path) -> CaseFile:
    """Case written in a file, with the origin of every value."""
    return parse_case(read_source(path))


def parse_case(source: Source, changed: Mapping[str, str] | None = None) -> CaseFile:
    """Case written in the text of a source.

    Parameters
    ----------
    changed : texts by dotted key that take the place of what the file says, measured or not
    """
    sheet = _Sheet(source, Case)
    raw = sheet.plain(_composed(source))
    if not isinstance(raw, dict):
        _refuse(source.file, 1, "this is not a case: write keys such as title: and bar:")
    if "stock" in raw and "bar" not in raw:
        message = "this is a job, not a case: barwright plan makes the case of it"
        _refuse(source.file, sheet.line(("stock",)), message)
    raw = _with_changed(_with_measured(raw, sheet), changed or {}, sheet)
    case = _validated(Case, raw, sheet, conflicts)
    return CaseFile(case=case, inputs=inputs(case, sheet.typed, sheet.chosen), source=source)


def parse_entry(
    source: Source, root: type[_E], conflicts: Callable[[_E], Iterable[Conflict]], what: str
) -> tuple[_E, tuple[Input, ...]]:
    """Another kind of file than a case, read by the same rules, with the origin of every value.

    Parameters
    ----------
    conflicts : what in the entry cannot be so
    what : what a file that is no mapping at all should be, such as ``a job: write title:``
    """
    sheet = _Sheet(source, root)
    raw = sheet.plain(_composed(source))
    if not isinstance(raw, dict):
        _refuse(source.file, 1, f"this is not {what}")
    if "cross_hole" in raw and "cross_hole" not in root.model_fields:
        message = "this is a case already: barwright run analyses it"
        _refuse(source.file, sheet.line(("cross_hole",)), message)
    entry = _validated(root, raw, sheet, conflicts)
    return entry, inputs(entry, sheet.typed)


def _validated(
    root: type[_E],
    raw: dict[str, Any],
    sheet: _Sheet,
    conflicts: Callable[[_E], Iterable[Conflict]],
) -> _E:
    """The entry that the plain values make, or every problem of theirs raised together."""
    try:
        entry = root.model_validate(raw)
    except ValidationError as error:
        for fault in error.errors(include_url=False):
            sheet.fault(fault, raw)
        sheet.finish()
        raise  # not reached: a validation error is always at least one problem
    for conflict in conflicts(entry):
        sheet.problem(conflict.key, conflict.message)
    sheet.finish()
    return entry


def read_source(path: str | Path) -> Source:
    """Text of a case file, refused before parsing if it cannot be one."""
    path = Path(path)
    file = printable(str(path))
    try:
        if path.is_dir():
            _refuse(file, 0, "this is a folder; give the case file in it")
        if path.exists() and not path.is_file():
            _refuse(file, 0, "this is not a file; give a case file")
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        _refuse(file, 0, f"there is no such file{_neighbour(path)}")
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        _refuse(file, 0, f"this cannot be read: {printable(why.lower())}")
    if len(content) > LARGEST_FILE:
        _refuse(file, 0, "this is larger than 256 kB, which no case is; give a case file")
    if b"\0" in content:
        _refuse(file, 0, "this is not text; a case is a text file in YAML")
    return Source(
        file=file,
        name=printable(path.name),
        text=_decoded(content, file),
        sha256=hashlib.sha256(content).hexdigest(),
    )


def printable(text: str) -> str:
    """Text safe to print on any console: ASCII, no control characters."""
    return quoted(text, 200)[1:-1]


def _decoded(content: bytes, file: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        _refuse(file, line, "this is not UTF-8 text; save the file as UTF-8")


def _neighbour(path: Path) -> str:
    """Hint at a file of almost the same name."""
    try:
        names = [other.name for other in path.parent.iterdir()]
    except (OSError, ValueError):
        return ""
    close = get_close_matches(path.name, names, n=1)
    return f"; did you mean {printable(str(path.with_name(close[0])))}?" if close else ""


def _refuse(file: str, line: int, message: str) -> NoReturn:
    raise CaseError((Problem(file=file, line=line, key="", message=message),))


def _composed(source: Source) -> yaml.Node:
    """Root node of the text, once its events show no anchor, tag or bottomless nesting."""
    loader: type = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    try:
        _screen(source, loader)
        node = yaml.compose(source.text, Loader=loader)
    except yaml.MarkedYAMLError as error:
        cut_off = "end of stream" in (error.problem or "")  # then say where it began
        mark = (error.context_mark if cut_off else error.problem_mark) or error.problem_mark
        line = 0 if mark is None else mark.line + 1
        why = f" ({printable(error.problem)})" if error.problem else ""
        _refuse(source.file, line, f"this does not read as YAML{why}; {_yaml_hint(source, line)}")
    except yaml.reader.ReaderError as error:
        before = source.text[: error.position] if isinstance(error.position, int) else ""
        message = "there is a character here that a text file does not have; delete it"
        _refuse(source.file, before.count("\n") + 1, message)
    if node is None:
        _refuse(source.file, 1, "this file is empty; write keys such as title: and bar:")
    return node


def _yaml_hint(source: Source, line: int) -> str:
    lines = source.text.splitlines()
    if any("\t" in text[: len(text) - len(text.lstrip())] for text in lines[line - 1 : line]):
        return "indent with spaces, not tabs"
    if any(re.match(r"\s*[a-z_]+: [^'\"{\[#]*: ", text) for text in lines[line - 1 : line]):
        return 'put quotes round a text that has a colon in it, such as title: "Pump: body"'
    return "write key: value, and what belongs to a key indented below it"


def _screen(source: Source, loader: type) -> None:
    """Refuse by events, before any node is built, what a case has no use for."""
    depth = documents = 0
    for event in yaml.parse(source.text, Loader=loader):
        line = 0 if event.start_mark is None else event.start_mark.line + 1
        anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
        if anchor is not None:
            sign = "*" if isinstance(event, yaml.AliasEvent) else "&"
            message = f"{quoted(sign + anchor)}: a case has no anchors or aliases; write it out"
            _refuse(source.file, line, message)
        if tag is not None and tag != "!":
            short = tag.replace("tag:yaml.org,2002:", "!!")
            _refuse(source.file, line, f"{quoted(short)}: a case has no tags; write plain values")
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
        documents += isinstance(event, yaml.DocumentStartEvent)
        if depth > DEEPEST:
            _refuse(source.file, line, f"this is nested more than {DEEPEST} deep; a case has five")
        if documents > 1:
            _refuse(source.file, line, "a second document starts here; give one case a file")


class _Sheet:
    """What the file says where: lines by key, typed texts by key, problems so far."""

    def __init__(self, source: Source, root: type[Entry]) -> None:
        self.source = source
        self.text = source.text.splitlines()
        self.root = root
        self.lines: dict[Key, int] = {(): 1}
        self.names: dict[Key, yaml.Node] = {}
        self.spots: dict[Key, yaml.Node] = {}
        self.typed: dict[Key, str] = {}
        self.chosen: set[Key] = set()
        self.measured: dict[Key, Key] = {}
        self.problems: dict[tuple[int, Key], str | Callable[[], str]] = {}

    def plain(self, node: yaml.Node, key: Key = ()) -> Any:
        """Plain mappings, lists and texts of a node; problems of the text are noted."""
        self.lines.setdefault(key, node.start_mark.line + 1)
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, key)
        if isinstance(node, yaml.SequenceNode):
            return [self.plain(child, (*key, n)) for n, child in enumerate(node.value)]
        self.typed[key] = node.value
        self.spots[key] = node
        if self._behind(node).strip() == CHOSEN:
            self.chosen.add(key)
        if node.value == "" and not node.start_mark.index < node.end_mark.index:
            message = "nothing is written here; give a value or take the key out"
            self.problem(key, message)
        return node.value

    def _behind(self, node: yaml.Node) -> str:
        """What stands behind a value on its line."""
        mark = node.end_mark
        return self.text[mark.line][mark.column :] if mark.line < len(self.text) else ""

    def _mapping(self, node: yaml.MappingNode, key: Key) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for name, value in node.value:
            line = name.start_mark.line + 1
            if not isinstance(name, yaml.ScalarNode):
                self._note(line, key, "a key is one word, such as bar")
            elif name.value == "<<":
                self._note(line, key, "a case has no merges (<<); write the keys out")
            elif name.value in found:
                first = self.lines[(*key, name.value)]
                message = f"this key is written twice, first on line {first}; keep one"
                self._note(line, (*key, name.value), message)
            else:
                self.lines[(*key, name.value)] = line
                self.names[(*key, name.value)] = self.spots[(*key, name.value)] = name
                found[name.value] = self.plain(value, (*key, name.value))
        return found

    def line(self, key: Key) -> int:
        """Line of a key, or of the nearest that holds it."""
        while key not in self.lines:
            key = key[:-1]
        return self.lines[key]

    def problem(self, key: Key, message: str | Callable[[], str]) -> None:
        """Note a problem at a key, or at the measurement that took its place."""
        self._note(self.line(self.measured.get(key, key)), self.measured.get(key, key), message)

    def _note(self, line: int, key: Key, message: str | Callable[[], str]) -> None:
        self.problems.setdefault((line, key), message)

    def fault(self, fault: Mapping[str, Any], raw: Mapping[str, Any]) -> None:
        """Note what pydantic found, to be put into words of the shop if it is shown."""
        key = _key_of(fault["loc"], raw)
        if fault["type"] == "union_tag_invalid":
            key = (*key, "kind")
        if fault["type"] == "extra_forbidden" and key in self.names:
            self.spots[key] = self.names[key]
        self.problem(key, lambda: _shop_words(fault, key, raw, self.root))

    def finish(self) -> None:
        """Raise what was found, in the order of the file, if anything was."""
        if not self.problems:
            return
        found = sorted(self.problems.items(), key=lambda noted: noted[0][0])
        shown = [
            Problem(
                self.source.file,
                line,
                printable(dotted(key)),
                _words(message),
                *self._spot(line, key),
            )
            for (line, key), message in found[:MOST_SHOWN]
        ]
        if len(found) > MOST_SHOWN:
            message = f"and {len(found) - MOST_SHOWN} more; mend these first"
            shown.append(Problem(self.source.file, 0, "", message))
        raise CaseError(tuple(shown))

    def _spot(self, line: int, key: Key) -> tuple[str, int, int]:
        """Line of the file that a problem is in, with the letters it is about."""
        spot = self.spots.get(key)
        lines = self.text
        if spot is None or spot.start_mark.line + 1 != line or line > len(lines):
            return "", 0, 0
        text, start, end = lines[line - 1], spot.start_mark.column, spot.end_mark.column
        if spot.end_mark.line != spot.start_mark.line:
            end = len(text)
        shown = "".join(letter if " " <= letter <= "~" else "?" for letter in text)[:_WIDEST]
        end = min(end, len(shown))
        return (shown, start, max(1, end - start)) if start < len(shown) else ("", 0, 0)


def _words(message: str | Callable[[], str]) -> str:
    return message if isinstance(message, str) else message()


# --- measured values -------------------------------------------------------------------------


def _with_measured(raw: dict[str, Any], sheet: _Sheet) -> dict[str, Any]:
    """Put each measured value in place of what the file says elsewhere."""
    rows = raw.get("measured", [])
    for number, row in enumerate(rows if isinstance(rows, list) else []):
        what = row.get("what") if isinstance(row, dict) else None
        value = row.get("value") if isinstance(row, dict) else None
        if isinstance(what, str) and isinstance(value, str):
            key = undotted(what)
            if _place(raw, key, value):
                sheet.measured[key] = ("measured", number, "value")
            else:
                _not_there(sheet, ("measured", number, "what"), what)
    return raw


WORDS = ("bar.material", "work.material", "cross_hole.shape", "cut.feed_towards", "cut.method")
"""Values outside lists that are words."""


def _with_changed(
    raw: dict[str, Any], changed: Mapping[str, str], sheet: _Sheet
) -> dict[str, Any]:
    """Put each changed value in place of what the file says, or of what was measured."""
    for name, value in changed.items():
        key = undotted(name)
        if _place(raw, key, value):
            sheet.typed[key] = value
            sheet.chosen.discard(key)
            if sheet.measured.pop(key, None):
                raw["measured"] = [row for row in raw["measured"] if undotted(row["what"]) != key]
        else:
            _not_there(sheet, key, name)
    return raw


def _place(raw: dict[str, Any], key: Key, value: str) -> bool:
    """Write a value at a key of a quantity or word; False if this case has no such key."""
    if not holds_quantity(key, raw) and dotted(key) not in WORDS:
        return False
    here: Any = raw
    for depth, part in enumerate(key[:-1]):
        if depth == 0:  # a section that may be left out, such as limits
            raw.setdefault(str(part), {})
        if part not in parts(here):
            return False
        here = here[part]
    if not isinstance(here, dict) and key[-1] not in parts(here):
        return False
    here[key[-1]] = value
    return True


def _not_there(sheet: _Sheet, key: Key, what: str) -> None:
    known = [name for name in value_names() if "[" not in name]
    close = get_close_matches(what[:100], known, n=1, cutoff=0.8)
    hint = f"did you mean {close[0]}?" if close else "write one such as bar.diameter"
    sheet.problem(key, f"{quoted(what)} is not a value of this case; {hint}")


# --- pydantic's findings in the words of the shop ---------------------------------------------


def _key_of(location: tuple[str | int, ...], raw: Mapping[str, Any]) -> Key:
    """Key in the file of a location in the model: without the names of kinds and branches."""
    key: list[str | int] = []
    here: Any = raw
    for part in location:
        if part in parts(here):
            here = here[part]
        elif part in supports_by_kind():
            continue
        else:
            here = None
        key.append(part)
    return tuple(key)


def _shop_words(
    fault: Mapping[str, Any], key: Key, raw: Mapping[str, Any], root: type[Entry]
) -> str:
    """One sentence: what is there and what would be right."""
    there, kind = fault["input"], fault["type"]
    if kind in ("quantity", "material"):
        return str(fault["msg"])
    if kind == "missing":
        return f"this key is missing{_such_as(key, root)}"
    if kind == "extra_forbidden":
        return _misspelt(key, raw, root)
    if kind == "union_tag_invalid":
        return _unknown_kind(there["kind"], fault["ctx"]["expected_tags"])
    if kind == "union_tag_not_found":
        return f"its kind is missing; write kind: and one of {', '.join(supports_by_kind())}"
    if kind == "literal_error":
        return f"{_there(there)} is not one of {fault['ctx']['expected'].replace(chr(39), '')}"
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return f"{_there(there)} stands here; write its keys indented below"
    if kind in ("tuple_type", "list_type"):
        field = field_at(key, root)
        one = isinstance(there, str) and field and kind_of(field)
        listed = f"such as [{there}], or " if one else ""
        return f"{_there(there)} stands here; write a list, {listed}each item after a dash"
    if kind in ("string_type", "string_sub_type"):
        return f"{_there(there)} stands here; write one line of text"
    if kind.startswith("int_"):
        return f"{_there(there)} stands here; write a whole number"
    if kind in ("greater_than_equal", "less_than_equal"):
        return f"{_there(there)} is out of range: {fault['msg'].lower()}"
    return f"{_there(there)}: {printable(fault['msg'])}"


def _there(value: object) -> str:
    if isinstance(value, str):
        return quoted(value)
    return "a list" if isinstance(value, list) else "a group of keys"


def _such_as(key: Key, root: type[Entry]) -> str:
    """What a missing key would look like."""
    field = field_at(key, root)
    kind = kind_of(field) if field else ""
    if field and kind:
        example = EXAMPLES[kind].split(", ")[0]
        listed = f"[{example}]" if get_origin(field.annotation) is tuple else example
        return f"; write it, such as {key[-1]}: {listed}"
    if key[-1] == "material":
        return f"; write it, such as material: {'grey iron' if 'work' in key else '1018'}"
    return "; write it and what belongs to it" if field and model_in(field) else "; write it"


def _misspelt(key: Key, raw: Mapping[str, Any], root: type[Entry]) -> str:
    """What to write for a key that the file does not have there."""
    models = models_at(key[:-1], raw, root)
    known = list(dict.fromkeys(name for model in models for name in model.model_fields))
    name = str(key[-1])
    close = get_close_matches(name[:100], known, n=1)
    if close:
        return f"there is no such key; did you mean {close[0]}?"
    elsewhere = [dotted(where) for where in keys_named(name, root)]
    if len(elsewhere) == 1:
        return f"there is no such key; it belongs at {elsewhere[0]}"
    return f"there is no such key. The keys here are {', '.join(known)}"


def _unknown_kind(there: object, expected: str) -> str:
    """What to write for a support that there is not, or not in this place."""
    kinds, kind = expected.replace("'", "").split(", "), str(there)
    close = get_close_matches(kind[:100].lower().replace("_", " "), kinds, n=1)
    hint = f"; did you mean {close[0]}?" if close else "."
    return f"{quoted(kind)} is not a kind of support{hint} The kinds are {', '.join(kinds)}"


# --- writing ---------------------------------------------------------------------------------


def write_case(case: Case, system: Literal["mm", "inch"] = "mm") -> str:
    """YAML text that `read_case` reads back to an equal case.

    Only what was given is written; defaults stay defaults. A quantity is written in shop units
    where that reads back to the very same number, else in SI.

    Parameters
    ----------
    system : units that are tried first
    """
    return yaml.dump(
        _writable(case, system),
        Dumper=getattr(yaml, "CSafeDumper", yaml.SafeDumper),
        sort_keys=False,
        allow_unicode=True,
        width=1000,
    )


_WORTH, _INCH_OF = {"length": 0.0254, "feed": 0.0254}, {"length": "in", "feed": "ipr"}


def _writable(entry: Entry, system: System) -> dict[str, Any]:
    return {
        name: _written(getattr(entry, name), kind_of(field), system)
        for name, field in type(entry).model_fields.items()
        if name in entry.model_fields_set and getattr(entry, name) is not None
    }


def _written(value: Any, kind: str, system: System) -> Any:
    if isinstance(value, (BarMaterial, WorkMaterial)) and is_shipped(value):
        return value.name
    if isinstance(value, Entry):
        return _writable(value, system)
    if isinstance(value, tuple):
        return [_written(item, kind, system) for item in value]
    if isinstance(value, Fit):
        return _fit_text(value)
    return _quantity_text(value, kind, system) if kind else value


def _fit_text(fit: Fit) -> str:
    """As it was typed; else nominal and deviations."""
    try:
        if fit.text and parse_fit(fit.text) == fit:
            return fit.text
    except UnitError:
        pass
    return f"{fit.nominal!r} {fit.upper - fit.nominal:+.12f} {fit.lower - fit.nominal:+.12f} m"


def _quantity_text(value: float, kind: str, system: System) -> str:
    """First of the shop's ways of writing a value that gives the same value back, else SI."""
    if math.isinf(value):
        return "rigid"
    if isinstance(value, Estimate):
        low, high = (_quantity_text(end, kind, system) for end in (value.low, value.high))
        return f"{_quantity_text(float(value), kind, system)} ({low} to {high})"
    own: tuple[System, System] = ("inch", "mm") if system == "inch" else ("mm", "inch")
    long = [f"{value / _WORTH[kind]:.10g} {_INCH_OF[kind]}"] if kind in _WORTH else []
    for shop in (*(show(value, kind, one) for one in own), *long):
        if parse_quantity(shop, kind) == value:
            return shop
    return f"{value!r} {SI_UNIT.get(kind, '')}".rstrip()


# --- JSON Schema -----------------------------------------------------------------------------


def case_schema() -> dict[str, Any]:
    """JSON Schema of a case file, for editors that complete and check."""
    return entry_schema(
        Case,
        "barwright case",
        "A bar and its supports, the bit, the work and the cut, for barwright.",
    )


def entry_schema(root: type[Entry], title: str, description: str) -> dict[str, Any]:
    """JSON Schema of a kind of file."""
    schema = root.model_json_schema()
    heading = {"$schema": SCHEMA_DIALECT, "title": title, "description": description}
    return heading | {name: part for name, part in schema.items() if name not in heading}
