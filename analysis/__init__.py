"""Stiffness of a line-boring bar, from a case file to its findings.

Which module feeds which::

    units, entry -> material, bar, support, work, cut, lathe, limits -> case -> casefile
    section, hole_calibration -> timoshenko, beam | mesh, solid -> model
    force, statics, modes, whirl -> speeds -> judge -> run
    swap, record -> draw, charts, pictures
    verification: the published checks

What a script needs can be had from here, and nothing is loaded before it is asked for:

==================  ===========================================================================
`read_case`         a case file as a `Case`; `read_case_file` also tells where each value is from
`write_case`        a case as the text of a file
`with_block`        the case with its own cross-hole solved, as every command has it
`analyse`           everything that ``barwright run`` answers, as an `Outcome`
`evaluated`         one set-up as ``barwright compare`` sees it, in a fraction of the time
`choose_speed`      each speed of the lathe judged
`read_job_file`     a job file; `make_plan` makes a plan of its job
`write_record`      the results of a run, into the folder that `new_results` gives
`parse_quantity`    a size as the shop says it into SI; `show` says it back
`BarwrightError`    what every refusal is; `CaseError` lists the problems of a file
==================  ===========================================================================

A case is frozen; a changed one is ``case.model_copy(update={"bar": ...})``. The comparison and
the study have the names of their modules: ``from barwright.analysis.compare import compare``.

Examples
--------
>>> from barwright.analysis import parse_quantity, show
>>> show(parse_quantity("1-1/4 in", "length"), "length")
'31.75 mm (1.250 in)'
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .case import Case
    from .casefile import CaseFile, read_case, read_case_file, write_case
    from .errors import BarwrightError, CaseError, ModelError, SolveError
    from .hole_in_beam import with_block
    from .jobfile import read_job_file
    from .plan import make_plan
    from .record import write_record
    from .run import Outcome, analyse
    from .speed_choice import choose_speed
    from .swap import new_results
    from .units import parse_quantity, show
    from .variant import evaluated

__all__ = [
    "BarwrightError",
    "Case",
    "CaseError",
    "CaseFile",
    "ModelError",
    "Outcome",
    "SolveError",
    "analyse",
    "choose_speed",
    "evaluated",
    "make_plan",
    "new_results",
    "parse_quantity",
    "read_case",
    "read_case_file",
    "read_job_file",
    "show",
    "with_block",
    "write_case",
    "write_record",
]
_HOME = {
    "case": "Case",
    "casefile": "CaseFile read_case read_case_file write_case",
    "errors": "BarwrightError CaseError ModelError SolveError",
    "hole_in_beam": "with_block",
    "jobfile": "read_job_file",
    "plan": "make_plan",
    "record": "write_record",
    "run": "Outcome analyse",
    "speed_choice": "choose_speed",
    "swap": "new_results",
    "units": "parse_quantity show",
    "variant": "evaluated",
}
"""Module that each name comes from when it is first asked for."""


def __getattr__(name: str) -> Any:
    for module, names in _HOME.items():
        if name in names.split():
            return getattr(import_module(f".{module}", __name__), name)
    message = f"barwright.analysis has no {name}"
    raise AttributeError(message)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
