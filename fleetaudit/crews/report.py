"""What the added-up counts say of crews, install years and housings."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping

from msgspec import Struct, field
from msgspec.structs import replace

from fleetaudit.crews.counts import MM3, NOTHING, UNKNOWN, Job, SetUpCounts, Tally, total
from fleetaudit.crews.funnel import Funnel, funnel
from fleetaudit.crews.naming import Group, compared, spelled_alike
from fleetaudit.crews.rules import Rules
from fleetaudit.crews.strata import Kind, Stratum, kind_of, merged


class CrewReport(Struct, frozen=True):
    """Crews, install years and housings against the rest of the fleet; each list by name, never by result.

    `strata` are the kinds of job crews were compared within; `no_crew` counts set-ups whose row names no
    crew; `alike` lists names that may be one crew and were counted apart.
    """

    rules: Rules
    crews: tuple[Group, ...] = ()
    years: tuple[Group, ...] = ()
    housings: tuple[Group, ...] = ()
    strata: tuple[Stratum, ...] = ()
    fleet: Tally = NOTHING
    no_crew: int = 0
    left_out: Mapping[str, int] = field(default_factory=dict)
    remarks: Mapping[str, int] = field(default_factory=dict)
    alike: tuple[tuple[str, ...], ...] = ()
    funnel: Funnel = field(default_factory=Funnel)

    def hidden(self, code: Mapping[str, str]) -> CrewReport:
        """The same with codes in place of names, and nothing that tells names."""
        points = tuple(replace(point, name=code[point.name]) for point in self.funnel.points)
        crews = sorted((replace(group, name=code[group.name]) for group in self.crews), key=_by_number)
        return replace(self, crews=tuple(crews), alike=(), funnel=replace(self.funnel, points=points))

    def only(self, crew: str) -> CrewReport:
        """The same with that crew alone, compared with all the others as before."""
        wanted = crew.casefold()
        points = tuple(point for point in self.funnel.points if point.name.casefold() == wanted)
        crews = tuple(group for group in self.crews if group.name.casefold() == wanted)
        return replace(self, crews=crews, alike=(), funnel=replace(self.funnel, points=points))


def _by_number(group: Group) -> tuple[int, str]:
    return len(group.name), group.name


def report(counts: SetUpCounts, rules: Rules) -> CrewReport:
    """The report of the counts of a whole fleet, whatever parts they were added up from."""
    jobs = counts.jobs
    named = {job: tally for job, tally in jobs.items() if job.crew}
    strata, table = _table(named, lambda job: job.crew, rules, with_years=True)
    crews = tuple(_one_rating(group, counts.ratings, rules) for group in compared(table, rules))
    dated = {job: tally for job, tally in jobs.items() if job.year != UNKNOWN}
    _, by_year = _table(dated, lambda job: str(job.year), rules, with_years=False)
    housed = {job: tally for job, tally in jobs.items() if job.housing}
    _, by_housing = _table(housed, lambda job: job.housing, rules, with_years=True)
    return CrewReport(
        rules=rules,
        crews=crews,
        years=compared(by_year, rules),
        housings=compared(by_housing, rules),
        strata=strata,
        fleet=total(named.values()),
        no_crew=sum(tally.units for job, tally in jobs.items() if not job.crew),
        left_out=dict(sorted(counts.left_out.items())),
        remarks=dict(sorted(counts.remarks.items())),
        alike=spelled_alike(job.crew for job in named),
        funnel=funnel(crews, rules),
    )


def _table(
    jobs: Mapping[Job, Tally], group_of: Callable[[Job], str], rules: Rules, *, with_years: bool
) -> tuple[tuple[Stratum, ...], dict[str, dict[int, Tally]]]:
    """Strata of the jobs, and what each group did in each."""
    kinds = {job: kind_of(job, rules, with_years) for job in jobs}
    by_kind: dict[Kind, Tally] = {}
    for job, tally in jobs.items():
        by_kind[kinds[job]] = by_kind.get(kinds[job], NOTHING).plus(tally)
    parts = merged({kind: tally.units for kind, tally in by_kind.items()}, rules.least_stratum)
    number = {kind: place for place, part in enumerate(parts) for kind in part}
    sums = [total(by_kind[kind] for kind in part) for part in parts]
    table: dict[str, dict[int, Tally]] = defaultdict(dict)
    for job, tally in sorted(jobs.items()):
        mine, place = table[group_of(job)], number[kinds[job]]
        mine[place] = mine.get(place, NOTHING).plus(tally)
    strata = tuple(Stratum(part, both.units, both.wrong) for part, both in zip(parts, sums, strict=True))
    return strata, dict(table)


def _one_rating(group: Group, ratings: Counter[tuple[str, int]], rules: Rules) -> Group:
    """The group with the one rating that most of its wrong units carry, where there is one."""
    mine = sorted((count, -rating) for (crew, rating), count in ratings.items() if crew == group.name)
    if not mine or mine[-1][0] < max(rules.least_excess, rules.pattern_share * group.tally.wrong):
        return group
    count, rating = mine[-1]
    return replace(group, one_rating_m3_s=-rating / MM3, with_one_rating=count)
