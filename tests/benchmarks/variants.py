"""Print how long one beam takes here, and a thousand variants of supports, steel and span.

Run it by hand: ``python tests/benchmarks/variants.py``. The aims are 10 ms for a beam of 24
elements made, its statics and six modes, and 3 s for the thousand on two cores: fifty spans, each
condensed once and then put on twenty sets of springs and steel, modes and give of each.
"""

from __future__ import annotations

import os
import statistics
import time
from multiprocessing import get_context
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.casefile import read_case
from barwright.analysis.choice import Choice, varied
from barwright.analysis.condensed import BIT_PLANE, condensed, masses_of, springs_of
from barwright.analysis.doubt import MODULUS, Draws
from barwright.analysis.force import cutting_force
from barwright.analysis.model import factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.statics import ANGLES, solve_statics

CASE = Path(__file__).parents[2] / "cases" / "pump_bracket.yaml"
SPANS = np.linspace(0.34, 0.60, 50)


def one_beam(case: Case) -> None:
    """Make a beam of 24 elements, solve its statics and six modes."""
    factored = factorised(beam_model(case, longest=(case.ends[1] - case.ends[0]) / 24))
    solve_statics(case, cutting_force(case), factored)
    undamped_modes(factored, count=6)


def twenty(span: float) -> float:
    """First mode of the softest of five supports in four steels on one span, Hz."""
    case = varied(read_case(CASE), Choice(span=float(span)))
    springs_and_steel = np.meshgrid(np.geomspace(5e6, 8e7, 5), [190e9, 203e9, 205e9, 210e9])
    tail, steel = (np.ravel(values) for values in springs_and_steel)
    values = {("supports", "tail", "radial_stiffness"): tail, MODULUS: steel}
    draws = Draws(case=case, values=values, count=tail.size)
    bar, springs, masses = condensed(case), springs_of(draws), masses_of(draws)
    modulus = steel / float(case.bar.material.elastic_modulus)
    modes = bar.modes(bar.bit, springs.on_motions()[:, :, BIT_PLANE], modulus, masses)
    bar.edge_give(springs, modulus, ANGLES[:1])
    return float(modes.frequency[:, 0].min())


def main() -> None:
    """Time both and print them beside their aims."""
    case, seconds = read_case(CASE), []
    one_beam(case)
    for _ in range(30):
        started = time.perf_counter()
        one_beam(case)
        seconds.append(time.perf_counter() - started)
    print(f"one beam: {1e3 * statistics.median(seconds):.1f} ms (aim 10)")
    with get_context("spawn").Pool(2) as pool:
        pool.map(twenty, SPANS[:2])
        started = time.perf_counter()
        pool.map(twenty, SPANS, chunksize=5)
        print(f"1000 variants on two cores: {time.perf_counter() - started:.2f} s (aim 3)")


if __name__ == "__main__":
    main()
