"""Return sheets that came back from crews, and the history of what earlier ones changed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import nan
from pathlib import Path

from msgspec import Struct, field
from msgspec.structs import replace

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import InputError, together
from fleetaudit.facts.history import Before
from fleetaudit.language import in_every_language, say
from fleetaudit.reading import grammar
from fleetaudit.reading.lines import Lines, read_lines
from fleetaudit.reading.media import Reader
from fleetaudit.reading.plain import folded, plain
from fleetaudit.recording import Entry, Poured, Visit
from fleetaudit.schema import fleet, visits
from fleetaudit.schema.column import Column, Missing
from fleetaudit.schema.quantity import Kind
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.workbook.book import Workbook, open_workbook

_TEXTS = (Kind.TEXT, Kind.NAME)
#: where the kind of a medium ends in its name: before grade, mesh or remark
_KIND = re.compile(r", | \d+x\d+| \(")


class Returns(Struct):
    """All lines that were filled in, and what there is to say about cells that could not be read."""

    visits: list[Visit] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    blank_lines: int = 0


def read_returns(paths: Sequence[Path], catalogue: Catalogue) -> Returns:
    """Read return sheets from workbooks or text tables; one error names every file that holds none."""
    out, problems = Returns(), []
    for path in paths:
        try:
            book = open_workbook(Path(path))
        except InputError as trouble:
            problems.append(trouble.message)
            continue
        found = False
        for sheet in book.sheets:
            lines = read_lines(
                book,
                sheet.name,
                [_in_any_language(c) for c in (fleet.UNIT_ID, fleet.VESSEL_LABEL, *visits.FILLED_IN)],
                fleet.UNIT_ID,
                catalogue,
            )
            if lines is not None and any(lines.has(column) for column in visits.FILLED_IN):
                _read_sheet(book, lines, catalogue, out)
                found = True
        if not found:
            problems.append(
                say(
                    '{file}: no sheet has the headings "{unit}" and "{date}" of a return sheet. `fleetaudit '
                    "template --returns FILE` writes one to fill in.",
                    file=book.path.name,
                    unit=say(fleet.UNIT_ID.title),
                    date=say(visits.VISIT_DATE.title),
                )
            )
    if problems:
        raise InputError(together(problems))
    return out


def _in_any_language(column: Column) -> Column:
    """A column whose heading and words may be those of any language a form is written in."""
    choices = {word: (*more, *in_every_language(word)[1:]) for word, more in column.choices.items()}
    return replace(column, aliases=(*column.aliases, *in_every_language(column.title)[1:]), choices=choices)


def _read_sheet(book: Workbook, lines: Lines, catalogue: Catalogue, out: Returns) -> None:
    ids, labels = lines.names(fleet.UNIT_ID), lines.names(fleet.VESSEL_LABEL)
    entries: list[dict[str, Entry]] = [{} for _ in lines.rows]
    unreadable: list[list[Column]] = [[] for _ in lines.rows]
    for column in visits.FILLED_IN:
        if lines.has(column):
            _read_column(lines, column, catalogue, entries, unreadable)
    for place, row in enumerate(lines.rows):
        if entries[place] or unreadable[place]:
            out.visits.append(Visit(
                book.path.name, lines.data.name, row, ids[place], labels[place], entries[place],
                tuple(unreadable[place]),
            ))  # fmt: skip
        elif ids[place]:
            out.blank_lines += 1
    kept = (remark for remark in lines.log.remarks if remark.level <= Level.WARN)
    out.remarks += [
        Remark(r.level, r.kind, f"{book.path.name}: {r.text}", r.cells, r.read, r.assumed, r.effect, r.column)
        for r in kept
    ]


def _read_column(
    lines: Lines, column: Column, catalogue: Catalogue, entries: list[dict[str, Entry]],
    unreadable: list[list[Column]],
) -> None:  # fmt: skip
    if column.quantity.kind in _TEXTS:
        texts = lines.names(column) if column.quantity.kind is Kind.NAME else lines.texts(column)
        reader = Reader(catalogue) if column is visits.MEDIUM_LOADED else None
        for place, text in enumerate(texts):
            if text and not grammar.says_nothing(plain(text)):
                entries[place][column.name] = Entry(nan, text) if reader is None else _loaded(reader, text)
        return
    values, texts = lines.values(column), lines.texts(column)
    assert values is not None
    for place in range(len(lines.rows)):
        missing = int(values.missing[place])
        if missing == Missing.KNOWN:
            entries[place][column.name] = Entry(float(values.value[place]), texts[place])
        elif missing != Missing.BLANK:
            unreadable[place].append(column)


def _loaded(reader: Reader, typed: str) -> Entry:
    """Medium or layers that the catalogue knows for certain; code -1 where it does not."""
    for text in dict.fromkeys((_named_in_english(typed, reader.catalogue), typed)):
        for reading in (reader.read(text, ""), reader.layers(text)):
            if reading.missing is Missing.KNOWN and not reading.told:
                layers = tuple(
                    Poured(part.code, part.depth_m, part.volume_m3, part.share) for part in reading.parts
                )
                name = reader.catalogue.media[reading.code].name
                return Entry(float(reading.code), text, name, layers)
    return Entry(-1.0, typed)


def _named_in_english(text: str, catalogue: Catalogue) -> str:
    """Text in which media are called what the catalogue calls them, where a form calls them otherwise.

    Names count whole or without mesh and grade, with accents or without.
    """
    names: dict[str, str] = {}
    for medium in catalogue.media:
        for other in in_every_language(medium.name)[1:]:
            names.setdefault(other, medium.name)
            names.setdefault(_KIND.split(other)[0], _KIND.split(medium.name)[0])
    for other in sorted(names, key=len, reverse=True):
        spelling = "".join(map(_with_or_without_accent, other.lower()))
        text = re.sub(spelling, names[other], text, flags=re.IGNORECASE)
    return text


def _with_or_without_accent(sign: str) -> str:
    bare = folded(sign)
    return re.escape(sign) if bare in ("", sign) else f"[{sign}{bare}]"


class History(Struct, frozen=True):
    """The history sheet of a workbook; `sheet` is "" where there is none."""

    sheet: str = ""
    lines: tuple[Before, ...] = ()
    next_row: int = 0
    columns: tuple[tuple[Column, int], ...] = ()


def read_history(book: Workbook, catalogue: Catalogue) -> History:
    """Changes that were recorded before."""
    for sheet in book.sheets:
        if not sheet.name.casefold().startswith(visits.HISTORY_SHEET.casefold()):
            continue
        lines = read_lines(book, sheet.name, visits.HISTORY.columns, fleet.UNIT_ID, catalogue)
        if lines is None or not lines.has(visits.WHAT):
            continue
        days, ids, labels = (
            lines.values(visits.WHEN),
            lines.names(fleet.UNIT_ID),
            lines.names(fleet.VESSEL_LABEL),
        )
        what, new, source = (lines.texts(c) for c in (visits.WHAT, visits.NEW_VALUE, visits.SOURCE))
        found = [
            Before(
                ids[i], labels[i], what[i], nan if days is None else float(days.value[i]), new[i], source[i]
            )
            for i in range(len(lines.rows))
            if ids[i]
        ]
        columns = tuple(
            (column, lines.number(column)) for column in visits.HISTORY.columns if lines.has(column)
        )
        return History(sheet.name, tuple(found), lines.data.n_rows + 1, columns)
    return History()
