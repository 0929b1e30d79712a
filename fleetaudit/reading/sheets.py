"""Which sheet holds the fleet, in which row its headings stand, and which column each heading means."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import NamedTuple

from fleetaudit.errors import HeaderError, together
from fleetaudit.reading import headers
from fleetaudit.reading.headers import Candidate, Heading, bare, normalise
from fleetaudit.reading.remarks import Log
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


class Found(NamedTuple):
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
        [_own_aside(column[row]) for column in data.columns]
        for row in range(min(data.n_rows, headers.ROWS_LOOKED_AT + 6))
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


def _several(book: Workbook, found: list[Found]) -> str:
    names = [one.data.name for one in found]
    listed = ", ".join(f'"{name}"' for name in names[:-1]) + f' and "{names[-1]}"'
    said = (
        f"{book.path.name}: sheets {listed} {'both' if len(names) == 2 else 'all'} look like a list of "
        "units. None was used; "
    )
    return f'{said}say which with --sheet "{names[0]}".'


def _no_headings(book: Workbook, names: list[str]) -> str:
    where = f'sheet "{names[0]}" has no' if len(names) == 1 else "no sheet has a"
    return (
        f"{book.path.name}: {where} row of headings for a list of units. Looked for headings such as "
        f"{headers.looked_for(headers.VESSEL)}, {headers.looked_for(headers.BED, 3)} "
        f"in the first {headers.ROWS_LOOKED_AT} rows. "
        "The command `fleetaudit template` writes a sheet with all of them."
    )


class Placed(NamedTuple):
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
        str(column[row - 1])
        for column in found.data.columns
        if row <= len(column)
        and isinstance(column[row - 1], str)
        and str(column[row - 1]).startswith(OWN_PREFIX)
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
            f'{column.title} is read from "{best.text}", not from {others}.',
            column=column.name,
        )
        return best
    row = found.headings.last_row
    where = [f'"{heading.text}" ({address(row, heading.number)})' for heading in several]
    same = len({bare(heading.text) for heading in several}) == 1
    listed = " and ".join(where)
    said = f"{listed} bear the same heading" if same else f"both {listed} can be {column.spoken}"
    fix = "Rename one of them" if same else f'Say which, for example --map "{several[0].text}={column.title}"'
    if headers.is_ours_to_judge(column) and not (same and not _bears(column)):
        log.stop(f"Sheet {quoted(found.data.name)}: {said}. {fix}.")
        return None
    log.add(
        Level.WARN,
        "heading-twice",
        f"Sheet {quoted(found.data.name)}: {said}; neither was used. {fix}.",
        column=column.name,
    )
    return None


def _bears(column: Column) -> bool:
    """True for columns that decide what backwash flow a unit needs and has."""
    return column.needed or column in headers.DECISIVE


def _needed(
    file: str, found: Found, by_name: Mapping[str, Heading], unknown: list[Heading], log: Log
) -> None:
    for columns, what in ((headers.VESSEL, "vessel"), (headers.BED, "medium")):
        if any(column.name in by_name for column in columns):
            continue
        if any(heading.column in columns for heading in found.headings.headings):
            continue
        near = headers.nearest_heading(columns, unknown)
        hint = f'Rename a heading, or map it with --map "Your heading={columns[0].title}".'
        if near is not None:
            where = address(found.headings.last_row, near.number)
            hint = (
                f'Nearest heading: "{near.text}" ({where}). Rename it, or map it with '
                f'--map "{near.text}={columns[0].title}".'
            )
        log.stop(
            f"{file}, sheet {quoted(found.data.name)} has no column for the {what} (looked for "
            f"{headers.looked_for(columns)}, ...). {hint}"
        )


def _report(
    found: Found, unknown: tuple[Heading, ...], own: tuple[str, ...], mapped: Mapped, log: Log
) -> None:
    sheet, best = quoted(found.data.name), found.headings
    if best.row > 1:
        log.add(
            Level.INFO,
            "heading-row",
            f"Sheet {sheet}: headings found in row {best.last_row} ({best.row - 1} title rows above).",
        )
    if own:
        log.add(
            Level.INFO,
            "own-columns",
            f"Sheet {sheet} already holds {len(own)} audit columns. They are not read, and are "
            "replaced in the copy.",
        )
    distant = []
    for heading in unknown:
        near = "" if settled(heading, mapped) or heading.column is not None else headers.nearest(heading.text)
        if near:
            column = headers.aliases()[near]
            log.add(
                Level.WARN,
                "heading-near",
                f'{sheet}!{address(best.last_row, heading.number)}: heading "{heading.text}" was not '
                f'used. The nearest known one is "{near}" ({column.title}). Rename it, or '
                f'--map "{heading.text}={column.title}".',
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
            f"Sheet {sheet}: columns kept as they are and not read: {names}.",
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
                f' Did you mean "{headers.aliases()[near].title}"?'
                if near
                else " `fleetaudit template` lists the columns."
            )
            problems.append(
                f'{book.path.name}: "{theirs}={ours}" maps to "{ours}", which is no column of this '
                f"tool.{hint}"
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
