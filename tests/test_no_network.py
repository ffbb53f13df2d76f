"""Every command does its work where there is no network to be had."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile

from barwright.cli.app import app

CASES = Path(__file__).parents[1] / "cases"
PUMP, VALVE = CASES / "pump_bracket.yaml", CASES / "valve_block.yaml"
READINGS = CASES / "readings"
CALLS = """
check {valve}
run {valve} -q --hole table --report --no-pictures
sheet {valve} -q
report {valve} -q
speeds {valve} -q --hole table
compare {valve} -q --hole table --support chuck --material 1018
study {valve} -q --hole table --samples 200
trouble {valve} taper -q
fit {pump} -q --push {readings}/push_test.csv
log {pump} -q --bores {readings}/bores.csv
tap tap.wav -q
plan {cases}/jobs/pump_barrel.yaml -q --no-pictures
new first.yaml -q
where -q
explain gain margin -q
materials -q
schema
verify -q
"""
ALL_OF_THEM = """
import socket, sys
from barwright.cli.app import status
try:
    socket.create_connection(("192.0.2.1", 80), timeout=1)
except OSError as error:
    print("network:", error.strerror, file=sys.stderr)
for line in sys.stdin.read().strip().split("\\n"):
    print("status", status(line.split()), line, file=sys.stderr, flush=True)
"""


@pytest.mark.slow
def test_every_command_works_without_a_network(tmp_path: Path) -> None:
    flag = "-n" if os.geteuid() == 0 else "-rn"
    alone = ["unshare", flag]
    if shutil.which("unshare") is None:
        pytest.skip("no unshare here")
    if subprocess.run([*alone, "true"], capture_output=True, check=False).returncode:
        pytest.skip("this machine does not let the network be taken away")
    beats = np.arange(4 * 8000) % 8000 / 8000
    sound = 0.5 * np.exp(-30 * beats) * np.sin(2 * np.pi * 150 * beats)
    wavfile.write(tmp_path / "tap.wav", 8000, sound.astype(np.float32))
    calls = CALLS.strip().format(valve=VALVE, pump=PUMP, readings=READINGS, cases=CASES)
    named = {line.split()[0] for line in calls.split("\n")}
    assert named == {info.name or info.callback.__name__ for info in app.registered_commands}  # type: ignore[union-attr]
    done = subprocess.run(
        [*alone, sys.executable, "-c", ALL_OF_THEM],
        input=calls,
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "network: Network is unreachable" in done.stderr
    came = [line.split()[1:3] for line in done.stderr.split("\n") if line.startswith("status ")]
    assert [name for _, name in came] == [line.split()[0] for line in calls.split("\n")]
    # 1 is an answer too: some limit not met.
    assert {status for status, _ in came} <= {"0", "1"}, done.stderr
