"""Spindle speed against the modes: which shakes are looked at, how near, and what is said."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from conftest import MakeCase

from barwright.analysis.modes import Modes, Plane
from barwright.analysis.speeds import HARMONICS, check_speed


def ringing_at(*pitches: float) -> Modes:
    """Modes that only carry their pitches; all in the bit plane but the last, axial."""
    count = len(pitches)
    planes: list[Plane] = ["bit" for _ in pitches]
    planes[-1] = "axial"
    nothing = np.zeros((count, 6, 2))
    return Modes(
        frequency=np.array(pitches),
        shape=np.zeros((1, count)),
        plane=tuple(planes),
        purity=np.ones(count),
        residual=np.zeros(count),
        damping=np.zeros(count),
        along=nothing,
        angle=0.0,
    )


def test_a_plain_cut_is_clear_and_said_to_mean_little(make_case: MakeCase) -> None:
    check = check_speed(make_case(), ringing_at(300.0, 900.0, 1000.0))  # 120 rpm: 2 Hz
    assert check.verdict == "clear"
    assert check.waves_per_turn == pytest.approx(150.0)
    assert "150 times" in check.reason
    assert "does not say that it will not chatter" in check.reason
    assert [shake.order for shake in check.shakes] == [2.0, 1.0]
    assert check.nearest.separation == pytest.approx(296 / 300)


def test_a_beat_of_the_ports_on_a_mode_is_avoided(make_case: MakeCase) -> None:
    case = make_case(work__cuts_per_turn=4)  # beats at 8, 16, 24 ... 96 ... 120 Hz
    check = check_speed(case, ringing_at(97.0, 2000.0))
    assert check.verdict == "avoid"
    assert (check.nearest.frequency, check.nearest.order) == (96.0, 48.0)
    assert check.nearest.separation == pytest.approx(1 / 97)
    assert "harmonic" in check.reason
    assert len(check.shakes) == HARMONICS + 2


def test_harmonics_stop_where_the_swing_falls_below_the_steady_spring() -> None:
    """2/(pi k) of the force times 1/(2 z) on a mode of damping z = 2 %."""
    swing = [2 / (pi * k) / (2 * 0.02) for k in (HARMONICS, HARMONICS + 1)]
    assert swing[0] > 1 > swing[1]


def test_motor_line_inside_the_limit_is_a_caution(make_case: MakeCase) -> None:
    case = make_case(lathe__lines=[{"name": "motor", "frequency": "270 Hz"}])
    check = check_speed(case, ringing_at(300.0, 2000.0))
    assert (check.verdict, check.nearest.order) == ("caution", None)
    assert "motor (270 Hz) lies 10% from the 300 Hz mode" in check.reason


def test_gear_line_follows_the_spindle(make_case: MakeCase) -> None:
    case = make_case(lathe__lines=[{"name": "bull gear", "per_turn": "60"}])
    at_two, at_five = (check_speed(case, ringing_at(300.0, 2000.0), n) for n in (2.0, 5.0))
    assert at_two.nearest.frequency == 120.0
    assert (at_five.verdict, at_five.nearest.separation) == ("avoid", 0.0)


def test_axial_modes_are_not_shaken_by_what_turns(make_case: MakeCase) -> None:
    case = make_case(lathe__lines=[{"name": "motor", "frequency": "2000 Hz"}])
    assert check_speed(case, ringing_at(300.0, 2000.0)).verdict == "clear"


def test_a_whip_of_a_bar_near_its_spindle_speed_is_not_called_trivial(make_case: MakeCase) -> None:
    check = check_speed(make_case(), ringing_at(2.1, 20.0))
    assert check.verdict == "avoid"
    assert "once per turn" in check.reason
