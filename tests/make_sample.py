"""Write sample_fleet.xlsx: an invented fleet, kept as untidily as such lists are.

Run `python tests/make_sample.py` after a change here, in sample_units.py or in sample/scenario.toml. No clock
and a fixed seed: the same bytes come out every time. Which unit is meant for which check stands in
scenario.toml, as `aim` of each [[unit]].
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from datetime import date, datetime
from pathlib import Path
from typing import Any

import xlsxwriter
from sample_units import AS_OF, COLUMNS, PLACE, SEASONS, STORY, Row, fleet
from xlsxwriter.utility import xl_col_to_name, xl_rowcol_to_cell

TARGET = Path(__file__).resolve().parent.parent / "sample_fleet.xlsx"
SHEET = "Water rooms"
HEADING_ROW = 6
SITES_SEED, NO_PLACE = 61, 0.06
CREATED = datetime.fromisoformat("2026-10-30T07:40:00")


def write(target: Path) -> list[Row]:
    """Write the workbook; its rows, each with the line of the sheet it stands on."""
    rows = fleet()
    book = xlsxwriter.Workbook(str(target), {"default_date_format": "dd/mm/yyyy"})
    book.set_properties({"title": "Invented example", "author": "nobody", "created": CREATED})
    sheet = book.add_worksheet(SHEET)
    _heading(book, sheet)
    last = _cells(book, sheet, rows)
    _trimmings(book, sheet, rows, last)
    _counts(book, book.add_worksheet("Counts"), rows, last)
    _phones(book, book.add_worksheet("Phones + odds"))
    _company_sheets(book)
    _sites(book, rows)
    book.close()
    return rows


def _heading(book: xlsxwriter.Workbook, sheet: Any) -> None:
    big = book.add_format({"bold": True, "font_size": 16, "font_color": "#1F4E5F"})
    red = book.add_format({"bold": True, "font_color": "#9C2F1F"})
    small = book.add_format({"italic": True, "font_color": "#555555"})
    sheet.write(0, 0, STORY["story"]["title"], big)
    for line, text in enumerate(STORY["story"]["lines"], 1):
        sheet.write(line, 0, text, red if line == 1 else small)
    band = book.add_format({"bold": True, "align": "center", "bg_color": "#D9E7EA", "border": 1})
    head = book.add_format(
        {"bold": True, "text_wrap": True, "valign": "top", "bg_color": "#EEF4F5", "border": 1}
    )
    groups: dict[str, list[int]] = {}
    for column, (_, heading, group, width) in enumerate(COLUMNS):
        groups.setdefault(group, []).append(column)
        sheet.set_column(column, column, width)
        sheet.write(HEADING_ROW - 1, column, heading, head)
    for group, columns in groups.items():
        if group:
            sheet.merge_range(HEADING_ROW - 2, columns[0], HEADING_ROW - 2, columns[-1], group, band)
    sheet.set_column(PLACE["route"], PLACE["route"], None, None, {"hidden": True})
    sheet.set_row(HEADING_ROW - 1, 45)


def _cells(book: xlsxwriter.Workbook, sheet: Any, rows: list[Row]) -> int:
    day = book.add_format({"num_format": "dd/mm/yyyy"})
    one = book.add_format({"num_format": "0.0", "font_color": "#666666"})
    line = HEADING_ROW
    for index, row in enumerate(rows):
        if index == len(rows) // 2:  # somebody pasted the headings again for printing
            for column, (_, heading, *_) in enumerate(COLUMNS):
                sheet.write(line, column, heading, book.add_format({"bold": True}))
            line += 1
        for key, value in row.cells.items():
            if value is None or value == "":
                continue
            column = PLACE[key]
            if isinstance(value, date):
                sheet.write_datetime(line, column, value, day)
            elif value == "#N/A":
                sheet.write_formula(
                    line, column, '=VLOOKUP("pump list",Counts!$H$1:$I$2,2,FALSE)', None, "#N/A"
                )
            elif isinstance(value, str):
                sheet.write_string(line, column, value)
            else:
                sheet.write_number(line, column, value)
        rebed = xl_rowcol_to_cell(line, PLACE["rebed"])
        known = row.cells.get("rebed")
        years = round((AS_OF - known).days / 365.25, 1) if isinstance(known, date) else ""
        formula = f'=IF(ISNUMBER({rebed}),ROUND((DATE(2026,11,1)-{rebed})/365.25,1),"")'
        sheet.write_formula(line, PLACE["years"], formula, one, years)
        if row.hidden:
            sheet.set_row(line, None, None, {"hidden": True})
        row.line = line
        line += 1
    _merge_accounts(book, sheet, rows)
    volume = xl_col_to_name(PLACE["cuft"])
    total = sum(row.cells["cuft"] for row in rows if isinstance(row.cells.get("cuft"), (int, float)))
    bold = book.add_format({"bold": True, "top": 1})
    sheet.write(line + 1, PLACE["cust"], "Total cu ft on the books", bold)
    sheet.write_formula(
        line + 1, PLACE["cuft"], f"=SUM({volume}{HEADING_ROW + 1}:{volume}{line})", bold, round(total, 2)
    )
    return line - 1


def _merge_accounts(book: xlsxwriter.Workbook, sheet: Any, rows: list[Row]) -> None:
    """Merge the name of two larger accounts over its rows, as done for looks."""
    top = book.add_format({"valign": "top", "border": 1})
    counts = Counter(row.cells["cust"] for row in rows)
    done = 0
    for name, count in counts.items():
        mine = [row for row in rows if row.cells["cust"] == name]
        lines = [row.line for row in mine]
        together = lines[-1] - lines[0] == count - 1 and not any(row.hidden for row in mine)
        if count >= 4 and together:
            sheet.merge_range(lines[0], PLACE["cust"], lines[-1], PLACE["cust"], name, top)
            done += 1
        if done == 2:
            return


def _trimmings(book: xlsxwriter.Workbook, sheet: Any, rows: list[Row], last: int) -> None:
    sheet.freeze_panes(HEADING_ROW, 2)
    sheet.autofilter(HEADING_ROW - 1, 0, last, len(COLUMNS) - 1)
    sheet.repeat_rows(HEADING_ROW - 1)
    sheet.set_landscape()
    lists = {
        "status": ["in service", "removed", "spare", "account closed"],
        "house": ["small", "medium", "large", "external"],
        "source": sorted(SEASONS),
    }
    for key, words in lists.items():
        sheet.data_validation(
            HEADING_ROW,
            PLACE[key],
            last,
            PLACE[key],
            {"validate": "list", "source": words, "error_type": "information"},
        )
    old = book.add_format({"bg_color": "#FFF3C4"})
    column = PLACE["years"]
    sheet.conditional_format(
        HEADING_ROW, column, last, column, {"type": "cell", "criteria": ">", "value": 5, "format": old}
    )
    box = {"author": "", "visible": False}
    sheet.write_comment(
        HEADING_ROW - 1, PLACE["dlfc"], "stamped on the rim of the button, or on the elbow", box
    )
    sheet.write_comment(HEADING_ROW - 1, PLACE["house"], "S up to 7, M up to 25, L up to 45", box)
    with_note = [row.line for row in rows if row.cells.get("bucket")][:2]
    for line in with_note:
        sheet.write_comment(line, PLACE["bucket"], "20 litre pail, kitchen clock", box)
    book.define_name("AllTanks", "=" + _column_cells("tank", last))


def _column_cells(key: str, last: int) -> str:
    letter = xl_col_to_name(PLACE[key])
    return f"'{SHEET}'!${letter}${HEADING_ROW + 1}:${letter}${last + 1}"


def _counts(book: xlsxwriter.Workbook, sheet: Any, rows: list[Row], last: int) -> None:
    """A table of counts by formula, and the chart somebody made for the yearly talk."""
    sheet.write_row(0, 0, ["Source of water", "how often"], book.add_format({"bold": True}))
    sources = Counter(row.cells.get("source", "") for row in rows)
    for line, name in enumerate(sorted(SEASONS), 1):
        sheet.write(line, 0, name)
        formula = f"=COUNTIF({_column_cells('source', last)},A{line + 1})"
        sheet.write_formula(line, 1, formula, None, sources[name])
    chart = book.add_chart({"type": "column"})
    end = len(SEASONS) + 1
    chart.add_series(
        {"name": "=Counts!$B$1", "categories": f"=Counts!$A$2:$A${end}", "values": f"=Counts!$B$2:$B${end}"}
    )
    chart.set_title({"name": "Where the water comes from (invented)"})
    sheet.insert_chart("D2", chart)


def _phones(book: xlsxwriter.Workbook, sheet: Any) -> None:
    sheet.set_column(0, 0, 24)
    sheet.set_column(1, 1, 60)
    sheet.write(0, 0, "Phones + odds (invented like the rest)", book.add_format({"bold": True}))
    for line, (what, text) in enumerate(STORY["story"]["odds"], 2):
        sheet.write_row(line, 0, [what, text])


def _company_sheets(book: xlsxwriter.Workbook) -> None:
    """Sheets that lay the shop's own figures over the shipped ones."""
    bold = book.add_format({"bold": True})
    for name, rows in STORY["own_sheets"].items():
        sheet = book.add_worksheet(name)
        sheet.set_column(0, len(rows[0]) - 1, 22)
        for line, row in enumerate(rows):
            sheet.write_row(line, 0, row, bold if line == 0 else None)


def _sites(book: xlsxwriter.Workbook, rows: list[Row]) -> None:
    """Where customers are and when they are open; a few have no place, as nobody has looked it up."""
    rng = random.Random(SITES_SEED)
    sheet = book.add_worksheet("Sites")
    sheet.set_column(0, 0, 30)
    sheet.set_column(1, 6, 18)
    heads = ["Account", "Town", "Latitude", "Longitude", "Site hours", "Closed dates", "Access note"]
    sheet.write_row(0, 0, heads, book.add_format({"bold": True}))
    middles = dict(zip(STORY["story"]["places"], STORY["story"]["middles"], strict=True))
    known = dict.fromkeys(
        (row.cells["cust"], row.cells["town"]) for row in rows if row.cells.get("town") in middles
    )
    for line, (account, town) in enumerate(known, 1):
        north, east = middles[town]
        place = [round(north + rng.gauss(0, 0.01), 5), round(east + rng.gauss(0, 0.015), 5)]
        hours = rng.choice(["", "Mon-Fri 8-16", "Mon-Fri 8-12; Sat 9-12", "Tue-Thu 9:00-17:00"])
        note = rng.choice(["", "", *STORY["story"]["remarks"]])
        placed = place if rng.random() > NO_PLACE else ["", ""]
        sheet.write_row(
            line, 0, [account, town, *placed, hours, "2026-12-24; 2026-12-25" if hours else "", note]
        )


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else TARGET)
