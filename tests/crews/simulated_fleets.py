"""Invented fleets on which the naming of crews is tried.

`python tests/crews/simulated_fleets.py SEED FLEETS` prints the figures.

Every fleet has a truth of its own, drawn afresh: a general share of wrong set-ups, and effects of vessel
size, medium and install year on its log-odds. Crews differ widely in size and in the jobs they get. Four
designs:

match    within the kinds of job that are compared, every unit is as hard as the other
finer    the truth knows 48 kinds of job, finer than what small fleets can be parted into
hidden   as `match`, but each crew also meets conditions no column tells: its log-odds are shifted by a
normal draw fourfold as `match`, but a tenth of the crews (one at least) have four times the odds
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from itertools import product

import numpy as np
from msgspec.structs import replace
from scipy import stats

from fleetaudit.catalogue.shipped import load
from fleetaudit.crews.counts import Job, SetUpCounts, Tally
from fleetaudit.crews.naming import Standing
from fleetaudit.crews.report import report
from fleetaudit.crews.rules import rules_of
from fleetaudit.crews.strata import kind_of, merged

#: one diameter [mm] and one wash rate [um/s] in each class, and first years of three runs of five
DIAMETERS, RATES, YEARS = (254, 330, 406, 762), (2700, 5400, 8100, 17000), (2010, 2015, 2020)
KINDS = [Job("", *kind, "") for kind in product(DIAMETERS, RATES, YEARS)]
#: units of the smallest and the largest crew
SIZES = (6, 240)
#: general share of wrong set-ups, lowest and highest
SHARES = (0.05, 0.15)
#: how closely a crew's jobs follow those of the fleet; the smaller, the more each crew has jobs of its own
CONCENTRATION = 12.0
FOURFOLD = np.log(4.0)
MANY = 60


@dataclass
class Figures:
    """What came of the fleets of one cell."""

    fleets: int = 0
    with_innocent_named: int = 0
    innocent_named: int = 0
    fourfold_named: int = 0
    fourfold_crews: Counter[str] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    innocent_better: int = 0

    @property
    def share(self) -> float:
        """Share of fleets with an innocent crew named."""
        return self.with_innocent_named / self.fleets

    @property
    def upper(self) -> float:
        """Upper end of its two-sided exact 95 % interval."""
        return stats.binomtest(self.with_innocent_named, self.fleets).proportion_ci(0.95, method="exact").high

    @property
    def power(self) -> float:
        """Share of large crews at four times the odds that are named."""
        return self.found["60+"] / self.fourfold_crews["60+"]


def fleet(
    rng: np.random.Generator, crews: int, *, finer: bool = False, hidden: float = 0.0, fourfold: bool = False
) -> tuple[SetUpCounts, set[str]]:
    """Counts of one fleet, and the crews that have four times the odds."""
    popular = rng.dirichlet(np.full(len(KINDS), 0.7))
    sizes = np.exp(rng.uniform(*np.log(SIZES), crews)).astype(int)
    units = np.stack([rng.multinomial(size, rng.dirichlet(CONCENTRATION * popular + 1e-3)) for size in sizes])
    log_odds = _truth(rng)
    if not finer:
        log_odds = _same_within_strata(log_odds, units)
    shift = rng.normal(0.0, hidden, crews) if hidden else np.zeros(crews)
    chosen = rng.choice(crews, max(1, crews // 10), replace=False) if fourfold else np.array([], dtype=int)
    shift[chosen] += FOURFOLD
    wrong = rng.binomial(units, 1 / (1 + np.exp(-(log_odds + shift[:, None]))))
    names = [f"crew {place:02}" for place in range(crews)]
    jobs = {
        replace(kind, crew=names[crew]): Tally(int(units[crew, place]), int(wrong[crew, place]))
        for crew in range(crews)
        for place, kind in enumerate(KINDS)
        if units[crew, place]
    }
    return SetUpCounts(jobs), {names[crew] for crew in chosen}


def _truth(rng: np.random.Generator) -> np.ndarray:
    general = rng.uniform(*SHARES)
    by_vessel = np.cumsum(rng.uniform(0.0, 0.7, len(DIAMETERS)))
    by_medium = rng.uniform(-0.8, 1.2, len(RATES))
    by_year = rng.uniform(-0.6, 0.6, len(YEARS))
    parts = by_vessel[:, None, None] + by_medium[None, :, None] + by_year[None, None, :]
    return np.log(general / (1 - general)) + parts.ravel() - parts.mean()


def _same_within_strata(log_odds: np.ndarray, units: np.ndarray) -> np.ndarray:
    """One truth for each stratum the comparison will use: the mean over its units."""
    whole = units.sum(axis=0)
    rules = rules_of(load())
    place = {kind_of(job, rules): number for number, job in enumerate(KINDS)}
    sizes = {kind: int(whole[number]) for kind, number in place.items() if whole[number]}
    flat = log_odds.copy()
    for stratum in merged(sizes, rules.least_stratum):
        members = [place[kind] for kind in stratum]
        share = np.average(1 / (1 + np.exp(-log_odds[members])), weights=whole[members])
        flat[members] = np.log(share / (1 - share))
    return flat


def run(seed: int, crews: int, fleets: int, **design: float) -> Figures:
    """Try the naming on so many fleets."""
    rules = rules_of(load())
    figures = Figures()
    for number in range(fleets):
        counts, fourfold_crews = fleet(np.random.default_rng([seed, crews, number]), crews, **design)
        found = report(counts, rules)
        named = {group.name for group in found.crews if group.standing is Standing.DIFFERENT}
        figures.fleets += 1
        figures.innocent_named += len(named - fourfold_crews)
        figures.fourfold_named += len(named & fourfold_crews)
        figures.with_innocent_named += bool(named - fourfold_crews)
        better = {group.name for group in found.crews if group.standing is Standing.BETTER}
        figures.innocent_better += bool(better - fourfold_crews)
        for group in found.crews:
            if group.name in fourfold_crews:
                size = (
                    "60+" if group.tally.units >= MANY else "20-59" if group.tally.units >= 20 else "under 20"
                )
                figures.fourfold_crews[size] += 1
                figures.found[size] += group.name in named
    return figures


DESIGNS = {
    "match": {},
    "finer": {"finer": True},
    "hidden 0.3": {"hidden": 0.3},
    "hidden 0.6": {"hidden": 0.6},
    "fourfold": {"fourfold": True},
}


def main(seed: int, fleets: int) -> None:
    """Print every cell."""
    for name, design in DESIGNS.items():
        for crews in (6, 15, 40):
            start = time.perf_counter()
            found = run(seed, crews, fleets, **design)
            power = {
                size: f"{found.found[size]}/{count}" for size, count in sorted(found.fourfold_crews.items())
            }
            print(
                f"{name:11} {crews:3} crews: innocent named in {found.with_innocent_named} of {fleets} "
                f"({found.share:.2%}, upper {found.upper:.2%}); better {found.innocent_better / fleets:.2%}; "
                f"{power}; innocent of all named: "
                f"{found.innocent_named}/{found.innocent_named + found.fourfold_named}; "
                f"{time.perf_counter() - start:.0f} s",
                flush=True,
            )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
