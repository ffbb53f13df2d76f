"""Words explained: those of the output, and the keys of a case.

The words stand in ``explanations.yaml``; of a limit and of a key the text is the one its own
field has, so that it cannot say something else.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Literal, get_args, get_origin

import yaml
from pydantic.fields import FieldInfo

from .case import Case
from .entry import Entry
from .keys import Key, dotted, kind_of, models_at, models_in, supports_by_kind
from .limits import Limits
from .units import EXAMPLES, Estimate, show


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """What one word means.

    Attributes
    ----------
    name : the word
    also : other words for it
    means : what it is
    found : how it is found
    written : how a key is written in a case
    asked : the limit that holds it, its key with its default
    do : what to do about it
    """

    name: str
    means: str
    also: tuple[str, ...] = ()
    found: str = ""
    written: str = ""
    asked: str = ""
    do: str = ""

    @property
    def parts(self) -> tuple[tuple[str, str], ...]:
        """What there is to say, each with what it says."""
        every = (
            ("means", self.means),
            ("found", self.found),
            ("written", self.written),
            ("asked", self.asked),
            ("do", self.do),
        )
        return tuple((heading, text) for heading, text in every if text)


@cache
def words() -> tuple[Explanation, ...]:
    """Every word of the output that is explained, in the order of the output."""
    text = files("barwright.analysis").joinpath("explanations.yaml").read_text(encoding="utf-8")
    return tuple(
        Explanation(
            name=name,
            also=tuple(entry.get("also", ())),
            means=entry["means"],
            found=entry.get("found", ""),
            asked=_asked(entry["limit"]) if "limit" in entry else "",
            do=entry.get("do", ""),
        )
        for name, entry in yaml.safe_load(text).items()
    )


def _asked(name: str) -> str:
    field = Limits.model_fields[name]
    said = f"`limits.{name}`: {' '.join((field.description or '').split())}"
    if field.default is None:
        return said
    return f"{said} It is {_default(field)} unless the case says otherwise."


def explained(asked: str) -> tuple[Explanation, ...]:
    """What a word, several words or a key of a case means; nothing where nobody knows it.

    A whole name comes before a part of one, and words of the output before keys of a case.

    Examples
    --------
    >>> [found.name for found in explained("Gain Margin")]
    ['gain margin against chatter']
    >>> [found.name for found in explained("span")]
    ['bar.span']
    """
    plain = _plain(asked)
    if not plain:
        return ()
    whole = [word for word in words() if plain in map(_plain, (word.name, *word.also))]
    if whole:
        return tuple(whole)
    keys = [key for key in case_keys() if plain in (_plain(key), _plain(key.rpartition(".")[2]))]
    if keys:
        return _joined(_of_key(key) for key in keys)
    return tuple(word for word in words() if f" {plain} " in f" {_plain(word.name)} ")


def near(asked: str) -> tuple[str, ...]:
    """Names that look like a word that nobody knows, the nearest first."""
    plain = _plain(asked)
    names = {_plain(name): name for name in names_known()}
    within = [name for text, name in names.items() if plain and plain in text]
    alike = [names[text] for text in difflib.get_close_matches(plain, names, n=4, cutoff=0.6)]
    return tuple(dict.fromkeys((*alike, *within)))[:6]


@cache
def names_known() -> tuple[str, ...]:
    """Every word and every key that is explained, each once."""
    said = (name for word in words() for name in (word.name, *word.also))
    return tuple(dict.fromkeys((*said, *case_keys())))


def _plain(text: str) -> str:
    return " ".join(text.lower().replace("_", " ").replace("-", " ").split())


@cache
def case_keys() -> tuple[str, ...]:
    """Dotted name of every key that a case may have; what stands in a list under its list."""

    def below(model: type[Entry], key: Key) -> Iterator[str]:
        for name, field in model.model_fields.items():
            yield dotted((*key, name))
            for inner in models_in(field.annotation):
                yield from below(inner, (*key, name))

    return tuple(dict.fromkeys(below(Case, ())))


def _joined(found: Iterable[Explanation]) -> tuple[Explanation, ...]:
    """Keys that say the same, as one: the drive support's, the tail's and the others'."""
    alike: dict[tuple[tuple[str, str], ...], list[Explanation]] = {}
    for one in found:
        alike.setdefault(one.parts, []).append(one)
    return tuple(
        replace(same[0], name=", ".join(one.name for one in same)) for same in alike.values()
    )


def _of_key(name: str) -> Explanation:
    key: Key = tuple(name.split("."))
    owners = tuple(_owners(key))
    field = owners[0][1].model_fields[str(key[-1])]
    kind = kind_of(field)
    choices = dict.fromkeys(c for _, o in owners for c in _choices(o.model_fields[str(key[-1])]))
    written = f"One of {', '.join(choices)}." if choices else ""
    written = f"Written such as {EXAMPLES[kind]}." if kind in EXAMPLES else written
    means = " ".join((field.description or written).split())
    return Explanation(
        name=name,
        means=means,
        written=written if written != means else "",
        asked=_left_out(owners, str(key[-1])),
    )


def _choices(field: FieldInfo) -> Iterator[str]:
    """Words that a field takes, where it takes no others."""
    for part in (field.annotation, *get_args(field.annotation)):
        if get_origin(part) is Literal:
            yield from map(str, get_args(part))


def _left_out(owners: Iterable[tuple[str, type[Entry]]], name: str) -> str:
    """What a key is taken as where a case leaves it out, support by support."""
    by_default: dict[str, list[str]] = {}
    for owner, entry in owners:
        field = entry.model_fields[name]
        if isinstance(field.default, float) and kind_of(field):
            by_default.setdefault(_default(field), []).append(owner)
    if len(by_default) == 1:
        return f"Left out it is {next(iter(by_default))}."
    each = (
        f"in a {' or '.join(kinds)} {value}" if len(kinds) < 4 else f"elsewhere {value}"
        for value, kinds in by_default.items()
    )
    return f"Left out it is: {'; '.join(each)}." if by_default else ""


def _default(field: FieldInfo) -> str:
    """Default of a field as it is said; one with a range is a guess."""
    text = show(field.default, kind_of(field))
    return f"{text}, a guess" if isinstance(field.default, Estimate) else text


def _owners(key: Key) -> Iterator[tuple[str, type[Entry]]]:
    """Entries that may hold a key, each with its kind where kinds differ."""
    kinds = {entry: kind for kind, entry in supports_by_kind().items()}
    for model in models_at(key[:-1]):
        if key[-1] in model.model_fields and issubclass(model, Entry):
            yield kinds.get(model, ""), model
