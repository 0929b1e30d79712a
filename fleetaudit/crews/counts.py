"""How many set-ups of each kind of job each crew made, and how many are wrong; whole numbers that add up.

One unit is one opportunity, however many of its parts are wrong: a small housing and the small restrictor
in it are one mistake. A unit is wrong where a restrictor that is too small or too large, or a housing that
is too small, was found for sure or likely. It is no opportunity at all, neither right nor wrong, where its
restrictor could not be judged, where the finding has to be measured first or its cells contradict each
other, where the unit stands in the list twice, or where somebody else has changed the bed since.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

import numpy as np
from msgspec import Struct, field

from fleetaudit.auditing.result import AuditResult, CheckResult, State
from fleetaudit.checks import duplicate_unit, housing_too_small, restrictor_too_large, restrictor_too_small
from fleetaudit.checks.check import Confidence
from fleetaudit.facts import site
from fleetaudit.facts.calendar import months
from fleetaudit.facts.due import media_date
from fleetaudit.facts.fact import given
from fleetaudit.facts.frame import Codes, Flags
from fleetaudit.facts.view import View
from fleetaudit.hydraulics.arrays import distinct_rows
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import DAY_SECONDS

#: stands for a year, diameter or wash rate that is not known
UNKNOWN = -1
#: wash rate of beds in layers, which no single medium sets
LAYERED = -2
#: so that keys are whole numbers: millimetres, micrometres a second, cubic millimetres a second
MM, UM, MM3 = 1e3, 1e6, 1e9
FIRST_YEAR, MONTHS = 1970, 12

NOT_JUDGED = "restrictor not judged"
TWICE = "in the list twice"
CHANGED = "changed since by somebody else, or nobody says by whom"
UNSETTLED = "to be measured first, or cells contradict each other"
DATES_SILENT = "dates do not tell whether the bed was changed since"


class Job(Struct, frozen=True, order=True):
    """What a set-up was: who did it, vessel diameter [mm], wash rate [um/s], install year, housing."""

    crew: str
    diameter_mm: int
    wash_um_s: int
    year: int
    housing: str


class Tally(NamedTuple):
    """Set-ups, the wrong ones of them, and of those: restrictor too small, too large, housing too small."""

    units: int = 0
    wrong: int = 0
    small: int = 0
    large: int = 0
    housing: int = 0

    def plus(self, other: Tally) -> Tally:
        """Both together."""
        return Tally(
            self.units + other.units,
            self.wrong + other.wrong,
            self.small + other.small,
            self.large + other.large,
            self.housing + other.housing,
        )


NOTHING = Tally()


def total(tallies: Iterable[Tally]) -> Tally:
    """All together."""
    found = NOTHING
    for tally in tallies:
        found = found.plus(tally)
    return found


class SetUpCounts(Struct):
    """Counts of one partition; `+` adds two partitions up.

    `ratings` counts the wrong units of each crew by the rating fitted [mm3/s]; `left_out` the units that
    are no opportunity by reason; `remarks` what should be said of those that were counted.
    """

    jobs: dict[Job, Tally] = field(default_factory=dict)
    ratings: Counter[tuple[str, int]] = field(default_factory=Counter)
    left_out: Counter[str] = field(default_factory=Counter)
    remarks: Counter[str] = field(default_factory=Counter)

    def __add__(self, other: SetUpCounts) -> SetUpCounts:
        jobs = dict(self.jobs)
        for job, tally in other.jobs.items():
            mine = jobs.get(job)
            jobs[job] = tally if mine is None else mine.plus(tally)
        return SetUpCounts(
            jobs,
            self.ratings + other.ratings,
            self.left_out + other.left_out,
            self.remarks + other.remarks,
        )


def count(result: AuditResult) -> SetUpCounts:
    """Counts of one audited frame."""
    view = result.view
    by_slug = {item.check.slug: item for item in result.checks}
    small, large = (by_slug[check.CHECK.slug] for check in (restrictor_too_small, restrictor_too_large))
    housing, twice = (by_slug[check.CHECK.slug] for check in (housing_too_small, duplicate_unit))
    changed, silent = changed_since(view)
    wrong = _settled(small) | _settled(large) | _settled(housing)
    doubtful = _doubtful(small) | _doubtful(large) | (_doubtful(housing) & ~wrong) | _contradicted(housing)
    reasons = (
        (NOT_JUDGED, ~(_answered(small) & _answered(large))),
        (TWICE, np.asarray(twice.state == State.FOUND)),
        (CHANGED, changed),
        (UNSETTLED, doubtful),
    )
    counts = SetUpCounts()
    left = site.judged(view).copy()
    for reason, flags in reasons:
        counts.left_out[reason] = int(np.count_nonzero(left & flags))
        left &= ~flags
    counts.left_out = +counts.left_out
    counts.remarks = +Counter({DATES_SILENT: int(np.count_nonzero(left & silent))})
    kinds = (np.ones_like(wrong), wrong, _settled(small), _settled(large), _settled(housing))
    _fill(counts, view, np.flatnonzero(left), kinds)
    return counts


def _answered(item: CheckResult) -> Flags:
    return np.asarray((item.state == int(State.CLEAN)) | (item.state == int(State.FOUND)))


def _settled(item: CheckResult) -> Flags:
    return np.asarray((item.state == State.FOUND) & (item.confidence != Confidence.MEASURE_FIRST))


def _doubtful(item: CheckResult) -> Flags:
    return np.asarray((item.state == State.FOUND) & (item.confidence == Confidence.MEASURE_FIRST))


def _contradicted(item: CheckResult) -> Flags:
    found = np.asarray(item.state == State.FOUND)
    return found & item.outcome.doubt if item.outcome.doubt is not None else np.zeros_like(found)


def changed_since(view: View) -> tuple[Flags, Flags]:
    """Whether somebody else changed the bed after the set-up, and whether the row cannot tell.

    Changed by another crew where one is named and differs; where none is named, changed by nobody knows
    whom if the medium is certainly younger than the set-up. Case and blanks of names do not matter here:
    this can only leave units out, never put two crews together.
    """
    frame = view.frame
    named, by_another = _by_another(view)
    loaded, installed = media_date(view), given(frame, fleet.INSTALL_DATE)
    latest = frame.date_high.get(fleet.INSTALL_DATE.key, installed.value)
    dated = loaded.known & installed.known
    with np.errstate(invalid="ignore"):
        younger = dated & (loaded.low > latest + view.setting("crew_set_up_days") / DAY_SECONDS)
    return by_another | (~named & younger), ~named & ~dated


def _by_another(view: View) -> tuple[Flags, Flags]:
    """Whether a crew is named that changed the medium, and whether it is not the one that set the unit up."""
    later = view.frame.text(fleet.MEDIA_CREW)
    if not any(later):
        nobody = np.zeros(view.units, dtype=bool)
        return nobody, nobody
    _, code = _coded([*view.frame.text(fleet.CREW), *later, ""], _folded)
    crew, later_crew = code[: view.units], code[view.units : -1]
    named = later_crew != code[-1]
    return named, named & (later_crew != crew)


def _folded(name: str) -> str:
    return " ".join(name.casefold().split())


def _coded(names: Sequence[str], cleaned: Callable[[str], str]) -> tuple[list[str], Codes]:
    """The cleaned names in order, and the place of each name among them."""
    clean = {name: cleaned(name) for name in set(names)}
    found = sorted(set(clean.values()))
    number = {short: place for place, short in enumerate(found)}
    place = {name: number[short] for name, short in clean.items()}
    return found, np.fromiter(map(place.__getitem__, names), dtype=np.int64, count=len(names))


def _fill(counts: SetUpCounts, view: View, rows: Codes, kinds: Sequence[Flags]) -> None:
    """Put the rows into the counts, those of one kind of job together."""
    if not len(rows):
        return
    crews, crew = _coded(view.frame.text(fleet.CREW), str.strip)
    housings = (*fleet.HOUSING.choices, "")
    held = (
        crew[rows],
        _whole(view.frame.number(fleet.DIAMETER)[rows], MM),
        _wash(view)[rows],
        _year(view)[rows],
        view.frame.code(fleet.HOUSING.name)[rows],
    )
    first, place = distinct_rows(held)
    distinct = np.stack([key[first] for key in held])
    order = np.lexsort(distinct[::-1])
    of_kind = (place[np.flatnonzero(kind[rows])] for kind in kinds)
    sums = [np.bincount(places, minlength=len(first))[order].tolist() for places in of_kind]
    tallies = map(Tally._make, zip(*sums, strict=True))
    for kind, tally in zip(distinct[:, order].T.tolist(), tallies, strict=True):
        who, diameter, wash, year, housing = kind
        counts.jobs[Job(crews[who], diameter, wash, year, housings[housing])] = tally
    fitted = site.rating(view)
    wrong = rows[np.flatnonzero((kinds[1] & fitted.known)[rows])]
    ratings = np.rint(fitted.value[wrong] * MM3).astype(np.int64)
    counts.ratings.update(zip([crews[who] for who in crew[wrong].tolist()], ratings.tolist(), strict=True))


def _whole(values: np.ndarray[tuple[int], np.dtype[np.float64]], scale: float) -> Codes:
    return np.where(np.isnan(values), UNKNOWN, np.rint(np.nan_to_num(values) * scale)).astype(np.int64)


def _wash(view: View) -> Codes:
    rate = view.usual("rate_low_m_s")
    return np.where(site.layered(view), LAYERED, _whole(rate, UM))


def _year(view: View) -> Codes:
    installed = given(view.frame, fleet.INSTALL_DATE)
    day = np.where(installed.known, np.nan_to_num(installed.value), 0).astype(np.int64)
    month, _ = months(day)
    return np.where(installed.known, month // MONTHS + FIRST_YEAR, UNKNOWN)
