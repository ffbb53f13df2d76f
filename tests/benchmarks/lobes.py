"""Print how long a chart of lobes takes here: 400 speeds, six modes of a real case, one process.

Run it by hand: ``python tests/benchmarks/lobes.py``. The aim is under a second.
"""

from __future__ import annotations

import os
import time
from pathlib import Path

# As the command line does: the dense parts are small, and threads cost more than they bring.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from barwright.analysis.casefile import read_case
from barwright.analysis.chatter import corners, edge_of
from barwright.analysis.lobes import gain_limits

CASES = Path(__file__).parents[2] / "cases"


def main() -> None:
    """Time the chart of two cases, rubbing counted and not."""
    for name in ("pump_bracket", "stern_tube"):
        case = read_case(CASES / f"{name}.yaml")
        corner = corners(case)["likely"]
        modes = corner.compliance.planar.frequency.size
        speed = np.geomspace(0.5, 20.0, 400)
        for damping in (0.0, corner.process_damping):
            started, used = time.perf_counter(), time.process_time()
            gain_limits(
                corner.compliance, edge_of(case, "likely"), damping, case.edge_radius, speed
            )
            wall, cpu = time.perf_counter() - started, time.process_time() - used
            words = f"{modes} modes across, {speed.size} speeds, rubbing {damping:g} N/m"
            print(f"{name:14} {words}: {wall:.2f} s, {cpu:.2f} s of processor")


if __name__ == "__main__":
    main()
