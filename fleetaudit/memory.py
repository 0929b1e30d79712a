"""Memory that is free again, given back or kept for what comes next, and garbage not looked for in vain."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

#: options of the allocator by their numbers in its header; bytes from which, and up to which, it gives back
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
_LARGEST_HELD, _MOST_HELD = 32 << 20, 512 << 20

#: records are many and hold no rings, so that looking for garbage among them as often as usual finds nothing
SELDOM = 1_000_000, 20, 100


@contextmanager
def seldom_searched() -> Iterator[None]:
    """Look for rings of garbage seldom until the end of the block."""
    before = gc.get_threshold()
    gc.set_threshold(*SELDOM)
    try:
        yield
    finally:
        gc.set_threshold(*before)


def sweep() -> None:
    """Throw away what one piece of work left behind, before another begins in the same process."""
    gc.collect()
    give_back()


def give_back() -> None:
    """Give back what arrays took that are gone; on other systems than Linux nothing is done.

    The allocator of the C library keeps such memory for the next arrays. What follows an audit is texts,
    which lie elsewhere, so the process would hold both.
    """
    trim = _of_c("malloc_trim")
    if trim is not None:
        trim(0)


def hold_on() -> None:
    """Keep what arrays leave for those that follow, in a process that makes and drops many of the same size.

    The allocator would else give each back to the system and have it made, and emptied, anew.
    """
    option = _of_c("mallopt")
    if option is not None:
        option(_MMAP_THRESHOLD, _LARGEST_HELD)
        option(_TRIM_THRESHOLD, _MOST_HELD)


def _of_c(name: str) -> Any:
    """A function of the C library; None on other systems than Linux, and in libraries without it."""
    if sys.platform != "linux":
        return None
    import ctypes  # noqa: PLC0415 - numpy has loaded it

    return getattr(ctypes.CDLL(None), name, None)
