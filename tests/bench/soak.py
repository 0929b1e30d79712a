"""Workbook after workbook through the page's server in one process, and what stays behind.

`python -m tests.bench.soak [--workbooks 2000]` uploads as many invented workbooks, all different, the way a
browser does, takes the results and throws away every other one. It prints the memory on the way, and at the
end the memory of the last tenth over that of the second tenth, threads, open files and folders left.
"""

from __future__ import annotations

import argparse
import gc
import http.client
import io
import json
import os
import random
import statistics
import sys
import threading
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import quote

import xlsxwriter

from fleetaudit.web.jobs import KEPT
from fleetaudit.web.server import Server

AS_OF = date(2026, 11, 1)
PATIENCE_S = 120
UNITS = 40
MOST_GROWTH = 1.2
#: headings as different people write them; the words in brackets are units
HEADINGS = (
    ("Unit", "Unit ID", "unit_no", "No."),
    ("Customer", "Account", "Client name"),
    ("Tank size", "Vessel", "Tank (in)"),
    ("Media", "Medium", "Bed type"),
    ("DLFC (gpm)", "Restrictor", "restrictor_l_min", "Drain restrictor (L/min)"),
    ("Rebed date", "Media date", "Last rebed"),
    ("Crew", "Set up by"),
    ("Winter water (F)", "Cold water (C)"),
    ("Remark", "Note"),
)
MEDIA = ("filter sand", "flter sand", "carbon 12x40", "calcite", "softener resin", "unknown {n}", "")


class Visitor:
    """A browser, as far as the server can tell."""

    def __init__(self, server: Server) -> None:
        self.server = server

    def ask(self, method: str, way: str, body: bytes | None = None) -> bytes:
        """Answer to one request."""
        connection = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=PATIENCE_S)
        home = f"http://127.0.0.1:{self.server.port}"
        try:
            connection.request(method, f"/{self.server.token}/{way}", body, {"Origin": home})
            answer = connection.getresponse()
            said = answer.read()
        finally:
            connection.close()
        if answer.status >= 400:
            sys.exit(f"{method} {way}: {answer.status} {said.decode(errors='replace')}")
        return said

    def audit(self, number: int, body: bytes) -> tuple[str, dict[str, Any]]:
        """Upload a workbook, wait for it and take all results."""
        name = quote(f"fleet {number}.xlsx")
        key = json.loads(self.ask("POST", f"audit?name={name}&owner=1", body))["job"]
        end = time.monotonic() + PATIENCE_S
        state: dict[str, Any] = {"done": False}
        while not state["done"]:
            if time.monotonic() > end:
                sys.exit(f"workbook {number} did not end")
            time.sleep(0.01)
            state = json.loads(self.ask("GET", f"job/{key}"))
        for file in state["files"]:
            self.ask("GET", f"job/{key}/file/{quote(file['name'])}")
        return key, state


def workbook(number: int) -> bytes:
    """An invented workbook unlike any other: words, names, sizes, units and faults differ."""
    rng = random.Random(number)
    held = io.BytesIO()
    book = xlsxwriter.Workbook(held, {"in_memory": True})
    sheet = book.add_worksheet(f"List {number}")
    top = rng.randrange(3)
    for column, ways in enumerate(HEADINGS):
        sheet.write(top, column, rng.choice(ways))
    for row in range(top + 1, top + 1 + UNITS):
        day = AS_OF - timedelta(days=rng.randrange(4000))
        cells = (
            f"U-{number}-{row}", f"Account {rng.randrange(10**6)} (invented)",
            rng.choice(["10x54", "13x54", f"{rng.randrange(6, 40)}x{rng.randrange(30, 80)}", "n/a"]),
            rng.choice(MEDIA).format(n=rng.randrange(10**6)),
            rng.choice([2, 5, 7.5, f"{rng.randrange(1, 90)} lpm", ""]),
            rng.choice([day.isoformat(), day.strftime("%d.%m.%Y"), f"{day.year}", "soon"]),
            rng.choice(["north", "south", f"crew {rng.randrange(10**6)}"]), rng.choice([5, 41, ""]),
            f"{rng.random()}",
        )  # fmt: skip
        for column, cell in enumerate(cells):
            sheet.write(row, column, cell)
    book.close()
    return held.getvalue()


def resident_mb() -> float:
    """Memory of this process that lies in the machine's [MB]."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def open_files() -> int:
    """Files, sockets and pipes that this process holds open."""
    return len(os.listdir("/proc/self/fd"))  # noqa: PTH208 - a name that vanishes meanwhile does not matter


class Soaked:
    """What was seen on the way."""

    def __init__(self) -> None:
        self.memory: list[float] = []
        self.audited = self.refused = 0
        self.objects: list[int] = []

    @property
    def ends(self) -> tuple[float, float]:
        """Memory in the last tenth, and in the second, when all that is loaded once is there [MB]."""
        tenth = max(1, len(self.memory) // 10)
        return statistics.median(self.memory[-tenth:]), statistics.median(self.memory[tenth : 2 * tenth])

    @property
    def growth(self) -> float:
        """The one over the other."""
        late, early = self.ends
        return late / early


def soak(count: int, say: bool = False) -> Soaked:
    """Put so many workbooks through one server; fails where something stays behind."""
    seen = Soaked()
    with Server(lambda: AS_OF) as server:
        visitor = Visitor(server)
        visitor.audit(-1, workbook(-1))
        threads, files = threading.active_count(), open_files()
        start = time.monotonic()
        for number in range(count):
            key, state = visitor.audit(number, workbook(number))
            seen.audited += not state["trouble"]
            seen.refused += bool(state["trouble"])
            if number % 2:
                visitor.ask("POST", f"job/{key}/forget", b"")
            seen.memory.append(resident_mb())
            if number % max(1, count // 10) == 0:
                gc.collect()
                seen.objects.append(len(gc.get_objects()))
                if say:
                    spent = time.monotonic() - start
                    print(f"{number:>6} workbooks {seen.memory[-1]:8.1f} MB {spent:7.0f} s", flush=True)
        left = len(list(server.home.iterdir()))
        if left > KEPT + 1:
            raise AssertionError(f"{left} folders are kept")
        settled = time.monotonic() + PATIENCE_S
        while (threading.active_count(), open_files()) > (threads, files) and time.monotonic() < settled:
            time.sleep(0.05)
        if threading.active_count() > threads or open_files() > files:
            more = threading.active_count() - threads, open_files() - files
            raise AssertionError(f"{more[0]} threads and {more[1]} open files are left")
        home = server.home
    if home.exists():
        raise AssertionError(f"{home} is still there")
    return seen


def main() -> int:
    """Run and print; exit 1 where memory grows by more than is allowed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--workbooks", type=int, default=2000)
    parser.add_argument(
        "--figures", action="store_true", help="print memory late and early, and nothing else"
    )
    wanted = parser.parse_args()
    seen = soak(wanted.workbooks, say=not wanted.figures)
    if wanted.figures:
        print(*seen.ends)
        return 0
    print(f"{seen.audited} audited, {seen.refused} refused in one sentence; {seen.growth:.3f}")
    return 1 if seen.growth > MOST_GROWTH else 0


if __name__ == "__main__":
    sys.exit(main())
