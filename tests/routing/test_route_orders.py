"""What each crew-day takes, against the loads of the same plan and sums by hand."""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Sequence
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner
from route_workbook import write_workbook

from fleetaudit.cli import main

#: one crew with room for about one bed a day, so that the work is spread over days
CREWS = [("Crew A", -45.0, -20.0, 900, 4, 3, "Mon-Fri")]
STOCK = [["What", "Size", "Quantity", "Unit"], ["activated carbon 12x40", None, 1, "ft3"]]
Settings = Sequence[tuple[str, object]]
ASKED = ("--as-of", "2026-11-28", "--effort", "quick", "--days", "8", "--fixes", "plan")


def plan(folder: Path, stock: bool = False, settings: Settings = ()) -> tuple[dict, list[dict]]:
    def extra(book: openpyxl.Workbook) -> None:
        for row in (2, 4):
            book["Units"].cell(row, 9).value = 1  # far too little for either vessel
        if stock:
            page = book.create_sheet("Stock")
            for row in STOCK:
                page.append(row)

        if settings:
            page = book.create_sheet("Settings")
            for row in (("Setting", "Value"), *settings):
                page.append(row)

    folder.mkdir()
    path = write_workbook(folder / "fleet.xlsx", crews=CREWS, extra=extra)
    asked = ["route", str(path), "-o", str(folder), *ASKED, "--json", str(folder / "plan.json")]
    result = CliRunner().invoke(main.cli, asked, standalone_mode=False)
    assert result.exception is None, result.output
    book = openpyxl.load_workbook(folder / "fleet.route.xlsx")
    rows = list(book["Audit order"].iter_rows(values_only=True))
    lines = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    return json.loads((folder / "plan.json").read_text(encoding="utf-8")), lines


def volumes(lines: list[dict], kind: str) -> dict[str, float]:
    found: dict[str, float] = {}
    for line in lines:
        if line["For"] == kind and line["Unit"] == "ft³":
            found[line["Name"]] = found.get(line["Name"], 0.0) + line["Needed"]
    return found


def test_each_crew_day_orders_the_media_that_its_truck_carries(tmp_path: Path) -> None:
    document, lines = plan(tmp_path / "one")
    loads = {f"{day['date']}, {day['crew']}": day["load_out"]["ft3"] for day in document["days"]}
    assert len([ft3 for ft3 in loads.values() if ft3]) >= 2, "the work is spread over days"
    assert volumes(lines, "route day") == pytest.approx(
        {name: ft3 for name, ft3 in loads.items() if ft3}, abs=0.02
    )
    assert volumes(lines, "route")["all days"] == pytest.approx(sum(loads.values()), abs=0.05)
    named = [group["name"] for group in document["orders"]]
    assert named == [*sorted(loads), "all days"]


def test_stock_goes_to_the_first_day_and_is_taken_off_all_days_once(tmp_path: Path) -> None:
    """1 cubic foot of carbon is there. Of the first bed of 1.5 or 2.5 that leaves 0.5 or 1.5 to order."""
    _, lines = plan(tmp_path / "two", stock=True)
    carbon = [line for line in lines if line["For"] == "route day" and "carbon" in str(line["What"])]
    carbon.sort(key=lambda line: line["Name"])
    assert [line["From stock"] for line in carbon] == [1, *[0] * (len(carbon) - 1)]
    assert carbon[0]["To order"] == pytest.approx(carbon[0]["Bags"] - 1, abs=0.01)
    whole = next(line for line in lines if line["For"] == "route" and "carbon" in str(line["What"]))
    assert whole["From stock"] == 1 and whole["To order"] == pytest.approx(whole["Bags"] - 1, abs=0.01)


def test_parts_go_with_the_day_that_fits_them_and_with_no_other(tmp_path: Path) -> None:
    document, lines = plan(tmp_path / "three")
    units = {
        f"{day['date']}, {day['crew']}": {unit for stop in day["stops"] for unit in stop["unit_ids"]}
        for day in document["days"]
    }
    needed = sum(
        line["Needed"] for line in lines if line["For"] == "route day" and line["What"] == "restrictor"
    )
    page = openpyxl.load_workbook(tmp_path / "three" / "fleet.route.xlsx")["Audit parts"]
    rows = list(page.iter_rows(values_only=True))
    start = next(place for place, row in enumerate(rows) if row[0] == "Account")
    parts = [dict(zip(rows[start], row, strict=True)) for row in rows[start + 1 :]]
    fitted = [part for part in parts if part["What"] == "restrictor"]
    planned = set().union(*units.values())
    wanted = [part for part in fitted if part["Unit"] in planned]
    assert wanted and needed == sum(part["Quantity"] for part in wanted)
    first = next(line for line in lines if line["For"] == "route day" and line["What"] == "restrictor")
    assert any(part["Unit"] in units[first["Name"]] for part in wanted)
    assert all(datetime.date.fromisoformat(name[:10]) for name in units)


def test_auditing_the_plan_lists_the_same_days_with_or_without_names(tmp_path: Path) -> None:
    """The copy with the plan is the master from then on, so what its days take stays in it."""
    _, lines = plan(tmp_path / "four", stock=True)
    found = []
    for options in ((), ("--hide-crew-names",)):
        copy = str(tmp_path / "four" / "fleet.route.xlsx")
        asked = ["audit", copy, "--as-of", "2026-11-28", "--force", *options]
        result = CliRunner().invoke(main.cli, asked, standalone_mode=False)
        assert result.exception is None, result.output
        book = openpyxl.load_workbook(tmp_path / "four" / "fleet.route.audited.xlsx")
        rows = list(book["Audit order"].iter_rows(values_only=True))
        every = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
        found.append([line for line in every if str(line["For"]).startswith("route")])
    planned = [line for line in lines if str(line["For"]).startswith("route")]
    assert planned and found[0] == planned
    nameless = [{**line, "Name": ""} for line in planned]
    assert [{**line, "Name": ""} for line in found[1]] == nameless
    assert not any("Crew A" in str(line["Name"]) for line in found[1])


def test_stop_sheets_and_loads_name_the_parts_that_are_ordered(tmp_path: Path) -> None:
    _, lines = plan(tmp_path / "five")
    for name, word in (("stops", "Bring: "), ("loads", "<td>")):
        page = (tmp_path / "five" / f"fleet.route.{name}.html").read_text(encoding="utf-8")
        page = page.partition("<h1>Store list")[0]
        for line in lines:
            if line["For"] == "route day" and line["What"] == "restrictor":
                assert page.count(f"{word}restrictor {line['Size']}") >= line["Needed"]
        beds = sum(
            line["Units"] for line in lines if line["For"] == "route" and "Gravel" in str(line["What"])
        )
        assert beds and page.count("ft³ Gravel (support)") == beds


#: 3 in of gravel (Settings: default_gravel_depth) of 100 lb/ft3, the middle of what media.toml says, under a
#: bed of 13 in across; 1 lb is 0.45359237 kg
GRAVEL_FT3 = math.pi / 4 * 13**2 * 3 / 12**3
GRAVEL_KG = GRAVEL_FT3 * 100 * 0.45359237


def loads(folder: Path) -> list[dict]:
    rows = list(openpyxl.load_workbook(folder / "fleet.route.xlsx")["Loads"].iter_rows(values_only=True))
    return [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]


def test_new_gravel_is_weighed_on_the_truck_both_ways(tmp_path: Path) -> None:
    with_it, _ = plan(tmp_path / "with")
    without, _ = plan(tmp_path / "without", settings=[("renew_gravel", "no")])
    stops = [
        next(s for day in document["days"] for s in day["stops"] if "U-4" in s["unit_ids"])
        for document in (with_it, without)
    ]
    assert stops[1]["ft3_new"] == 2.5
    assert stops[0]["ft3_new"] - stops[1]["ft3_new"] == pytest.approx(GRAVEL_FT3, abs=0.01)
    assert stops[0]["kg_new"] - stops[1]["kg_new"] == pytest.approx(GRAVEL_KG, abs=0.1)
    # taken away wet, 1.3 times as heavy (Settings: route_wet_mass)
    assert stops[0]["kg_spent"] - stops[1]["kg_spent"] == pytest.approx(1.3 * GRAVEL_KG, abs=0.1)
    for day in with_it["days"]:
        assert day["load_out"]["kg"] == pytest.approx(sum(s["kg_new"] for s in day["stops"]), abs=0.1)


def test_the_load_list_has_a_line_for_gravel_that_adds_up_to_the_load(tmp_path: Path) -> None:
    document, _ = plan(tmp_path / "one")
    lines = loads(tmp_path / "one")
    gravel = next(line for line in lines if "Gravel" in line["What"] and line["What"].endswith("for U-4"))
    assert gravel["kg"] == round(GRAVEL_KG) and gravel["ft3"] == pytest.approx(GRAVEL_FT3, abs=0.005)
    whole = sum(line["ft3"] or 0 for line in lines)
    assert whole == pytest.approx(sum(day["load_out"]["ft3"] for day in document["days"]), abs=0.05)
    stops = (tmp_path / "one" / "fleet.route.stops.html").read_text(encoding="utf-8")
    assert f"measure first, {round(GRAVEL_KG)} kg." in stops
    assert "Gravel stays" not in (tmp_path / "one" / "fleet.route.loads.html").read_text(encoding="utf-8")


def test_gravel_that_stays_is_not_loaded_and_the_list_says_so(tmp_path: Path) -> None:
    plan(tmp_path / "one", settings=[("renew_gravel", "no")])
    assert not [line for line in loads(tmp_path / "one") if "Gravel" in line["What"]]
    page = (tmp_path / "one" / "fleet.route.loads.html").read_text(encoding="utf-8")
    assert "Gravel stays under new beds" in page
