"""A headless Chromium to open pages in, over its own debugging protocol; none where it is not."""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import websocket

PROGRAM = shutil.which("chromium") or shutil.which("chromium-browser")
_FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--remote-debugging-port=0",
    "--remote-allow-origins=*",
)
SOFTWARE_3D = ("--use-angle=swiftshader", "--enable-unsafe-swiftshader")
NO_3D = ("--disable-3d-apis", "--disable-gpu")


class Page:
    """One open page, and what became of it: what it logged, what it asked of the network."""

    def __init__(self, address: str) -> None:
        self.socket = websocket.create_connection(address, timeout=60)
        self.number = 0
        self.logged: list[str] = []
        self.asked: list[str] = []
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **given: Any) -> dict[str, Any]:
        """Send a command and wait for what it gives back."""
        self.number += 1
        self.socket.send(json.dumps({"id": self.number, "method": method, "params": given}))
        while True:
            told = json.loads(self.socket.recv())
            if told.get("id") == self.number:
                assert "error" not in told, told
                found: dict[str, Any] = told["result"]
                return found
            self._note(told)

    def _note(self, told: dict[str, Any]) -> None:
        given = told.get("params", {})
        if told["method"] == "Runtime.exceptionThrown":
            self.logged.append(json.dumps(given["exceptionDetails"]))
        if told["method"] == "Runtime.consoleAPICalled":
            self.logged.append(json.dumps(given["args"]))
        if told["method"] == "Log.entryAdded":
            self.logged.append(given["entry"]["text"])
        if told["method"] == "Network.requestWillBeSent":
            self.asked.append(given["request"]["url"])

    def open(self, path: Path, *, width: int = 1280, height: int = 900, dots: float = 1) -> None:
        """Open a file in a window of a size, and let it settle."""
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=dots,
            mobile=width < 700,
        )
        self.call("Page.navigate", url=path.as_uri())
        for _ in range(200):
            if self.run("document.readyState") == "complete":
                break
            time.sleep(0.05)
        self.run("new Promise(done => requestAnimationFrame(() => setTimeout(done, 150)))")

    def run(self, code: str) -> Any:
        """Value of a piece of JavaScript, waited for if it is a promise."""
        found = self.call(
            "Runtime.evaluate", expression=code, awaitPromise=True, returnByValue=True
        )
        assert "exceptionDetails" not in found, found["exceptionDetails"]
        return found["result"].get("value")

    def shot(self, path: Path, *, whole: bool = True) -> None:
        """Keep a picture of the page."""
        found = self.call("Page.captureScreenshot", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(found["data"]))

    def shot_of(self, path: Path, top: float, width: float, height: float) -> None:
        """Keep a picture of a part of the page, from `top` down."""
        clip = {"x": 0, "y": top, "width": width, "height": height, "scale": 1}
        found = self.call("Page.captureScreenshot", captureBeyondViewport=True, clip=clip)
        path.write_bytes(base64.b64decode(found["data"]))

    def printed(self, *, width: float = 8.27, height: float = 11.69) -> bytes:
        """The page as PDF on a paper, inches."""
        found = self.call(
            "Page.printToPDF",
            paperWidth=width,
            paperHeight=height,
            printBackground=False,
            preferCSSPageSize=False,
        )
        return base64.b64decode(found["data"])


@contextmanager
def page(flags: tuple[str, ...] = SOFTWARE_3D) -> Iterator[Page]:
    """A browser with one page, ended with the block."""
    assert PROGRAM is not None
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        command = [PROGRAM, *_FLAGS, *flags, f"--user-data-dir={profile}", "about:blank"]
        with subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as browser:
            found = None
            try:
                found = Page(_address(Path(profile)))
                yield found
            finally:
                if found is not None:
                    found.socket.close()
                browser.terminate()


def _address(profile: Path) -> str:
    """Where the browser's one page listens, once it does."""
    from urllib.request import urlopen

    told = profile / "DevToolsActivePort"
    for _ in range(400):
        if told.exists() and told.read_text().count("\n"):
            port = told.read_text().split("\n")[0]
            with urlopen(f"http://127.0.0.1:{port}/json/list", timeout=10) as answer:
                pages = [one for one in json.load(answer) if one["type"] == "page"]
            if pages:
                return str(pages[0]["webSocketDebuggerUrl"])
        time.sleep(0.05)
    message = "the browser did not start in 20 s"
    raise RuntimeError(message)
