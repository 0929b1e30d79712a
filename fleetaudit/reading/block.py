"""The rows of units under a heading; repeated headings, totals, notes and second lists left out."""

from __future__ import annotations

import re
from collections.abc import Collection

import numpy as np
from msgspec import Struct

from fleetaudit.facts.frame import Codes, Flags
from fleetaudit.language import say, several
from fleetaudit.reading.cells import Sheet, Strip
from fleetaudit.reading.headers import (
    BED,
    CHANGED_BY_NORMALISE,
    LEAST_HITS,
    LONGEST,
    VESSEL,
    match,
    normalise,
)
from fleetaudit.reading.remarks import Log, spoken
from fleetaudit.reading.sheets import Found, Placed
from fleetaudit.schema import fleet
from fleetaudit.schema.remark import Level
from fleetaudit.workbook.place import address, quoted

GAPS_LOOKED_AT = 200
_TOTAL = re.compile(
    r"(grand |sub ?-?)?totals?\b.*|sum\b.*|average\b.*|mean\b.*|count\b.*|no of units\b.*", re.I
)
AGAIN = "Sheet {sheet}: {rows}: the headings again; left out."
TOTALS = "Sheet {sheet}: {rows}: totals; left out."


class Block(Struct, frozen=True):
    """Rows of the sheet that hold a unit, and the columns cut to them."""

    rows: Codes
    strips: dict[str, Strip]


def cut(
    sheet: Sheet, found: Found, placed: Placed, skip_hidden: bool, log: Log, *, in_parts: bool = False
) -> Block:
    """Cut the rows of units out of the sheet; a part of a longer list holds no second list and no gaps."""
    first, last = found.headings.last_row + 1, found.data.n_rows
    columns = {heading.number for heading in placed.by_name.values()}
    table = _table(sheet, found.headings.last_row, columns)
    below_table = 0
    if table is not None:
        below_table = max(0, last - table[1])
        last = min(last, table[1])
    if last < first:
        return Block(np.zeros(0, dtype=np.int64), {})
    wanted = [(fleet.BY_NAME[name], heading.number, heading.text) for name, heading in placed.by_name.items()]
    strips = sheet.strips(wanted, first, last)
    rows = np.arange(first, last + 1)
    kept = _units(strips, found, rows, log, sheet.rows_above, in_parts=in_parts)
    _report_merges(sheet, strips, rows, kept, log)
    if below_table:
        _below(sheet, last, log)
    kept = _hidden(sheet, rows, kept, skip_hidden, log)
    return Block(rows[kept] + sheet.rows_above, {name: strip.keep(kept) for name, strip in strips.items()})


def _table(sheet: Sheet, heading_row: int, columns: Collection[int]) -> tuple[int, int] | None:
    """First and last row of units of the table that holds headings of the list in the row."""
    for table in sheet.data.tables:
        ours = any((heading_row, column) in table.range for column in columns)
        if table.header_rows and table.range.first_row == heading_row and ours:
            return heading_row + 1, table.range.last_row - table.totals_rows
    return None


def _below(sheet: Sheet, last: int, log: Log) -> None:
    filled = [
        row
        for row in range(last + 1, sheet.data.n_rows + 1)
        if any(value is not None for value in sheet.data.cells.row(row))
    ]
    if filled:
        log.add(
            Level.INFO,
            "below-table",
            say(
                "Sheet {sheet}: {rows} below the table were not read as units.",
                sheet=quoted(log.sheet),
                rows=_rows(filled),
            ),
            log.cells(filled, 1),
        )


def _units(
    strips: dict[str, Strip], found: Found, rows: Codes, log: Log, above: int, *, in_parts: bool
) -> Flags:
    """True for rows that hold a unit; `above` is how many rows of the file stand above the sheet."""
    filled = {name: ~strip.blank for name, strip in strips.items()}
    count = np.sum([mask & ~strips[name].filled_in for name, mask in filled.items()], axis=0)
    bed = np.any([filled[column.name] for column in (*VESSEL, *BED) if column.name in filled], axis=0)
    headings = _headings_again(strips, count)
    totals = _totals(strips, ~bed & (count > 0))
    second = None if in_parts else _second_list(found, rows, count)
    after = np.zeros(len(rows), dtype=bool)
    if second is not None:
        after = rows >= second
        log.add(
            Level.WARN,
            "second-list",
            say(
                "Sheet {sheet}: another list with headings of its own starts in row {second}. It "
                "was not read; move it to a sheet of its own.",
                sheet=quoted(log.sheet),
                second=second,
            ),
            log.cells([second], 1),
        )
    for kind, mask, text in (
        ("repeated-heading", headings & ~after, AGAIN),
        ("totals-row", totals & ~headings & ~after, TOTALS),
    ):
        if mask.any():
            log.add(
                Level.INFO,
                kind,
                say(text, sheet=quoted(log.sheet), rows=_rows((rows[mask] + above).tolist())),
                log.cells(rows[mask] + above, 1),
            )
    rest = ~headings & ~totals & ~after & (count > 0)
    units = rest & (bed | (count >= 2))
    if not in_parts:
        _report_gaps(rows, count, units, log)
    notes = rest & ~units
    if notes.any():
        log.add(
            Level.WARN,
            "no-unit",
            say(
                "Sheet {sheet}: {rows}: a single cell under the headings; taken for a note, not for a unit.",
                sheet=quoted(log.sheet),
                rows=_rows((rows[notes] + above).tolist()),
            ),
            log.cells(rows[notes] + above, 1),
        )
    return np.asarray(units)


def _report_gaps(rows: Codes, count: Codes, units: Flags, log: Log) -> None:
    """Say that units below blank rows were read as part of the list."""
    blank = np.cumsum(count == 0)
    places = np.flatnonzero(units)
    if not len(places):
        return
    after_gap = places[1:][np.diff(blank[places]) > 0]
    below = int((blank[places] > blank[places[0]]).sum())
    if len(after_gap):
        log.add(
            Level.WARN,
            "below-gap",
            say(
                "Sheet {sheet}: the list goes on below blank rows, at {rows}. {units} there were read as "
                "part of it. Give a list of another kind a sheet of its own.",
                sheet=quoted(log.sheet),
                rows=_rows(rows[after_gap].tolist()),
                units=several(below, "1 unit", "{count:,} units"),
            ),
            log.cells(rows[after_gap], 1),
            read=say("blank rows"),
            assumed="one list",
        )


def _headings_again(strips: dict[str, Strip], count: Codes) -> Flags:
    """True for rows in which at least two cells, and half of the filled ones, say what the heading says."""
    same = np.zeros(len(count), dtype=np.int64)
    for strip in strips.values():
        heading = normalise(strip.heading)
        said = [which for which, cell in enumerate(strip.distinct) if _says(cell.value, heading)]
        if said:
            same += np.isin(strip.index, said)
    return np.asarray((same >= 2) & (2 * same >= count))


def _says(value: object, heading: str) -> bool:
    """True for a text that is a heading once normalised; its ends rule most texts out at a glance."""
    if not isinstance(value, str) or len(value) > LONGEST or value[:1].casefold() != heading[:1]:
        return False
    last = value[-1:]
    stays = "!" < last <= "~" and last not in CHANGED_BY_NORMALISE
    return not (stays and last.casefold() != heading[-1:]) and normalise(value) == heading


def _totals(strips: dict[str, Strip], without_bed: Flags) -> Flags:
    """True for rows without vessel and medium that call themselves a total."""
    found = np.zeros(len(without_bed), dtype=bool)
    rows = np.flatnonzero(without_bed)
    for strip in strips.values():
        for row in rows.tolist():
            value = strip.distinct[strip.index[row]].value
            found[row] |= isinstance(value, str) and _TOTAL.fullmatch(value) is not None
    return found


def _second_list(found: Found, rows: Codes, count: Codes) -> int | None:
    """First row after a gap that holds headings in another order; None where there is none."""
    first = {heading.number: normalise(heading.text) for heading in found.headings.headings}
    after_gap = [
        int(row)
        for row, before, here in zip(rows[1:], count[:-1], count[1:], strict=True)
        if before == 0 and here
    ]
    for row in after_gap[:GAPS_LOOKED_AT]:
        texts = {
            number: value
            for number, value in enumerate(found.data.cells.row(row), 1)
            if isinstance(value, str) and len(value) <= LONGEST
        }
        columns = {known.name for value in texts.values() if (known := match(value)) is not None}
        again = sum(normalise(value) == first.get(number) for number, value in texts.items())
        if len(columns) >= LEAST_HITS and again < len(columns):
            return row
    return None


def _rows(rows: list[int]) -> str:
    """Rows in words.

    >>> _rows([4]), _rows([4, 9, 12, 20])
    ('row 4', 'rows 4, 9, 12 and 1 more')
    """
    if len(rows) == 1:
        return say("row {row}", row=rows[0])
    rest = len(rows) - 3
    listed = ", ".join(map(str, rows[:3])) + (f" {say('and {count:,} more', count=rest)}" if rest > 0 else "")
    return say("rows {rows}", rows=listed)


def _report_merges(sheet: Sheet, strips: dict[str, Strip], rows: Codes, kept: Flags, log: Log) -> None:
    names = {strip.number: strip for strip in strips.values()}
    first, last = int(rows[0]), int(rows[-1])
    for merge in sheet.data.merged:
        strip = names.get(merge.first_column)
        if (
            strip is None
            or merge.first_row == merge.last_row
            or merge.first_row < first
            or merge.first_row > last
        ):
            continue
        end = min(merge.last_row, last)
        value = strip.distinct[strip.index[merge.first_row - first]].shown
        if not value or not kept[merge.first_row - first : end - first + 1].any():
            continue
        cells = log.cells(range(merge.first_row, end + 1), merge.first_column)
        corners = (address(row, merge.first_column) for row in (merge.first_row, end))
        where = f"{quoted(log.sheet)}!{':'.join(corners)}"
        log.add(
            Level.WARN,
            "merged-cells",
            say(
                '{where} is merged: {column} "{value}" used for rows {first}-{last}.',
                where=where,
                column=spoken(strip.column),
                value=value,
                first=merge.first_row,
                last=end,
            ),
            cells,
            read=say("merged"),
            assumed=value,
            column=strip.column.name,
        )


def _hidden(sheet: Sheet, rows: Codes, kept: Flags, skip: bool, log: Log) -> Flags:
    """Rows to keep; hidden ones are counted, and left out only where the settings say so."""
    if not sheet.data.hidden_rows:
        return kept
    hidden = np.isin(rows, list(sheet.data.hidden_rows)) & kept
    if not hidden.any():
        return kept
    cells = log.cells(rows[hidden], 1)
    done = (
        say("left out, as Settings: hidden_rows says")
        if skip
        else say("audited all the same. Settings: hidden_rows")
    )
    log.add(
        Level.WARN,
        "hidden-rows",
        several(
            len(cells),
            "Sheet {sheet}: 1 row is hidden; {done}.",
            "Sheet {sheet}: {count:,} rows are hidden; {done}.",
            sheet=quoted(log.sheet),
            done=done,
        ),
        cells,
        read=say("hidden"),
        assumed="left out" if skip else "audited",
    )
    return kept & ~hidden if skip else kept
