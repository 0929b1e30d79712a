"""Columns of words: identifiers, free text, choices from a list, yes or no."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date

import numpy as np

from fleetaudit.catalogue.other_languages import spellings
from fleetaudit.facts.frame import Codes
from fleetaudit.language import say
from fleetaudit.reading import grammar
from fleetaudit.reading.cells import Cell, Filled, Reading, Strip, by_unit, report_trouble, spread
from fleetaudit.reading.headers import normalise
from fleetaudit.reading.plain import plain, shown
from fleetaudit.reading.remarks import CELLS, Log, spoken
from fleetaudit.schema.column import Missing, Origin
from fleetaudit.schema.quantity import Kind
from fleetaudit.schema.remark import Level

_PADDED = re.compile(r"(?P<before>[^0#?]*)(?P<zeros>0+)(?P<after>[^0#?]*)")
_MOST_DIGITS = 1e15
_YES = frozenset(
    {
        "yes",
        "y",
        "true",
        "1",
        "x",
        "ok",
        "✓",
        "✔",
        "☑",
        "si",
        "sí",
        "oui",
        "ja",
        "done",
        "labelled",
        "labeled",
        "marked",
    }
)
_NO = frozenset(
    {
        "no",
        "n",
        "false",
        "0",
        "✗",
        "✘",
        "☐",
        "not",
        "none",
        "unlabelled",
        "unlabeled",
        "unmarked",
        "not labelled",
        "not labeled",
        "not marked",
    }
)


def identifier(cell: Cell) -> str:
    """Name or number of something, as the sheet shows it: padding zeros and words of the number format stay.

    >>> identifier(Cell(123, "00000")), identifier(Cell(104.0)), identifier(Cell(7, '"U-"000'))
    ('00123', '104', 'U-007')
    """
    value = cell.value
    if isinstance(value, bool) or not isinstance(value, int | float):
        return shown(value)
    if float(value) != int(value):
        return shown(value)
    bare = re.sub(r'"([^"]*)"|\\(.)', lambda found: found[1] or found[2], cell.code.split(";")[0])
    padded = _PADDED.fullmatch(bare)
    digits = str(int(value))
    return f"{padded['before']}{digits.zfill(len(padded['zeros']))}{padded['after']}" if padded else digits


def read_texts(strip: Strip, log: Log) -> tuple[list[str], Filled]:
    """Texts of a column."""
    words = [cell.value if isinstance(cell.value, str) else "" for cell in strip.distinct]
    reading = Reading.known_where([word != "" for word in words])
    naming = strip.column.quantity.kind is Kind.NAME
    long, dated = [], []
    for which, cell in enumerate(strip.distinct):
        if words[which]:
            continue
        missing = report_trouble(strip, which, log)
        if missing is not None:
            reading.lost(which, missing)
        elif cell.value is not None:
            reading.known(which, 0.0, Origin.TYPED)
            if isinstance(cell.value, int | float) and abs(cell.value) >= _MOST_DIGITS:
                long.append(which)
            if naming and isinstance(cell.value, date):
                dated.append(which)
            words[which] = identifier(cell) if naming else shown(cell.value)
    if naming and long:
        log.add(
            Level.WARN,
            "long-number",
            say(
                "{cells} ({title}): a number of more than 15 digits, which the spreadsheet has "
                "rounded already. Type it again as text.",
                cells=CELLS,
                title=say(strip.column.title),
            ),
            strip.cells(log, *long),
            column=strip.column.name,
        )
    if dated:
        log.add(
            Level.WARN,
            "name-became-date",
            say(
                "{cells} ({title}) holds a date, perhaps a name such as 10-54 that the "
                "spreadsheet changed. Type it again as text.",
                cells=CELLS,
                title=say(strip.column.title),
            ),
            strip.cells(log, *dated),
            column=strip.column.name,
        )
    return by_unit(words, strip), spread(strip, reading)


def read_choices(strip: Strip, log: Log, find: Callable[[str], int] | None = None) -> tuple[Codes, Filled]:
    """Codes of a column with a list of words, -1 where none; `find` knows more spellings than the schema."""
    words = list(strip.column.choices)
    foreign = spellings("choices", strip.column.name)
    table = {
        normalise(spelling): code
        for code, (word, others) in enumerate(strip.column.choices.items())
        for spelling in (*foreign.get(word, ()), *others, word)
    }
    return _coded(strip, log, table, say("one of {words}", words=", ".join(words)), find)


def read_flags(strip: Strip, log: Log) -> tuple[Codes, Filled]:
    """Codes of a yes-or-no column: 1 yes, 0 no, -1 not known."""
    return _coded(strip, log, {**dict.fromkeys(_YES, 1), **dict.fromkeys(_NO, 0)}, say("yes or no"), None)


def _coded(
    strip: Strip, log: Log, table: Mapping[str, int], wanted: str, find: Callable[[str], int] | None
) -> tuple[Codes, Filled]:
    reading, codes = Reading.empty(len(strip.distinct)), []
    for which, cell in enumerate(strip.distinct):
        code = -1
        missing = report_trouble(strip, which, log)
        if missing is not None:
            reading.lost(which, missing)
        elif cell.value is not None:
            code = _code(cell, table, find)
            if code >= 0:
                reading.known(which, float(code), Origin.TYPED)
            elif not grammar.says_nothing(plain(shown(cell.value))):
                reading.lost(which, Missing.UNREADABLE)
                log.add(
                    Level.SKIP,
                    "unknown-word",
                    say(
                        '{cells} {column} "{shown}" is not {wanted}. Type one of these.',
                        cells=CELLS,
                        column=spoken(strip.column),
                        shown=cell.shown,
                        wanted=wanted,
                    ),
                    strip.cells(log, which),
                    read=cell.shown,
                    effect="checks that need the value did not run",
                    column=strip.column.name,
                )
        codes.append(code)
    return np.array(codes, dtype=np.int64)[strip.index], spread(strip, reading)


def _code(cell: Cell, table: Mapping[str, int], find: Callable[[str], int] | None) -> int:
    text = plain(shown(cell.value)).casefold()
    for key in (text, normalise(text)):
        if key in table:
            return table[key]
    return find(text) if find else -1
