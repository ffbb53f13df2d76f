"""The shape of a case: which keys stand where, and which quantity each of them holds.

Read from the entries themselves, so that a new field is known everywhere at once. A job has a
shape of its own; `root` says of which file a key is asked, a case's where it is left out.
"""

from __future__ import annotations

import re
import types
from collections.abc import Collection, Iterator, Mapping
from functools import cache
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from .case import Case
from .entry import Entry, Kind
from .support import Supports

Key = tuple[str | int, ...]


def dotted(key: Key) -> str:
    """Key as it is said: ``supports.others[0].position``.

    Examples
    --------
    >>> dotted(("bar", "steps", 1, "diameter"))
    'bar.steps[1].diameter'
    """
    return "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in key)[1:]


def undotted(name: str) -> Key:
    """Key of a dotted name; the reverse of `dotted`."""
    parts = re.findall(r"[^.\[\]]+", name[:200])
    return tuple(int(part) if part.isascii() and part.isdecimal() else part for part in parts)


def models_in(annotation: object) -> Iterator[type[Entry]]:
    """Every entry that an annotation may hold."""
    if isinstance(annotation, type) and issubclass(annotation, Entry):
        yield annotation
    elif get_origin(annotation) in (Union, types.UnionType, tuple, Annotated):
        for part in get_args(annotation):
            yield from models_in(part)


def model_in(field: FieldInfo) -> type[Entry] | None:
    """First entry that a field may hold."""
    return next(models_in(field.annotation), None)


def model_for(model: type[BaseModel], raw: Mapping[str, Any]) -> type[BaseModel]:
    """Entry that a mapping will become, where its `kind` decides."""
    if "kind" not in model.model_fields:
        return model
    by_kind = supports_by_kind()
    return by_kind.get(str(raw.get("kind")), model)


@cache
def supports_by_kind() -> Mapping[str, type[Entry]]:
    """Every kind of support by its name."""
    supports = models_in(Supports.model_fields["drive"].annotation)
    return {get_args(s.model_fields["kind"].annotation)[0]: s for s in supports}


def kind_of(field: FieldInfo) -> str:
    """Kind of quantity that a field holds, or nothing."""
    for mark in (*field.metadata, *_marks(field.annotation)):
        if isinstance(mark, Kind):
            return mark.name
    return ""


def _marks(annotation: object) -> Iterator[object]:
    """Marks inside ``Length | None`` and ``tuple[SpindleSpeed, ...]``."""
    if get_origin(annotation) is Annotated:
        yield from annotation.__metadata__  # type: ignore[attr-defined]
    for part in get_args(annotation):
        if part is not Ellipsis and not isinstance(part, str):
            yield from _marks(part)


def field_at(key: Key, root: type[Entry] = Case) -> FieldInfo | None:
    """Field that a key names, looking at every kind of support."""
    models = models_at(key[:-1], root=root)
    fields = [field for model in models for field in _named_field(model, key[-1])]
    return fields[0] if fields else None


def _named_field(model: type[BaseModel], name: str | int) -> Iterator[FieldInfo]:
    if name in model.model_fields:
        yield model.model_fields[str(name)]


def models_at(key: Key, raw: Any = None, root: type[Entry] = Case) -> tuple[type[BaseModel], ...]:
    """Entries that may stand at a key; what is written there narrows them down."""
    models: tuple[type[BaseModel], ...] = (root,)
    for part in key:
        raw = raw[part] if part in parts(raw) else None
        if not isinstance(part, int):
            fields = [field for model in models for field in _named_field(model, part)]
            models = tuple(inner for field in fields for inner in models_in(field.annotation))
        if isinstance(raw, dict):
            models = tuple(dict.fromkeys(model_for(model, raw) for model in models))
    return models


def holds_quantity(key: Key, raw: Any) -> bool:
    """Whether a key names one quantity of the case as it is written."""
    if not key:
        return False
    in_list = isinstance(key[-1], int)
    owner, name = (key[:-2], key[-2:-1]) if in_list else (key[:-1], key[-1:])
    fields = [f for model in models_at(owner, raw) for n in name for f in _named_field(model, n)]
    return any(kind_of(f) and (get_origin(f.annotation) is tuple) == in_list for f in fields)


def parts(raw: Any) -> Collection[str | int]:
    """Keys of a mapping, numbers of a list, nothing of a text."""
    if isinstance(raw, dict):
        return raw.keys()
    return range(len(raw)) if isinstance(raw, list) else ()


@cache
def value_names(root: type[Entry] = Case) -> tuple[str, ...]:
    """Dotted names of the quantities outside lists, of every kind of support."""

    def names(annotation: object, before: str) -> Iterator[str]:
        for model in models_in(annotation):
            for name, field in model.model_fields.items():
                if kind_of(field):
                    yield before + name
                elif get_origin(field.annotation) is not tuple:
                    yield from names(field.annotation, f"{before}{name}.")

    return tuple(dict.fromkeys(names(root, "")))


def keys_named(name: str, root: type[Entry] = Case) -> Iterator[Key]:
    """Every place outside lists where a quantity of this name stands."""
    for dotted_name in value_names(root):
        key = undotted(dotted_name)
        if key[-1] == name:
            yield key
