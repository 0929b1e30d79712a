"""Files that are not what their name says, or that a few lines of zip writing made hostile."""

from __future__ import annotations

import shutil
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from .fault import Build, fleet

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OLE = bytes.fromhex("D0CF11E0A1B11AE1")
SHEET = "xl/worksheets/sheet1.xml"
HEAD = "".join(
    f'<c t="inlineStr"><is><t>{text}</t></is></c>'
    for text in ("Unit ID", "Vessel size", "Medium", "Restrictor (gpm)")
)
UNIT = "".join(
    f'<c t="inlineStr"><is><t>{text}</t></is></c>' for text in ("U-1", "10x54", "activated carbon", "5 gpm")
)

Change = Callable[[bytes], bytes]


def raw(name: str, content: bytes) -> Build:
    """Build a file of these bytes."""

    def build(folder: Path) -> Path:
        path = folder / name
        path.write_bytes(content)
        return path

    return build


def spoiled(change: Change) -> Build:
    """Build a sound fleet whose bytes are then changed."""

    def build(folder: Path) -> Path:
        path = fleet()(folder)
        path.write_bytes(change(path.read_bytes()))
        return path

    return build


def parts(changes: dict[str, bytes | Change | None], name: str = "fleet.xlsx") -> Build:
    """Build a sound fleet with some parts put in, replaced or taken out."""

    def build(folder: Path) -> Path:
        source = fleet(name=name)(folder)
        with zipfile.ZipFile(source) as package:
            content = {part: package.read(part) for part in package.namelist()}
        for part, change in changes.items():
            if change is None:
                del content[part]
            else:
                content[part] = change if isinstance(change, bytes) else change(content[part])
        with zipfile.ZipFile(source, "w", zipfile.ZIP_DEFLATED) as package:
            for part, data in content.items():
                package.writestr(part, data)
        return source

    return build


def sheet(rows: str, head: str = "") -> Build:
    """Build a fleet around one sheet part written by hand."""
    text = f'<worksheet xmlns="{MAIN}">{head}<sheetData>{rows}</sheetData></worksheet>'
    return parts({SHEET: text.encode()})


def twice(folder: Path) -> Path:
    """Build a package with two parts whose names differ in case only."""
    path = fleet()(folder)
    with zipfile.ZipFile(path, "a") as package:
        package.writestr("XL/Workbook.xml", b"<workbook/>")
    return path


def lying(folder: Path) -> Path:
    """Build a package whose directory gives a part a thousand bytes more than it has."""
    path = fleet()(folder)
    data = bytearray(path.read_bytes())
    central = data.rindex(SHEET.encode()) - 46
    size = int.from_bytes(data[central + 24 : central + 28], "little") + 1000
    data[central + 24 : central + 28] = size.to_bytes(4, "little")
    path.write_bytes(data)
    return path


def locked(data: bytes) -> bytes:
    """Mark the first member as encrypted."""
    out = bytearray(data)
    out[out.index(b"PK\x01\x02") + 8] |= 1
    return bytes(out)


def macros(folder: Path) -> Path:
    """Build a macro workbook; its macro part is a few bytes that nothing could run."""

    def kind(types: bytes) -> bytes:
        plain = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
        return types.replace(plain, b"application/vnd.ms-excel.sheet.macroEnabled.main+xml")

    return parts({"[Content_Types].xml": kind, "xl/vbaProject.bin": b"\xd0\xcf no macro"}, "fleet.xlsm")(
        folder
    )


def other_document(kind: str) -> Build:
    """Build an office document of another kind under a workbook's name."""

    def build(folder: Path) -> Path:
        path = folder / "fleet.xlsx"
        word = f"application/vnd.openxmlformats-officedocument.{kind}.main+xml"
        with zipfile.ZipFile(path, "w") as package:
            package.writestr("[Content_Types].xml", f'<Types><Override ContentType="{word}"/></Types>')
        return path

    return build


def archive(folder: Path) -> Path:
    """Build a plain zip archive."""
    path = folder / "fleet.xlsx"
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("readme.txt", "not a workbook")
    return path


def converted(kind: str) -> Build:
    """Build a fleet that an office suite saved as another kind."""

    def build(folder: Path) -> Path:
        if shutil.which("soffice") is None:
            pytest.skip("needs LibreOffice")
        inner = folder / "made"
        inner.mkdir()
        source = fleet()(inner)
        subprocess.run(
            [
                "soffice",
                f"-env:UserInstallation=file://{inner / 'profile'}",
                "--headless",
                "--convert-to",
                kind,
                "--outdir",
                str(folder),
                str(source),
            ],
            check=True,
            capture_output=True,
            timeout=120,
        )
        return folder / f"fleet.{kind}"

    return build


def text_table(folder: Path) -> Path:
    """Build a fleet as text with commas."""
    path = folder / "fleet.csv"
    path.write_text(
        "Unit ID,Vessel size,Medium,Restrictor (gpm)\nU-1,10x54,activated carbon,5\nU-2,12x52,calcite,8\n",
        "utf-8",
    )
    return path
