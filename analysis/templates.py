"""The templates that pages are made from, in the package beside this file."""

from __future__ import annotations

from functools import cache
from typing import Any


@cache
def template(name: str) -> Any:
    """A template that escapes what the user wrote and stumbles over a name it is not given."""
    # Only here: the templates take as long to load as the rest of a page to write.
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("barwright.analysis", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(name)
