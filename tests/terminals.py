"""A terminal to run commands in: what they show there, and how they end."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import sys
import time
from collections.abc import Callable

Started = Callable[[subprocess.Popen[bytes], bytes], None]


def on_terminal(
    arguments: list[str],
    *,
    environment: dict[str, str] | None = None,
    during: Started | None = None,
    limit: float = 120.0,
) -> tuple[int, bytes, str]:
    """Exit status, standard output and what stood on the terminal, which is standard error.

    Parameters
    ----------
    during : called with the child and what it has shown, whenever it shows more
    """
    near, far = pty.openpty()
    child = subprocess.Popen(
        [sys.executable, "-m", "barwright.cli", *arguments],
        stdout=subprocess.PIPE,
        stderr=far,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "TERM": "xterm", **(environment or {})},
        start_new_session=True,
    )
    os.close(far)
    assert child.stdout is not None
    os.set_blocking(child.stdout.fileno(), False)
    shown, out = b"", b""
    end = time.monotonic() + limit
    streams = {near: b"", child.stdout.fileno(): b""}
    try:
        while streams and time.monotonic() < end:
            for stream in select.select(list(streams), [], [], 0.1)[0]:
                try:
                    more = os.read(stream, 65536)
                except OSError:  # the far end of a terminal closes like this
                    more = b""
                if not more:
                    del streams[stream]
                elif stream == near:
                    shown += more
                    if during:
                        during(child, shown)
                else:
                    out += more
        return child.wait(timeout=20), out, shown.decode("utf-8", "replace")
    finally:
        child.stdout.close()
        os.close(near)
        if child.poll() is None:
            child.kill()
            child.wait()
