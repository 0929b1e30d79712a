"""A process of its own for one command: what it can do without is settled first, and it ends at once."""

from __future__ import annotations

import gc
import os
import sys
import threading
from contextlib import suppress
from typing import NoReturn

from fleetaudit.memory import SELDOM

_TOOLS = 6  # that can watch a process at once, as the language has it


class Code(int):
    """Code to leave with; holds on to what was made, which a process that ends need not take apart."""

    made: object = None


def run() -> NoReturn:
    """Run the command that the process was started with, and leave with its code."""
    # Nothing here multiplies matrices, and starting a thread for each processor takes longer than a small
    # audit.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(*SELDOM)
    from fleetaudit.cli.main import answer  # noqa: PLC0415 - all of it is loaded without those looks

    _leave(answer())


def _leave(code: int) -> NoReturn:
    """End without taking apart what is held, one object after the other, which frees nothing in time.

    Not where another thread, another process or somebody who measures may still have something to do.
    """
    gc.freeze()
    if "multiprocessing" in sys.modules or threading.active_count() > 1 or _is_watched():
        sys.exit(code)
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            with suppress(OSError, ValueError):
                stream.flush()
    os._exit(code)


def _is_watched() -> bool:
    """Whether somebody measures or debugs this process."""
    if sys.gettrace() or sys.getprofile():
        return True
    monitoring = getattr(sys, "monitoring", None)  # what profilers use from Python 3.12 on
    return monitoring is not None and any(monitoring.get_tool(tool) for tool in range(_TOOLS))
