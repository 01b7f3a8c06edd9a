"""Drives an installed Chromium over two pipes (--remote-debugging-pipe): no port, no driver, no package.

The DevTools protocol is JSON with a zero byte after each message; file descriptor 3 is read by the
browser and 4 written. Source: Chromium's content/public/common/content_switches.cc, "remote-debugging-pipe".
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import select
import shlex
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-quic",
    "--no-first-run",
    "--disable-component-update", "--disable-sync", "--no-default-browser-check", "--disable-dev-shm-usage",
    "--host-resolver-rules=MAP * ~NOTFOUND", "--remote-debugging-pipe", "--hide-scrollbars",
    "--force-color-profile=srgb",
)  # fmt: skip
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
LOCAL = ("file:", "data:", "blob:", "about:")


def find_chromium() -> str | None:
    """Return the browser's path, from ``TUSSOCK_CHROMIUM`` or the usual names; ``None`` without one."""
    named = os.environ.get("TUSSOCK_CHROMIUM")
    return named or next((found for n in NAMES if (found := shutil.which(n))), None)


class Chromium:
    """A browser with one tab; remembers what the tab asked for and what went wrong in it."""

    def __init__(self, path: str, profile: Path) -> None:
        to_read, self._to = os.pipe()
        self._from, to_write = os.pipe()
        args = shlex.join([path, *FLAGS, f"--user-data-dir={profile}", "about:blank"])
        command = f"exec {args} 3<&{to_read} 4>&{to_write}"
        self._process = subprocess.Popen(
            ["bash", "-c", command],
            pass_fds=(to_read, to_write),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(to_write)
        self._buffer, self._count, self._session = b"", 0, ""
        self.events: list[dict[str, Any]] = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")

    def close(self) -> None:
        """End the browser."""
        with contextlib.suppress(OSError, TimeoutError):
            self._session = ""
            self.call("Browser.close", seconds=5)
        os.close(self._to)
        os.close(self._from)
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(10)

    def call(self, method: str, *, seconds: float = 60.0, **params: Any) -> dict[str, Any]:
        """Return the answer to a command of the protocol."""
        self._count += 1
        message: dict[str, Any] = {"id": self._count, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        self._send(json.dumps(message).encode() + b"\0")
        until = time.monotonic() + seconds
        while True:
            got = self._receive(until, method)
            if got.get("id") == self._count:
                if "error" in got:
                    raise RuntimeError(f"{method}: {got['error']}")
                result: dict[str, Any] = got["result"]
                return result

    def _send(self, data: bytes) -> None:
        while data:
            data = data[os.write(self._to, data) :]

    def _receive(self, until: float, what: str) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            left = until - time.monotonic()
            if left <= 0 or not select.select([self._from], [], [], left)[0]:
                raise TimeoutError(f"no answer to {what}")
            chunk = os.read(self._from, 1 << 16)
            if not chunk:
                raise OSError("the browser ended")
            self._buffer += chunk
        line, self._buffer = self._buffer.split(b"\0", 1)
        message: dict[str, Any] = json.loads(line)
        if "method" in message:
            self.events.append(message)
        return message

    def open(
        self,
        page: Path,
        *,
        width: int,
        height: int,
        touch: bool = False,
        dark: bool = False,
        scale: float = 1.0,
    ) -> None:
        """Open a file at a size and wait until it is drawn."""
        self.events.clear()
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=scale,
            mobile=touch,
        )
        self.call("Emulation.setTouchEmulationEnabled", enabled=touch, maxTouchPoints=5 if touch else 1)
        features = [
            {"name": "prefers-color-scheme", "value": "dark" if dark else "light"},
            {"name": "prefers-reduced-motion", "value": "reduce"},
        ]
        self.call("Emulation.setEmulatedMedia", features=features)
        self.call("Page.navigate", url=page.as_uri())
        self.wait("document.readyState === 'complete'")
        self.evaluate("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(() => r(1))))")

    def wait(self, condition: str, *, seconds: float = 20.0) -> None:
        """Wait until a JavaScript expression is true."""
        until = time.monotonic() + seconds
        while True:
            with contextlib.suppress(RuntimeError):  # a page that is just being replaced
                if self.evaluate(condition):
                    return
            if time.monotonic() > until:
                raise TimeoutError(condition)
            time.sleep(0.02)

    def evaluate(self, expression: str) -> Any:
        """Return the value of a JavaScript expression, awaited."""
        got = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in got:
            raise RuntimeError(json.dumps(got["exceptionDetails"])[:600])
        return got["result"].get("value")

    def tap(self, selector: str) -> None:
        """Click in the middle of an element, as a person would."""
        point = self.evaluate(
            f"(() => {{ const r = document.querySelector({json.dumps(selector)}).getBoundingClientRect();"
            " return [r.x + r.width / 2, r.y + r.height / 2]; })()"
        )
        for kind in ("mousePressed", "mouseReleased"):
            self.call(
                "Input.dispatchMouseEvent", type=kind, x=point[0], y=point[1], button="left", clickCount=1
            )

    def troubles(self) -> list[str]:
        """Return script errors and console errors since the page was opened."""
        self.evaluate("1")
        found = [
            e["params"]["exceptionDetails"].get("exception", {}).get("description", "exception")
            for e in self._of("Runtime.exceptionThrown")
        ]
        found += [
            str(e["params"]["args"])
            for e in self._of("Runtime.consoleAPICalled")
            if e["params"]["type"] in ("error", "assert")
        ]
        found += [
            e["params"]["entry"]["text"]
            for e in self._of("Log.entryAdded")
            if e["params"]["entry"]["level"] == "error"
        ]
        return found

    def requests(self) -> list[str]:
        """Return every address asked for that is not part of the page's own file."""
        asked = [e["params"]["request"]["url"] for e in self._of("Network.requestWillBeSent")]
        return [u for u in asked if not u.startswith(LOCAL)]

    def _of(self, method: str) -> list[dict[str, Any]]:
        return [e for e in self.events if e["method"] == method]

    def picture(self, path: Path, *, whole: bool = False) -> None:
        """Write a screenshot."""
        data = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=whole)["data"]
        path.write_bytes(base64.b64decode(data))

    def pdf(self, path: Path) -> None:
        """Print to A4."""
        got = self.call("Page.printToPDF", printBackground=True, preferCSSPageSize=True)
        path.write_bytes(base64.b64decode(got["data"]))
