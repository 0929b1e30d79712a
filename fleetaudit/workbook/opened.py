"""A zipped workbook once opened: its package, its structure, and the sheets that were scanned."""

from __future__ import annotations

from typing import Self

from msgspec import Struct, field

from fleetaudit.workbook.archive import MIB, Limits, Package
from fleetaudit.workbook.rows import SheetPart
from fleetaudit.workbook.structure import Part, Structure, read_part, read_structure

#: a longer sheet is unpacked once more for the copy rather than held through all that lies between
_MOST_HELD = 8 * MIB


class Opened(Struct):
    """What reading found out about a file, so that writing its copy need not find it out again."""

    package: Package
    structure: Structure
    scanned: dict[str, tuple[Part, SheetPart]] = field(default_factory=dict)
    #: sheets that were given up after every cell of them had been found in order
    in_order: set[str] = field(default_factory=set)

    @classmethod
    def of(cls, data: bytes, limits: Limits | None, label: str) -> Self:
        """Open the bytes of a file; no part with a document type declaration is parsed."""
        package = Package(data, limits, label=label)
        package.refuse_doctypes()
        return cls(package, read_structure(package))

    def sheet(self, name: str) -> tuple[Part, SheetPart]:
        """A sheet part and its skeleton; what was scanned of it before is kept with it."""
        if name not in self.scanned:
            part = read_part(self.package, name)
            sheet = SheetPart(part.data)
            sheet.in_order = name in self.in_order
            self.scanned[name] = part, sheet
        return self.scanned[name]

    def forget(self, name: str) -> None:
        """Give up what was scanned of a sheet that is done with; asked for, it is unpacked anew."""
        _, sheet = self.scanned.pop(name, (None, None))
        if sheet is not None and sheet.in_order:
            self.in_order.add(name)

    def forget_if_long(self, name: str) -> None:
        """Give up what was scanned of a long sheet that nobody asks for again soon."""
        if name in self.scanned and len(self.scanned[name][0].data) > _MOST_HELD:
            self.forget(name)
