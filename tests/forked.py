"""What tests of forked processes look at."""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

#: whether work is done in processes of its own on this machine
APART = sys.platform == "linux" and len(os.sched_getaffinity(0)) > 1


def children() -> set[str]:
    """Processes of this thread, dead ones that nobody has asked for included."""
    listed = Path(f"/proc/self/task/{threading.get_native_id()}/children")
    return set(listed.read_text("ascii").split()) if listed.exists() else set()
