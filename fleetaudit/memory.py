"""Memory that is free again, given back to the system, and garbage that is not looked for in vain."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager

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


def give_back() -> None:
    """Give back what arrays took that are gone; on other systems than Linux nothing is done.

    The allocator of the C library keeps such memory for the next arrays. What follows an audit is texts,
    which lie elsewhere, so the process would hold both.
    """
    if sys.platform != "linux":
        return
    import ctypes  # noqa: PLC0415 - numpy has loaded it

    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)  # not in every C library
    if trim is not None:
        trim(0)
