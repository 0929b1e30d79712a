"""Write sample_fleet.xlsx: an invented fleet, kept as untidily as such lists are.

Run `python tests/make_sample.py` after a change here or in tests/sample/scenario.toml. No clock and a fixed seed: the
same bytes come out every time. The right restrictor of a sound unit is worked out below from a rate per area and the
nominal area alone; nothing of the audit is used, so that the sample can be held against it.

Which unit is meant for which check stands in scenario.toml, as `aim` of each [[unit]].
"""

from __future__ import annotations

import random
import sys
import tomllib
from collections import Counter
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from math import log, sqrt
from pathlib import Path
from typing import Any

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name, xl_rowcol_to_cell

ROOT = Path(__file__).resolve().parent.parent
TARGET = ROOT / "sample_fleet.xlsx"
STORY = tomllib.loads((ROOT / "tests" / "sample" / "scenario.toml").read_text(encoding="utf-8"))
AS_OF = date(2026, 11, 1)
SEED = 7301
ACCOUNTS = 104
#: ratings to choose from, gpm; example series, from memory, unverified
STOCK = (1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8, 9, 10, 12, 15, 17, 20, 25, 30, 35, 40, 45, 50, 60, 75, 100)
#: largest rating of each housing, gpm; common practice, no source
HOUSINGS = (("small", 7), ("medium", 25), ("large", 45))
#: the water is a little warmer than the rates are stated for, so the middle of the window lies a little higher
WARMER = 1.06
LPM_PER_GPM = 3.785411784
#: coldest and warmest water by source, degrees Fahrenheit
SEASONS = {"well": (50, 53), "borehole": (50, 54), "town": (46, 58), "pond": (45, 62)}
SHEET = "Water rooms"
HEADING_ROW = 6

#: own key, heading, group heading above it, width
COLUMNS = (
    ("no", "Unit #", "WHERE", 8), ("cust", "Customer", "WHERE", 27), ("town", "Town", "WHERE", 15),
    ("status", "Status", "WHERE", 10), ("kind", "Equipment", "WHERE", 12), ("route", "Old route", "WHERE", 9),
    ("tankno", "Tank no", "TANK + BED", 8), ("tanks", "No. of tanks", "TANK + BED", 7), ("tank", "Tank", "TANK + BED", 13),
    ("media", "Media type", "TANK + BED", 22), ("mesh", "Mesh", "TANK + BED", 8),
    ("layers", "Media layers", "TANK + BED", 20), ("cuft", "Cu ft", "TANK + BED", 7),
    ("bed", "Bed depth (in)", "TANK + BED", 8), ("free", "Free board (in)", "TANK + BED", 9),
    ("removes", "Removes", "TANK + BED", 15), ("installed", "Date installed", "TANK + BED", 12),
    ("by", "Installed by", "TANK + BED", 13), ("rebed", "Rebed date", "TANK + BED", 12),
    ("rebedby", "Rebed by", "TANK + BED", 13), ("years", "Yrs on bed", "TANK + BED", 7),
    ("dlfc", "DLFC (gpm)", "WASH", 9), ("marked", "Marked?", "WASH", 8), ("house", "DLFC housing", "WASH", 10),
    ("inout", "In/out", "WASH", 9), ("bucket", "Bucket test", "WASH", 9), ("bwmin", "BW min", "WASH", 7),
    ("bwdays", "BW every (days)", "WASH", 8), ("drain", "Drain line (in)", "WASH", 8),
    ("peak", "Peak flow (gpm)", "WATER", 9), ("pump", "Pump gpm", "WATER", 9), ("psi", "PSI", "WATER", 7),
    ("source", "Source", "WATER", 10), ("winter", "Winter water (F)", "WATER", 9),
    ("summer", "Summer water (F)", "WATER", 9), ("ph", "pH", "WATER", 6), ("notes", "Notes", "", 40),
)
PLACE = {key: index for index, (key, *_) in enumerate(COLUMNS)}


@dataclass
class Row:
    """One line of the list: cells by own key, the checks it is meant for, and how it is shown."""

    cells: dict[str, Any]
    aim: list[str] = field(default_factory=list)
    hidden: bool = False
    planned: bool = False


MEDIA = {medium["key"]: medium for medium in STORY["medium"]}
VESSELS = {vessel["size"]: vessel for vessel in STORY["vessel"]}
CREWS = {crew["name"]: crew for crew in STORY["crew"]}


def right_restrictor(medium: str, size: str) -> float:
    """Stocked rating nearest to the middle of rate x nominal area, gpm."""
    low, high = MEDIA[medium]["rate"]
    wanted = sqrt(low * high) * WARMER * VESSELS[size]["area"]
    return min(STOCK, key=lambda rating: abs(log(rating / wanted)))


def housing_for(rating: float) -> str:
    """Smallest housing that takes the rating."""
    return next((name for name, limit in HOUSINGS if rating <= limit), "external")


def before(years: float) -> date:
    """Day so many years before the day of the audit."""
    return AS_OF - timedelta(days=round(years * 365.25))


def pick(rng: random.Random, rows: list[dict[str, Any]]) -> dict[str, Any]:
    """One of the rows, by their shares."""
    return rng.choices(rows, weights=[row["share"] for row in rows])[0]


def sound_unit(rng: random.Random, medium: str, size: str, source: str, crew: str) -> dict[str, Any]:
    """Cells of a unit with nothing wrong, as plain values; blanks as people leave them."""
    bed, vessel = MEDIA[medium], VESSELS[size]
    rating = right_restrictor(medium, size)
    age = rng.uniform(0.1, 0.95) * bed["lives"]
    installed = before(age) if rng.random() < 0.5 else before(age + rng.uniform(0.4, 9))
    cells: dict[str, Any] = {
        "status": rng.choice(["", "", "in service", "in service", "active"]),
        "kind": "softener" if "resin" in medium else rng.choice(["filter", "filter", "backwash filter"]),
        "route": f"R{rng.randint(1, 9)}",
        "tank": size, "media": rng.choice(bed["spellings"]), "mesh": rng.choice(bed["mesh"]),
        "cuft": vessel["usual"] if rng.random() < 0.7 else "",
        "removes": rng.choice(bed["removes"]) if rng.random() < 0.9 or "carbon" in medium else "",
        "installed": installed, "by": crew, "rebed": before(age), "dlfc": rating, "house": housing_for(rating),
        "marked": rng.choice(["yes", "y", "yes", ""]), "inout": rng.choice(["ok", "ok", "", "checked"]),
        "source": source,
    }
    if installed != before(age) and rng.random() < 0.6:
        cells["rebedby"] = crew if rng.random() < 0.5 else rng.choice(sorted(CREWS))
    if bed.get("temperature", True) and "resin" not in medium and rng.random() < 0.35:
        cold, warm = SEASONS[source]
        cells["winter"], cells["summer"] = cold, warm
    if "ph" in bed and rng.random() < 0.5:
        low, high = bed["ph"]
        cells["ph"] = round(rng.uniform(low, high), 1)
    if rng.random() < 0.45:
        cells["bwmin"] = rng.choice([8, 10, 10, 12])
    if rng.random() < 0.4:
        cells["bwdays"] = rng.choice([2, 3, 3, 4, 7])
    if rng.random() < 0.3 and medium != "alumina":
        cells["peak"] = round(rng.uniform(1.5, 3) * vessel["area"], 1)
    if rng.random() < 0.3:
        cells["pump"] = round(rating * rng.uniform(1.3, 2.2) + 1)
        cells["psi"] = rng.choice([45, 50, 55, 60])
    if rng.random() < 0.4:
        cells["drain"] = _drain_for(rating)
    if rng.random() < 0.12:
        cells["bucket"] = round(rating * rng.uniform(0.95, 1.05), 1)
    return cells


def _drain_for(rating: float) -> float | int:
    for bore, flow in ((0.5, 4), (0.75, 9), (1, 20), (1.5, 50)):
        if rating <= flow:
            return bore
    return 2


def set_up_by(rng: random.Random, cells: dict[str, Any], crew: str, year: int) -> list[str]:
    """Lay the habits of a crew over a sound unit; the checks that should then speak."""
    habits, rating = CREWS[crew], cells["dlfc"]
    fitted = rating
    if habits.get("one_size"):
        fitted = 5 if rating < 10 else 10
    elif rng.random() < habits["slip"] * (2 if year < 2018 else 1):
        step = rng.choice([-3, 3])
        fitted = STOCK[min(max(STOCK.index(rating) + step, 0), len(STOCK) - 1)]
    cells["dlfc"] = fitted
    if fitted != rating:
        cells["house"] = housing_for(max(fitted, rating))
        cells.pop("bucket", None)
        cells.pop("pump", None)
        cells.pop("psi", None)
        cells["drain"] = _drain_for(max(fitted, rating)) if cells.get("drain") else ""
        if fitted < rating / 1.3:
            return ["restrictor-too-small"]
        if fitted > rating * 1.3:
            return ["restrictor-too-large"]
    return []


def forget(rng: random.Random, cells: dict[str, Any]) -> list[str]:
    """Leave a cell blank now and then; older beds and dates go wrong too."""
    chance = rng.random()
    if chance < 0.02:
        cells["dlfc"] = ""
        cells.pop("bucket", None)
        return ["restrictor-missing"]
    if chance < 0.035:
        cells["house"] = ""
        return []
    if chance < 0.05:
        cells["rebed"] = ""
        return ["media-date-unknown"]
    if chance < 0.09:
        cells["rebed"] = before(rng.uniform(1.6, 2.4) * 5)
        cells["installed"] = cells["rebed"]
        return ["media-overdue"]
    return []


def roughen(rng: random.Random, cells: dict[str, Any], medium: str, size: str) -> None:
    """Write the same facts the way different hands do."""
    bed, vessel = MEDIA[medium], VESSELS[size]
    ways = [size] * 9 + [size.replace("x", " x "), size.replace("x", " X "), size.replace("x", '"x') + '"', size.replace("x", "×")]
    ways += [vessel[key] for key in ("guessed", "metric") if key in vessel]
    if cells["tank"] == size:
        cells["tank"] = rng.choice(ways)
    if "typos" in bed and rng.random() < 0.1:
        cells["media"] = rng.choice(bed["typos"])
    if cells.get("by") in CREWS:
        cells["by"] = rng.choice(CREWS[cells["by"]]["spellings"])
    if isinstance(cells["dlfc"], (int, float)):
        chance = rng.random()
        if chance < 0.06:
            cells["dlfc"] = f"{cells['dlfc'] * LPM_PER_GPM:.1f} L/min"
        elif chance < 0.12:
            cells["dlfc"] = f"{cells['dlfc']:g} gpm"
        elif chance < 0.18:
            cells["dlfc"] = f"{cells['dlfc']:g}"
    if isinstance(cells.get("winter"), int) and rng.random() < 0.2:
        cells["winter"] = f"{(cells['winter'] - 32) / 1.8:.0f} °C"
        cells["summer"] = f"{(cells['summer'] - 32) / 1.8:.0f} °C"
    if isinstance(cells.get("ph"), float) and rng.random() < 0.2:
        cells["ph"] = str(cells["ph"])
    if isinstance(cells.get("cuft"), float) and rng.random() < 0.1:
        cells["cuft"] = f"{cells['cuft'] * 28.3168:.0f} L"
    if isinstance(cells.get("house"), str) and rng.random() < 0.3:
        cells["house"] = {"small": "S", "medium": "med", "large": "Large"}.get(cells["house"], cells["house"])
    if isinstance(cells["rebed"], date):
        chance = rng.random()
        if chance < 0.06:
            cells["rebed"] = f"{cells['rebed']:%b %Y}"
        elif chance < 0.1:
            cells["rebed"] = f"{cells['rebed']:%d/%m/%Y}"
        elif chance < 0.12 and cells["rebed"] < date(2025, 6, 1):
            cells["rebed"] = str(cells["rebed"].year)
    if rng.random() < 0.05:
        cells["notes"] = rng.choice([
            "key under the third pot", "goat in yard", "tide table! boat only at high water", "new lid seal fitted",
            "ask for the boiler room", "valve head turned a quarter", "looks fine", "label fell off, rewritten",
        ])


def planned_unit(rng: random.Random, wish: dict[str, Any], source: str) -> list[Row]:
    """Rows of a unit written down on purpose."""
    wish = dict(wish)
    aim, medium, after = wish.pop("aim"), wish.pop("medium"), wish.pop("after", "")
    size = wish.pop("vessel") or "10x54"
    age, bare = wish.pop("age", None), wish.pop("bare", False)
    installed_age = wish.pop("installed_age", None)
    source = wish.get("source", source)
    season = {"surface": "pond"}.get(source, source)
    cells = sound_unit(rng, medium, size, season, wish.pop("by", rng.choice(["Crew Teal", "Crew Slate", "Crew Coral", "Crew Dune"])))
    for key in ("bucket", "pump", "psi", "drain", "peak", "winter", "summer"):
        cells.pop(key, None)
    if age is not None:
        cells["rebed"] = before(age)
        cells["installed"] = before(age if installed_age is None else installed_age)
        cells.pop("rebedby", None)
    if bare:
        cells = {key: cells[key] for key in ("status", "route", "installed", "by")}
    for key, value in wish.items():
        cells[key] = date.fromisoformat(value[5:]) if isinstance(value, str) and value.startswith("date:") else _number(value)
    rows = [Row(cells, list(aim), hidden=after == "hide", planned=True)]
    if after in ("again", "twin"):
        second = dict(cells)
        if after == "twin":
            second["tankno"] = {"A": "B", "lead": "lag"}[cells["tankno"]]
        rows.append(Row(second, list(aim), planned=True))
    return rows


def _number(value: Any) -> Any:
    return int(value) if isinstance(value, str) and value.isdigit() else value


def fleet() -> list[Row]:
    """All rows of the list, in its order."""
    rng = random.Random(SEED)
    wishes = list(STORY["unit"])
    rng.shuffle(wishes)
    planned = len(wishes)
    names = [f"{trade}, {place}" for place in STORY["story"]["places"] for trade in STORY["story"]["trades"]]
    rng.shuffle(names)
    rows: list[Row] = []
    number = 0
    for index, name in enumerate(sorted(names[:ACCOUNTS], key=lambda text: text.split(", ")[1])):
        town = name.split(", ")[1]
        source = rng.choice(["well", "borehole", "town", "town", "pond"])
        crew = pick(rng, STORY["crew"])["name"]
        mine: list[list[Row]] = []
        for _ in range(rng.choice([1, 1, 2, 2, 3, 3, 4])):
            if rng.random() < 0.3:
                crew = pick(rng, STORY["crew"])["name"]
            mine.append([_everyday_unit(rng, source, crew)])
        take = (index + 1) * planned // ACCOUNTS - index * planned // ACCOUNTS
        mine += [planned_unit(rng, wishes.pop(), source) for _ in range(take)]
        for together in mine:
            number += 1
            for row in together:
                row.cells = {"no": f"Q-{number:03d}", "cust": name, "town": town} | row.cells
                rows.append(row)
    return rows


def _everyday_unit(rng: random.Random, source: str, crew: str) -> Row:
    bed = pick(rng, STORY["medium"])
    size = rng.choice(bed["vessels"]) if "vessels" in bed else pick(rng, STORY["vessel"])["size"]
    cells = sound_unit(rng, bed["key"], size, source, crew)
    aim = set_up_by(rng, cells, crew, cells["installed"].year)
    if not aim:
        aim = forget(rng, cells)
    roughen(rng, cells, bed["key"], size)
    return Row(cells, aim)


def write(target: Path) -> None:
    """Write the workbook."""
    rows = fleet()
    book = xlsxwriter.Workbook(str(target), {"default_date_format": "dd/mm/yyyy"})
    book.set_properties({"title": "Invented example", "author": "nobody", "created": datetime(2026, 10, 30, 7, 40)})  # noqa: DTZ001 - the format stores no zone
    sheet = book.add_worksheet(SHEET)
    _heading(book, sheet)
    last = _cells(book, sheet, rows)
    _trimmings(book, sheet, rows, last)
    _counts(book, book.add_worksheet("Counts"), rows, last)
    _phones(book, book.add_worksheet("Phones + odds"))
    _company_sheets(book)
    book.close()


def _heading(book: xlsxwriter.Workbook, sheet: Any) -> None:
    big = book.add_format({"bold": True, "font_size": 16, "font_color": "#1F4E5F"})
    red = book.add_format({"bold": True, "font_color": "#9C2F1F"})
    small = book.add_format({"italic": True, "font_color": "#555555"})
    sheet.write(0, 0, STORY["story"]["title"], big)
    for line, text in enumerate(STORY["story"]["lines"], 1):
        sheet.write(line, 0, text, red if line == 1 else small)
    band = book.add_format({"bold": True, "align": "center", "bg_color": "#D9E7EA", "border": 1})
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bg_color": "#EEF4F5", "border": 1})
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
                sheet.write_datetime(line, column, datetime(value.year, value.month, value.day), day)  # noqa: DTZ001 - same
            elif value == "#N/A":
                sheet.write_formula(line, column, '=VLOOKUP("pump list",Counts!$H$1:$I$2,2,FALSE)', None, "#N/A")
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
        row.cells["line"] = line
        line += 1
    _merge_accounts(book, sheet, rows)
    volume = xl_col_to_name(PLACE["cuft"])
    total = sum(row.cells["cuft"] for row in rows if isinstance(row.cells.get("cuft"), (int, float)))
    bold = book.add_format({"bold": True, "top": 1})
    sheet.write(line + 1, PLACE["cust"], "Total cu ft on the books", bold)
    sheet.write_formula(line + 1, PLACE["cuft"], f"=SUM({volume}{HEADING_ROW + 1}:{volume}{line})", bold, round(total, 2))
    return line - 1


def _merge_accounts(book: xlsxwriter.Workbook, sheet: Any, rows: list[Row]) -> None:
    """Merge the name of two larger accounts over its rows, as done for looks."""
    top = book.add_format({"valign": "top", "border": 1})
    counts = Counter(row.cells["cust"] for row in rows)
    done = 0
    for name, count in counts.items():
        lines = [row.cells["line"] for row in rows if row.cells["cust"] == name]
        if count >= 4 and lines[-1] - lines[0] == count - 1 and not any(row.hidden for row in rows if row.cells["cust"] == name):
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
        sheet.data_validation(HEADING_ROW, PLACE[key], last, PLACE[key], {"validate": "list", "source": words, "error_type": "information"})
    old = book.add_format({"bg_color": "#FFF3C4"})
    column = PLACE["years"]
    sheet.conditional_format(HEADING_ROW, column, last, column, {"type": "cell", "criteria": ">", "value": 5, "format": old})
    box = {"author": "", "visible": False}
    sheet.write_comment(HEADING_ROW - 1, PLACE["dlfc"], "stamped on the rim of the button, or on the elbow", box)
    sheet.write_comment(HEADING_ROW - 1, PLACE["house"], "S up to 7, M up to 25, L up to 45", box)
    with_note = [row.cells["line"] for row in rows if row.cells.get("bucket")][:2]
    for line in with_note:
        sheet.write_comment(line, PLACE["bucket"], "20 litre pail, kitchen clock", box)
    book.define_name("AllTanks", f"='{SHEET}'!${xl_col_to_name(PLACE['tank'])}${HEADING_ROW + 1}:${xl_col_to_name(PLACE['tank'])}${last + 1}")


def _counts(book: xlsxwriter.Workbook, sheet: Any, rows: list[Row], last: int) -> None:
    """A table of counts by formula, and the chart somebody made for the yearly talk."""
    sheet.write_row(0, 0, ["Source of water", "how often"], book.add_format({"bold": True}))
    letter = xl_col_to_name(PLACE["source"])
    sources = Counter(row.cells.get("source", "") for row in rows)
    for line, name in enumerate(sorted(SEASONS), 1):
        sheet.write(line, 0, name)
        cells = f"'{SHEET}'!${letter}${HEADING_ROW + 1}:${letter}${last + 1}"
        sheet.write_formula(line, 1, f'=COUNTIF({cells},A{line + 1})', None, sources[name])
    chart = book.add_chart({"type": "column"})
    end = len(SEASONS) + 1
    chart.add_series({"name": "=Counts!$B$1", "categories": f"=Counts!$A$2:$A${end}", "values": f"=Counts!$B$2:$B${end}"})
    chart.set_title({"name": "Where the water comes from (invented)"})
    sheet.insert_chart("D2", chart)


def _phones(book: xlsxwriter.Workbook, sheet: Any) -> None:
    sheet.set_column(0, 0, 24)
    sheet.set_column(1, 1, 60)
    sheet.write(0, 0, "Phones + odds (invented like the rest)", book.add_format({"bold": True}))
    lines = [
        ("ferry office", "extension 12, mornings"), ("store shed", "extension 14"), ("winch hut", "extension 19, let it ring"),
        ("", ""), ("boat days", "Tuesday out, Wednesday back"), ("buttons", "next order in spring, the 9s are nearly gone"),
        ("resin", "two bags behind the door, wet"), ("", "whoever took the brass tee: bring it back"),
    ]
    for line, (what, text) in enumerate(lines, 2):
        sheet.write_row(line, 0, [what, text])


def _company_sheets(book: xlsxwriter.Workbook) -> None:
    pass


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else TARGET)
