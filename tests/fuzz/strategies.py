"""Workbooks with damaged markup, and workbooks whose cells hold anything at all."""

from __future__ import annotations

import io
import re
import zipfile
from functools import cache
from typing import Any
from xml.sax.saxutils import escape

import openpyxl
import xlsxwriter
from hypothesis import strategies as st
from openpyxl.worksheet.table import Table

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
HEADINGS = ("Unit ID", "Vessel size", "Medium", "Restrictor (gpm)", "Media date", "Crew")
ROWS = (
    ("U-1", "10x54", "activated carbon", 5, 45000, "north"),
    ("U-2", "12x52", "calcite", 8, 45100, "south"),
    ("U-3", "13x54", "filter sand", 12, 45200, "north"),
)

#: pieces of markup that mean something to a reader, most of them where they should not stand
TOKENS = tuple(
    token.encode()
    for token in (
        "<",
        ">",
        "&",
        '"',
        "'",
        "/>",
        "</row>",
        "<row>",
        '<row r="0">',
        '<row r="1048577"/>',
        "</sheetData>",
        "<sheetData>",
        "<sheetData/>",
        '<c r="XFD1048576"><v>1</v></c>',
        '<c r="A0"/>',
        '<c r="ZZZZ1"/>',
        '<c r="a1"><v>1</v></c>',
        '<c t="s"><v>99999</v></c>',
        '<c t="s"><v>-1</v></c>',
        '<c t="e"><v>#N/A</v></c>',
        '<c t="b"><v>2</v></c>',
        '<c t="d"><v>2024-99-99</v></c>',
        "<c><f>1/0</f></c>",
        "<v>1e999</v>",
        "<v>NaN</v>",
        "<v>--5</v>",
        "<v>0x10</v>",
        "<v>1_000</v>",
        "<v/>",
        "<is/>",
        "<t/>",
        "&#0;",
        "&#55296;",
        "&nbsp;",
        "&amp;",
        "&#x1F4A7;",
        "_x0000_",
        "_xD800_",
        "]]>",
        "<![CDATA[",
        "<!--",
        "-->",
        "<?x?>",
        "<!DOCTYPE a>",
        "\x00",
        "\x0b",
        "\ufffe",
        'r="A1"',
        's="99999"',
        's="-1"',
        't="inlineStr"',
        'ref="A1:A0"',
        'ref="XFE1"',
        'spans="9:1"',
        'hidden="1"',
        'min="0"',
        'max="99999"',
        'count="-1"',
        'xmlns="urn:x"',
        'xmlns:x="urn:x"',
        "<x:row/>",
        '<mergeCell ref="A1:XFD1048576"/>',
        '<col min="1" max="16384" width="0"/>',
        '<autoFilter ref="A1:B2"/>',
        '<dimension ref="A1"/>',
        "<cols/>",
        "<extLst/>",
        'date1904="1"',
        'localSheetId="99"',
        'r:id="rId99"',
        'Target="../../../x"',
        'Target=""',
        'TargetMode="External"',
        "1",
        "-",
        "9" * 40,
        " " * 300,
        "\u00a0",
    )
)
SURROGATES = b"\xed\xa0\x80"
Parts = dict[str, bytes]


def _parts(data: bytes) -> Parts:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {info.filename: package.read(info) for info in package.infolist()}


def package(parts: Parts) -> bytes:
    """Bytes of a zip file of parts."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in parts.items():
            file.writestr(name, content)
    return out.getvalue()


@cache
def bases() -> tuple[Parts, ...]:
    """A list with strings apart and a filter, one with strings in line, and one as a table."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out)
    page = book.add_worksheet("Units")
    for number, row in enumerate((HEADINGS, *ROWS)):
        page.write_row(number, 0, row)
    page.autofilter("A1:F4")
    page.set_column("C:C", 18)
    page.conditional_format("D2:D4", {"type": "data_bar", "data_bar_2010": True})
    page.write_formula("H2", "=D2*2", None, 10)
    book.define_name("Units!Local", "=Units!$A$1")
    book.close()
    first = _parts(out.getvalue())
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"constant_memory": True})
    page = book.add_worksheet("Units")
    for number, row in enumerate((HEADINGS, *ROWS)):
        page.write_row(number, 0, row)
    book.add_worksheet("Notes").write("A1", "kept")
    book.close()
    second = _parts(out.getvalue())
    made: Any = openpyxl.Workbook()
    sheet = made.active
    sheet.title = "Units"
    for row in (HEADINGS, *ROWS):
        sheet.append(row)
    sheet.add_table(Table(displayName="Fleet", ref="A1:F4"))
    out = io.BytesIO()
    made.save(out)
    return first, second, _parts(out.getvalue())


_TAG = re.compile(rb"<[^<>]*>")
_NUMBER = re.compile(rb"\d+")


@st.composite
def damaged_markup(draw: st.DrawFn) -> bytes:
    """A workbook with one to four changes to its markup, most of them in the sheet."""
    parts = dict(draw(st.sampled_from(bases())))
    xml = [name for name in parts if name.endswith((".xml", ".rels"))]
    sheet = "xl/worksheets/sheet1.xml"
    for _ in range(draw(st.integers(1, 4))):
        name = draw(st.sampled_from([sheet] * 8 + xml))
        parts[name] = _damage(draw, parts[name])
    if draw(st.integers(0, 30)) == 0:
        del parts[draw(st.sampled_from(sorted(parts)))]
    return package(parts)


def _damage(draw: st.DrawFn, part: bytes) -> bytes:
    kind = draw(
        st.sampled_from(["insert", "insert at tag", "cut", "twice", "byte", "number", "tag away", "swap"])
    )
    at = draw(st.integers(0, max(len(part) - 1, 0)))
    if kind == "insert":
        return part[:at] + draw(st.sampled_from((*TOKENS, SURROGATES, b"\xff"))) + part[at:]
    if kind in ("insert at tag", "tag away", "swap"):
        return _at_tag(draw, part, kind)
    if kind in ("cut", "twice"):
        end = min(at + draw(st.integers(1, 60)), len(part))
        return part[:at] + part[at:end] * (2 if kind == "twice" else 0) + part[end:]
    if kind == "byte":
        return part[:at] + bytes([draw(st.integers(0, 255))]) + part[at + 1 :]
    numbers = list(_NUMBER.finditer(part))
    if not numbers:
        return part
    place = draw(st.sampled_from(numbers))
    new = draw(
        st.sampled_from([b"0", b"-1", b"1", b"2", b"16385", b"1048577", b"4294967296", b"1.5", b"", b"x"])
    )
    return part[: place.start()] + new + part[place.end() :]


def _at_tag(draw: st.DrawFn, part: bytes, kind: str) -> bytes:
    tags = list(_TAG.finditer(part))
    if not tags:
        return part
    tag = draw(st.sampled_from(tags))
    if kind == "insert at tag":
        return part[: tag.start()] + draw(st.sampled_from(TOKENS)) + part[tag.start() :]
    if kind == "tag away":
        return part[: tag.start()] + part[tag.end() :]
    other = draw(st.sampled_from(tags))
    first, second = sorted((tag, other), key=lambda found: found.start())
    if first.end() > second.start():
        return part
    return b"".join(
        (part[: first.start()], second[0], part[first.end() : second.start()], first[0], part[second.end() :])
    )


@st.composite
def damaged_bytes(draw: st.DrawFn) -> bytes:
    """A workbook with some bytes of the zip file itself changed, cut or repeated."""
    data = package(dict(draw(st.sampled_from(bases()))))
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(data) - 1))
        kind = draw(st.sampled_from(["byte", "cut", "twice", "end"]))
        if kind == "byte":
            data = data[:at] + bytes([draw(st.integers(0, 255))]) + data[at + 1 :]
        elif kind == "end":
            data = data[: max(at, 1)]
        else:
            end = at + draw(st.integers(1, 40))
            data = data[:at] + data[at:end] * (2 if kind == "twice" else 0) + data[end:]
        data = data or b"x"
    return data


PLAIN_TEXT = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\ufffe\uffff"), max_size=25
)
KNOWN = st.sampled_from(
    [
        "10x54",
        "2 x 10x54",
        '9 1/2"x48"',
        "250x1370 mm",
        "1054",
        "10-54",
        "carbon",
        "sand",
        "resin",
        "5 gpm",
        "19 L/min",
        "1,5",
        "1.234,5",
        "½",
        "５",
        "N/A",
        "unknown",
        "~5",
        "5-7",
        "03/04/2023",
        "13/04/2023",
        "Apr 2023",
        "2023",
        "yes",
        "removed",
        "#N/A",
        "#REF!",
        "total",
        "Unit ID",
        "Vessel size",
        "Audit: verdict",
        "=1+1",
        "1e400",
        "-0",
        "10x10x10",
        "0x0",
        "99999x99999",
        "1/0",
        "4 1/0",
        "x",
        "\u200b",
        "\u00a0",
        "_x0041_",
    ]
)
CELLS = st.one_of(
    st.none(),
    KNOWN,
    KNOWN,
    PLAIN_TEXT,
    st.integers(-(10**18), 10**18),
    st.integers(0, 60),
    st.floats(allow_nan=False, allow_infinity=False),
    st.floats(0, 60_000),
    st.booleans(),
    st.sampled_from(["error:#N/A", "error:#VALUE!", "formula:", "formula:5"]),
)
FORMATS = (
    "General",
    '0.0" gpm"',
    "yyyy-mm-dd",
    "mmm-yy",
    "d-mmm",
    "[h]:mm",
    "0%",
    "00000",
    "0.0 [$L/min]",
    "@",
    "#,##0;[Red]-#",
)
TITLES = st.sampled_from(
    [
        *HEADINGS,
        "Diameter",
        "Height",
        "Volume (ft3)",
        "Mesh",
        "Install date",
        "Status",
        "Coldest water (F)",
        "pH",
        "Housing",
        "Vessels",
        "Account",
        "Audit: verdict",
        "Audit: low",
        "Flow",
        "",
        "Wash minutes",
        "Freeboard (in)",
    ]
)


@st.composite
def odd_cells(draw: st.DrawFn) -> bytes:
    """A list under usual headings, in any order, whose cells hold anything in any format."""
    titles = draw(st.lists(TITLES, min_size=3, max_size=9))
    titles[:2] = draw(st.permutations(["Vessel size", "Medium"]))
    rows = [
        titles,
        *draw(st.lists(st.lists(CELLS, min_size=len(titles), max_size=len(titles)), min_size=1, max_size=6)),
    ]
    first = draw(st.integers(1, 4))
    marks = []
    for number, row in enumerate(rows, first):
        cells = "".join(_cell(f"{chr(65 + column)}{number}", value, draw) for column, value in enumerate(row))
        hidden = ' hidden="1"' if draw(st.integers(0, 9)) == 0 else ""
        marks.append(f'<row r="{number}"{hidden}>{cells}</row>')
    merge = ""
    if draw(st.integers(0, 5)) == 0:
        column = chr(65 + draw(st.integers(0, len(titles) - 1)))
        merge = f'<mergeCells><mergeCell ref="{column}{first + 1}:{column}{first + len(rows)}"/></mergeCells>'
    sheet = f'<worksheet xmlns="{MAIN}"><sheetData>{"".join(marks)}</sheetData>{merge}</worksheet>'
    parts = dict(bases()[1])
    parts["xl/worksheets/sheet1.xml"] = sheet.encode()
    codes = "".join(
        f'<numFmt numFmtId="{170 + n}" formatCode="{escape(code, {chr(34): "&quot;"})}"/>'
        for n, code in enumerate(FORMATS)
    )
    formats = "".join(f'<xf numFmtId="{170 + n}"/>' for n in range(len(FORMATS)))
    parts["xl/styles.xml"] = (
        f'<styleSheet xmlns="{MAIN}"><numFmts count="{len(FORMATS)}">{codes}</numFmts>'
        f'<fonts count="1"><font/></fonts>'
        f'<fills count="1"><fill/></fills><borders count="1"><border/></borders>'
        f'<cellXfs count="{len(FORMATS)}">{formats}</cellXfs></styleSheet>'
    ).encode()
    return package(parts)


def _cell(place: str, value: object, draw: st.DrawFn) -> str:
    style = f' s="{draw(st.integers(0, len(FORMATS) - 1))}"' if draw(st.booleans()) else ""
    if value is None:
        return f'<c r="{place}"{style}/>' if style else ""
    if isinstance(value, bool):
        return f'<c r="{place}"{style} t="b"><v>{int(value)}</v></c>'
    if isinstance(value, int | float):
        return f'<c r="{place}"{style}><v>{value!r}</v></c>'
    text = str(value)
    if text.startswith("error:"):
        return f'<c r="{place}"{style} t="e"><v>{text[6:]}</v></c>'
    if text.startswith("formula:"):
        result = f"<v>{text[8:]}</v>" if text[8:] else ""
        return f'<c r="{place}"{style}><f>A1</f>{result}</c>'
    return f'<c r="{place}"{style} t="inlineStr"><is><t xml:space="preserve">{escape(text)}</t></is></c>'
