"""What changed between two audits of a fleet; no files, no clock.

Units are matched by id and vessel label, then by account, address and vessel. A finding that is gone counts
as fixed only where the check ran and nothing the row once said is what keeps it from being found: values that
the older list knew and the newer one lost are put back for trial, and a finding that comes back with them is
"no longer checked".
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from datetime import timedelta
from enum import Enum
from functools import cached_property, partial
from math import isnan

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.run import EPOCH, audit
from fleetaudit.facts import site
from fleetaudit.facts.due import due
from fleetaudit.facts.frame import Frame
from fleetaudit.facts.history import Before
from fleetaudit.schema import fleet, visits
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.quantity import DAY_SECONDS, Kind

#: checks that say the same of a unit, one more gravely than the other
SAME_MATTER = (
    frozenset({"media-overdue", "media-due-soon"}),
    frozenset({"restrictor-too-small", "restrictor-too-large", "restrictor-borderline"}),
)
OVERDUE = "media-overdue"
#: two numbers count as the same within this share
SAME = 1e-4


class Became(Enum):
    """What became of a finding, in the order it is told; what is as it was comes last."""

    NEW = "new"
    WORSE = "worse"
    NO_LONGER_CHECKED = "no longer checked"
    BETTER = "better"
    FIXED = "fixed"
    ACCEPTED = "accepted"
    ADDED = "added"
    GONE = "gone"
    STILL_OPEN = "still open"


#: what is open in the newer list
OPEN = (Became.NEW, Became.WORSE, Became.STILL_OPEN, Became.BETTER, Became.ADDED)


class Age(Struct, frozen=True):
    """Days a finding has been open: at least, at most (None not known), and what that is told from."""

    least: int = 0
    most: int | None = None
    basis: str = ""


class Item(Struct, frozen=True):
    """One finding: places of its unit and check in the older and the newer result, -1 where there is none."""

    became: Became
    old_unit: int
    new_unit: int
    old_check: int
    new_check: int
    age: Age | None = None
    was_unchecked: bool = False
    out_of_service: bool = False
    by_the_calendar: bool = False


class Comparison(Struct):
    """Two results matched: pairs of units, units of one side only, what became of every finding."""

    old: AuditResult
    new: AuditResult
    pairs: list[tuple[int, int]] = field(default_factory=list)
    renamed: list[tuple[int, int]] = field(default_factory=list)
    gone: list[int] = field(default_factory=list)
    added: list[int] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)

    def narrowed(self, account: str, crew: str) -> Comparison:
        """What concerns one account or one crew, as either list has it; all of it where none is asked for."""

        def wanted(result: AuditResult, unit: int) -> bool:
            frame = result.view.frame
            asked = ((account, fleet.ACCOUNT), (crew, fleet.CREW))
            return all(not name or frame.text(one)[unit].casefold() == name.casefold() for name, one in asked)

        def either(before: int, after: int) -> bool:
            return (after >= 0 and wanted(self.new, after)) or (before >= 0 and wanted(self.old, before))

        if not (account or crew):
            return self
        return Comparison(
            self.old,
            self.new,
            [pair for pair in self.pairs if either(*pair)],
            [pair for pair in self.renamed if either(*pair)],
            [unit for unit in self.gone if wanted(self.old, unit)],
            [unit for unit in self.added if wanted(self.new, unit)],
            [item for item in self.items if either(item.old_unit, item.new_unit)],
        )

    def count(self, became: Became) -> int:
        """Number of findings of a kind."""
        return sum(item.became is became for item in self.items)


def compare(
    old: AuditResult, new: AuditResult, history: Sequence[Before] = (), *, old_day_known: bool = True
) -> Comparison:
    """Compare two audited lists; `history` is that of the newer one and tells how old a finding can be.

    `old_day_known` says that the older result is as of the day of its list; otherwise no age rests on it.
    """
    out = Comparison(old, new)
    _match(out)
    _Judge(out, history, old_day_known).run()
    return out


# Matching


def _match(out: Comparison) -> None:
    old, new = out.old.view.frame, out.new.view.frame
    left, right = list(range(old.units)), list(range(new.units))
    for number, key in enumerate((_by_name, _by_place)):
        found = _paired(left, right, partial(key, old), partial(key, new))
        out.pairs += found
        if number:
            out.renamed += [pair for pair in found if _named(old, pair[0])]
        taken = {a for a, _ in found}, {b for _, b in found}
        left = [unit for unit in left if unit not in taken[0]]
        right = [unit for unit in right if unit not in taken[1]]
    found = _repeated(old, new, left, right)
    out.pairs = sorted(out.pairs + found, key=lambda pair: pair[1])
    out.gone = [unit for unit in left if unit not in {a for a, _ in found}]
    out.added = [unit for unit in right if unit not in {b for _, b in found}]


Key = Callable[[int], Hashable | None]


def _paired(left: Iterable[int], right: Iterable[int], old_key: Key, new_key: Key) -> list[tuple[int, int]]:
    """Units whose key stands once on both sides."""
    before, after = _grouped(left, old_key), _grouped(right, new_key)
    return [
        (units[0], after[key][0])
        for key, units in before.items()
        if len(units) == 1 and len(after.get(key, ())) == 1
    ]


def _grouped(units: Iterable[int], key: Key) -> dict[Hashable, list[int]]:
    found: dict[Hashable, list[int]] = defaultdict(list)
    for unit in units:
        name = key(unit)
        if name is not None:
            found[name].append(unit)
    return found


def _repeated(old: Frame, new: Frame, left: list[int], right: list[int]) -> list[tuple[int, int]]:
    """Units that bear one id several times, as often on both sides: taken in the order of their rows."""
    before = _grouped(left, lambda unit: _by_name(old, unit))
    after = _grouped(right, lambda unit: _by_name(new, unit))
    return [
        pair
        for key, units in before.items()
        if len(units) == len(after.get(key, ()))
        for pair in zip(units, after[key], strict=True)
    ]


def _named(frame: Frame, unit: int) -> bool:
    return int(frame.origins(fleet.UNIT_ID)[unit]) != Origin.FILLED


def _by_name(frame: Frame, unit: int) -> Hashable | None:
    if not _named(frame, unit):
        return None
    return _folded(frame.text(fleet.UNIT_ID)[unit]), _folded(frame.text(fleet.VESSEL_LABEL)[unit])


def _by_place(frame: Frame, unit: int) -> Hashable | None:
    """Account, address and vessel; None where nothing tells one site from another."""
    account, address = _folded(frame.text(fleet.ACCOUNT)[unit]), _folded(frame.text(fleet.ADDRESS)[unit])
    if not (account or address):
        return None
    size = tuple(
        "" if np.isnan(value := frame.number(column)[unit]) else f"{value:.3f}"
        for column in (fleet.DIAMETER, fleet.HEIGHT)
    )
    return account, address, _folded(frame.text(fleet.VESSEL_LABEL)[unit]), size


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


# Judging


class _Judge:
    def __init__(self, out: Comparison, history: Sequence[Before], old_day_known: bool) -> None:
        self.out, self.old, self.new = out, out.old, out.new
        self.old_day_known = old_day_known
        self.places = {item.check.slug: place for place, item in enumerate(self.new.checks)}
        self.old_places = {item.check.slug: place for place, item in enumerate(self.old.checks)}
        self.judged = site.judged(self.new.view)
        self.trial = _with_lost_values(out)
        self.changes: dict[tuple[str, str], list[Before]] = defaultdict(list)
        for line in history:
            self.changes[_folded(line.unit_id), _folded(line.label)].append(line)

    def run(self) -> None:
        """Say of every finding of both sides what became of it."""
        for before, after in self.out.pairs:
            self._pair(before, after)
        for unit in self.out.gone:
            for slug in self._found(self.old, unit):
                self._add(Became.GONE, unit, -1, self.old_places[slug], -1)
        for unit in self.out.added:
            for slug in self._found(self.new, unit):
                self._add(Became.ADDED, -1, unit, -1, self.places[slug])
        order = list(Became)
        self.out.items.sort(key=lambda item: (order.index(item.became), self._tier(item), self._row(item)))

    def _found(self, result: AuditResult, unit: int, state: State = State.FOUND) -> list[str]:
        return [item.check.slug for item in result.checks if item.state[unit] == state]

    def _tier(self, item: Item) -> int:
        result, check, unit = (
            (self.new, item.new_check, item.new_unit)
            if item.new_check >= 0 and item.new_unit >= 0
            else (self.old, item.old_check, item.old_unit)
        )
        return int(result.checks[check].tier[unit])

    def _row(self, item: Item) -> tuple[int, int]:
        if item.new_unit >= 0:
            return int(self.new.view.frame.rows[item.new_unit]), item.new_check
        return int(self.old.view.frame.rows[item.old_unit]), item.old_check

    def _pair(self, before: int, after: int) -> None:
        was, now = self._found(self.old, before), self._found(self.new, after)
        was += [slug for slug in self._found(self.old, before, State.ACCEPTED) if slug in now]
        accepted = set(self._found(self.new, after, State.ACCEPTED))
        for slug, other in self._same_matter(before, after, was, now):
            was, now = [one for one in was if one != slug], [one for one in now if one != other]
            self._both(before, after, self.old_places[slug], self.places[other])
        for slug in was:
            if slug in now:
                self._both(before, after, self.old_places[slug], self.places[slug])
            else:
                became = Became.ACCEPTED if slug in accepted else self._vanished(after, slug)
                self._add(
                    became, before, after, self.old_places[slug], self.places.get(slug, -1),
                    out_of_service=became is Became.GONE,
                    by_the_calendar=became is Became.FIXED and self._gone_by_itself(before, slug),
                )  # fmt: skip
        for slug in now:
            if slug not in was:
                self._new(before, after, slug)
        self._lost_checks(before, after)

    def _same_matter(self, before: int, after: int, was: list[str], now: list[str]) -> list[tuple[str, str]]:
        """Findings that took another name as they became graver or lighter."""
        found = []
        for family in SAME_MATTER:
            one = [slug for slug in was if slug in family and slug not in now]
            other = [slug for slug in now if slug in family and slug not in was]
            if len(one) == 1 and len(other) == 1:
                tiers = self._tiers(before, after, self.old_places[one[0]], self.places[other[0]])
                if tiers[0] != tiers[1]:
                    found.append((one[0], other[0]))
        return found

    def _tiers(self, before: int, after: int, old_check: int, new_check: int) -> tuple[int, int]:
        return int(self.old.checks[old_check].tier[before]), int(self.new.checks[new_check].tier[after])

    def _both(self, before: int, after: int, old_check: int, new_check: int) -> None:
        was, now = self._tiers(before, after, old_check, new_check)
        became = Became.STILL_OPEN if was == now else Became.WORSE if now < was else Became.BETTER
        self._add(became, before, after, old_check, new_check)

    def _new(self, before: int, after: int, slug: str) -> None:
        place = self.old_places.get(slug, -1)
        unchecked = place >= 0 and self.old.checks[place].state[before] == State.NOT_CHECKED
        self._add(Became.NEW, before, after, -1, self.places[slug], was_unchecked=bool(unchecked))

    def _vanished(self, after: int, slug: str) -> Became:
        """What became of a finding that is not found any more."""
        if not self.judged[after]:
            return Became.GONE
        place = self.places.get(slug, -1)
        if place < 0 or self.new.checks[place].state[after] == State.NOT_CHECKED:
            return Became.NO_LONGER_CHECKED
        if self.trial is not None and self.trial.checks[place].state[after] == State.FOUND:
            return Became.NO_LONGER_CHECKED
        if self._odd_cell_emptied(after, slug):
            return Became.NO_LONGER_CHECKED
        return Became.FIXED

    def _gone_by_itself(self, before: int, slug: str) -> bool:
        """True where the older list, audited as of the newer day, does not show the finding either."""
        if self.old.view.as_of_day == self.new.view.as_of_day:
            return False
        return bool(self.later.checks[self.old_places[slug]].state[before] != State.FOUND)

    @cached_property
    def later(self) -> AuditResult:
        """The older list as of the newer day."""
        view = self.old.view
        day = EPOCH + timedelta(days=int(self.new.view.as_of_day))
        return audit(view.frame, view.catalogue, day, view.fleetwide, view.due_within_s / DAY_SECONDS)

    def _odd_cell_emptied(self, after: int, slug: str) -> bool:
        """True where the finding was about a cell that could not be used, and that cell is blank now."""
        old = self.old.checks[self.old_places[slug]].outcome.cell
        before = next(a for a, b in self.out.pairs if b == after) if old is not None else -1
        if old is None or old[before] < 0:
            return False
        column = fleet.COLUMNS[int(old[before])]
        return int(self.new.view.frame.why_missing(column)[after]) in (Missing.BLANK, Missing.NO_COLUMN)

    def _lost_checks(self, before: int, after: int) -> None:
        """Core checks that ran on the older list and cannot run on the newer one."""
        if not self.judged[after]:
            return
        for place, item in enumerate(self.new.checks):
            was = self.old_places.get(item.check.slug, -1)
            if (
                item.check.core
                and item.state[after] == State.NOT_CHECKED
                and was >= 0
                and self.old.checks[was].state[before] == State.CLEAN
            ):
                self._add(Became.NO_LONGER_CHECKED, before, after, was, place)

    def _add(
        self, became: Became, before: int, after: int, old_check: int, new_check: int, *,
        was_unchecked: bool = False, out_of_service: bool = False, by_the_calendar: bool = False,
    ) -> None:  # fmt: skip
        age = self._age(became, before, after, new_check) if became in OPEN else None
        self.out.items.append(
            Item(
                became,
                before,
                after,
                old_check,
                new_check,
                age,
                was_unchecked,
                out_of_service,
                by_the_calendar,
            )
        )

    def _age(self, became: Became, before: int, after: int, check: int) -> Age | None:
        """Days a finding has been open, from its due date, the older list and the last change on record."""
        item, day = self.new.checks[check], self.new.view.as_of_day
        end = due(self.new.view).day
        if item.check.slug == OVERDUE and end.known[after] and end.value[after] <= day:
            days = int(day - np.floor(end.value[after]))
            return Age(days, days, "the day it was due")
        since_old = int(day - self.old.view.as_of_day) if self.old_day_known else None
        most = since_old if became is Became.NEW and since_old else None
        least = since_old if became in (Became.STILL_OPEN, Became.BETTER, Became.WORSE) and since_old else 0
        basis = "the older list" if most is not None or least else ""
        changed = self._last_change(after, item.check.needs)
        if changed is not None and (most is None or day - changed < most) and day - changed >= least:
            most, basis = int(day - changed), "the last recorded change"
        return Age(least, most, basis) if basis else None

    def _last_change(self, after: int, columns: Sequence[Column]) -> float | None:
        frame = self.new.view.frame
        key = _folded(frame.text(fleet.UNIT_ID)[after]), _folded(frame.text(fleet.VESSEL_LABEL)[after])
        titles = {column.title for column in columns}
        days = [line.day for line in self.changes.get(key, ()) if line.what in titles and not isnan(line.day)]
        return max(days, default=None)


def _with_lost_values(out: Comparison) -> AuditResult | None:
    """The newer list audited with what the older one knew and it does not; None where nothing was lost."""
    old, new = out.old.view.frame, out.new.view.frame
    trial = new.part(0, new.units)
    for store in (trial.numbers, trial.codes, trial.origin, trial.missing, trial.date_low, trial.date_high):
        for name, values in store.items():
            store[name] = values.copy()  # type: ignore[assignment]  # the same kind of array goes back
    trial.texts = {name: list(values) for name, values in trial.texts.items()}
    lost, translate = False, _Translator(out)
    for column in fleet.COLUMNS:
        for before, after in _lost(out, column):
            _put_back(trial, old, column, before, after, translate)
            lost = True
    if not lost:
        return None
    view = out.new.view
    day = EPOCH + timedelta(days=int(view.as_of_day))
    return audit(trial, view.catalogue, day, view.fleetwide, view.due_within_s / DAY_SECONDS)


def _lost(out: Comparison, column: Column) -> list[tuple[int, int]]:
    """Pairs whose older list knew a value that the newer one lost, unless it went out of date."""
    old, new = out.old.view.frame, out.new.view.frame
    if not old.has(column):
        return []
    was, now = old.why_missing(column) == Missing.KNOWN, new.why_missing(column) == Missing.KNOWN
    if column in (fleet.DIAMETER, fleet.HEIGHT, fleet.SIZE):
        now = now | ~np.isnan(new.number(fleet.HEIGHT if column is fleet.HEIGHT else fleet.DIAMETER))
    causes = [cause for stale, cause in visits.OUTDATED_BY if stale is column]
    return [
        (before, after)
        for before, after in out.pairs
        if was[before] and not now[after] and not any(_changed(out, cause, before, after) for cause in causes)
    ]


def _changed(out: Comparison, column: Column, before: int, after: int) -> bool:
    """True where both lists know a value, and not the same."""
    old, new = out.old.view.frame, out.new.view.frame
    if any(int(f.why_missing(column)[u]) != Missing.KNOWN for f, u in ((old, before), (new, after))):
        return False
    if column.numeric:
        was, now = old.number(column)[before], new.number(column)[after]
        return bool(abs(was - now) > SAME * abs(now))
    return _folded(old.text(column)[before]) != _folded(new.text(column)[after])


class _Translator:
    """Codes of the older catalogue in those of the newer one, which may hold other media."""

    def __init__(self, out: Comparison) -> None:
        self.old, self.new = out.old.view.catalogue, out.new.view.catalogue

    def code(self, name: str, code: int) -> int:
        """The code for the same thing; -1 where the newer catalogue does not hold it."""
        if code < 0:
            return code
        if name == fleet.MEDIUM.name:
            return self.new.codes.get(self.old.media[code].key, -1)
        return code


def _put_back(
    trial: Frame, old: Frame, column: Column, before: int, after: int, translate: _Translator
) -> None:  # fmt: skip
    """Copy all that the older frame holds of a cell."""
    name, units = column.name, trial.units
    if name not in trial.missing:
        trial.missing[name] = np.full(units, int(Missing.BLANK), dtype=np.int64)
        trial.origin[name] = np.full(units, int(Origin.ABSENT), dtype=np.int64)
    trial.missing[name][after] = old.missing[name][before]
    trial.origin[name][after] = old.origin[name][before]
    keys = [fleet.DIAMETER, fleet.HEIGHT] if column is fleet.SIZE else [column]
    for one in keys:
        if one.key in old.numbers:
            trial.numbers.setdefault(one.key, np.full(units, np.nan))[after] = old.numbers[one.key][before]
    for ends, olds in ((trial.date_low, old.date_low), (trial.date_high, old.date_high)):
        if column.key in olds:
            ends.setdefault(column.key, np.full(units, np.nan))[after] = olds[column.key][before]
    if column.key in old.texts:
        words = list(trial.texts.get(column.key, [""] * units))
        words[after] = old.texts[column.key][before]
        trial.texts[column.key] = words
    _put_codes_back(trial, old, column, before, after, translate)
    if column in (fleet.MEDIUM, fleet.LAYERS) and before in old.layers:
        trial.layers[after] = tuple(
            replace(layer, medium=translate.code(fleet.MEDIUM.name, layer.medium))
            for layer in old.layers[before]
        )


def _put_codes_back(
    trial: Frame, old: Frame, column: Column, before: int, after: int, translate: _Translator
) -> None:  # fmt: skip
    """Copy the codes that a cell decides; those of purposes are places in a table that each frame has."""
    for name in _codes(column):
        if name in old.codes:
            code = int(old.codes[name][before])
            if column is fleet.PURPOSE and code >= 0:
                trial.purposes += (old.purposes[code],)
                code = len(trial.purposes) - 1
            blank = np.full(trial.units, -1, dtype=np.int64)
            trial.codes.setdefault(name, blank)[after] = translate.code(name, code)


def _codes(column: Column) -> tuple[str, ...]:
    """Codes of the frame that a column decides."""
    if column in (fleet.MEDIUM, fleet.MESH, fleet.LAYERS):
        return (fleet.MEDIUM.name, "mesh_stated", "bed")
    if column.quantity.kind in (Kind.CHOICE, Kind.FLAG) or column is fleet.PURPOSE:
        return (column.name,)
    return ()
