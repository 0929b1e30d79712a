"""Drives the Chromium of the system through its debugging pipe; standard library only."""

from __future__ import annotations

import base64
import itertools
import json
import os
import select
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser")
PATIENCE_S = 20.0


def program() -> str | None:
    """Path of a Chromium, None where the system has none."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


class Browser:
    """One headless browser with one page."""

    def __init__(self, profile: Path, *options: str) -> None:
        found = program()
        assert found is not None
        commands_out, self._commands = os.pipe()
        self._answers, answers_in = os.pipe()
        # The browser expects its commands on file 3 and writes its answers to file 4.
        shell = f'exec "$@" 3<&{commands_out} 4>&{answers_in}'
        command = [
            found,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--remote-debugging-pipe",
            "--no-first-run",
            f"--user-data-dir={profile}",
            *options,
            "about:blank",
        ]
        self._process = subprocess.Popen(
            ["bash", "-c", shell, "bash", *command],
            pass_fds=(commands_out, answers_in),
            stderr=subprocess.DEVNULL,
        )
        os.close(commands_out)
        os.close(answers_in)
        self._numbers = itertools.count(1)
        self._rest = b""
        self.events: list[dict[str, Any]] = []
        page = next(t for t in self._send("Target.getTargets")["targetInfos"] if t["type"] == "page")
        self._session = self._send("Target.attachToTarget", targetId=page["targetId"], flatten=True)[
            "sessionId"
        ]
        for domain in ("Page", "Runtime", "Network"):
            self.send(f"{domain}.enable")

    def send(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Give a command to the page and wait for the answer."""
        return self._send(method, self._session, **parameters)

    def open(self, address: str, *, scripts: bool = True) -> None:
        """Load an address afresh and wait until it is ready; without scripts no frame can be waited for."""
        for step in ("about:blank", address):
            self.events.clear()
            self.send("Page.navigate", url=step)
            self._wait_for_load(step)
        if scripts:
            self.run("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")

    def _wait_for_load(self, address: str) -> None:
        end = time.monotonic() + PATIENCE_S
        while not any(event["method"] == "Page.loadEventFired" for event in self.events):
            assert time.monotonic() < end, f"{address} did not load"
            answer = self._read()
            if "method" in answer:
                self.events.append(answer)

    def run(self, script: str) -> Any:
        """Value of an expression in the page."""
        answer = self.send("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in answer, answer
        return answer["result"].get("value")

    def size(self, width: int, height: int = 900) -> None:
        """Set the size of the window in CSS pixels."""
        self.send(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=False,
        )

    def picture(self, path: Path) -> None:
        """Save what the window shows."""
        path.write_bytes(base64.b64decode(self.send("Page.captureScreenshot", format="png")["data"]))

    def pdf(self) -> bytes:
        """The page as it prints."""
        return base64.b64decode(self.send("Page.printToPDF")["data"])

    def close(self) -> None:
        """End the browser."""
        self._process.terminate()
        self._process.wait(PATIENCE_S)
        os.close(self._commands)
        os.close(self._answers)

    def _send(self, method: str, session: str | None = None, **parameters: Any) -> dict[str, Any]:
        number = next(self._numbers)
        message: dict[str, Any] = {"id": number, "method": method, "params": parameters}
        if session:
            message["sessionId"] = session
        os.write(self._commands, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._read()
            if answer.get("id") == number:
                assert "error" not in answer, answer
                return answer["result"]
            if "method" in answer:
                self.events.append(answer)

    def _read(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            ready, _, _ = select.select([self._answers], [], [], PATIENCE_S)
            assert ready, "the browser does not answer"
            piece = os.read(self._answers, 1 << 20)
            assert piece, "the browser ended"
            self._rest += piece
        message, _, self._rest = self._rest.partition(b"\0")
        return json.loads(message)
