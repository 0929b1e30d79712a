"""Memory that is free again, given back to the system."""

from __future__ import annotations

import sys


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
