"""A finding put into sentences; the only place where sentences about findings are made."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cached_property, lru_cache
from math import isinf, isnan

import numpy as np
from msgspec import Struct

from fleetaudit.auditing.result import AuditResult, CheckResult
from fleetaudit.checks.check import Check
from fleetaudit.facts.fact import Fact
from fleetaudit.facts.frame import Codes, Floats
from fleetaudit.language import say
from fleetaudit.parts import medium_name
from fleetaudit.ranking import Cost
from fleetaudit.schema import fleet
from fleetaudit.schema.column import MISSING_WORDS, Column, Missing
from fleetaudit.schema.quantity import Kind, Quantity
from fleetaudit.workbook.place import Place, address
from fleetaudit.writing.cost_words import cost_lines
from fleetaudit.writing.derivation import Derivation
from fleetaudit.writing.display import UNKNOWN, Display, day
from fleetaudit.writing.report import FindingRecord, Span

SHOWN_TEXT = 60
_HOLE = re.compile(r"\{(\w+)\}")
#: "7 gpm to 9 gpm", to be said as "7 to 9 gpm"
_SPAN = re.compile(r"([\d.,]+) (\S+) (to|a|y) ([\d.,]+ \2)")
_TO = re.compile(r" (?:to|a|y) \d")


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
        return self._at(column, int(self.result.view.frame.rows[unit]))

    def _at(self, column: Column, row: int) -> str:
        frame = self.result.view.frame
        place = frame.columns.get(column.name)
        if place is None and column is fleet.SIZE:
            place = frame.columns.get(fleet.DIAMETER.name)
        if place is None:
            return ""
        return str(Place(frame.file, frame.sheet, row, place))

    def local(self, cell: str) -> str:
        """Address without the sheet."""
        return cell.rsplit("!", 1)[-1]

    def finding(self, unit: int, item: CheckResult, cost: Cost | None) -> FindingRecord:
        """Record of one finding."""
        return self.findings(np.array([unit]), item, cost)[0]

    def findings(self, units: Codes, item: CheckResult, cost: Cost | None) -> list[FindingRecord]:
        """Records of the findings of one check, whatever is the same for all of them worked out once."""
        check, frame = item.check, self.result.view.frame
        said = self.said(units, item)
        unit_id, account, crew = frame.text(fleet.UNIT_ID), frame.text(fleet.ACCOUNT), frame.text(fleet.CREW)
        once, title, unknown = ("", "account", "column")[int(check.once)], say(check.title), say(UNKNOWN)
        arithmetic = cost_lines(cost if self.worked_out else None, units, self.display)
        named = [(say(NUMBER_WORDS[name]), texts) for name, texts in said.numbers]
        columns = self._odd_columns(units, item)
        records = []
        for place, (unit, row, tier, confidence) in enumerate(
            zip(
                units.tolist(),
                frame.rows[units].tolist(),
                item.tier[units].tolist(),
                item.confidence[units].tolist(),
                strict=True,
            )
        ):
            column = columns[place]
            cells = self._cells((column,) if column is not None else check.needs, row)
            records.append(
                FindingRecord(
                    unit=unit,
                    unit_id=unit_id[unit],
                    account=account[unit],
                    crew=crew[unit],
                    sheet=frame.sheet,
                    row=row,
                    cell=self.local(cells[-1]) if cells else address(row, 1),
                    cells=cells,
                    check=check.slug,
                    title=title,
                    tier=TIERS[tier],
                    confidence=CONFIDENCES[confidence],
                    once=once,
                    message=said.message[place],
                    why=said.why[place],
                    fix=said.fix[place],
                    cost_year=None
                    if cost is None
                    else Span(float(cost.low[unit]), float(cost.mid[unit]), float(cost.high[unit])),
                    cost_parts=()
                    if cost is None
                    else tuple((name, float(part[unit])) for name, part in cost.parts.items()),
                    numbers=tuple([(name, texts[place]) for name, texts in named if texts[place] != unknown]),
                    values={
                        key: figures[place] for key, figures in said.values if figures[place] != LEFT_OUT
                    },
                    source=said.source[place],
                    derivation=self.derivation.lines(unit) if self._derives(check) else (),
                    cost_lines=arithmetic[place],
                )
            )
        return records

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
            self._sentences(template, words, len(units))
            for template in (say(check.message), say(check.why), fixed)
        )
        return Said(
            message,
            why,
            fix,
            [self.derivation.source(unit, check) for unit in units.tolist()],
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
        memory = self._said.setdefault(quantity, {})
        texts: list[str] = []
        figures: list[Value] = []
        for value in values.tolist():
            key = None if isnan(value) else value
            if key not in memory:
                memory[key] = self.display.text(quantity, value), _figure(quantity, value)
            text, figure = memory[key]
            texts.append(text)
            figures.append(figure)
        return texts, figures

    @cached_property
    def _said(self) -> dict[Quantity, dict[float | None, tuple[str, float | str | None]]]:
        return {}

    def _cells(self, columns: tuple[Column, ...], row: int) -> tuple[str, ...]:
        """Addresses of the cells in a row, each once."""
        starts = self._starts.get(columns)
        if starts is None:
            row_one = (self._at(column, 1) for column in columns)
            starts = self._starts[columns] = tuple(dict.fromkeys(cell[:-1] for cell in row_one if cell))
        return tuple([f"{start}{row}" for start in starts])

    @cached_property
    def _starts(self) -> dict[tuple[Column, ...], tuple[str, ...]]:
        return {}

    def _sentences(self, template: str, words: Mapping[str, Sequence[str]], count: int) -> list[str]:
        """Template filled with the words of each finding; the same words make a sentence once."""
        holes = _holes(template)
        if not holes:
            return [self._fill(template, {})] * count
        memory = self._spoken.setdefault(template, {})
        sentences = []
        for place, key in enumerate(zip(*(words[hole] for hole in holes), strict=True)):
            said = memory.get(key)
            if said is None:
                said = self._fill(template, {name: texts[place] for name, texts in words.items()})
                if not any("{" in word for word in key):
                    memory[key] = said
            sentences.append(said)
        return sentences

    @cached_property
    def _spoken(self) -> dict[str, dict[tuple[str, ...], str]]:
        return {}

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
        name = say(medium_name(self.result, unit))
        return name[:1].lower() + name[1:] if name else say("unknown medium")

    def _fill(self, template: str, words: dict[str, str], depth: int = 0) -> str:
        """Put words into the holes, and into the holes of words; a sentence starts with a capital."""

        def word(hole: re.Match[str]) -> str:
            text = words[hole[1]]
            plain = "{" not in text and not _TO.search(text)
            return text if plain or depth >= 3 or hole[1] == "raw" else self._fill(text, words, depth + 1)

        filled = _HOLE.sub(word, template)
        if _TO.search(filled):
            filled = _SPAN.sub(r"\1 \3 \4", filled)
        return filled if depth else filled[:1].upper() + filled[1:]

    def reason(self, item: CheckResult, unit: int) -> str:
        """Why a check could not run for a unit."""
        missing = int(item.reason[unit])
        columns = tuple([column.name for column in item.check.needs if not self._known(column, unit)])
        said = self._reasons.get((missing, columns))
        if said is None:
            said = self._reasons[missing, columns] = _reason(Missing(missing), columns)
        return said

    @cached_property
    def _reasons(self) -> dict[tuple[int, tuple[str, ...]], str]:
        return {}

    def _known(self, column: Column, unit: int) -> bool:
        flags = self._knowns.get(column.name)
        if flags is None:
            looked = fleet.DIAMETER if column is fleet.SIZE else column
            why = self.result.view.frame.why_missing(looked)
            flags = self._knowns[column.name] = (why == Missing.KNOWN).tolist()
        return flags[unit]

    @cached_property
    def _knowns(self) -> dict[str, list[bool]]:
        return {}


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


def _reason(missing: Missing, columns: Sequence[str]) -> str:
    """Why a check could not run, with the columns that hold nothing usable where that is the reason."""
    text = say(MISSING_WORDS[missing])
    names = ", ".join(say(fleet.BY_NAME[name].title).lower() for name in columns)
    if names and missing in (Missing.BLANK, Missing.NO_COLUMN, Missing.UNREADABLE, Missing.IMPLAUSIBLE):
        return f"{text}: {names}"
    return text


def _values(held: Fact | Floats) -> Floats:
    return held.value if isinstance(held, Fact) else held


def _key(name: str, quantity: Quantity) -> str:
    """Key of a raw number: its name and its unit in the US system."""
    unit = re.sub(r"\W+", "_", quantity.unit("us").replace("%", "pct")).strip("_")
    return f"{name}_{unit}" if unit else name


def _figure(quantity: Quantity, value: float) -> float | str | None:
    """Raw number in the unit of the US system, a date as text; None where not known."""
    plain = Display("us")
    if quantity.kind is Kind.DATE:
        return None if isnan(value) else day(value).isoformat()
    shown = plain.value(quantity, value)
    return None if shown is None or isinf(shown) else round(shown, 4)


@lru_cache(maxsize=4096)
def _holes(template: str) -> tuple[str, ...]:
    """Names of the holes of a template."""
    return tuple(_HOLE.findall(template))
