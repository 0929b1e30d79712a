"""Rows cut at their own number read the same as by the parser, whatever else says that number."""

from __future__ import annotations

from typing import Any
from xml.sax.saxutils import escape

import pytest
from hypothesis import given
from hypothesis import strategies as st
from workbook_samples import sheet_xml

from fleetaudit.errors import WorkbookError
from fleetaudit.workbook import pieces
from fleetaudit.workbook.archive import Limits
from fleetaudit.workbook.formats import number_format
from fleetaudit.workbook.gathering import Readings, read_rows
from fleetaudit.workbook.place import column_letters
from fleetaudit.workbook.rows import SheetPart
from fleetaudit.workbook.values import Decoder

STRINGS = ["shared", "", '12"', " padded "]
FORMATS = ["General", "yyyy-mm-dd", '0.0" gpm"', "0.0", "[h]:mm"]


def read(rows: str, *, canonical: bool = True, limits: Limits | None = None) -> tuple[Readings, SheetPart]:
    part = SheetPart(sheet_xml(rows))
    assert part.canonical
    part.canonical = canonical
    formats = [number_format(code) for code in FORMATS]
    decoder = Decoder(STRINGS, formats, False, limits or Limits(), "a.xlsx")
    return read_rows(part, decoder), part


def told(readings: Readings) -> tuple[object, ...]:
    cells = readings.cells
    return repr(cells.values()), cells.special(), cells.n_rows, cells.n_columns, readings.hidden_rows


def cell(column: int, row: int, style: str, kind: int, text: str) -> str:
    where, shown = f'<c r="{column_letters(column)}{row}"{style}', escape(text)
    return (
        f"{where}/>",
        f"{where}></c>",
        f"{where}><v>{row}</v></c>",
        f"{where}><v>{row + 0.5}</v></c>",
        f'{where} t="s"><v>{row % len(STRINGS)}</v></c>',
        f'{where} t="inlineStr"><is><t xml:space="preserve">{shown}</t></is></c>',
        f'{where} t="inlineStr"><is><r><t>{shown}</t></r><r><t>{row}"</t></r></is></c>',
        f'{where} t="str"><f>A{row}</f><v>{shown}</v></c>',
        f'{where}><f t="shared" ref="A1:B{row}" si="0"/><v>7</v></c>',
        f"{where}><f>A1</f></c>",
        f'{where} t="e"><v>#N/A</v></c>',
        f'{where} t="b"><v>1</v></c>',
    )[kind]


@st.composite
def sheets(draw: Any) -> str:
    """Rows mostly one below the other, with blank, hidden, empty, repeated and disordered ones among them."""
    last, markup = 0, ""
    for _ in range(draw(st.integers(0, 12))):
        last = max(1, last + draw(st.sampled_from((1, 1, 1, 1, 2, 7, 0, -2))))
        columns = draw(st.lists(st.integers(1, 30), max_size=5, unique=draw(st.booleans())))
        columns = sorted(columns) if draw(st.integers(0, 4)) else columns
        styles = ("", "", f' s="{last}"', ' s="2"', f' s="1{last}"')
        texts = st.sampled_from((f'{last}"', f'{last}" 7', "plain", "", f'<c r="A{last}"', "a & b"))
        cells = "".join(
            cell(column, last, draw(st.sampled_from(styles)), draw(st.integers(0, 11)), draw(texts))
            for column in columns
        )
        tag = draw(st.sampled_from(("", ' spans="1:5"', ' hidden="1"', ' ht="0"', f' s="{last}" ht="20"')))
        gap = draw(st.sampled_from(("", "", "\n  ")))
        number = draw(st.sampled_from((f' r="{last}"',) * 4 + (f' customFormat="1" r="{last}"',)))
        markup += f"{gap}<row{number}{tag}/>" if not cells else f"{gap}<row{number}{tag}>{cells}{gap}</row>"
    return markup


@given(sheets())
def test_any_rows_read_the_same_by_pattern_and_by_the_parser(rows: str) -> None:
    assert told(read(rows)[0]) == told(read(rows, canonical=False)[0])


@given(sheets(), st.sampled_from((0, 2, 64)))
def test_pieces_that_are_forgotten_are_understood_again(rows: str, wide: int) -> None:
    expected = told(read(rows)[0])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pieces, "_MOST_KNOWN", 2)
        patch.setattr(pieces, "_WIDE", wide)
        assert told(read(rows)[0]) == expected


ROW = '<row r="{0}"><c r="A{0}" s="1"><v>5</v></c><c r="C{0}" t="s"><v>0</v></c></row>'


def test_usual_rows_are_not_taken_apart_cell_by_cell(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = "".join(map(ROW.format, [1, *range(4, 40)]))
    monkeypatch.delattr("fleetaudit.workbook.rows.Row.pieces")
    readings, part = read(rows.replace('s="1"', 's="0"'))
    assert part.canonical and readings.cells.columns[2].count(0) == 2
    assert readings.cells.row(39) == [5, None, "shared"]


@pytest.mark.parametrize(
    "row",
    [
        '<row r="1"><c r="A1"><v>1</v></c>text<c r="B1"><v>2</v></c></row>',
        '<row r="1"><c r="A1"><c r="B1"/></c></row>',
        '<row r="1"><c r="A1"><v>1</v></c><c r="B2"><v>2</v></c></row>',
        '<row r="1"><c r="A1"><v>1<!-- 1" --></v></c></row>',
        '<row r="1"><other a="1"><c r="A1"><v>1</v></c></other></row>',
        '<row r="1"> s="1"><c r="A1"><v>1</v></c></row>',
    ],
)
def test_rows_that_no_pattern_fits_are_left_to_the_parser(row: str) -> None:
    part = SheetPart(sheet_xml(row + ROW.format(2)))
    try:
        read_rows(part, Decoder(STRINGS, [], False, Limits(), "a.xlsx"))
    except ValueError as error:
        assert "not well-formed" in str(error) or "stands in row" in str(error)
    assert not part.canonical


def test_cells_that_are_only_styled_make_a_sheet_no_larger() -> None:
    styled = '<row r="{0}"><c r="A{0}"><v>1</v></c><c r="XFD{0}" s="3"/></row>'
    readings, _ = read("".join(map(styled.format, range(10, 20))) + '<row r="30"><c r="B30" s="3"/></row>')
    assert (readings.cells.n_rows, readings.cells.n_columns) == (19, 1)


@pytest.mark.parametrize(
    ("limits", "says"),
    [
        (Limits(rows=20), "has a value in row 21; at most 20 rows are read"),
        (Limits(columns=2), "has a value in column C; at most 2 columns are read"),
        (Limits(cells=60), "has a value in C21, which makes it 21 rows by 3 columns, more than 60 cells"),
    ],
)
def test_limits_hold_for_rows_that_look_like_those_before(limits: Limits, says: str) -> None:
    with pytest.raises(WorkbookError, match=says):
        read("".join(map(ROW.format, range(1, 30))), limits=limits)
