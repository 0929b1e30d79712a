"""Which sheet holds the fleet, in which row its headings stand, and which column each heading means."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from msgspec import Struct

from fleetaudit import units
from fleetaudit.errors import HeaderError, together
from fleetaudit.language import say
from fleetaudit.reading import headers
from fleetaudit.reading.headers import Candidate, Heading, bare, normalise
from fleetaudit.reading.plain import plain
from fleetaudit.reading.remarks import Log, spoken
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column
from fleetaudit.schema.remark import Level
from fleetaudit.schema.results import OWN_PREFIX, OWN_SHEETS
from fleetaudit.workbook.book import SheetData, Workbook
from fleetaudit.workbook.place import address, quoted

COMPANY_SHEETS = (
    "Media",
    "Restrictors",
    "Housings",
    "Vessels",
    "Crews",
    "Settings",
    "Sites",
    "Accepted",
    "Stock",
    "History",
    "Lists",
    "Read me",
)
IGNORE = frozenset({"", "-", "ignore", "none"})

Mapped = Mapping[str, Column | None]


class Found(Struct, frozen=True):
    """The fleet sheet, its headings, and the rows they stand in."""

    data: SheetData
    headings: Candidate


def find(book: Workbook, wanted: str | None, mapped: Mapped) -> Found:
    """The one sheet that holds a fleet; HeaderError where none or several do."""
    if wanted is not None:
        data = book.read(wanted)
        best = _best(data, mapped)
        if best is None:
            raise HeaderError(_no_headings(book, [wanted]))
        return Found(data, best)
    skipped = {name.casefold() for name in (*COMPANY_SHEETS, *OWN_SHEETS)}
    names = [sheet for sheet in book.sheets if sheet.name.strip().casefold() not in skipped]
    found = []
    for sheet in names:
        data = book.read(sheet.name)
        best = _best(data, mapped) if data.n_rows else None
        if best is not None:
            found.append((sheet.hidden, Found(data, best)))
    complete = [one for hidden, one in found if one.headings.complete and not hidden]
    complete = complete or [one for _, one in found if one.headings.complete]
    if len(complete) > 1:
        raise HeaderError(_several(book, complete))
    if complete:
        return complete[0]
    if not found:
        raise HeaderError(_no_headings(book, [sheet.name for sheet in names]))
    return max((one for _, one in found), key=lambda one: (one.headings.hits, one.headings.score))


def _best(data: SheetData, mapped: Mapped) -> Candidate | None:
    """Best heading row of a sheet; close spellings count only where exact ones find no row."""
    rows = [
        [_own_aside(value) for value in data.cells.row(row)]
        for row in range(1, min(data.n_rows, headers.ROWS_LOOKED_AT + 6) + 1)
    ]
    for table in data.tables:
        top = table.range.first_row - 1
        if table.header_rows and top < len(rows):
            here = [one for one in headers.candidates(rows[top : top + 1], mapped) if one.complete]
            if here:
                shifted = here[0]
                return Candidate(top + 1, top + 1, shifted.headings, shifted.score)
    found = headers.candidates(rows, mapped) or headers.candidates(rows, mapped, fuzzy=True)
    return _exact(found[0], mapped) if found else None


def _exact(candidate: Candidate, mapped: Mapped) -> Candidate:
    """The same headings, each only with the column it spells exactly."""
    kept = tuple(
        heading
        if heading.column is None or settled(heading, mapped) or headers.spelled(heading.text, heading.column)
        else Heading(heading.number, heading.text, None)
        for heading in candidate.headings
    )
    return Candidate(candidate.row, candidate.last_row, kept, candidate.score)


def settled(heading: Heading, mapped: Mapped) -> bool:
    """True where the user has said what the heading means."""
    return normalise(heading.text) in mapped or bare(heading.text) in mapped


def _own_aside(cell: object) -> object:
    return None if isinstance(cell, str) and cell.startswith(OWN_PREFIX) else cell


def _ways(texts: list[str], column: Column) -> str:
    ways = [f'--map "{text}={column.title}"' for text in texts]
    return f"{', '.join(ways[:-1])} {say('or')} {ways[-1]}"


def _names_measures(found: Found, heading: Heading) -> bool:
    """True for a column headed as the one of unit ids in which every cell is a unit of measure."""
    if heading.column is not fleet.UNIT_ID:
        return False
    cells = found.data.cells.distinct(heading.number, found.headings.last_row + 1)
    measures = (units.find(plain(cell)) for cell in cells if isinstance(cell, str))
    measured = (unit is not None and unit.si != "1" for unit in measures)
    return next(measured, False) and all(measured)


def _several(book: Workbook, found: list[Found]) -> str:
    names = [one.data.name for one in found]
    listed = ", ".join(f'"{name}"' for name in names[:-1]) + f' {say("and")} "{names[-1]}"'
    return say(
        "{file}: sheets {listed} both look like a list of units. None was used; say which with "
        '--sheet "{name}".'
        if len(names) == 2
        else "{file}: sheets {listed} all look like a list of units. None was used; say which with "
        '--sheet "{name}".',
        file=book.path.name,
        listed=listed,
        name=names[0],
    )


def _no_headings(book: Workbook, names: list[str]) -> str:
    where = say('sheet "{name}" has no', name=names[0]) if len(names) == 1 else say("no sheet has a")
    return say(
        "{file}: {where} row of headings for a list of units. Looked for headings such "
        "as {vessel}, {bed} in the first {rows} rows. The command "
        "`fleetaudit template` writes a sheet with all of them.",
        file=book.path.name,
        where=where,
        vessel=headers.looked_for(headers.VESSEL),
        bed=headers.looked_for(headers.BED, 3),
        rows=headers.ROWS_LOOKED_AT,
    )


class Placed(Struct, frozen=True):
    """Columns of ours with their headings, and the user's columns that mean nothing to the audit."""

    by_name: Mapping[str, Heading]
    unknown: tuple[Heading, ...]
    own: tuple[str, ...]


def place(file: str, found: Found, mapped: Mapped, log: Log) -> Placed:
    """One heading for each column; problems that leave it open are collected in the log."""
    claims: dict[str, list[Heading]] = {}
    unknown = []
    for heading in found.headings.headings:
        if heading.column is None:
            unknown.append(heading)
        elif _names_measures(found, heading):
            unknown.append(heading)
            log.add(
                Level.WARN,
                "units-of-measure",
                say(
                    'Sheet {sheet}: the column "{text}" ({cell}) holds units of measure and names no unit of '
                    "the fleet; it was not used. Put the unit of measure into the heading it belongs to.",
                    sheet=quoted(found.data.name),
                    text=heading.text,
                    cell=address(found.headings.last_row, heading.number),
                ),
            )
        else:
            claims.setdefault(heading.column.name, []).append(heading)
    by_name: dict[str, Heading] = {}
    for name, several in claims.items():
        chosen = several[0] if len(several) == 1 else _one_of(several, found, mapped, log)
        if chosen is not None:
            by_name[name] = chosen
        unknown += [heading for heading in several if heading is not chosen]
    _needed(file, found, by_name, unknown, log)
    row = found.headings.last_row
    own = tuple(
        value
        for value in found.data.cells.row(row)
        if isinstance(value, str) and value.startswith(OWN_PREFIX)
    )
    _report(found, tuple(unknown), own, mapped, log)
    return Placed(by_name, tuple(sorted(unknown, key=lambda heading: heading.number)), own)


def _one_of(several: list[Heading], found: Found, mapped: Mapped, log: Log) -> Heading | None:
    """The heading the user settled, or the one spelled as the column's own title; else nobody's."""
    chosen = [heading for heading in several if settled(heading, mapped)]
    column = several[0].column
    assert column is not None
    titled = [heading for heading in several if bare(heading.text) == normalise(column.title)]
    if len(chosen) == 1 or (not chosen and len(titled) == 1):
        best = (chosen or titled)[0]
        others = ", ".join(f'"{heading.text}"' for heading in several if heading is not best)
        log.add(
            Level.INFO,
            "heading-preferred",
            say(
                '{title} is read from "{text}", not from {others}.',
                title=say(column.title),
                text=best.text,
                others=others,
            ),
            column=column.name,
        )
        return best
    row = found.headings.last_row
    where = [f'"{heading.text}" ({address(row, heading.number)})' for heading in several]
    same = len({bare(heading.text) for heading in several}) == 1
    listed = f" {say('and')} ".join(where)
    said = (
        say("{listed} bear the same heading", listed=listed)
        if same
        else say("both {listed} can be {column}", listed=listed, column=spoken(column))
    )
    fix = (
        say("Rename one of them")
        if same
        else say("Say which: {ways}", ways=_ways([heading.text for heading in several], column))
    )
    if headers.is_ours_to_judge(column) and not (same and not _bears(column)):
        log.stop(say("Sheet {sheet}: {said}. {fix}.", sheet=quoted(found.data.name), said=said, fix=fix))
        return None
    log.add(
        Level.WARN,
        "heading-twice",
        say(
            "Sheet {sheet}: {said}; neither was used. {fix}.",
            sheet=quoted(found.data.name),
            said=said,
            fix=fix,
        ),
        column=column.name,
    )
    return None


def _bears(column: Column) -> bool:
    """True for columns that decide what backwash flow a unit needs and has."""
    return column.needed or column in headers.DECISIVE


def _needed(
    file: str, found: Found, by_name: Mapping[str, Heading], unknown: list[Heading], log: Log
) -> None:
    for columns, what in ((headers.VESSEL, say("the vessel")), (headers.BED, say("the medium"))):
        if any(column.name in by_name for column in columns):
            continue
        if any(heading.column in columns for heading in found.headings.headings):
            continue
        near = headers.nearest_heading(columns, unknown)
        hint = say('Rename a heading, or map it with --map "Your heading={title}".', title=columns[0].title)
        if near is not None:
            where = address(found.headings.last_row, near.number)
            hint = say(
                'Nearest heading: "{text}" ({where}). Rename it, or map it with --map "{text}={title}".',
                text=near.text,
                where=where,
                title=columns[0].title,
            )
        log.stop(
            say(
                "{file}, sheet {sheet} has no column for {what} (looked for {headings}, ...). {hint}",
                file=file,
                sheet=quoted(found.data.name),
                what=what,
                headings=headers.looked_for(columns),
                hint=hint,
            )
        )


def _report(
    found: Found, unknown: tuple[Heading, ...], own: tuple[str, ...], mapped: Mapped, log: Log
) -> None:
    sheet, best = quoted(found.data.name), found.headings
    if best.row > 1:
        log.add(
            Level.INFO,
            "heading-row",
            say(
                "Sheet {sheet}: headings found in row {row} ({above} title rows above).",
                sheet=sheet,
                row=best.last_row,
                above=best.row - 1,
            ),
        )
    if own:
        log.add(
            Level.INFO,
            "own-columns",
            say(
                "Sheet {sheet} already holds {count} audit columns. They are not read, and are "
                "replaced in the copy.",
                sheet=sheet,
                count=len(own),
            ),
        )
    distant = []
    for heading in unknown:
        near = "" if settled(heading, mapped) or heading.column is not None else headers.nearest(heading.text)
        if near:
            column = headers.aliases()[near]
            log.add(
                Level.WARN,
                "heading-near",
                say(
                    '{sheet}!{cell}: heading "{text}" was not used. The nearest known one is '
                    '"{near}" ({title}). Rename it, or --map "{text}={title}".',
                    sheet=sheet,
                    cell=address(best.last_row, heading.number),
                    text=heading.text,
                    near=near,
                    title=column.title,
                ),
                (f"{sheet}!{address(best.last_row, heading.number)}",),
                read=heading.text,
                effect="the column was not read",
            )
        else:
            distant.append(heading)
    if distant:
        names = ", ".join(f'"{heading.text}"' for heading in distant)
        log.add(
            Level.INFO,
            "unknown-columns",
            say("Sheet {sheet}: columns kept as they are and not read: {names}.", sheet=sheet, names=names),
            log.cells([best.last_row], distant[0].number),
        )


def mapping(book: Workbook, header_map: Mapping[str, str]) -> Mapped:
    """Headings the user settled, with our column; HeaderError names every one that cannot be understood."""
    found: dict[str, Column | None] = {}
    problems = []
    for theirs, ours in header_map.items():
        column = headers.column_named(ours)
        if column is None and normalise(ours) not in IGNORE:
            near = headers.nearest(ours)
            hint = (
                " " + say('Did you mean "{text}"?', text=headers.aliases()[near].title)
                if near
                else " " + say("`fleetaudit template` lists the columns.")
            )
            problems.append(
                say(
                    '{file}: "{theirs}={ours}" maps to "{ours}", which is no column of this tool.{hint}',
                    file=book.path.name,
                    theirs=theirs,
                    ours=ours,
                    hint=hint,
                )
            )
        found[normalise(theirs)] = column
        found.setdefault(bare(theirs), column)
    if problems:
        raise HeaderError(together(problems))
    return found


def unused(mapped: Mapping[str, str], found: Found) -> list[str]:
    """Headings the user mapped that the sheet does not have."""
    there = {
        key for heading in found.headings.headings for key in (normalise(heading.text), bare(heading.text))
    }
    return [theirs for theirs in mapped if normalise(theirs) not in there and bare(theirs) not in there]


def ours(names: Collection[str]) -> frozenset[str]:
    """Names of sheets folded for comparing."""
    return frozenset(name.strip().casefold() for name in names)
