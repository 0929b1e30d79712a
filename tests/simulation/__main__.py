"""Print what the probabilities are worth: `python -m tests.simulation [first seed] [fleets] [units]`."""

from __future__ import annotations

import sys

from tests.simulation.measure import report, tally_of

VARIANTS: dict[str, dict[str, object]] = {
    "fully documented": {},
    "as people write it": {"documented": False},
    "fully documented, every flow measured": {"measured": 1.0},
    "law of Wen and Yu alone": {"law": "wen-yu"},
    "Ergun form alone": {"law": "ergun"},
    "constants by kind of medium": {"constants": "by kind"},
    "grains peaked about the catalogue's figure": {"shape": "peaked"},
    "restrictors chosen by the real bed": {"fitted": "bed"},
    "law of the audit's own window": {"law": "window"},
}

if __name__ == "__main__":
    first, fleets, units = (
        int(text) for text in (sys.argv[1:] + ["9001", "12", "4000"][len(sys.argv) - 1 :])
    )
    for name, how in VARIANTS.items():
        print(f"\n{name}: {fleets} fleets of {units} units, seeds {first} to {first + fleets - 1}")
        print(report(tally_of(range(first, first + fleets), units, **how)))
