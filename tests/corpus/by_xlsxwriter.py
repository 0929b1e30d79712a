"""Workbooks that XlsxWriter writes: tables, stored results, shapes, extensions, texts in line."""

# ruff: noqa: DTZ001  the cells of a workbook know no time zone
from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import xlsxwriter
from workbook_samples import png

from .case import GPM_M3_S, HEADINGS, UNITS, XLSXWRITER, Build, Case, units, usual
from .office import Office

Edit = Callable[[Any, Any], None]


def book_of(edit: Edit | None = None, *, table: bool = False, **options: Any) -> Build:
    """Build a fleet; `edit` gets the workbook and its sheet before it is closed."""

    def build(path: Path, _office: Office) -> Path:
        book = xlsxwriter.Workbook(str(path), options)
        page = book.add_worksheet("Units")
        date = book.add_format({"num_format": "dd/mm/yyyy"})
        if not table:
            page.write_row(0, 0, HEADINGS)
            for row, values in enumerate(units(), 1):
                for column, value in enumerate(values):
                    if isinstance(value, dt.date):
                        page.write_datetime(row, column, dt.datetime.combine(value, dt.time()), date)
                    else:
                        page.write(row, column, value)
        if edit is not None:
            edit(book, page)
        book.close()
        return path

    return build


def table(*, totals: bool, name: str = "Fleet", style: str = "Table Style Medium 4") -> Edit:
    """Write the fleet as a table."""

    def edit(book: Any, page: Any) -> None:
        columns: list[dict[str, Any]] = [{"header": heading} for heading in HEADINGS]
        columns[0]["total_string"] = "Total"
        columns[4]["format"] = book.add_format({"num_format": "yyyy-mm-dd"})
        columns[5]["total_function"] = "sum"
        rows = [
            [dt.datetime.combine(v, dt.time()) if isinstance(v, dt.date) else v for v in row]
            for row in units()
        ]
        page.add_table(
            0,
            0,
            UNITS + int(totals),
            5,
            {"name": name, "data": rows, "columns": columns, "total_row": totals, "style": style},
        )

    return edit


def _calculated(book: Any, page: Any) -> None:
    for row, values in enumerate(units(), 1):
        page.write_formula(row, 3, f"=VALUE({values[3]})", None, values[3])
    page.write_formula("H2", '=IF(D2>1,"yes","no")', None, "yes")
    page.write_array_formula("H3:H4", "{=D3:D4*2}", None, 24)
    page.write_dynamic_array_formula("H5", "=UNIQUE(C2:C7)", None, "calcite")
    page.write_formula("H8", "=1/0", None, "#DIV/0!")
    page.write_boolean("H9", True)


def _text_box(book: Any, page: Any) -> None:
    page.insert_textbox("H10", "A text box\nof two lines", {"width": 200, "fill": {"color": "#FFFFCC"}})
    page.insert_button("H20", {"caption": "Press", "macro": "Nothing"})


def _pictures(book: Any, page: Any) -> None:
    page.insert_image("H2", "dot.png", {"image_data": io.BytesIO(png()), "description": "a dot"})
    page.set_header("&L&G", {"image_left": "dot.png", "image_data_left": io.BytesIO(png(90))})
    page.set_background(io.BytesIO(png(30)))
    page.embed_image(9, 8, "dot.png", {"image_data": io.BytesIO(png(60))})


def _charts(book: Any, page: Any) -> None:
    chart = book.add_chart({"type": "line"})
    chart.add_series({"values": "=Units!$D$2:$D$7", "trendline": {"type": "linear"}})
    page.insert_chart("J2", chart)
    sheet = book.add_chartsheet("Chart")
    bars = book.add_chart({"type": "column"})
    bars.add_series({"values": "=Units!$D$2:$D$7"})
    sheet.set_chart(bars)


def _extensions(book: Any, page: Any) -> None:
    page.conditional_format("D2:D7", {"type": "data_bar", "data_bar_2010": True, "bar_solid": True})
    page.conditional_format("D2:D7", {"type": "icon_set", "icon_style": "3_traffic_lights"})
    page.add_sparkline("H2", {"range": "Units!D2:D7", "type": "column", "markers": True})
    page.ignore_errors({"number_stored_as_text": "A1:A7"})


def _comments(book: Any, page: Any) -> None:
    page.write_comment("B3", "Tank replaced by an invented crew", {"author": "nobody", "visible": True})


def _rich(book: Any, page: Any) -> None:
    bold, red = book.add_format({"bold": True}), book.add_format({"color": "red"})
    page.write_rich_string("A2", "U", bold, "-", red, "001")
    page.write_rich_string("A9", "a ", bold, "note", " under the list", red, " in colours")


def _filter(book: Any, page: Any) -> None:
    page.autofilter(0, 0, UNITS, 5)
    page.filter_column(2, "x == calcite")
    for row in range(1, UNITS + 1):
        if units()[row - 1][2] != "calcite":
            page.set_row(row, None, None, {"hidden": True})


def _validation(book: Any, page: Any) -> None:
    lists = book.add_worksheet("Lists")
    lists.write_column(0, 0, ["activated carbon", "calcite", "filter sand"])
    lists.hide()
    page.data_validation("C2:C7", {"validate": "list", "source": "=Lists!$A$1:$A$3"})
    page.data_validation(
        "D2:D7",
        {
            "validate": "decimal",
            "criteria": "between",
            "minimum": 0.5,
            "maximum": 50,
            "input_title": "Flow",
            "error_message": "in gpm",
        },
    )
    book.define_name("Lists!Names", "=Lists!$A$1:$A$3")


def _protected(book: Any, page: Any) -> None:
    page.protect("invented", {"sort": True, "autofilter": True, "format_columns": True})
    page.unprotect_range("D2:D7", "Flows")


def _printing(book: Any, page: Any) -> None:
    page.print_area("A1:F7")
    page.repeat_rows(0)
    page.set_h_pagebreaks([4])
    page.set_v_pagebreaks([3])
    page.set_paper(9)
    page.fit_to_pages(1, 0)
    page.set_footer("&LInvented&RPage &P of &N")


def _views(book: Any, page: Any) -> None:
    page.freeze_panes(1, 1)
    page.set_zoom(75)
    page.hide_gridlines(2)
    page.set_column("A:A", 14, None, {"level": 1})
    page.set_column("B:C", 12, book.add_format({"italic": True}))
    page.set_column("G:XFD", None, None, {"hidden": True})
    page.set_row(2, 30, book.add_format({"bold": True}))
    page.set_default_row(18)
    page.outline_settings(True, False, False, True)


def _many_formats(book: Any, page: Any) -> None:
    for number in range(80):
        look = book.add_format(
            {"num_format": f'0.{"0" * (number % 9)}"u{number}"', "font_size": 8 + number % 5}
        )
        page.write_number(20 + number, 8, number, look)


def _check_boxes(book: Any, page: Any) -> None:
    for row in range(1, UNITS + 1):
        page.insert_checkbox(row, 6, row % 2 == 0)
    page.write(0, 6, "Done")


def _page_links(book: Any, page: Any) -> None:
    page.write_url("A2", "https://example.invalid/?a=1&b=2", string="U-001", tip="<tip>")
    page.write_url("A3", "internal:'Second one'!B2", string="U-002")
    book.add_worksheet("Second one").write("B2", "here")


def _properties(book: Any, page: Any) -> None:
    book.set_properties({"title": "Invented", "comments": "none", "status": "draft"})
    book.set_custom_property("Checked", dt.datetime(2026, 1, 2))
    book.set_calc_mode("manual")
    book.read_only_recommended()


def _beside(book: Any, page: Any) -> None:
    page.write_row(0, 8, ["Part", "Stock"])
    page.write_row(1, 8, ["washer", 5])
    page.add_table("L1:M3", {"name": "Stock", "columns": [{"header": "Part"}, {"header": "Count"}]})


def case(
    name: str,
    shows: Sequence[str],
    edit: Edit | None = None,
    *,
    of_table: bool = False,
    options: dict[str, Any] | None = None,
    **more: Any,
) -> Case:
    """One case with what sound units say, unless told otherwise."""
    return Case(
        name,
        XLSXWRITER,
        tuple(shows),
        book_of(edit, table=of_table, **(options or {})),
        **{"reads": usual(), **more},
    )


CASES = (
    case("shared strings", ["shared strings", "transitional"]),
    case("strings in line, rows written one by one", ["inline strings"], options={"constant_memory": True}),
    case("table, no totals", ["autofilter"], table(totals=False), of_table=True),
    case("table, totals", ["table with totals", "totals row"], table(totals=True), of_table=True),
    case(
        "table named like a person's word",
        ["table with totals"],
        table(totals=True, name="Flotte_Ä", style=""),
        of_table=True,
    ),
    case(
        "stored results of formulas",
        ["stored results"],
        _calculated,
        reads={(2, "restrictor_m3_s"): 8 * GPM_M3_S},
    ),
    case("text box and button", ["text box"], _text_box),
    case("pictures in sheet, header, background and cell", ["picture"], _pictures),
    case("charts", ["workbook"], _charts),
    case("extended formats and sparklines", ["extension elements"], _extensions),
    case("visible notes", ["workbook"], _comments),
    case("texts in several looks", ["shared strings"], _rich, told=("taken for a note",)),
    case("filter with a criterion", ["autofilter", "hidden rows"], _filter, told=("4 rows are hidden",)),
    case("drop-downs and limits", ["drop-down from another sheet"], _validation),
    case("protected with free ranges", ["protected sheet"], _protected),
    case("print set-up", ["print area"], _printing, told=("prints only its print area",)),
    case("views, groups and hidden columns to the end", ["workbook"], _views),
    case("dates from 1904", ["1904 dates"], options={"date_1904": True}),
    case("eighty number formats", ["workbook"], _many_formats, office_opens=True),
    case("check boxes in cells", ["extension elements"], _check_boxes),
    case("links with marks to escape", ["workbook"], _page_links),
    case("properties and manual calculation", ["workbook"], _properties),
    case("other lists beside the list", ["several blocks"], _beside),
)
