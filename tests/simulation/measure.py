"""What the audit says of a simulated fleet, held against what is true of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

import numpy as np
from scipy.stats import beta

from fleetaudit.auditing.result import State
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from tests.frames import frame_of
from tests.simulation.fleet import Fleet, simulate

AS_OF = date(2026, 11, 1)
SURE = 0
BINS = np.linspace(0, 1, 11)


@dataclass
class Tally:
    """Findings of several fleets: probability, whether sure, whether true, medium and check; and the clear
    faults.
    """

    probability: list[np.ndarray] = field(default_factory=list)
    sure: list[np.ndarray] = field(default_factory=list)
    true: list[np.ndarray] = field(default_factory=list)
    media: list[np.ndarray] = field(default_factory=list)
    large: list[np.ndarray] = field(default_factory=list)
    clear_small: list[int] = field(default_factory=lambda: [0, 0, 0])
    clear_large: list[int] = field(default_factory=lambda: [0, 0, 0])

    def all(self, name: str) -> np.ndarray:
        """One column over all fleets."""
        return np.concatenate(getattr(self, name))


def held_against(fleet: Fleet, tally: Tally) -> None:
    """Audit a fleet and add its findings to the tally."""
    catalogue = load()
    frame = frame_of(fleet.rows, catalogue)
    result = audit(frame, catalogue, AS_OF)
    window = {item.check.slug: item for item in result.checks}
    any_sure, any_found = np.zeros(frame.units, dtype=bool), np.zeros(frame.units, dtype=bool)
    for slug in ("restrictor-too-small", "restrictor-too-large", "restrictor-borderline"):
        item = window[slug]
        rows = np.flatnonzero(item.state == State.FOUND)
        if slug == "restrictor-borderline":
            large = item.outcome.words["side"].codes[rows] == 1
            from_above = item.outcome.numbers["flow"].value[rows] > item.outcome.numbers["high"][rows]
            large = large | (from_above & (item.outcome.words["side"].codes[rows] == 2))
        else:
            large = np.full(len(rows), slug.endswith("large"))
        true = np.where(large, fleet.large[rows], fleet.small[rows])
        tally.probability.append(item.outcome.probability[rows])
        tally.sure.append(item.confidence[rows] == SURE)
        tally.true.append(true)
        tally.media.append(fleet.media[rows])
        tally.large.append(large)
        any_sure[rows] |= (item.confidence[rows] == SURE) & true
        any_found[rows] |= true
    for kind, counts in ((fleet.small, tally.clear_small), (fleet.large, tally.clear_large)):
        hit = fleet.clear & kind
        for place, number in enumerate((hit, hit & any_found, hit & any_sure)):
            counts[place] += int(number.sum())


def tally_of(seeds: range, units: int, **how: object) -> Tally:
    """Tally of one fleet for each seed."""
    tally = Tally()
    for seed in seeds:
        held_against(simulate(seed, units, **how), tally)
    return tally


def upper_limit(wrong: int, of: int, level: float = 0.95) -> float:
    """One-sided upper confidence limit of a share (Clopper and Pearson, 1934)."""
    return 1.0 if wrong >= of else float(beta.ppf(level, wrong + 1, of - wrong))


def reliability(probability: np.ndarray, true: np.ndarray) -> list[tuple[float, float, int, float, float]]:
    """Each tenth: its ends, number, mean probability, share that is true."""
    place = np.clip(np.digitize(probability, BINS) - 1, 0, 9)
    return [
        (
            BINS[b],
            BINS[b + 1],
            int((place == b).sum()),
            float(probability[place == b].mean()),
            float(true[place == b].mean()),
        )
        for b in range(10)
        if (place == b).any()
    ]


def report(tally: Tally) -> str:
    """The figures as text."""
    p, sure, true = tally.all("probability"), tally.all("sure"), tally.all("true")
    wrong, of = int((sure & ~true).sum()), int(sure.sum())
    lines = [
        f"findings {len(p)}, sure {of}, of them wrong {wrong}: {wrong / max(of, 1):.3%}, "
        f"at most {upper_limit(wrong, of):.3%} (95 %)"
    ]
    small, large = tally.clear_small, tally.clear_large
    both = [a + b for a, b in zip(small, large, strict=True)]
    for name, (faults, found, right) in (("all", both), ("too small", small), ("too large", large)):
        lines.append(
            f"clear faults, {name}: {faults}, "
            f"found {found / max(faults, 1):.1%}, sure {right / max(faults, 1):.1%}"
        )
    for low, high, count, said, is_so in reliability(p, true):
        lines.append(
            f"  {low:.1f}-{high:.1f}  n {count:6d}  said {said:.3f}  true {is_so:.3f}  {is_so - said:+.3f}"
        )
    return "\n".join(lines)
