"""Files made to take memory, time or somebody else's files; each is a few lines of zip writing."""

from __future__ import annotations

import zipfile
from pathlib import Path

from . import packages
from .fault import HEADINGS, STOP, WARN, Build, Fault, fleet, sheet_of, sound, write

LAUGHS = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12))
HEAD_ROW = f'<row r="1">{packages.HEAD}</row>'


def _strings(content: bytes) -> Build:
    return packages.parts({"xl/sharedStrings.xml": content})


def _declared(size: int) -> Build:
    """Build a package whose directory declares a part of this size, which is not there."""

    def build(folder: Path) -> Path:
        path = packages.lying(folder)
        data = bytearray(path.read_bytes())
        central = data.rindex(packages.SHEET.encode()) - 46
        data[central + 24 : central + 28] = size.to_bytes(4, "little")
        path.write_bytes(data)
        return path

    return build


def _many_members(folder: Path) -> Path:
    path = fleet()(folder)
    with zipfile.ZipFile(path, "a") as package:
        for number in range(10_100):
            package.writestr(f"x/{number}", b"")
    return path


def _climbing(folder: Path) -> Path:
    path = fleet()(folder)
    with zipfile.ZipFile(path, "a") as package:
        package.writestr("../../climbed.txt", b"x")
        package.writestr("/etc/climbed.txt", b"x")
    return path


LONG_COLUMNS = (
    "Unit ID",
    "Account",
    "Vessel size",
    "Medium",
    "Mesh",
    "Restrictor (gpm)",
    "Media date",
    "Layers",
    "Crew",
)


def long_cells(text: str) -> Build:
    """Build a fleet with a text as long as cells take under each heading in turn, in two forms."""

    def build(folder: Path) -> Path:
        rows = [[*sound(number), None, None] for number in range(1, 2 * len(LONG_COLUMNS) + 3)]
        headings = [*HEADINGS, "Layers", "Crew"]
        for place, heading in enumerate(LONG_COLUMNS):
            for again in (0, 1):
                long = (text * (32_767 // len(text) + 1))[: (30_000 if text.isascii() else 15_000) + again]
                rows[2 * place + again][headings.index(heading)] = long
        return write(folder / "fleet.xlsx", {"Units": sheet_of(rows, headings)})

    return build


def odd_number(value: str) -> Build:
    """Build a fleet in which each column in turn holds a number as only a program would write it."""
    rows = [
        packages.HEAD
        + '<c t="inlineStr"><is><t>Media date</t></is></c><c t="inlineStr"><is><t>pH</t></is></c>'
    ]
    good = [
        *('<c t="inlineStr"><is><t>' + text + "</t></is></c>" for text in ("U", "10x54", "calcite", "5 gpm")),
        "<c/>",
        "<c/>",
    ]
    rows += ["".join(good)] * 3
    rows += [
        "".join([*good[:place], f"<c><v>{value}</v></c>", *good[place + 1 :]]) for place in range(len(good))
    ]
    return packages.sheet("".join(f"<row>{row}</row>" for row in rows))


def _tail(xml: str) -> Build:
    def change(text: bytes) -> bytes:
        return text.replace(b"</sheetData>", b"</sheetData>" + xml.encode())

    return packages.parts({packages.SHEET: change})


MERGES = "".join(f'<mergeCell ref="B{row}:B{row + 1}"/>' for row in range(2, 100_000, 2))

FAULTS = (
    Fault(
        "a cell in the farthest corner",
        STOP,
        ("fleet.xlsx", "1,048,576", "200,000"),
        packages.sheet(HEAD_ROW + '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'),
    ),
    Fault(
        "a row past the last",
        STOP,
        ("fleet.xlsx", "damaged"),
        packages.sheet(HEAD_ROW + '<row r="99999999999"><c><v>1</v></c></row>'),
    ),
    Fault(
        "more rows than allowed",
        STOP,
        ("fleet.xlsx", "200,000"),
        packages.sheet(HEAD_ROW + f"<row>{packages.UNIT}</row>" * 200_100),
    ),
    Fault("three million empty rows", STOP, ("fleet.xlsx",), packages.sheet("<row/>" * 3_000_000)),
    Fault(
        "text that grows a thousandfold",
        STOP,
        ("fleet.xlsx", "grows"),
        _strings(b"<sst>" + b" " * 300_000_000 + b"</sst>"),
    ),
    Fault("a part that claims four gigabytes", STOP, ("fleet.xlsx",), _declared(2**32 - 2)),
    Fault("ten thousand parts", STOP, ("fleet.xlsx", "10,000"), _many_members),
    Fault(
        "entities that multiply",
        STOP,
        ("fleet.xlsx", "document type declaration"),
        _strings(f'<!DOCTYPE s [<!ENTITY a0 "ha">{LAUGHS}]><sst><si><t>&a11;</t></si></sst>'.encode()),
    ),
    Fault(
        "an entity from outside",
        STOP,
        ("fleet.xlsx", "document type declaration"),
        _strings(b'<!DOCTYPE s [<!ENTITY a SYSTEM "file:///etc/hostname">]><sst><si><t>&a;</t></si></sst>'),
    ),
    Fault(
        "elements nested a hundred thousand deep",
        STOP,
        ("fleet.xlsx",),
        packages.parts(
            {"docProps/core.xml": b"<a>" * 100_000 + b"</a>" * 100_000, packages.SHEET: b"<a>" * 100_000}
        ),
    ),
    Fault(
        "a string that is not there",
        STOP,
        ("fleet.xlsx", "damaged"),
        packages.sheet(HEAD_ROW + '<row><c t="s"><v>99999999</v></c></row>'),
    ),
    Fault("fifty thousand merged ranges", WARN, ("grain",), _tail(f"<mergeCells>{MERGES}</mergeCells>")),
    Fault("names that climb out of the folder", WARN, ("grain",), _climbing),
    *(
        Fault(f"very long cells of {text!r}", WARN, ("grain",), long_cells(text))
        for text in (
            "1",
            "a 1 ",
            "x10",
            "(",
            "1/2 ",
            "50% ",
            "a, b 1 in; ",
            "\u00bd",
            "12-",
            "%a/",
            "'",
            '"',
            "a\n",
            "9" * 400 + "/7 ",
        )
    ),
    *(
        Fault(f"a number written {value[:9]}", WARN, ("grain",), odd_number(value))
        for value in (
            "1E999",
            "-1E999",
            "NaN",
            "INF",
            "1E308",
            "4" * 400,
            "-0",
            "1e-320",
            "0x10",
            "1_000",
            "\u0663",
        )
    ),
)
