"""Print how long the time-domain witness takes on this machine.

Run it by hand: ``python tests/benchmarks/history.py``. 200 turns at 100 waves per turn and 40
steps per wave, a bar of eight coupled modes across with bit and work side. The aim is 5 s after
warm-up; the first call also compiles, unless an earlier run has left the compiled code on disk.
"""

from __future__ import annotations

import statistics
import time
from math import pi

import numpy as np

from barwright.analysis.compliance import Compliance, ModeSet, one_mode
from barwright.analysis.cutting_history import Cutting, cutting_history
from barwright.analysis.edge import Edge, Kienzle

SPEED = 3.0
AIM = 5.0


def compliance() -> Compliance:
    """Return an invented bar whose supports' dampers couple eight modes across it."""
    frequency = np.asarray(300.0 * np.arange(1, 9) ** 1.5, dtype=np.float64)
    swing = 2 * pi * 300.0 / np.sqrt(3e7) / np.arange(1, 9) ** 0.5
    coupled = 20.0 * np.outer(swing, swing) + np.diag(0.04 * 2 * pi * frequency)
    planar = ModeSet(
        frequency=frequency,
        damping=coupled,
        reach=np.vstack([swing, 0.1 * swing]),
        rest=np.diag([1e-9, 1e-9]),
    )
    part = one_mode(1e8, 10.0, 0.03)
    return Compliance(
        planar=planar,
        twist=part,
        stretch=part,
        bit_along=part,
        bit_across=part,
        work_across=part,
        work_axial=part,
    )


def main() -> None:
    """Time quiet, singing and linear cuts and print the figures beside the aim."""
    edge = Edge(depth=0.1e-3, feed=0.1e-3, nose_radius=0.4e-3, lead_angle=0.0)
    cutting, normal = Kienzle(k=1.8e9, m=0.25), Kienzle(k=0.8e9, m=0.3)
    print(f"{'cut':10} {'first s':>8} {'median s':>9} {'aim s':>6} {'steps':>8}")
    for name, gain, linear in (
        ("quiet", 1.0, False),
        ("singing", 8.0, False),
        ("linear", 1.0, True),
    ):
        cut = Cutting(
            edge=edge, cutting=cutting, normal=normal, speed=SPEED, gain=gain, linear=linear
        )
        seconds = []
        for _ in range(4):
            started = time.perf_counter()
            done = cutting_history(compliance(), cut, turns=200, steps_per_turn=4000)
            seconds.append(time.perf_counter() - started)
        steps = 200 * done.steps_per_turn
        median = statistics.median(seconds[1:])
        print(f"{name:10} {seconds[0]:8.2f} {median:9.2f} {AIM:6.1f} {steps:8d}")


if __name__ == "__main__":
    main()
