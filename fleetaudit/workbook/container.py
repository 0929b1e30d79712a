"""What a file really is, told from its bytes and never from its name."""

from __future__ import annotations

import enum
from pathlib import Path

from fleetaudit.errors import WorkbookError
from fleetaudit.language import say
from fleetaudit.workbook.archive import Limits, Package, load
from fleetaudit.workbook.encryption import is_encrypted_package, locked

__all__ = ["Kind", "Limits", "Package", "sniff", "sniff_bytes"]

_OLE = bytes.fromhex("D0CF11E0A1B11AE1")
_MAIN_PARTS = (
    (b"sheet.binary.macroEnabled.main+xml", "XLSB"),
    (b"sheet.macroEnabled.main+xml", "XLSM"),
    (b"template.macroEnabled.main+xml", "XLSM"),
    (b"addin.macroEnabled.main+xml", "XLSM"),
    (b"spreadsheetml.sheet.main+xml", "XLSX"),
    (b"spreadsheetml.template.main+xml", "XLSX"),
)
_OTHER_STARTS = (
    (b"%PDF", "a PDF document"),
    (b"{\\rtf", "a text document in rich text format"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"\x1f\x8b", "a compressed file"),
    (b"7z\xbc\xaf", "a compressed archive"),
    (b"Rar!", "a compressed archive"),
    (b"SQLite format 3", "a database"),
    (b"PAR1", "a column store file"),
    (b"\x09\x08", "a spreadsheet of the early nineties"),
    (b"\x09\x04", "a spreadsheet of the early nineties"),
    (b"\x09\x02", "a spreadsheet of the early nineties"),
    (b"\x09\x00", "a spreadsheet of the early nineties"),
)
_TEXT_SUFFIXES = {".csv", ".tsv", ".txt", ".tab"}
_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")


class Kind(enum.Enum):
    """Kinds of files that can be read."""

    XLSX = "xlsx"
    XLSM = "xlsm"
    XLSB = "xlsb"
    ODS = "ods"
    XLS = "xls"
    CSV = "csv"
    TABLE = "table"  # rows handed over by another program, with types; never told from bytes


def sniff(path: Path, limits: Limits | None = None) -> Kind:
    """Kind of a file, or one sentence that names what it is instead."""
    return sniff_bytes(path, read_bytes(path, limits), limits)


def read_bytes(path: Path, limits: Limits | None = None) -> bytes:
    """Content of a file that exists, is no folder and no lock file."""
    if path.name.startswith("~$"):
        raise WorkbookError(
            say(
                "{name} is a lock file that a spreadsheet program leaves while a workbook is "
                "open. Give {other} itself.",
                name=path.name,
                other=path.name[2:],
            )
        )
    if path.is_dir():
        raise WorkbookError(
            say(
                '"{name}" is a folder. Give one workbook, for example {example}.',
                name=path.name or path,
                example=path / "fleet.xlsx",
            )
        )
    if not path.exists():
        raise WorkbookError(_missing(path))
    return load(path, limits or Limits())


def sniff_bytes(path: Path, data: bytes, limits: Limits | None = None) -> Kind:
    """Kind of a file from its content; `path` only names it in messages and tells text tables apart."""
    name = path.name
    if not data:
        raise WorkbookError(say("{name} is empty (0 bytes). Copy it again from where it came.", name=name))
    if data.startswith((b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")):
        return _inside_zip(name, data, limits)
    if data.startswith(_OLE):
        return _inside_ole(name, data)
    for start, what in _OTHER_STARTS:
        if data.startswith(start):
            raise _not_inside(name, what, "Save the table as .xlsx.")
    return _text(path, data)


def _missing(path: Path) -> str:
    folder = path.parent.resolve()
    if not folder.is_dir():
        return say(
            'No file "{name}": there is no folder {folder}. Check the path.', name=path.name, folder=folder
        )
    import difflib  # noqa: PLC0415  needed only when a name was mistyped

    names = {entry.name.lower(): entry.name for entry in folder.iterdir() if entry.is_file()}
    near = difflib.get_close_matches(path.name.lower(), names, n=1, cutoff=0.6)
    hint = say('Did you mean "{text}"?', text=names[near[0]]) if near else say("Check the name.")
    return say('No file "{name}" in {folder}. {hint}', name=path.name, folder=folder, hint=hint)


def _not_inside(name: str, what: str, fix: str) -> WorkbookError:
    return WorkbookError(
        say("{name} is not a workbook inside: it is {what}. {fix}", name=name, what=say(what), fix=say(fix))
    )


def _inside_zip(name: str, data: bytes, limits: Limits | None) -> Kind:
    with Package(data, limits, label=name) as package:
        if "mimetype" in package and b"opendocument.spreadsheet" in package.peek("mimetype", 200):
            manifest = "META-INF/manifest.xml"
            if manifest in package and b"encryption-data" in package.read(manifest):
                raise WorkbookError(
                    say(
                        "{name} is protected by a password in a way that cannot be opened here. Open it "
                        "in your spreadsheet program, remove the password and save it again.",
                        name=name,
                    )
                )
            return Kind.ODS
        if "[Content_Types].xml" not in package:
            raise _not_inside(name, "a zip archive", "Unpack it and give the workbook.")
        types = package.read("[Content_Types].xml").replace(b"\0", b"")
        for mark, kind in _MAIN_PARTS:
            if mark in types:
                return Kind[kind]
        if b"wordprocessingml" in types:
            raise _not_inside(name, "a text document", "Copy its table into a workbook and save it as .xlsx.")
        if b"presentationml" in types:
            raise _not_inside(name, "a slide show", "Copy its table into a workbook and save it as .xlsx.")
        if any(part.endswith("workbook.xml") for part in package.names):
            return Kind.XLSX
        raise package.damaged("it has no workbook part")


def _inside_ole(name: str, data: bytes) -> Kind:
    if is_encrypted_package(data):
        raise locked(name)
    if any(stream.encode("utf-16-le") in data for stream in ("Workbook\0", "Book\0")):
        return Kind.XLS
    raise _not_inside(name, "another kind of office document", "Save the table as .xlsx.")


def _text(path: Path, data: bytes) -> Kind:
    head = data[:4096]
    wide = head.startswith(_UTF16_MARKS)
    plain = head.replace(b"\0", b"") if wide else head
    start = plain.lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n").lower()
    if start.startswith((b"<!doctype html", b"<html", b"<table", b"<head", b"<body", b"<meta", b"<style")):
        raise _not_inside(path.name, "a web page", "Open it in a spreadsheet program and save it as .xlsx.")
    if start.startswith(b"<?xml") or start.startswith(b"<"):
        raise _not_inside(
            path.name, "an XML document", "Open it in a spreadsheet program and save it as .xlsx."
        )
    if b"\0" in plain:
        raise _not_inside(
            path.name, "data of an unknown kind", "Open it where it was made and save it as .xlsx."
        )
    if path.suffix.lower() in _TEXT_SUFFIXES:
        return Kind.CSV
    raise _not_inside(path.name, "text", "Rename it to .csv, or save it as .xlsx.")
