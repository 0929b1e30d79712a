"""A finding put into sentences; the only place where sentences about findings are made."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cached_property
from math import isinf, isnan

import numpy as np
from msgspec import Struct

from fleetaudit.auditing.result import AuditResult, CheckResult
from fleetaudit.checks.check import Check
from fleetaudit.facts.fact import Fact
from fleetaudit.facts.frame import Codes, Floats
from fleetaudit.language import say
from fleetaudit.parts import media_names
from fleetaudit.ranking import Cost
from fleetaudit.schema import fleet
from fleetaudit.schema.column import MISSING_WORDS, Column, Missing
from fleetaudit.schema.quantity import Kind, Quantity
from fleetaudit.units import from_si
from fleetaudit.workbook.place import column_letters, quoted
from fleetaudit.writing.alike import picked, records, said_once, shared
from fleetaudit.writing.cost_words import cost_lines
from fleetaudit.writing.derivation import Derivation
from fleetaudit.writing.display import UNKNOWN, Display, day
from fleetaudit.writing.filling import sentences
from fleetaudit.writing.report import FindingRecord, Span

SHOWN_TEXT = 60


def shorten(text: str, length: int = SHOWN_TEXT) -> str:
    """Text of the user cut to a length, the cut marked."""
    return text if len(text) <= length else text[: length - 1] + "…"


#: stands where a finding has no figure of that name
LEFT_OUT = ""
Value = float | str | None


class Said(Struct, frozen=True):
    """What the findings of one check say, a list of each: sentences, sources, numbers shown and as figures.

    A figure is LEFT_OUT where a finding has none of that name.
    """

    message: Sequence[str]
    why: Sequence[str]
    fix: Sequence[str]
    source: Sequence[str]
    numbers: Sequence[tuple[str, Sequence[str]]]
    values: Sequence[tuple[str, Sequence[Value]]]


class Speaker(Struct, dict=True):
    """Puts the results of one audited frame into words."""

    result: AuditResult
    system: str
    #: whether a finding carries the way its figures were worked out, line by line
    worked_out: bool = True

    @cached_property
    def display(self) -> Display:
        """Numbers in the reader's units."""
        return Display(self.system)

    @cached_property
    def derivation(self) -> Derivation:
        """The way from inputs to the flow window, line by line."""
        return Derivation(self.result, self.display)

    def _derives(self, check: Check) -> bool:
        return self.worked_out and "rate_low_m_s" in check.figures

    def cell(self, unit: int, column: Column) -> str:
        """Address of a unit's cell in a column, "" where the sheet has no such column."""
        return next(iter(self.cells(np.array([unit]), column)), "")

    def cells(self, units: Codes, column: Column) -> list[str]:
        """Addresses of the cells of units in a column, none where the sheet has no such column."""
        frame, place = self.result.view.frame, self._place(column)
        if place is None:
            return []
        start = f"{quoted(frame.sheet)}!{column_letters(place)}"
        return [f"{start}{row}" for row in frame.rows[units].tolist()]

    def _place(self, column: Column) -> int | None:
        """Where a column stands in the sheet, None where the sheet has no such column."""
        columns = self.result.view.frame.columns
        place = columns.get(column.name)
        return columns.get(fleet.DIAMETER.name) if place is None and column is fleet.SIZE else place

    def local(self, cell: str) -> str:
        """Address without the sheet."""
        return cell.rsplit("!", 1)[-1]

    def finding(self, unit: int, item: CheckResult, cost: Cost | None) -> FindingRecord:
        """Record of one finding."""
        return self.findings(np.array([unit]), item, cost)[0]

    def findings(self, units: Codes, item: CheckResult, cost: Cost | None) -> list[FindingRecord]:
        """Records of the findings of one check, each field made for all of them at once."""
        check, frame, said = item.check, self.result.view.frame, self.said(units, item)
        places, rows = self.positions(units)
        count = len(places)
        names, figures = _figures(said, count)
        unit_id, account, crew = (frame.text(one) for one in (fleet.UNIT_ID, fleet.ACCOUNT, fleet.CREW))
        return records(
            FindingRecord,
            unit=places,
            unit_id=[unit_id[unit] for unit in places],
            account=[account[unit] for unit in places],
            crew=[crew[unit] for unit in places],
            sheet=[frame.sheet] * count,
            row=rows,
            columns=self._cell_columns(units, item),
            check=[check.slug] * count,
            title=[say(check.title)] * count,
            tier=[TIERS[tier] for tier in item.tier[units].tolist()],
            confidence=[CONFIDENCES[code] for code in item.confidence[units].tolist()],
            once=[("", "account", "column")[int(check.once)]] * count,
            message=said.message,
            why=said.why,
            fix=said.fix,
            cost_year=_spans(cost, units),
            numbers=_shown_numbers(said, count),
            figure_names=names,
            figures=figures,
            source=said.source,
            derivation=self.derivation.lines(units) if self._derives(check) else [()] * count,
            cost_lines=shared(cost_lines(cost if self.worked_out else None, units, self.display)),
        )

    def positions(self, units: Codes) -> tuple[list[int], list[int]]:
        """Positions and rows of units, the same objects in all records."""
        numbers, rows = self._positions
        places = units.tolist()
        return [numbers[unit] for unit in places], [rows[unit] for unit in places]

    @cached_property
    def _positions(self) -> tuple[list[int], list[int]]:
        frame = self.result.view.frame
        return list(range(frame.units)), frame.rows.tolist()

    def said(self, units: Codes, item: CheckResult) -> Said:
        """What the findings of one check say, column by column."""
        check = item.check
        numbers = self._numbers(units, item)
        words: dict[str, Sequence[str]] = {name: shown for name, _, shown, _ in numbers}
        words["medium"] = self._media(units)
        if item.outcome.cell is not None:
            words |= self._odd_words(units, item)
        for name, phrase in item.outcome.words.items():
            texts = [", ".join(map(say, several)) for several in phrase.phrases]
            words[name] = [texts[code] for code in phrase.codes[units].tolist()]
        values: list[tuple[str, Sequence[Value]]] = [(key, figures) for _, key, _, figures in numbers]
        if item.outcome.probability is not None:
            chances = item.outcome.probability[units].tolist()
            values.append(("probability", [LEFT_OUT if isnan(one) else round(one, 3) for one in chances]))
        fixed = f"{say(check.fix)} {say(check.caution)}".strip()
        message, why, fix = (
            sentences(template, words, len(units)) for template in (say(check.message), say(check.why), fixed)
        )
        return Said(
            message,
            why,
            fix,
            self.derivation.sources(units, check),
            [(name, shown) for name, _, shown, _ in numbers],
            values,
        )

    def _odd_columns(self, units: Codes, item: CheckResult) -> list[Column | None]:
        """The column each finding is about, where that differs from unit to unit."""
        if item.outcome.cell is None:
            return [None] * len(units)
        return [fleet.COLUMNS[code] if code >= 0 else None for code in item.outcome.cell[units].tolist()]

    def _odd_words(self, units: Codes, item: CheckResult) -> dict[str, Sequence[str]]:
        columns, raw = self._odd_columns(units, item), self.result.view.frame.raw
        return {
            "column": ["" if column is None else say(column.title) for column in columns],
            "raw": [
                "" if column is None else f'"{shorten(raw.get((unit, column.name), ""))}"'
                for unit, column in zip(units.tolist(), columns, strict=True)
            ],
        }

    def _numbers(self, units: Codes, item: CheckResult) -> list[tuple[str, str, list[str], list[Value]]]:
        """Each number a check quotes: name, key with the US unit, texts to show and raw figures."""
        return [
            (
                name,
                _key(name, item.check.numbers[name]),
                *self._shown(item.check.numbers[name], _values(held)[units]),
            )
            for name, held in item.outcome.numbers.items()
        ]

    def _shown(self, quantity: Quantity, values: Floats) -> tuple[list[str], list[Value]]:
        """Texts and raw figures of values; each distinct value is put into words once."""
        distinct, places = np.unique(values, return_inverse=True)
        texts, figures = self.display.texts(quantity, distinct), _figures_of(quantity, distinct)
        return picked(texts, places), picked(figures, places)

    def _cell_columns(self, units: Codes, item: CheckResult) -> list[tuple[str, ...]]:
        """Letters of the columns that each finding rests on, each once."""
        needs, odd = self._letters(item.check.needs), item.outcome.cell
        if odd is None:
            return [needs] * len(units)
        places = odd[units].tolist()
        letters = {place: self._letters((fleet.COLUMNS[place],)) for place in set(places) if place >= 0}
        return [letters.get(place, needs) for place in places]

    def _letters(self, columns: Sequence[Column]) -> tuple[str, ...]:
        """Letters of columns, each once; a column that the sheet does not have is left out."""
        places = [place for column in columns if (place := self._place(column)) is not None]
        return tuple(dict.fromkeys(map(column_letters, places)))

    def _media(self, units: Codes) -> list[str]:
        layers, names = self.result.view.frame.layers, self._names
        media = []
        for unit, code in zip(units.tolist(), self.result.view.medium[units].tolist(), strict=True):
            if code < 0 or unit in layers:
                media.append(self.medium(unit))
                continue
            if code not in names:
                names[code] = self.medium(unit)
            media.append(names[code])
        return media

    @cached_property
    def _names(self) -> dict[int, str]:
        return {}

    def medium(self, unit: int) -> str:
        """Name of the medium as used within a sentence."""
        layers = self.result.view.frame.layers.get(unit)
        media = self.result.view.catalogue.media
        if layers:
            names = [say(media[layer.medium].name if layer.medium >= 0 else "unknown") for layer in layers]
            mixed = not all(isnan(layer.share) for layer in layers)
            return f" {say('with') if mixed else say('over')} ".join(names)
        name = say(media_names(self.result, np.array([unit]))[0])
        return name[:1].lower() + name[1:] if name else say("unknown medium")

    def reason(self, item: CheckResult, unit: int) -> str:
        """Why a check could not run for a unit."""
        return self.reasons(item, np.array([unit]))[0]

    def reasons(self, item: CheckResult, units: Codes) -> list[str]:
        """Why a check could not run, for each unit."""
        frame = self.result.view.frame
        looked = [fleet.DIAMETER if column is fleet.SIZE else column for column in item.check.needs]
        usable = [(frame.why_missing(column)[units] == Missing.KNOWN).tolist() for column in looked]

        def said(missing: int, *known: bool) -> str:
            lacking = [need for need, there in zip(item.check.needs, known, strict=True) if not there]
            return _reason(Missing(missing), lacking)

        return said_once(said, item.reason[units].tolist(), *usable)


TIERS = ("now", "plan", "note")
#: what the numbers of a finding are called where they stand alone
NUMBER_WORDS = {
    "flow": "flow to drain",
    "low": "needed at least",
    "high": "at most",
    "fit": "restrictor to fit",
    "measured": "measured flow",
    "rated": "recorded rating",
    "limit": "housing takes up to",
    "least": "least",
    "most": "most",
    "largest": "largest housing takes",
    "age": "age of the medium",
    "life": "its life here",
    "due": "due",
    "overdue": "past it by",
    "earliest": "at the earliest",
    "latest": "at the latest",
    "treated": "water treated",
    "takes": "takes here",
    "topped": "last top-up",
    "left": "left",
    "depth": "bed depth",
    "space": "room above the bed",
    "warm": "warmest water",
    "cold": "coldest water",
    "target": "best compromise",
    "short": "under the least in warm water",
    "over": "over the most in cold water",
    "warm_rise": "expansion in warm water",
    "cold_rise": "expansion in cold water",
    "other": "another rating it fits",
    "minutes": "backwash",
    "interval": "time between washes",
    "supply": "supply sustains",
    "bore": "drain bore",
    "time": "contact time",
    "times": "rows with this unit",
    "water": "warmest water",
    "hottest": "hottest it stands",
    "ph": "pH",
    "probability": "chance that the finding is true",
}
CONFIDENCES = ("sure", "likely", "measure-first")


def _reason(missing: Missing, columns: Sequence[Column]) -> str:
    """Why a check could not run, with the columns that hold nothing usable where that is the reason."""
    text = say(MISSING_WORDS[missing])
    names = ", ".join(say(column.title).lower() for column in columns)
    if names and missing in (Missing.BLANK, Missing.NO_COLUMN, Missing.UNREADABLE, Missing.IMPLAUSIBLE):
        return f"{text}: {names}"
    return text


def _values(held: Fact | Floats) -> Floats:
    return held.value if isinstance(held, Fact) else held


def _key(name: str, quantity: Quantity) -> str:
    """Key of a raw number: its name and its unit in the US system."""
    unit = re.sub(r"\W+", "_", quantity.unit("us").replace("%", "pct")).strip("_")
    return f"{name}_{unit}" if unit else name


def _figures_of(quantity: Quantity, values: Floats) -> list[Value]:
    """Raw numbers in the unit of the US system, dates as text; None where not known."""
    if quantity.kind is Kind.DATE:
        return [None if isnan(value) else day(value).isoformat() for value in values.tolist()]
    shown = from_si(values, quantity.us) if quantity.us else values
    return [None if isnan(value) or isinf(value) else round(value, 4) for value in shown.tolist()]


def _spans(cost: Cost | None, units: Codes) -> list[Span | None]:
    """Yearly cost of each finding; those that cost the same share one."""
    if cost is None:
        return [None] * len(units)
    return list(said_once(Span, *(end[units].tolist() for end in (cost.low, cost.mid, cost.high))))


def _shown_numbers(said: Said, count: int) -> list[tuple[tuple[str, str], ...]]:
    """Name and text of the numbers that each finding knows."""
    unknown, columns = say(UNKNOWN), []
    for name, texts in said.numbers:
        word = say(NUMBER_WORDS[name])
        pairs = {text: None if text == unknown else (word, text) for text in set(texts)}
        columns.append([pairs[text] for text in texts])
    if not columns:
        return [()] * count
    return shared(tuple([pair for pair in row if pair]) for row in zip(*columns, strict=True))


def _figures(said: Said, count: int) -> tuple[list[tuple[str, ...]], list[tuple[Value, ...]]]:
    """Names and values of the raw figures that each finding has."""
    keys, columns = tuple(key for key, _ in said.values), [figures for _, figures in said.values]
    rows: list[tuple[Value, ...]] = list(zip(*columns, strict=True)) if columns else [()] * count
    if not any(LEFT_OUT in row for row in rows):
        return [keys] * count, rows
    names = shared(
        tuple([key for key, figure in zip(keys, row, strict=True) if figure != LEFT_OUT]) for row in rows
    )
    return names, [tuple([figure for figure in row if figure != LEFT_OUT]) for row in rows]
