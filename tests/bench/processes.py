"""Child processes with their time, processor time and peak memory."""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
_PER_MB = 1024 if sys.platform == "linux" else 1024 * 1024


@dataclass
class Side:
    """A command that is run again and again; what its runs took."""

    folder: Path
    command: list[str]
    seconds: list[float] = field(default_factory=list)
    processor: list[float] = field(default_factory=list)
    peak_mb: float = 0.0

    def run(self) -> str:
        """Run the command once; what it said, which ends the measuring if it failed."""
        with tempfile.TemporaryFile() as said:
            start = time.perf_counter()
            child = os.posix_spawn(
                self.command[0],
                self.command,
                self._environment(),
                file_actions=[
                    (os.POSIX_SPAWN_DUP2, said.fileno(), 1),
                    (os.POSIX_SPAWN_DUP2, said.fileno(), 2),
                ],
            )
            _, status, used = os.wait4(child, 0)
            self.seconds.append(time.perf_counter() - start)
            said.seek(0)
            text = said.read().decode(errors="replace")
        if os.waitstatus_to_exitcode(status) != 0:
            sys.exit(f"{' '.join(self.command)} failed:\n{text}")
        self.processor.append(used.ru_utime + used.ru_stime)
        self.peak_mb = max(self.peak_mb, used.ru_maxrss / _PER_MB)
        return text

    def told(self) -> tuple[float, float]:
        """Run once; the seconds that the command measured itself, and its peak memory [MB]."""
        return float(self.run().split()[-1]), self.peak_mb

    def forget(self) -> None:
        """Start anew."""
        self.seconds, self.processor, self.peak_mb = [], [], 0.0

    @property
    def median(self) -> float:
        """Median of the seconds."""
        return statistics.median(self.seconds)

    @property
    def busy(self) -> float:
        """Least processor time of a run."""
        return min(self.processor)

    def _environment(self) -> dict[str, str]:
        """Both sides find their modules compiled, as after any installation and first run."""
        kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        return kept | {"PYTHONPATH": str(ROOT), "PYTHONPYCACHEPREFIX": str(self.folder / "compiled")}


def in_turns(folder: Path, ours: list[str], theirs: list[str], rounds: int) -> tuple[Side, Side]:
    """Both commands in turns; the first turn compiles and warms the disk cache, and does not count."""
    sides = Side(folder, ours), Side(folder, theirs)
    for turn in range(rounds + 1):
        for side in sides:
            if turn == 1:
                side.forget()
            side.run()
    return sides
