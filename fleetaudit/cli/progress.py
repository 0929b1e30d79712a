"""What the program is at, shown on a terminal once it takes more than a moment, and wiped away at the end."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType
from typing import Self, TextIO

AFTER_SECONDS = 2.0
EVERY_SECONDS = 0.5
WIDTH = 79


class Progress:
    """One line on stderr that says the stage and the seconds gone; nothing where stderr is no terminal."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._stage = "starting"
        self._begun = time.monotonic()
        self._over = threading.Event()
        self._shown = False
        self._thread = threading.Thread(target=self._show, daemon=True) if self._stream.isatty() else None

    def stage(self, what: str) -> None:
        """Note what comes next."""
        self._stage = what

    def __enter__(self) -> Self:
        if self._thread is not None:
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._over.set()
        if self._thread is not None:
            self._thread.join()
        if self._shown:
            self._stream.write("\r" + " " * WIDTH + "\r")
            self._stream.flush()

    def _show(self) -> None:
        wait = AFTER_SECONDS
        while not self._over.wait(wait):
            line = f"{self._stage}, {time.monotonic() - self._begun:.0f} s"
            self._stream.write("\r" + line[:WIDTH].ljust(WIDTH))
            self._stream.flush()
            self._shown, wait = True, EVERY_SECONDS
