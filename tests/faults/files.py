"""Files that are missing, are not workbooks, are broken, or can be read but not annotated."""

from __future__ import annotations

from pathlib import Path

from . import packages
from .fault import INFO, STOP, WARN, Fault, fleet

DTD = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]>'


def _mistyped(folder: Path) -> Path:
    fleet()(folder)
    return folder / "flet.xlsx"


def _folder(folder: Path) -> Path:
    (folder / "Jobs").mkdir()
    return folder / "Jobs"


def _lock(folder: Path) -> Path:
    fleet()(folder)
    return packages.raw("~$fleet.xlsx", b"\x05owner")(folder)


FAULTS = (
    Fault(
        "no such file, one of nearly that name",
        STOP,
        ('"flet.xlsx"', 'Did you mean "fleet.xlsx"?'),
        _mistyped,
    ),
    Fault("no such file", STOP, ('"nothing.xlsx"', "Check"), lambda folder: folder / "nothing.xlsx"),
    Fault(
        "no such folder",
        STOP,
        ('"fleet.xlsx"', "no folder", "Check the path"),
        lambda folder: folder / "none" / "fleet.xlsx",
    ),
    Fault("a folder", STOP, ('"Jobs"', "is a folder", "Give one workbook"), _folder),
    Fault("a lock file", STOP, ("~$fleet.xlsx", "lock file", "Give fleet.xlsx itself"), _lock),
    Fault(
        "text under a workbook's name",
        STOP,
        ("fleet.xlsx", "not a workbook inside", "text", ".csv"),
        packages.raw("fleet.xlsx", b"Unit,Vessel,Medium\nU-1,10x54,sand\n"),
    ),
    Fault(
        "a web page under a workbook's name",
        STOP,
        ("fleet.xls", "web page", "save it as .xlsx"),
        packages.raw("fleet.xls", b"<html><body><table><tr><td>Unit</td></tr></table></body></html>"),
    ),
    Fault(
        "an XML document",
        STOP,
        ("fleet.xlsx", "XML document", "save it as .xlsx"),
        packages.raw("fleet.xlsx", b"<?xml version='1.0'?><a/>"),
    ),
    Fault("a PDF", STOP, ("fleet.xlsx", "PDF", ".xlsx"), packages.raw("fleet.xlsx", b"%PDF-1.7\n")),
    Fault("a picture", STOP, ("fleet.xlsx", "picture"), packages.raw("fleet.xlsx", b"\x89PNG\r\n\x1a\n")),
    Fault("bytes of no kind", STOP, ("fleet.xlsx", "unknown kind"), packages.raw("fleet.xlsx", b"\0\1\2\3")),
    Fault("an empty file", STOP, ("fleet.xlsx", "empty", "Copy it again"), packages.raw("fleet.xlsx", b"")),
    Fault("an empty text table", STOP, ("fleet.csv",), packages.raw("fleet.csv", b"\n\n")),
    Fault(
        "a letter",
        STOP,
        ("fleet.xlsx", "text document"),
        packages.other_document("wordprocessingml.document"),
    ),
    Fault(
        "a slide show",
        STOP,
        ("fleet.xlsx", "slide show"),
        packages.other_document("presentationml.presentation"),
    ),
    Fault("a zip archive", STOP, ("fleet.xlsx", "zip archive"), packages.archive),
    Fault(
        "a truncated workbook",
        STOP,
        ("fleet.xlsx", "damaged", "Open and repair it", "save"),
        packages.spoiled(lambda data: data[: len(data) // 2]),
    ),
    Fault(
        "a workbook without its list of sheets",
        STOP,
        ("fleet.xlsx", "damaged", "repair it"),
        packages.parts({"xl/workbook.xml": None}),
    ),
    Fault(
        "a sheet that breaks off",
        STOP,
        ("fleet.xlsx", "damaged", '"Units"'),
        packages.parts({packages.SHEET: lambda text: text[: len(text) // 2]}),
    ),
    Fault("a part that is larger than it says", STOP, ("fleet.xlsx", "damaged"), packages.lying),
    Fault("two parts of one name", STOP, ("fleet.xlsx", "two parts"), packages.twice),
    Fault(
        "a password",
        STOP,
        ("fleet.xlsx", "password"),
        packages.raw("fleet.xlsx", packages.OLE + bytes(600) + "EncryptedPackage".encode("utf-16-le")),
    ),
    Fault("a zip password", STOP, ("fleet.xlsx", "password"), packages.spoiled(packages.locked)),
    Fault(
        "a type declaration in the sheet",
        STOP,
        ("fleet.xlsx", "document type declaration"),
        packages.parts({packages.SHEET: lambda text: DTD + text[text.index(b"<worksheet") :]}),
    ),
    Fault(
        "a type declaration elsewhere",
        STOP,
        ("fleet.xlsx", "document type declaration"),
        packages.parts({"docProps/core.xml": DTD + b"<a>&b;</a>"}),
    ),
    Fault(
        "an odd encoding",
        STOP,
        ("fleet.xlsx", "ISO-8859-1"),
        packages.parts(
            {
                packages.SHEET: lambda text: (
                    b'<?xml version="1.0" encoding="ISO-8859-1"?>' + text[text.index(b"<worksheet") :]
                )
            }
        ),
    ),
    Fault(
        "text with commas", INFO, ("fleet.csv", "read but not annotated", "new workbook"), packages.text_table
    ),
    Fault(
        "an older workbook",
        INFO,
        ("fleet.xls", "read but not annotated", "new workbook"),
        packages.converted("xls"),
    ),
    Fault(
        "an open document",
        INFO,
        ("fleet.ods", "read but not annotated", "new workbook"),
        packages.converted("ods"),
    ),
    Fault("macros", INFO, ("fleet.xlsm", "macros", "kept unchanged and never run"), packages.macros),
    Fault(
        "a signature",
        WARN,
        ("signature", "invalid"),
        packages.parts({"_xmlsignatures/sig1.xml": b"<Signature/>"}),
    ),
)
