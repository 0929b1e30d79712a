"""One annotation while it is being made: what was asked for, the opened package, what changed so far."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import Struct, field

from fleetaudit.errors import WorkbookError
from fleetaudit.workbook.archive import Package, RawMember, packed_pieces
from fleetaudit.workbook.formats import GENERAL
from fleetaudit.workbook.markup import Edit, applied, from_utf8, merged
from fleetaudit.workbook.opened import Opened
from fleetaudit.workbook.structure import Part, SheetEntry, Structure
from fleetaudit.workbook.styles import Look, Style, Styles

_ABOUT_A_CELL = 60  # bytes


class CannotSplice(WorkbookError):
    """The file can be read but not annotated; results belong in a workbook of their own."""


class Column(Struct):
    """A result column: a heading and one value for each of the annotated rows."""

    heading: str
    values: Sequence[object]
    number_format: str | None = None
    width: float = 12


class Job(Struct):
    """What the caller asked for, with the opened package; `cells` are single cells to set as well."""

    opened: Opened
    entry: SheetEntry
    heading_row: int
    rows: Sequence[int]
    columns: Sequence[Column]
    looks: Sequence[tuple[str, Sequence[Look]]]
    own_prefix: str
    styles: Styles
    #: parts of the source with other content, packed at once: unpacked they would be most of the memory
    renewed: dict[str, RawMember] = field(default_factory=dict)
    dropped: set[str] = field(default_factory=set)
    remarks: list[str] = field(default_factory=list)
    cells: dict[int, dict[int, bytes]] = field(default_factory=dict)
    known_styles: dict[str | None, int] = field(default_factory=dict)

    @property
    def package(self) -> Package:
        """The file's parts."""
        return self.opened.package

    @property
    def structure(self) -> Structure:
        """What the file's sheets are."""
        return self.opened.structure

    def style_of(self, code: str | None) -> int:
        """Style index of a number format on the audited sheet."""
        if code not in self.known_styles:
            self.known_styles[code] = self.styles.cell(Style(number_format=code or GENERAL))
        return self.known_styles[code]

    def change(self, part: Part, edits: Sequence[Edit], appended: Iterable[Edit] = ()) -> None:
        """Note the new content of a part if it differs from the old.

        `appended` edits, which go with others, come in the order of the part and are never held all at once.
        """
        if any(part.data[edit.start : edit.end] != edit.new for edit in edits):
            about = len(part.data) + sum(len(edit.new) - edit.end + edit.start for edit in edits)
            about += len(self.rows) * len(self.columns) * _ABOUT_A_CELL if appended else 0
            every = merged(edits, appended)
            pieces = (from_utf8(piece, part.encoding) for piece in applied(part.data, every))
            self.renewed[part.name] = packed_pieces(part.name, pieces, about)
