"""What the findings ask for, and the lists of it: by unit, account, crew and day, and quotes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from functools import cached_property

import numpy as np
from msgspec import Struct

from fleetaudit.language import say
from fleetaudit.needs import Asked, Stocked
from fleetaudit.parts import Part
from fleetaudit.schema import quantity as q
from fleetaudit.writing.alike import said_once
from fleetaudit.writing.display import day
from fleetaudit.writing.orders import Clerk, Grouped, Netted, by_day, grouped, order_groups, totals
from fleetaudit.writing.quotes import quotes
from fleetaudit.writing.report import OrderGroup, PartLine, QuoteLine


class Wanted(Struct, dict=True):
    """Parts and media for the units of a report, from which each list is made when it is asked for.

    It holds no array of the audit. `unit_ids` and the like have a word for each unit, `route_days` has day,
    counted from 1970-01-01, and crew of the plan by unit id; `codes` stand for the names of crews where
    these are hidden.
    """

    clerk: Clerk
    lines: Sequence[Part]
    unit_ids: Sequence[str]
    accounts: Sequence[str]
    crews: Sequence[str]
    rows: Sequence[int]
    stock: Sequence[Stocked]
    shared_stock: Sequence[Stocked]
    route_days: Mapping[str, tuple[int, str]]
    codes: Mapping[str, str]

    @cached_property
    def _asked(self) -> Asked:
        return Asked(self.lines, self.clerk.catalogue)

    @cached_property
    def _accounts(self) -> Grouped:
        return grouped(self.clerk, self._asked, self._of(self.accounts))

    def _of(self, words: Sequence[str]) -> list[str]:
        """The word of the unit of each part."""
        return [words[part.unit] for part in self.lines]

    def totals(self) -> Netted:
        """What to order in all."""
        return totals(self.clerk, self._asked.total(), self.stock, self.shared_stock)

    def part_lines(self) -> list[PartLine]:
        """A line for each part, with mass and bags where it is media."""
        found = self._asked.by(range(len(self.lines)), len(self.lines))
        ordered = self.clerk.lines(found)
        places = np.repeat(np.arange(len(self.lines)), np.diff(found.starts)).tolist()
        mine = [self.lines[place] for place in places]
        vessels = [part.count if part.contents else 1.0 for part in mine]
        notes = said_once(
            self._note,
            [part.because for part in mine],
            vessels,
            [
                volume if count > 1 else 0.0
                for volume, count in zip(found.volume_m3.tolist(), vessels, strict=True)
            ],
        )
        return [
            PartLine(
                self.accounts[part.unit], self.unit_ids[part.unit], self.rows[part.unit], line.what,
                "" if part.contents else line.size, line.needed, line.unit, note, line.mass, line.mass_unit,
                line.bags, line.bag, self.codes.get(self.crews[part.unit], self.crews[part.unit]),
            )
            for part, line, note in zip(mine, ordered, notes, strict=True)
        ]  # fmt: skip

    def _note(self, because: str, vessels: float, volume_m3: float) -> str:
        """Why a part is taken along, and how much of it each vessel gets where there are several."""
        note = say(because)
        if vessels <= 1:
            return note
        each = self.clerk.show.text(q.VOLUME, volume_m3 / vessels)
        return say("{note}; {count:.0f} vessels, {each} each", note=note, count=vessels, each=each)

    def order_groups(self) -> list[OrderGroup]:
        """What is needed for each account and crew, and on the days of a plan that the workbook holds."""
        crews = grouped(self.clerk, self._asked, self._of(self.crews))
        return [
            *order_groups(self._accounts, "account", say("no account given")),
            *order_groups(crews, "crew", say("no crew given"), self.codes),
            *by_day(self.clerk, self._planned(), [*self.stock, *self.shared_stock], self.codes),
        ]

    def _planned(self) -> list[tuple[date, str, Sequence[Part]]]:
        """Days of the plan with the parts of the units that still ask for something."""
        if not self.route_days:
            return []
        days: dict[tuple[date, str], list[Part]] = {}
        for part, unit_id in zip(self.lines, self._of(self.unit_ids), strict=True):
            visit = self.route_days.get(unit_id)
            if visit is not None:
                days.setdefault((day(visit[0]), visit[1]), []).append(part)
        return [(when, crew, own) for (when, crew), own in days.items()]

    def quotes(self) -> list[QuoteLine]:
        """A priced line for each account."""
        return quotes(self.clerk, self.lines, self._accounts)
