"""Measured values written into the text of a case file, everything else left as it stands."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import yaml

from .casefile import CaseFile, Source, parse_case
from .errors import CaseError, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredRow:
    """One row of the measured section, each part as it is typed.

    Attributes
    ----------
    what : dotted name of the value
    value : with unit and range, ``20 N/um (17 to 24)``
    """

    what: str
    value: str
    date: str
    how: str

    @property
    def text(self) -> str:
        """The row as a line of a case file."""
        return f"- {{what: {self.what}, value: {self.value}, date: {self.date}, how: {self.how}}}"


def measured_block(rows: Sequence[MeasuredRow]) -> str:
    """A measured section with nothing but these rows, to be pasted into a case."""
    return "\n".join(["measured:", *(f"  {row.text}" for row in rows)])


def with_measured(source: Source, rows: Sequence[MeasuredRow]) -> CaseFile:
    """Case file whose measured section has these rows in place of older ones of the same name.

    Raises
    ------
    CaseError
        The section is written in a way that cannot be added to, or the case would not read.
    """
    lines = source.text.splitlines()
    section = _section(source)
    if section is None:
        lines += ["", *measured_block(rows).splitlines()]
    else:
        lines = _replaced(lines, section, rows)
    return _parsed(source, lines)


def with_run_out(source: Source, block: Sequence[str], date: str) -> CaseFile:
    """Case file whose bar has these lines of run-out readings, in place of older ones.

    Parameters
    ----------
    block : as `run_out_lines` gives them

    Raises
    ------
    CaseError
        The bar is written in a way that cannot be added to, or the case would not read.
    """
    lines = source.text.splitlines()
    name, bar = _named(source, "bar") or (None, None)
    assert name is not None  # it was read as a case before
    if not isinstance(bar, yaml.MappingNode) or bar.flow_style:
        message = "write one key a line below it, so that run-out can be added"
        raise CaseError((Problem(source.file, name.start_mark.line + 1, "bar", message),))
    indent, (first, *rest) = " " * bar.start_mark.column, block
    new = [indent + line for line in (f"{first}  # measured {date}", *rest)]
    start = end = _after(bar, lines)
    for key, value in bar.value:
        if key.value == "run_out":
            start, end = key.start_mark.line, _after(value, lines)
    return _parsed(source, [*lines[:start], *new, *lines[end:]])


def _parsed(source: Source, lines: Sequence[str]) -> CaseFile:
    """The case that these lines are."""
    text = "\n".join(lines) + "\n"
    fingerprint = hashlib.sha256(text.encode()).hexdigest()
    return parse_case(replace(source, text=text, sha256=fingerprint))


def _named(source: Source, wanted: str) -> tuple[yaml.Node, yaml.Node] | None:
    """A section as it stands in the text, its name and what it holds; None where it is not."""
    root = yaml.compose(source.text + "\n", Loader=yaml.SafeLoader)
    assert isinstance(root, yaml.MappingNode)  # it was read as a case before
    return next(((name, value) for name, value in root.value if name.value == wanted), None)


def _section(source: Source) -> yaml.SequenceNode | None:
    """The measured section as it stands in the text; None where there is none."""
    name, value = _named(source, "measured") or (None, None)
    if name is None:
        return None
    if not isinstance(value, yaml.SequenceNode) or value.flow_style:
        message = "write one row a line, each after a dash, so that rows can be added"
        raise CaseError((Problem(source.file, name.start_mark.line + 1, "measured", message),))
    return value


def _replaced(
    lines: list[str], section: yaml.SequenceNode, rows: Sequence[MeasuredRow]
) -> list[str]:
    """Lines with older rows of the same names taken out and the new ones put at the end."""
    new = {row.what for row in rows}
    indent = " " * section.start_mark.column
    gone: set[int] = set()
    for item in section.value:
        if _what(item) in new:
            gone |= set(range(item.start_mark.line, _after(item, lines)))
    last = max(_after(item, lines) for item in section.value)
    return [
        *(line for n, line in enumerate(lines[:last]) if n not in gone),
        *(indent + row.text for row in rows),
        *lines[last:],
    ]


def _what(item: yaml.MappingNode) -> str:
    return next((value.value for name, value in item.value if name.value == "what"), "")


def _after(item: yaml.Node, lines: Sequence[str]) -> int:
    """First line that is no longer the item's; remarks and blank lines behind it are not its."""
    # What is written in braces ends on its own line; a block ends where the next thing begins.
    end = min(int(item.end_mark.line + (0 if _is_block(item) else 1)), len(lines))
    while end > item.start_mark.line + 1 and _says_nothing(lines[end - 1]):
        end -= 1
    return end


def _is_block(item: yaml.Node) -> bool:
    return isinstance(item, yaml.CollectionNode) and not item.flow_style


def _says_nothing(line: str) -> bool:
    return not line.strip() or line.lstrip().startswith("#")
