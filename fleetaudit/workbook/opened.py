"""A zipped workbook once opened: its package, its structure, and the sheets that were scanned."""

from __future__ import annotations

from typing import Self

from msgspec import Struct, field

from fleetaudit.workbook.archive import Limits, Package
from fleetaudit.workbook.rows import SheetPart
from fleetaudit.workbook.structure import Part, Structure, read_part, read_structure


class Opened(Struct):
    """What reading found out about a file, so that writing its copy need not find it out again."""

    package: Package
    structure: Structure
    scanned: dict[str, tuple[Part, SheetPart]] = field(default_factory=dict)

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
            self.scanned[name] = part, SheetPart(part.data)
        return self.scanned[name]

    def forget(self, name: str) -> None:
        """Give up what was scanned of a sheet that is done with; asked for, it is scanned anew."""
        self.scanned.pop(name, None)
