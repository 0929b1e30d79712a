"""When a difference is said: the gates, the four standings, the direction of the mistakes, names or codes."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping, Sequence
from enum import Enum

from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.crews import statistics
from fleetaudit.crews.counts import NOTHING, Tally, total
from fleetaudit.crews.rules import Rules

USUAL, FAR = 0.95, 0.998


class Standing(Enum):
    """What the numbers allow to say of a group."""

    DIFFERENT = "different from expected"
    USUAL = "within normal variation"
    TOO_FEW = "too few to tell"
    BETTER = "better than expected"


class Direction(Enum):
    """Which way most of the wrong set-ups lie."""

    NONE = ""
    SMALL = "restrictor too small"
    LARGE = "restrictor too large"
    HOUSING = "housing too small"


class Group(Struct, frozen=True):
    """One crew, install year or housing, compared with the rest of the fleet.

    `expected` is what the fleet's shares by kind of job give, `expected_by_others` what those of all the
    others give, over the kinds of job that others did too (`comparable_units`, `comparable_wrong`); only
    the latter decides. `p_more`, `p_fewer` are exact, `q_more`, `q_fewer` adjusted for the number of groups
    (NaN where too few). `usual` and `far` are the least and most wrong units that chance alone brings in 95
    and 99.8 of 100 fleets.
    """

    name: str
    tally: Tally
    share_low: float
    share_high: float
    expected: float
    comparable_units: int
    comparable_wrong: int
    expected_by_others: float
    p_more: float
    p_fewer: float
    usual: tuple[int, int]
    far: tuple[int, int]
    variance: float
    q_more: float = math.nan
    q_fewer: float = math.nan
    shrunken: float = math.nan
    standing: Standing = Standing.TOO_FEW
    direction: Direction = Direction.NONE
    in_direction: int = 0
    direction_p: float = math.nan
    others_alike: bool = False
    one_rating_m3_s: float = math.nan
    with_one_rating: int = 0

    @property
    def share(self) -> float:
        """Wrong units of all; NaN for none."""
        return self.tally.wrong / self.tally.units if self.tally.units else math.nan

    @property
    def ratio(self) -> float:
        """Wrong units over expected ones, for show; NaN where none were expected and none found."""
        return _ratio(self.tally.wrong, self.expected)

    @property
    def ratio_to_others(self) -> float:
        """The ratio that decides."""
        return _ratio(self.comparable_wrong, self.expected_by_others)

    @property
    def excess(self) -> float:
        """Wrong units over what the others' shares give."""
        return self.comparable_wrong - self.expected_by_others


def _ratio(observed: int, expected: float) -> float:
    if expected > 0:
        return observed / expected
    return math.inf if observed else math.nan


#: what each group did: its tally in each stratum, by the stratum's number
Table = Mapping[str, Mapping[int, Tally]]


def compared(table: Table, rules: Rules) -> tuple[Group, ...]:
    """Every group of the table against the rest, by name."""
    fleet: dict[int, Tally] = {}
    for mine in table.values():
        for stratum, tally in mine.items():
            fleet[stratum] = fleet.get(stratum, NOTHING).plus(tally)
    groups = [_group(name, table[name], fleet) for name in sorted(table)]
    ratios, _ = statistics.shrunken_ratios(
        [group.tally.wrong for group in groups], [group.expected for group in groups]
    )
    groups = [replace(group, shrunken=ratio) for group, ratio in zip(groups, ratios, strict=True)]
    everything = total(fleet.values())
    return tuple(_directed(group, everything, rules) for group in named(groups, rules))


def _group(name: str, mine: Mapping[int, Tally], fleet: Mapping[int, Tally]) -> Group:
    tally = total(mine.values())
    strata = [(fleet[place].units, fleet[place].wrong, part.units) for place, part in mine.items()]
    shared = [place for place, part in mine.items() if fleet[place].units > part.units]
    by_others = math.fsum(
        mine[place].units
        * (fleet[place].wrong - mine[place].wrong)
        / (fleet[place].units - mine[place].units)
        for place in shared
    )
    first, chances = statistics.null_distribution(strata)
    low, high = statistics.wilson_interval(tally.wrong, tally.units)
    return Group(
        name=name,
        tally=tally,
        share_low=low,
        share_high=high,
        expected=math.fsum(units * wrong / everybody for everybody, wrong, units in strata if everybody),
        comparable_units=sum(mine[place].units for place in shared),
        comparable_wrong=sum(mine[place].wrong for place in shared),
        expected_by_others=by_others,
        p_more=statistics.upper_tail(tally.wrong, first, chances),
        p_fewer=statistics.lower_tail(tally.wrong, first, chances),
        usual=statistics.usual_counts(first, chances, USUAL),
        far=statistics.usual_counts(first, chances, FAR),
        variance=statistics.variance(strata),
    )


def named(groups: Sequence[Group], rules: Rules) -> list[Group]:
    """The groups with their standing.

    A difference is said only where all four gates are passed: q, the ratio to what the others' shares give,
    the number over it, and enough units that others did the like of. The better ones pass the same gates
    the other way, with a share q of their own: what may be due to chance in all is divided between the two.
    """
    told = [place for place, group in enumerate(groups) if group.comparable_units >= rules.least_units]
    more = statistics.benjamini_hochberg([groups[place].p_more for place in told])
    fewer = statistics.benjamini_hochberg([groups[place].p_fewer for place in told])
    found = list(groups)
    for place, q_more, q_fewer in zip(told, more, fewer, strict=True):
        group = replace(groups[place], q_more=q_more, q_fewer=q_fewer)
        found[place] = replace(group, standing=_standing(group, rules))
    return found


def _standing(group: Group, rules: Rules) -> Standing:
    over = group.ratio_to_others >= rules.least_ratio and group.excess >= rules.least_excess
    if group.q_more <= rules.false_share and over:
        return Standing.DIFFERENT
    under = (
        group.comparable_wrong * rules.least_ratio <= group.expected_by_others
        and -group.excess >= rules.least_excess
    )
    if group.q_fewer <= rules.false_share_better and under:
        return Standing.BETTER
    return Standing.USUAL


def _directed(group: Group, fleet: Tally, rules: Rules) -> Group:
    """The group with the direction most of its mistakes share, and whether the others share it too."""
    mine = group.tally
    if mine.wrong < rules.least_excess:
        return group
    sides = ((mine.small, Direction.SMALL), (mine.large, Direction.LARGE), (mine.housing, Direction.HOUSING))
    # a housing that is too small mostly comes with a restrictor that is: the restrictor is said first
    most, direction = max(sides, key=lambda side: side[0])
    if most < rules.pattern_share * mine.wrong:
        return group
    everywhere = {
        Direction.SMALL: fleet.small - mine.small,
        Direction.LARGE: fleet.large - mine.large,
        Direction.HOUSING: fleet.housing - mine.housing,
    }[direction]
    others = fleet.wrong - mine.wrong
    sided = mine.small + mine.large
    return replace(
        group,
        direction=direction,
        in_direction=most,
        # a housing can be wrong in one direction only
        direction_p=math.nan
        if direction is Direction.HOUSING
        else statistics.one_direction_p_value(most, sided),
        others_alike=others >= rules.least_excess and everywhere >= rules.pattern_share * others,
    )


def codes(names: Iterable[str], salt: str = "") -> dict[str, str]:
    """A code in place of each crew's name, the same for the same name within one report; none for no name.

    The order comes from a digest of the salt (that of the workbook) and the name, since an alphabetical one
    would tell the names to whoever knows them.
    """
    mixed = sorted(
        {name for name in names if name},
        key=lambda name: hashlib.sha256(f"{salt}{name}".encode()).digest(),
    )
    return {name: f"crew {place}" for place, name in enumerate(mixed, 1)} | {"": ""}


def spelled_alike(names: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """Names that differ by case, blanks and punctuation only; said, never put together."""
    alike: dict[str, list[str]] = {}
    for name in sorted(set(names)):
        alike.setdefault("".join(letter for letter in name.casefold() if letter.isalnum()), []).append(name)
    return tuple(tuple(found) for plain, found in alike.items() if plain and len(found) > 1)
