"""Workbooks made by general libraries and by hand, as people, programs and attackers would make them.

All names and numbers in them are invented.
"""

from __future__ import annotations

import datetime as dt
import io
import re
import shutil
import struct
import subprocess
import zipfile
import zlib
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from openpyxl.comments import Comment
from openpyxl.worksheet.datavalidation import DataValidation

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
HEADINGS = ["Unit", "Vessel", "Media", "Restrictor gpm", "Rebed date", "Hours"]
UNITS = 12
HEADING_ROW = 3
FIRST_ROW, LAST_ROW = HEADING_ROW + 1, HEADING_ROW + UNITS


def unit_row(index: int) -> list[object]:
    """One invented unit."""
    day = dt.date(2019, 3, 1) + dt.timedelta(days=97 * index)
    media = ("carbon", "calcite", "sand")[index % 3]
    return [f"U-{index + 101}", ("10x54", "12x52", "13x54")[index % 3], media, 5 + index * 0.5, day, index]


def png(red: int = 200) -> bytes:
    """A picture of one pixel."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", 1, 1, 8, 2, 0, 0, 0)
    pixel = zlib.compress(bytes([0, red, 10, 10]))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixel) + chunk(b"IEND", b"")


def rich_workbook(path: Path) -> Path:
    """List with a filter among everything a spreadsheet program offers, written by XlsxWriter and by hand."""
    book = xlsxwriter.Workbook(str(path))
    units, other = book.add_worksheet("Units"), book.add_worksheet("Lists")
    far = book.add_worksheet("With local name")
    bold, day = (
        book.add_format({"bold": True, "bg_color": "#DDDDDD"}),
        book.add_format({"num_format": "d-mmm-yy"}),
    )
    flow = book.add_format({"num_format": '0.0" gpm"'})
    units.merge_range("A1:F1", "Fleet of an invented company", bold)
    units.write_row(HEADING_ROW - 1, 0, HEADINGS, bold)
    for index in range(UNITS):
        row, values = HEADING_ROW + index, unit_row(index)
        units.write_row(row, 0, values[:3])
        units.write_number(row, 3, values[3], flow)
        units.write_datetime(row, 4, dt.datetime.combine(values[4], dt.time()), day)
        units.write_formula(row, 5, f"=ROW()-{HEADING_ROW + 1}", None, index)
    units.autofilter(HEADING_ROW - 1, 0, HEADING_ROW - 1 + UNITS, 5)
    units.freeze_panes(HEADING_ROW, 1)
    units.set_row(HEADING_ROW + 4, None, None, {"hidden": True})
    units.set_column("B:B", 14)
    units.set_column("E:E", None, None, {"hidden": True})
    units.set_column("H:XFD", 9)
    units.data_validation("C4:C15", {"validate": "list", "source": "=Lists!$A$1:$A$3"})
    units.conditional_format("D4:D15", {"type": "data_bar", "data_bar_2010": True})
    units.conditional_format("A4:F15", {"type": "formula", "criteria": "=$D4>9", "format": bold})
    units.write_comment("B5", "Tank replaced by an invented crew")
    units.write_rich_string("C20", "plain ", bold, "bold", " end")
    units.insert_textbox("H18", "A text box")
    units.insert_image("H24", "dot.png", {"image_data": io.BytesIO(png())})
    units.add_sparkline("G2", {"range": "Units!D4:D15"})
    units.write_url("A22", "internal:'Lists'!A1", string="Lists")
    units.print_area("A1:F15")
    units.repeat_rows(HEADING_ROW - 1)
    units.protect("", {"sort": True, "autofilter": True})
    chart = book.add_chart({"type": "column"})
    chart.add_series({"values": "=Units!$D$4:$D$15", "categories": "=Units!$A$4:$A$15"})
    units.insert_chart("H2", chart)
    other.write_column(0, 0, ["carbon", "calcite", "sand"])
    far.write_row(0, 0, ["Part", "Stock"])
    far.write_row(1, 0, ["restrictor", 7])
    far.add_table("D1:F4", {"name": "Stock", "total_row": True, "columns": [
        {"header": "Part", "total_string": "Sum"}, {"header": "Rated"},
        {"header": "Count", "total_function": "sum"},
    ]})  # fmt: skip
    book.define_name("Everyone", "=Lists!$A$1:$A$3")
    book.define_name("'With local name'!Local", "='With local name'!$B$2")
    book.close()
    add_parts(
        path,
        {
            "customXml/item1.xml": b"<data xmlns='urn:invented'>kept</data>",
            "xl/threadedComments/threadedComment1.xml": b"<ThreadedComments xmlns='urn:invented'/>",
            "xl/slicers/slicer1.xml": b"<slicers xmlns='urn:invented'/>",
            "xl/externalLinks/externalLink1.xml": b"<externalLink xmlns='urn:invented'/>",
            "docProps/odd \u00e9.bin": b"\0\1\2",
        },
    )
    return path


def plain_workbook(path: Path) -> Path:
    """The same list by openpyxl, with a note, a choice list and a style, but no filter."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Units"
    sheet["A1"] = "Fleet of an invented company"
    for column, heading in enumerate(HEADINGS, start=1):
        sheet.cell(HEADING_ROW, column, heading)
    for index in range(UNITS):
        for column, value in enumerate(unit_row(index), start=1):
            sheet.cell(FIRST_ROW + index, column, value)
    sheet["A5"].comment = Comment("seen", "nobody")
    choice = DataValidation(type="list", formula1='"carbon,calcite,sand"')
    choice.add("C4:C15")
    sheet.add_data_validation(choice)
    book.create_sheet("Notes")["A1"] = "kept"
    book.save(path)
    return path


def table_workbook(path: Path, *, totals: bool = True, beside: bool = False, below: bool = False) -> Path:
    """The same list as a table (ListObject), written by XlsxWriter."""
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("Units")
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    rows = [unit_row(index) for index in range(UNITS)]
    columns: list[dict[str, object]] = [{"header": heading} for heading in HEADINGS]
    columns[4]["format"] = day
    columns[5]["total_function"] = "sum"
    last = HEADING_ROW - 1 + UNITS + int(totals)
    sheet.add_table(
        HEADING_ROW - 1, 0, last, 5, {"name": "Fleet", "data": rows, "columns": columns, "total_row": totals}
    )
    if beside:
        sheet.write("G6", "looked at twice")
    if below:
        sheet.write(LAST_ROW + 4, 6, "not in the list")
    book.close()
    return path


def add_parts(path: Path, parts: dict[str, bytes]) -> None:
    """Append members to a zip file."""
    with zipfile.ZipFile(path, "a") as package:
        for name, content in parts.items():
            package.writestr(name, content)


def members(path: Path) -> dict[str, bytes]:
    """Content of every member of a zip file."""
    with zipfile.ZipFile(path) as package:
        return {info.filename: package.read(info) for info in package.infolist()}


def packed_members(path: Path) -> dict[str, bytes]:
    """Compressed bytes of every member of a zip file, as they lie in it."""
    data, found = path.read_bytes(), {}
    with zipfile.ZipFile(path) as package:
        for info in package.infolist():
            name, extra = struct.unpack_from("<2H", data, info.header_offset + 26)
            start = info.header_offset + 30 + name + extra
            found[info.filename] = data[start : start + info.compress_size]
    return found


def rewrite(path: Path, changes: dict[str, bytes | None], target: Path | None = None) -> Path:
    """Write a zip file anew with some members replaced, added, or left out (None)."""
    content = {**members(path), **changes}
    target = target or path
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as package:
        for name, data in content.items():
            if data is not None:
                package.writestr(name, data)
    return target


def hand_made(
    path: Path, sheet: bytes, *, strict: bool = False, strings: bytes = b"", styles: bytes = b""
) -> Path:
    """A small workbook around one sheet part that is given as it is."""
    main = STRICT if strict else MAIN
    office = "http://purl.oclc.org/ooxml/officeDocument/relationships" if strict else (
        "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    )  # fmt: skip
    package = "http://schemas.openxmlformats.org/package/2006"
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    relations = [("worksheet", "worksheets/sheet1.xml")]
    overrides = [("xl/workbook.xml", "sheet.main"), ("xl/worksheets/sheet1.xml", "worksheet")]
    parts: dict[str, bytes] = {"xl/worksheets/sheet1.xml": sheet}
    for name, content, word in (("sharedStrings", strings, "sharedStrings"), ("styles", styles, "styles")):
        if content:
            relations.append((word, f"{name}.xml"))
            overrides.append((f"xl/{name}.xml", word))
            parts[f"xl/{name}.xml"] = content
    marks = "".join(
        f'<Relationship Id="rId{n}" Type="{office}/{word}" Target="{target}"/>'
        for n, (word, target) in enumerate(relations, start=1)
    )
    types = "".join(
        f'<Override PartName="/{name}" ContentType="{kind}.{word}+xml"/>' for name, word in overrides
    )
    types += (
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    )
    types += '<Default Extension="xml" ContentType="application/xml"/>'
    parts |= {
        "[Content_Types].xml": f'<Types xmlns="{package}/content-types">{types}</Types>'.encode(),
        "_rels/.rels": (
            f'<Relationships xmlns="{package}/relationships"><Relationship Id="rId1" '
            f'Type="{office}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
        ).encode(),
        "xl/workbook.xml": (
            f'<workbook xmlns="{main}" xmlns:r="{office}"><sheets><sheet name="Units" sheetId="1" '
            f'r:id="rId1"/>'
            f"</sheets></workbook>"
        ).encode(),
        "xl/_rels/workbook.xml.rels": (
            f'<Relationships xmlns="{package}/relationships">{marks}</Relationships>'
        ).encode(),
    }
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in parts.items():
            file.writestr(name, content)
    return path


def sheet_xml(rows: str, *, head: str = "", tail: str = "", namespace: str = MAIN) -> bytes:
    """A sheet part around some rows."""
    return f'<worksheet xmlns="{namespace}">{head}<sheetData>{rows}</sheetData>{tail}</worksheet>'.encode()


def to_macro_workbook(path: Path, target: Path) -> Path:
    """Turn a workbook into one with a macro part; the macro part is a few bytes that nothing could run."""
    content = members(path)
    types = content["[Content_Types].xml"].replace(b"sheet.main+xml", b"sheet.macroEnabled.main+xml")
    types = types.replace(b"spreadsheetml.sheet.macroEnabled", b"sheet.macroEnabled").replace(
        b"application/vnd.openxmlformats-officedocument.sheet.macroEnabled",
        b"application/vnd.ms-excel.sheet.macroEnabled",
    )
    return rewrite(path, {"[Content_Types].xml": types, "xl/vbaProject.bin": b"\xd0\xcf not a macro"}, target)


def convert(path: Path, kind: str, folder: Path) -> Path:
    """Let LibreOffice read a file and save it as another kind."""
    if shutil.which("soffice") is None:
        pytest.skip("LibreOffice is not installed")
    profile = folder / "profile"
    subprocess.run(
        ["soffice", f"-env:UserInstallation=file://{profile}", "--headless", "--convert-to", kind, "--outdir",
         str(folder / "converted"), str(path)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return folder / "converted" / f"{path.stem}.{kind}"


def without_spans(xml: str) -> str:
    """Sheet markup without the hints that may grow when cells are added."""
    return re.sub(r' spans="[^"]*"|<dimension [^>]*/>', "", xml)


def record(kind: int, body: bytes = b"") -> bytes:
    """A record of the binary kind: its number and its size by seven bits a byte (MS-XLSB 2.1.4)."""
    head = bytes([kind]) if kind < 128 else bytes([kind & 0x7F | 0x80, kind >> 7])
    return head + bytes([len(body)]) + body


def wide(text: str) -> bytes:
    return struct.pack("<L", len(text)) + text.encode("utf-16-le")


def binary_cell(column: int, kind: int, body: bytes = b"") -> bytes:
    return record(kind, struct.pack("<LL", column, 0) + body)


def binary_row(row: int) -> bytes:
    return record(0, struct.pack("<L", row) + bytes(13))


def binary_workbook(path: Path, rows: bytes) -> Path:
    """The least binary workbook, by MS-XLSB 2.4: no library at hand writes one."""
    office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006"

    def relations(kind: str, target: str) -> str:
        inside = f'<Relationship Id="rId1" Type="{office}/{kind}" Target="{target}"/>'
        return f'<Relationships xmlns="{package}/relationships">{inside}</Relationships>'

    main = "application/vnd.ms-excel.sheet.binary.macroEnabled.main"
    sheet = record(156, struct.pack("<LL", 0, 1) + wide("rId1") + wide("Units"))
    with zipfile.ZipFile(path, "w") as file:
        override = f'<Override PartName="/xl/workbook.bin" ContentType="{main}+xml"/>'
        file.writestr("[Content_Types].xml", f'<Types xmlns="{package}/content-types">{override}</Types>')
        file.writestr("_rels/.rels", relations("officeDocument", "xl/workbook.bin"))
        file.writestr("xl/_rels/workbook.bin.rels", relations("worksheet", "worksheets/sheet1.bin"))
        file.writestr("xl/workbook.bin", record(131) + record(143) + sheet + record(144) + record(132))
        content = record(129) + record(148, bytes(16)) + record(145) + rows + record(146) + record(130)
        file.writestr("xl/worksheets/sheet1.bin", content)
    return path
