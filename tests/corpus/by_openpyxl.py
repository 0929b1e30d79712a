"""Workbooks that openpyxl writes: layouts of the list, and all that people type into cells."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.chart import BarChart, Reference
from openpyxl.comments import Comment
from openpyxl.drawing.image import Image
from openpyxl.formatting.rule import CellIsRule, ColorScaleRule
from openpyxl.styles import Font, PatternFill, Protection
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.table import Table, TableColumn
from workbook_samples import png

from .case import (
    GPM_M3_S,
    HEADINGS,
    INCH_M,
    OPENPYXL,
    UNITS,
    Build,
    Case,
    Row,
    day,
    unit,
    units,
    usual,
    with_column,
)
from .office import Office

SHEET = "Units"
Edit = Callable[[Any], None]
DOTTED = ("Unit ID", "Vessel size", "Medium")


def book_of(rows: Sequence[Sequence[object]], edit: Edit | None = None, sheet: str = SHEET) -> Build:
    """Build a workbook of these rows; text stays text whatever it looks like."""

    def build(path: Path, _office: Office) -> Path:
        book = openpyxl.Workbook()
        page = book.active
        page.title = sheet
        for row in rows:
            page.append(list(row))
        if edit is not None:
            edit(page)
        book.save(path)
        return path

    return build


def fleet() -> list[Row]:
    """Headings and sound units."""
    return [list(HEADINGS), *units()]


def style(heading: str, code: str) -> Edit:
    """Give a column a number format."""

    def edit(page: Any) -> None:
        column = HEADINGS.index(heading) + 1
        for row in range(2, page.max_row + 1):
            page.cell(row, column).number_format = code

    return edit


def _hide(page: Any) -> None:
    for row in (3, 5):
        page.row_dimensions[row].hidden = True
    page.column_dimensions["F"].hidden = True


def _filtered(page: Any) -> None:
    page.auto_filter.ref = f"A1:F{UNITS + 1}"
    page.auto_filter.add_filter_column(2, ["calcite"])
    page.auto_filter.add_sort_condition(f"D2:D{UNITS + 1}")
    for row in range(2, UNITS + 2):
        page.row_dimensions[row].hidden = page.cell(row, 3).value != "calcite"


def _protect(page: Any) -> None:
    page.protection.sheet = True
    page.protection.password = "invented"
    for row in page["D2:D7"]:
        row[0].protection = Protection(locked=False)


def _print_setup(page: Any) -> None:
    page.print_area = "A1:F7"
    page.print_title_rows = "1:1"
    page.oddHeader.center.text = "Fleet of an invented company"
    page.page_setup.orientation = "landscape"


def _lists(page: Any) -> None:
    lists = page.parent.create_sheet("Lists")
    for row, name in enumerate(("activated carbon", "calcite", "filter sand"), 1):
        lists.cell(row, 1, name)
    page.parent.defined_names["MediaNames"] = DefinedName("MediaNames", attr_text="Lists!$A$1:$A$3")
    page.defined_names["Local"] = DefinedName("Local", attr_text="Units!$B$2")
    for formula, cells in (("MediaNames", "C2:C7"), ("Lists!$A$1:$A$3", "C8:C9")):
        choice = DataValidation(type="list", formula1=formula, allow_blank=True)
        choice.add(cells)
        page.add_data_validation(choice)


def _decorate(page: Any) -> None:
    page["A2"].comment = Comment("seen twice", "nobody")
    page["A3"].hyperlink = "https://example.invalid/u"
    page["A1"].font = Font(bold=True, color="FFFFFFFF")
    page["A1"].fill = PatternFill("solid", fgColor="FF224466")
    page.conditional_formatting.add(
        "D2:D7", CellIsRule(operator="greaterThan", formula=["10"], font=Font(bold=True))
    )
    page.conditional_formatting.add(
        "D2:D7", ColorScaleRule(start_type="min", end_type="max", start_color="FFFFFF", end_color="00FF00")
    )
    page.freeze_panes = "B2"
    page.row_dimensions.group(4, 5, outline_level=1)
    page.sheet_view.zoomScale = 85


def _pictures(page: Any) -> None:
    chart = BarChart()
    chart.add_data(Reference(page, min_col=4, min_row=1, max_row=7), titles_from_data=True)
    page.add_chart(chart, "H12")
    image = Image(BytesIO(png()))
    page.add_image(image, "H2")


def _table(page: Any) -> None:
    table = Table(displayName="Fleet", ref=f"A1:F{UNITS + 1}")
    page.add_table(table)


def _totals_table(page: Any) -> None:
    page.append(["Total", None, None, None, None, None])
    table = Table(displayName="Fleet", ref=f"A1:F{UNITS + 2}", totalsRowCount=1)
    table.autoFilter = None
    table._initialise_columns()
    for column, heading in zip(table.tableColumns, HEADINGS, strict=True):
        assert isinstance(column, TableColumn)
        column.name = heading
    table.tableColumns[0].totalsRowLabel = "Total"
    page.add_table(table)


def _two_rows(page: Any) -> None:
    page.merge_cells("B1:C1")
    page.merge_cells("D1:E1")


def _banner(page: Any) -> None:
    page.merge_cells("A1:F1")
    page.merge_cells("A2:C2")


def _epoch(page: Any) -> None:
    page.parent.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904


def _hidden_sheets(page: Any) -> None:
    page.parent.create_sheet("Old")["A1"] = "kept"
    page.parent["Old"].sheet_state = "hidden"
    page.parent.create_sheet("Very old")["A1"] = "kept too"
    page.parent["Very old"].sheet_state = "veryHidden"
    page.parent.create_chartsheet("Chart").add_chart(BarChart())


def _stray(page: Any) -> None:
    page["A1048576"].fill = PatternFill("solid", fgColor="FFEEEEEE")


def _stray_row(page: Any) -> None:
    page.row_dimensions[9000].height = 30


def _merged_accounts(page: Any) -> None:
    page.merge_cells("C2:C4")


def _formula_results(page: Any) -> None:
    page["D3"] = "=4*2"
    page["F2"] = "=SUM(D2:D7)"


def _properties(page: Any) -> None:
    book = page.parent
    book.properties.title = "Fleet of an invented company"
    book.properties.keywords = "invented"
    book.security.workbookPassword = "invented"
    book.security.lockStructure = True


def _second_block() -> list[Sequence[object]]:
    return [
        *fleet(),
        [],
        ["Part", "Restrictor gpm", "Stock", "Media", "Price", "Vessel"],
        ["washer", 5, 7, "x", 1, "y"],
        ["washer", 8, 9, "x", 1, "y"],
    ]


def _gap() -> list[Sequence[object]]:
    return [*fleet(), [], [], *(unit(number) for number in range(7, 10))]


def _messy(heading: str, value: object) -> list[Row]:
    return with_column(heading, [value])


def column(heading: str, title: str, values: Sequence[object]) -> list[Row]:
    """Sound units with a heading and its values replaced."""
    rows = with_column(heading, values)
    rows[0][HEADINGS.index(heading)] = title
    return rows


DATES = {
    "Media date": "media_date_day",
    "Vessel size": "vessel_diameter_m",
    "Restrictor (gpm)": "restrictor_m3_s",
}


def case(
    name: str, shows: Sequence[str], rows: Sequence[Sequence[object]], edit: Edit | None = None, **more: Any
) -> Case:
    """One case with what sound units say, unless told otherwise."""
    return Case(
        name,
        OPENPYXL,
        tuple(shows),
        book_of(rows, edit, more.get("sheet", SHEET)),
        **{"reads": usual(), **more},
    )


def _cell(row: int, key: str, value: object) -> dict[tuple[int, str], object]:
    return {(row, key): value}


CASES = (
    case("plain list", ["workbook", "transitional"], fleet()),
    case(
        "two rows of headings",
        ["two-row headings"],
        [
            ["Unit", "Vessel", None, "Flow", None, ""],
            ["ID", "size", "Medium", "restrictor (gpm)", "Media date", "h"],
            *units(),
        ],
        _two_rows,
        reads=usual(3),
        heading_row=2,
    ),
    case(
        "merged banners above",
        ["merged banner"],
        [["Fleet of an invented company"], ["as typed by many hands"], [], *fleet()],
        _banner,
        reads=usual(5),
        heading_row=4,
        told=("headings found in row 4",),
    ),
    case(
        "label block above",
        ["merged banner"],
        [["Region", "north"], ["Printed", dt.date(2026, 1, 2)], [], *fleet()],
        reads=usual(5),
        heading_row=4,
    ),
    case("another list below", ["several blocks"], _second_block(), told=("another list with headings",)),
    case(
        "list that goes on below a gap",
        ["several blocks"],
        _gap(),
        units=9,
        reads={**usual(), (10, "unit_id"): "U-007"},
        told=("goes on below",),
    ),
    case(
        "totals and average below",
        ["totals row"],
        [*fleet(), ["Total", None, None, 50, None, 21], ["Average", None, None, 8.3, None, 3.5]],
        told=("rows 8, 9: totals; left out",),
    ),
    case(
        "headings again in the middle",
        ["repeated headings"],
        [*fleet()[:4], list(HEADINGS), *fleet()[4:]],
        told=("row 5: the headings again",),
    ),
    case("hidden rows and column", ["hidden rows"], fleet(), _hide, told=("2 rows are hidden; audited",)),
    case(
        "rows hidden by a filter, with its sort state",
        ["autofilter", "hidden rows"],
        fleet(),
        _filtered,
        told=("4 rows are hidden",),
    ),
    case(
        "size that became a date",
        ["size became a date"],
        _messy("Vessel size", dt.date(1954, 10, 1)),
        lambda page: setattr(page["B2"], "number_format", "mmm-yy"),
        reads=_cell(2, "vessel_diameter_m", None),
        told=("Was it 10x54?",),
    ),
    case(
        "size that became a day of this year",
        ["size became a date"],
        _messy("Vessel size", dt.date(2026, 10, 12)),
        lambda page: setattr(page["B2"], "number_format", "d-mmm"),
        reads=_cell(2, "vessel_diameter_m", None),
        told=("Was it 10x12 or 12x10?",),
    ),
    case(
        "numbers stored as text",
        ["numbers stored as text"],
        with_column("Restrictor (gpm)", [" 5", "8 ", "12.0", "5", "8", "12"]),
        reads={(2, "restrictor_m3_s"): 5 * GPM_M3_S, (4, "restrictor_m3_s"): 12 * GPM_M3_S},
        told=("6 numbers stored as text",),
    ),
    case(
        "unit only in the number format",
        ["unit in the number format"],
        column("Restrictor (gpm)", "Restrictor", [20.0]),
        style("Restrictor (gpm)", '0.0" L/min"'),
        reads=_cell(2, "restrictor_m3_s", 20e-3 / 60),
    ),
    case(
        "unit in brackets of the number format",
        ["unit in the number format"],
        column("Restrictor (gpm)", "Restrictor", [6]),
        style("Restrictor (gpm)", "0.0 [$gpm]"),
        reads=_cell(2, "restrictor_m3_s", 6 * GPM_M3_S),
    ),
    case(
        "error cells",
        ["error cells"],
        with_column("Restrictor (gpm)", ["#N/A", "#DIV/0!", "#REF!"]),
        reads={(2, "restrictor_m3_s"): None, (3, "restrictor_m3_s"): None},
        told=("holds #N/A", "holds #DIV/0!", "holds #REF!"),
    ),
    case(
        "formulas never calculated",
        ["formulas without a result"],
        fleet(),
        _formula_results,
        reads=_cell(3, "restrictor_m3_s", None),
        told=("formula without a stored result",),
    ),
    case(
        "dates with the day first",
        ["day-first dates"],
        with_column(
            "Media date", ["03/04/2023", "25/12/2022", "01/02/2023", "5/6/22", "07.08.2022", "9-9-2021"]
        ),
        reads={(2, "media_date_day"): day(2023, 4, 3), (3, "media_date_day"): day(2022, 12, 25)},
        told=("day",),
    ),
    case(
        "dates with the month first",
        ["month-first dates"],
        with_column("Media date", ["03/04/2023", "12/25/2022", "01/02/2023"]),
        reads={(2, "media_date_day"): day(2023, 3, 4), (3, "media_date_day"): day(2022, 12, 25)},
        told=("month",),
    ),
    case(
        "dates in many spellings",
        ["day-first dates"],
        with_column("Media date", ["2023-04-03", "3 April 2023", "Apr 3, 2023", 45019, "Apr 2023", "2023"]),
        reads={(row, "media_date_day"): day(2023, 4, 3) for row in (2, 3, 4, 5)},
    ),
    case(
        "names with leading zeros",
        ["leading zeros"],
        with_column("Unit ID", ["007", "00012", "0100"]),
        reads={(2, "unit_id"): "007", (3, "unit_id"): "00012"},
    ),
    case(
        "names padded by their format",
        ["leading zeros"],
        with_column("Unit ID", [7, 12, 100]),
        lambda page: [setattr(page.cell(row, 1), "number_format", "00000") for row in (2, 3, 4)],
        reads={(2, "unit_id"): "00007", (3, "unit_id"): "00012"},
    ),
    case(
        "no-break and thin spaces",
        ["no-break spaces"],
        with_column("Vessel size", ["10\u00a0x\u00a054", " 12\u2009x\u200952", "\u200b13x54\u00a0"]),
        reads={
            (2, "vessel_diameter_m"): 10 * INCH_M,
            (3, "vessel_height_m"): 52 * INCH_M,
            (4, "vessel_diameter_m"): 13 * INCH_M,
        },
    ),
    case(
        "full-width digits",
        ["full-width digits"],
        with_column("Vessel size", ["\uff11\uff10\uff58\uff15\uff14", "\uff11\uff12\u00d7\uff15\uff12"]),
        reads={(2, "vessel_diameter_m"): 10 * INCH_M, (3, "vessel_diameter_m"): 12 * INCH_M},
    ),
    case(
        "decimal comma",
        ["decimal comma"],
        with_column("Restrictor (gpm)", ["5,5", "8,25", "0,75", "7,5", "8,5", "12,5"]),
        reads={(2, "restrictor_m3_s"): 5.5 * GPM_M3_S, (3, "restrictor_m3_s"): 8.25 * GPM_M3_S},
        told=("commas are taken for the mark of decimals",),
    ),
    case(
        "a comma that could be either",
        ["decimal comma"],
        _messy("Restrictor (gpm)", "1,5"),
        reads=_cell(2, "restrictor_m3_s", None),
        told=("could be 1.5 or 15",),
    ),
    case(
        "fractions and inch marks",
        ["fractions", "inch marks"],
        with_column(
            "Vessel size",
            [
                '9 1/2" x 48"',
                "9\u00bd\u2033\u00d748\u2033",
                "10'' x 54''",
                "10 in x 54 in",
                "9-1/2 x 48",
                "13\u201d x 54\u201d",
            ],
        ),
        reads={
            (2, "vessel_diameter_m"): 9.5 * INCH_M,
            (3, "vessel_diameter_m"): 9.5 * INCH_M,
            (4, "vessel_diameter_m"): 10 * INCH_M,
            (5, "vessel_height_m"): 54 * INCH_M,
            (6, "vessel_diameter_m"): 9.5 * INCH_M,
            (7, "vessel_diameter_m"): 13 * INCH_M,
        },
    ),
    case(
        "fractions in the flow",
        ["fractions"],
        with_column("Restrictor (gpm)", ["2 1/2", "\u00be", "1\u00bd gpm"]),
        reads={
            (2, "restrictor_m3_s"): 2.5 * GPM_M3_S,
            (3, "restrictor_m3_s"): 0.75 * GPM_M3_S,
            (4, "restrictor_m3_s"): 1.5 * GPM_M3_S,
        },
    ),
    case(
        "metric sizes",
        ["workbook"],
        with_column("Vessel size", ["250x1370 mm", "330 x 1370 mm"]),
        reads={(2, "vessel_diameter_m"): 0.25, (3, "vessel_height_m"): 1.37},
    ),
    case(
        "two vessels in one cell",
        ["workbook"],
        with_column("Vessel size", ["2 x 10x54"]),
        reads={(2, "vessel_diameter_m"): 10 * INCH_M, (2, "vessels"): 2.0},
        told=("2 vessels of 10x54",),
    ),
    case("protected sheet with a password", ["protected sheet"], fleet(), _protect),
    case(
        "print area, titles and header",
        ["print area"],
        fleet(),
        _print_setup,
        told=("prints only its print area",),
    ),
    case("dates counted from 1904", ["1904 dates"], fleet(), _epoch),
    case("drop-downs from another sheet and local names", ["drop-down from another sheet"], fleet(), _lists),
    case("notes, links, rules, groups", ["workbook"], fleet(), _decorate),
    case("chart and picture", ["picture"], fleet(), _pictures),
    case("table", ["autofilter"], fleet(), _table),
    case("table with totals", ["table with totals", "totals row"], fleet(), _totals_table),
    case("hidden sheets and a chart sheet", ["workbook"], fleet(), _hidden_sheets),
    case("formatting down to the last row", ["workbook"], fleet(), _stray, told=("claims 1,048,576 rows",)),
    case("a high row far below", ["workbook"], fleet(), _stray_row),
    case(
        "medium merged over three rows",
        ["merged cells in the list"],
        fleet(),
        _merged_accounts,
        reads={(3, "restrictor_m3_s"): 12 * GPM_M3_S},
        told=("is merged", "used for rows 2-4"),
    ),
    case(
        "locked structure and properties",
        ["protected sheet"],
        fleet(),
        _properties,
        told=("locks its list of sheets",),
    ),
    case("sheet with a name to quote", ["workbook"], fleet(), sheet="Bob's 1st units"),
    case(
        "formula-like text and control signs",
        ["workbook"],
        with_column("Unit ID", ["=1+1", "+1", "-1", "@x", "a_x000D_b", "<b>&amp;"]),
        lambda page: [setattr(page.cell(row, 1), "data_type", "s") for row in range(2, 8)],
        reads={(2, "unit_id"): "=1+1", (3, "unit_id"): "+1"},
    ),
)
