"""All examples, with their seed and count: `python -m tests.fuzz` from the top folder (some ten minutes)."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fuzz.properties import PROPERTIES, SEED, run


def main() -> int:
    """Run every property; a fault ends the run with the example that showed it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", choices=PROPERTIES)
    parser.add_argument("--examples", type=int, help="of each property instead of the usual number")
    wanted = parser.parse_args()
    total = 0
    for name, (_, usual, _) in PROPERTIES.items():
        if wanted.only not in (None, name):
            continue
        start = time.perf_counter()
        seen = run(name, wanted.examples or usual)
        total += sum(seen.values())
        told = ", ".join(f"{count:,} {word}" for word, count in sorted(seen.items()))
        print(f"{name}: {sum(seen.values()):,} in {time.perf_counter() - start:.0f} s ({told})", flush=True)
    print(f"seed {SEED}: {total:,} examples, no traceback, hang or loss", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
