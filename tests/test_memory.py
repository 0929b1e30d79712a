"""Memory of arrays that are gone is given back where the allocator would keep it, or kept where asked for."""

import ctypes
import gc
import subprocess
import sys
import weakref

import pytest

from fleetaudit.memory import SELDOM, give_back, hold_on, seldom_searched, sweep

#: arrays small enough to be kept by the allocator once they are gone, under one that stays
MEASURED = """
import sys
from pathlib import Path
import numpy as np
from fleetaudit.memory import give_back

def held():
    return int(Path("/proc/self/statm").read_text("ascii").split()[1])

np.ones(1 << 21).sum()  # from here on arrays up to that size come from the heap
arrays = [np.ones(1 << 16) for _ in range(400)]
last = np.ones(1 << 16)
full = held()
del arrays
kept = held()
give_back()
print(full, kept, held())
"""


@pytest.mark.skipif(sys.platform != "linux", reason="other systems are left to themselves")
def test_memory_goes_back_to_the_system() -> None:
    run = subprocess.run([sys.executable, "-c", MEASURED], capture_output=True, text=True, check=True)
    full, kept, left = map(int, run.stdout.split())
    if kept > full / 2:  # this allocator kept it
        assert left < full / 2
    assert left <= kept


#: arrays that the allocator takes straight from the system, and gives back one by one
HELD = """
import resource
import numpy as np
from fleetaudit.memory import hold_on

def faults(times):
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(times):
        arrays = [np.ones(1 << 20) for _ in range(4)]
        del arrays
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before

hold_on()
print(faults(1), faults(20))
"""


@pytest.mark.skipif(sys.platform != "linux", reason="other systems are left to themselves")
def test_memory_that_is_held_on_to_is_not_asked_for_again() -> None:
    run = subprocess.run([sys.executable, "-c", HELD], capture_output=True, text=True, check=True)
    first, later = map(int, run.stdout.split())
    assert later < 2 * first


def test_other_systems_are_left_to_themselves(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr(ctypes, "CDLL", asked.append)
    monkeypatch.setattr(sys, "platform", "win32")
    give_back()
    hold_on()
    assert asked == []


def test_garbage_is_looked_for_as_before_once_the_work_is_done_or_failed() -> None:
    before = gc.get_threshold()
    assert before != SELDOM
    with pytest.raises(ValueError, match="no work"), seldom_searched():
        assert gc.get_threshold() == SELDOM
        raise ValueError("no work")
    assert gc.get_threshold() == before


def test_a_sweep_takes_rings_of_garbage_along() -> None:
    class Link:
        other: object = None

    one = Link()
    one.other = one
    seen = weakref.ref(one)
    with seldom_searched():
        del one
        assert seen() is not None
        sweep()
    assert seen() is None
