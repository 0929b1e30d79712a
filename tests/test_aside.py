"""Work done beside the rest gives the same wherever it is done, and leaves no process behind."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from fleetaudit.aside import Aside
from tests.forked import APART

pytestmark = pytest.mark.usefixtures("no_child_is_left")


def test_the_answer_comes_back_whole() -> None:
    long = bytes(range(256)) * 4_000  # more than a pipe holds
    with Aside(lambda: long) as work:
        assert work.answer() == long


def test_it_is_done_in_a_process_of_its_own() -> None:
    with Aside(lambda: str(os.getpid()).encode()) as work:
        assert (int(work.answer()) != os.getpid()) == APART


def test_other_threads_do_their_work_themselves() -> None:
    answers = []

    def run() -> None:
        with Aside(lambda: str(os.getpid()).encode()) as work:
            answers.append(int(work.answer()))

    thread = threading.Thread(target=run)
    thread.start()
    thread.join()
    assert answers == [os.getpid()]


def test_an_error_is_raised_where_the_answer_is_asked_for() -> None:
    def fail() -> bytes:
        raise ValueError("no page")

    with pytest.raises(ValueError, match="no page"), Aside(fail) as work:
        work.answer()


def test_a_child_that_dies_has_its_work_done_anew() -> None:
    me = os.getpid()

    def die_beside() -> bytes:
        if os.getpid() != me:
            os._exit(3)
        return b"done here"

    with Aside(die_beside) as work:
        assert work.answer() == b"done here"


def test_what_nobody_asks_for_is_stopped() -> None:
    def wait_for_ever() -> bytes:
        threading.Event().wait()
        return b""

    with Aside(wait_for_ever):
        pass


def is_gone(process: int) -> bool:
    """True where a process has ended, also where nobody has asked for its end yet."""
    try:
        said = Path(f"/proc/{process}/stat").read_text("ascii")
    except OSError:
        return True
    return said.rpartition(")")[2].split()[0] == "Z"


def test_a_child_does_not_outlive_a_parent_that_is_killed() -> None:
    program = (
        "import os, signal, sys\n"
        "from fleetaudit.aside import Aside\n"
        "with Aside(lambda: bytes(1_000_000)) as work:\n"
        "    print(work._child.pid if work._child else 0, flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    done = subprocess.run([sys.executable, "-c", program], stdout=subprocess.PIPE, check=False, timeout=60)
    child = int(done.stdout)
    for _ in range(200):
        if not child or is_gone(child):
            break
        time.sleep(0.05)
    else:
        os.kill(child, signal.SIGKILL)
        pytest.fail("the child still waits for its parent")
