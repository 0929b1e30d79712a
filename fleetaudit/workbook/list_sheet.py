"""The audited sheet: where our columns stand, their cells and colours, the filter or table around them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from fleetaudit.language import say, several
from fleetaudit.workbook.cellmarkup import cell, cell_end, default_code, plain
from fleetaudit.workbook.columns import Run, across, cell_ends, digits, kinds, runs
from fleetaudit.workbook.drawings import floating
from fleetaudit.workbook.job import CannotSplice, Column, Job
from fleetaudit.workbook.markup import unescape_cell, whole
from fleetaudit.workbook.outline import last_filled_column
from fleetaudit.workbook.place import LAST_COLUMN, Range, address, column_letters, parse_range, quoted
from fleetaudit.workbook.rows import Cell
from fleetaudit.workbook.sheet_part import quoted_text, rules_markup
from fleetaudit.workbook.sheetedit import SheetEdit, cell_at
from fleetaudit.workbook.structure import Table, parse_part, read_part, read_tables
from fleetaudit.workbook.texts import shared_strings
from fleetaudit.workbook.widening import filter_edits, table_edits

_ROWS_AT_ONCE = 1_024


class _Block(Struct):
    """Where our columns stand on the audited sheet."""

    columns: list[int]
    new: list[int]
    last_row: int
    table: Table | None
    filter: Range | None
    beside: int = 0


def annotate_list(job: Job) -> Range | None:
    """Edit the audited sheet; gives the widened filter range if the workbook part names it."""
    if not job.columns:
        return None
    part, sheet = job.opened.sheet(job.entry.part)
    edit = SheetEdit(sheet)
    if edit.part.rows_element is None or not edit.in_order:
        raise CannotSplice(
            say(
                "{label}: the rows of sheet {sheet} are not in order. Save it anew from your "
                "spreadsheet program to get an annotated copy.",
                label=job.package.label,
                sheet=quoted(job.entry.name),
            )
        )
    block = _place(job, edit)
    _write_cells(job, edit, block)
    edit.set_widths(
        {c: column.width for c, column in zip(block.columns, job.columns, strict=True) if c in block.new}
    )
    edit.extend_dimension(max(job.rows, default=job.heading_row), max(block.columns))
    _write_rules(job, edit, block)
    _remark_on_drawings(job, block)
    widened = _widen(job, edit, block)
    job.change(part, edit.edits, edit.appended)
    return widened


def _place(job: Job, edit: SheetEdit) -> _Block:
    headings = _headings(job, edit)
    own = _own_columns(job, headings)
    tables = read_tables(job.package, job.entry.part)
    filters = edit.root.find("autoFilter")
    last_row = max([job.heading_row, *job.rows])
    block = _Block(
        [], [], last_row, None, parse_range(filters.attributes.get("ref", "")) if filters else None
    )
    block.table = next((t for t in tables if _holds_units(job, t)), None)
    if block.table is not None:
        block.last_row = max(last_row, block.table.range.last_row)
    start = _first_free(job, edit, block, tables, max(headings, default=0))
    for column in job.columns:
        position = own.get(_folded(column.heading))
        if position is None:
            position = start + len(block.new)
            block.new.append(position)
        block.columns.append(position)
    block.beside = start - 1
    if block.new and block.new[-1] > LAST_COLUMN:
        raise CannotSplice(
            say(
                "{label}: sheet {sheet} has no room for {count} columns after column "
                "{column}. Delete what stands so far to the right.",
                label=job.package.label,
                sheet=quoted(job.entry.name),
                count=len(block.new),
                column=column_letters(start - 1),
            )
        )
    return block


def _holds_units(job: Job, table: Table) -> bool:
    """Tell whether a table is the list: its headings stand in the heading row and every unit in its rows."""
    cells = table.range
    return (
        table.header_rows > 0
        and cells.first_row == job.heading_row
        and max(job.rows, default=0) <= cells.last_row
    )


def _headings(job: Job, edit: SheetEdit) -> dict[int, str]:
    """Texts of the heading row by column."""
    row = edit.row(job.heading_row)
    cells = [found for found in (row.cells() if row is not None else []) if found.filled]
    strings = _strings(job) if any(found.type == "s" for found in cells) else []
    return {found.column: _text(found, strings) for found in cells}


def _strings(job: Job) -> list[str]:
    """Shared strings of the workbook."""
    name = job.structure.strings_part
    return shared_strings(read_part(job.package, name).data) if name is not None else []


def _text(found: Cell, strings: Sequence[str]) -> str:
    index = whole(found.value or "") if found.type == "s" else None
    if index is not None and index < len(strings):
        return strings[index]
    return unescape_cell(found.inline if found.inline is not None else found.value or "")


def _folded(heading: str) -> str:
    return " ".join(heading.split()).casefold()


def _own_columns(job: Job, headings: Mapping[int, str]) -> dict[str, int]:
    """Columns of an earlier run, by heading; those that are not written any more are left alone."""
    wanted = {_folded(column.heading) for column in job.columns}
    own: dict[str, int] = {}
    for position, heading in sorted(headings.items()):
        folded = _folded(heading)
        if not folded.startswith(_folded(job.own_prefix)):
            continue
        if folded in wanted and folded not in own:
            own[folded] = position
        else:
            why = say("stands there twice") if folded in own else say("is not written any more")
            job.remarks.append(
                say(
                    '{sheet}!{cell}: the column "{heading}" {why} and was left as it is. Delete it '
                    "if it is an old result.",
                    sheet=quoted(job.entry.name),
                    cell=address(job.heading_row, position),
                    heading=heading,
                    why=why,
                )
            )
    return own


def _first_free(job: Job, edit: SheetEdit, block: _Block, tables: Sequence[Table], last_heading: int) -> int:
    """First column right of everything that stands in the rows of the list."""
    last = max(last_heading, edit.last_filled(job.heading_row, block.last_row))
    if block.table is not None:
        last = max(last, block.table.range.last_column)
    if block.filter is not None and _holds_list(job, block.filter):
        last = max(last, block.filter.last_column)
    merges = edit.root.find("mergeCells")
    obstacles = [parse_range(m.attributes.get("ref", "")) for m in merges.children] if merges else []
    obstacles += [table.range for table in tables if table is not block.table]
    ours = Range(job.heading_row, last + 1, block.last_row, LAST_COLUMN)
    return max([last, *(o.last_column for o in obstacles if o is not None and o.meets(ours))]) + 1


def _holds_list(job: Job, cells: Range) -> bool:
    """Tell whether a filter belongs to the list: its heading row is the list's, or the lower of two."""
    return cells.first_row in (job.heading_row, job.heading_row + 1)


def _write_cells(job: Job, edit: SheetEdit, block: _Block) -> None:
    cells: dict[int, dict[int, bytes]] = {job.heading_row: {}}
    neighbour = cell_at(edit.row(job.heading_row), block.beside)
    heading_style = neighbour.style if neighbour is not None else 0
    for position, column in zip(block.columns, job.columns, strict=True):
        if position in block.new:
            heading = cell(address(job.heading_row, position), column.heading, heading_style, edit.prefix)
            cells[job.heading_row][position] = heading.encode()
    others: Sequence[int] = range(len(job.rows))
    if block.columns == block.new and not job.cells:
        free = sorted(
            [place for place in others if edit.is_free(job.rows[place], block.new[0])],
            key=job.rows.__getitem__,
        )
        edit.append([job.rows[place] for place in free], _bodies(job, edit.prefix, block, free))
        others = sorted({*others} - {*free})
    numbers = digits([job.rows[place] for place in others])
    for position, column in zip(block.columns, job.columns, strict=True):
        made = across(_column(job, edit.prefix, column, position, others, numbers))
        for place, markup in zip(others, made, strict=True):
            cells.setdefault(job.rows[place], {})[position] = markup
    for number, single in job.cells.items():
        cells.setdefault(number, {}).update(single)
    edit.write(cells, _stale(job, edit, block))


def _bodies(job: Job, prefix: str, block: _Block, places: Sequence[int]) -> Iterator[bytes]:
    """Our cells of each row, made for some rows at a time when they are asked for."""
    for start in range(0, len(places), _ROWS_AT_ONCE):
        lot, columns = places[start : start + _ROWS_AT_ONCE], list[Run]()
        numbers = digits([job.rows[place] for place in lot])
        for position, column in zip(block.columns, job.columns, strict=True):
            columns += _column(job, prefix, column, position, lot, numbers)
        yield from across(columns)


def _column(
    job: Job, prefix: str, column: Column, position: int, places: Sequence[int], numbers: Sequence[bytes]
) -> list[Run]:
    """Cells of a column of ours in some of the rows."""
    epoch = job.structure.epoch_1904

    def style_of(value: object) -> int:
        return 0 if isinstance(value, str) else job.style_of(column.number_format or default_code(value))

    def end(raw: object) -> bytes:
        value = plain(raw)
        if value is None:
            return b""
        return f'"{cell_end(value, style_of(value), prefix, epoch_1904=epoch)}'.encode()

    values = [column.values[place] for place in places]
    ends = cell_ends(values, kinds(values), style_of, prefix, epoch_1904=epoch)
    if ends is None:
        ends = [end(value) for value in values]
    return runs(column_letters(position), numbers, ends, prefix)


def _stale(job: Job, edit: SheetEdit, block: _Block) -> dict[int, list[int]]:
    """Cells of an earlier run in rows that are not audited now.

    A row counts as one of ours only where a column with looks says one of its words; all else that stands
    under our headings, and every formula, is the user's and stays.
    """
    ours = set(block.columns) - set(block.new)
    words = _words_by_column(job, block)
    if not ours or not words:
        return {}
    audited, stale = {job.heading_row, *job.rows}, {}
    strings: list[str] | None = None
    for row in edit.rows:
        if row.number <= job.heading_row or row.number in audited or last_filled_column(row) < min(ours):
            continue
        filled = [found for found in row.cells() if found.filled]
        if strings is None and any(found.type == "s" for found in filled):
            strings = _strings(job)
        if any(_text(found, strings or ()) in words.get(found.column, ()) for found in filled):
            stale[row.number] = [f.column for f in filled if f.column in ours and not f.has_formula]
    return stale


def _words_by_column(job: Job, block: _Block) -> dict[int, set[str]]:
    """Words that a result column of an earlier run can hold, by its position."""
    position = {_folded(c.heading): p for c, p in zip(job.columns, block.columns, strict=True)}
    found = {position[_folded(heading)]: {look.equals for look in looks} for heading, looks in job.looks}
    return {column: words for column, words in found.items() if column not in block.new}


def _write_rules(job: Job, edit: SheetEdit, block: _Block) -> None:
    words = {quoted_text(look.equals) for _, looks in job.looks for look in looks}
    ours = set(block.columns) - set(block.new)
    priority = edit.remove_rules(ours, words) + 1
    markups = []
    by_heading = {
        _folded(column.heading): position for column, position in zip(job.columns, block.columns, strict=True)
    }
    for heading, looks in job.looks:
        if not job.rows or not looks:
            continue
        letters = column_letters(by_heading[_folded(heading)])
        cells = f"{letters}{min(job.rows)}:{letters}{max(job.rows)}"
        markups.append(rules_markup(cells, looks, job.styles, priority))
        priority += len(looks)
    if markups:
        edit.add_rules("".join(markups), ours, words)


def _remark_on_drawings(job: Job, block: _Block) -> None:
    """Say where a chart or picture covers our columns; moving the columns away would tear the list apart."""
    ours = Range(job.heading_row, min(block.columns), block.last_row, max(block.columns))
    covered = [cells for cells in floating(job.package, job.entry.part) if cells.meets(ours)]
    if covered:
        job.remarks.append(
            several(
                len(covered),
                "{sheet}: a chart or picture stands over the new columns (at {cell}). Move it aside to "
                "read them.",
                "{sheet}: {count} charts or pictures stand over the new columns (at {cell}). Move it aside "
                "to read them.",
                sheet=quoted(job.entry.name),
                cell=covered[0],
            )
        )


def _widen(job: Job, edit: SheetEdit, block: _Block) -> Range | None:
    """Widen the table or the filter to our columns, or say why that cannot be."""
    if not block.new:
        return None
    last, name = block.new[-1], quoted(job.entry.name)
    if block.table is not None:
        _widen_table(job, block, block.table)
        return None
    cells = block.filter
    if cells is None or not _holds_list(job, cells):
        return None
    if cells.last_column != block.beside:
        job.remarks.append(
            say(
                "{name}: the filter {cells} ends before column {column}, so the new "
                "columns are outside it. Sorting by the filter does not move them; the unit is "
                "repeated among them.",
                name=name,
                cells=cells,
                column=column_letters(block.beside),
            )
        )
        return None
    element = edit.root.find("autoFilter")
    assert element is not None
    edit.edits += filter_edits(edit.data, element, last)
    return cells.up_to_column(last)


def _widen_table(job: Job, block: _Block, table: Table) -> None:
    if table.range.last_column != block.beside or table.has_query or not table.part:
        why = say("it is filled by a query") if table.has_query else say("other cells stand at its right")
        job.remarks.append(
            say(
                '{sheet}: the table "{table}" could not be widened ({why}). Sorting it does not '
                "move the new columns; the unit is repeated among them.",
                sheet=quoted(job.entry.name),
                table=table.name,
                why=why,
            )
        )
        return
    part = read_part(job.package, table.part)
    headings = [c.heading for p, c in zip(block.columns, job.columns, strict=True) if p in block.new]
    job.change(part, table_edits(part.data, parse_part(job.package, part), headings))
