"""The command that starts the page: what it prints, how it ends, a port that is taken."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from urllib.request import urlopen

PATIENCE_S = 60


def start(*options):
    return subprocess.Popen(
        [sys.executable, "-u", "-m", "fleetaudit", "serve", "--no-browser", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"NO_COLOR": "1"},
        # whoever started the tests in the background may have had this signal ignored
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # noqa: PLW1509 - no threads here
    )


def test_it_prints_an_address_that_answers_and_keeps_nothing_after_the_end():
    running = start()
    try:
        lines = [running.stdout.readline() for _ in range(3)]
        address = re.search(r"http://127\.0\.0\.1:\d+/[\w-]{20,}/", "".join(lines))[0]
        with urlopen(address, timeout=PATIENCE_S) as answer:
            assert b"Drop your workbook here" in answer.read()
        running.send_signal(signal.SIGINT)
        told, trouble = running.communicate(timeout=PATIENCE_S)
        assert running.returncode == 0 and "Nothing was kept." in told and not trouble
    finally:
        running.kill()
        running.communicate()


def test_a_port_that_is_taken_is_one_sentence():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        running = start("--port", str(taken.getsockname()[1]))
        told, trouble = running.communicate(timeout=PATIENCE_S)
    assert running.returncode == 2 and not told
    assert "cannot be used" in trouble and "Traceback" not in trouble and len(trouble.splitlines()) == 1
