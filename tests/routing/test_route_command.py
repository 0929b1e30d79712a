"""The command from a workbook to its files, each read back by a library of its own."""

from __future__ import annotations

import datetime
import html
import itertools
import json
import math
import re
import threading
import xml.etree.ElementTree as ET
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlparse
from zoneinfo import ZoneInfo

import gpxpy
import icalendar
import openpyxl
import pytest
from click.testing import CliRunner
from route_workbook import UNITS, run, write_workbook

import fleetaudit
from fleetaudit.audit_file import Request
from fleetaudit.catalogue.shipped import load
from fleetaudit.cli import main
from fleetaudit.errors import FleetAuditError
from fleetaudit.reading.route_days import read_route_days
from fleetaudit.route_file import RouteRequest, plan_workbook
from fleetaudit.routing import solver
from fleetaudit.workbook.book import open_workbook
from fleetaudit.writing.time_zone import description

AS_OF = ["--as-of", "2026-11-28", "--effort", "quick"]


@pytest.fixture
def out(workbook: Path, tmp_path: Path) -> Path:
    run(workbook, "-o", tmp_path / "out", *AS_OF, "--json", tmp_path / "plan.json", "--days", "3")
    return tmp_path / "out"


@pytest.fixture
def plan(out: Path) -> dict:
    return json.loads((out.parent / "plan.json").read_text(encoding="utf-8"))


def stops(plan):
    return [stop for day in plan["days"] for stop in day["stops"]]


def test_the_document_holds_what_other_programs_build_on(plan):
    assert {"days", "left_out", "assumptions", "objective"} <= plan.keys()
    for day in plan["days"]:
        assert {
            "crew",
            "date",
            "depot_out",
            "depot_back",
            "drive_min",
            "work_min",
            "overtime_min",
            "km",
            "load_out",
            "stops",
        } <= day.keys()
        assert day["load_out"].keys() == {"kg", "ft3"}
        assert day["load_out"]["kg"] == pytest.approx(sum(s["kg_new"] for s in day["stops"]), abs=0.2)
    for stop in stops(plan):
        assert {
            "visit_id",
            "unit_ids",
            "lat",
            "lon",
            "arrive",
            "start",
            "depart",
            "kg_new",
            "ft3_new",
            "kg_spent",
        } <= stop.keys()
    for item in plan["left_out"]:
        assert {"visit_id", "unit_ids", "reason", "numbers"} <= item.keys()
    ids = [one["visit_id"] for one in (*stops(plan), *plan["left_out"])]
    assert len(ids) == len(set(ids))
    for stop in stops(plan):
        assert set(stop["ride_along_ids"]) < set(stop["unit_ids"])  # something else brings the crew there


def test_what_is_due_is_planned_and_what_has_no_place_says_so(plan):
    planned = {unit for stop in stops(plan) for unit in stop["unit_ids"]}
    assert {"U-1", "U-3", "U-4", "U-6"} <= planned
    lost = next(item for item in plan["left_out"] if "U-5" in item["unit_ids"])
    assert "no latitude and longitude" in lost["reason"]
    # 1.5 ft3 in, as the list says, on 3 in of gravel in a vessel of 10 in (Settings: default_gravel_depth);
    # wet it weighs 1.3 times as much (Settings: route_wet_mass)
    dairy = next(stop for stop in stops(plan) if "U-1" in stop["unit_ids"])
    assert dairy["ft3_new"] == pytest.approx(1.5 + math.pi / 4 * 10**2 * 3 / 12**3, abs=0.01)
    assert dairy["kg_spent"] == pytest.approx(1.3 * dairy["kg_new"], abs=0.1)
    assert dairy["depart"] <= "11:45"  # closes at noon, less the margin of 15 minutes


def test_the_solver_is_named(plan):
    assert plan["method"] == ("solver plan" if solver.installed() else "greedy plan")


def test_without_the_solver_a_labelled_greedy_plan(workbook, tmp_path, monkeypatch):
    monkeypatch.setattr(solver, "installed", lambda: False)
    result = run(workbook, "-o", tmp_path / "g", *AS_OF, "--json", tmp_path / "g.json")
    assert json.loads((tmp_path / "g.json").read_text(encoding="utf-8"))["method"] == "greedy plan"
    assert "greedy plan" in result.output
    assert "Greedy plan" in (tmp_path / "g" / "fleet.route.html").read_text(encoding="utf-8")


def test_geojson_by_the_rules_of_its_standard(out, plan):
    """RFC 7946: a collection of features; positions are longitude, latitude.

    A line has two positions or more.
    """
    found = json.loads((out / "fleet.route.geojson").read_text(encoding="utf-8"))
    assert found["type"] == "FeatureCollection"
    assert "crs" not in found
    points = {}
    for feature in found["features"]:
        assert feature.keys() >= {"type", "geometry", "properties"}
        kind, where = feature["geometry"]["type"], feature["geometry"]["coordinates"]
        for longitude, latitude in [where] if kind == "Point" else where:
            assert -180 <= longitude <= 180
            assert -90 <= latitude <= 90
        assert kind == "Point" or (kind == "LineString" and len(where) >= 2)
        if kind == "Point":
            points[feature["properties"]["visit_id"]] = where
    for stop in stops(plan):
        assert points[stop["visit_id"]] == pytest.approx([stop["lon"], stop["lat"]])


def test_gpx_read_back(out, plan):
    text = (out / "fleet.route.gpx").read_text(encoding="utf-8")
    found = gpxpy.parse(text)
    assert ET.fromstring(text).attrib["version"] == "1.1"
    assert [len(route.points) - 2 for route in found.routes] == [len(day["stops"]) for day in plan["days"]]
    inner = [(p.latitude, p.longitude) for route in found.routes for p in route.points[1:-1]]
    assert inner == [(stop["lat"], stop["lon"]) for stop in stops(plan)]


def test_calendar_read_back(out, plan):
    raw = (out / "fleet.route.ics").read_bytes()
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    events = {str(e["UID"]): e for e in icalendar.Calendar.from_ical(raw).walk("VEVENT")}
    assert len(events) == len(stops(plan))
    for day in plan["days"]:
        for stop in day["stops"]:
            event = events[f"{stop['visit_id']}@fleetaudit"]
            assert event.decoded("DTSTART") == datetime.datetime.fromisoformat(
                f"{day['date']}T{stop['start']}"
            )
            assert event.decoded("SEQUENCE") == 0


@pytest.mark.parametrize(
    "zone", ["America/Chicago", "UTC", "Asia/Kolkata", "Australia/Lord_Howe", "Europe/Dublin"]
)
def test_a_time_zone_as_a_library_understands_it(zone):
    # each hour of three months round the changes of October and November against the time zone database
    first = datetime.date(2026, 9, 20)
    body = "\r\n".join(description(zone, first, first + datetime.timedelta(days=90)))
    made = icalendar.Timezone.from_ical(f"{body}\r\n").to_tz(lookup_tzid=False)
    start = datetime.datetime.combine(first, datetime.time())
    for hours in range(0, 24 * 90, 1):
        moment = start + datetime.timedelta(hours=hours, minutes=30)
        expected = moment.replace(tzinfo=ZoneInfo(zone))
        if expected.utcoffset() == expected.replace(fold=1).utcoffset():  # an hour that is there once
            assert moment.replace(tzinfo=made).utcoffset() == expected.utcoffset(), moment


def test_the_calendar_of_a_crew_with_a_time_zone(tmp_path):
    crews = [("Crew A", -45.0, -20.0, 900, 40, 3, "Mon-Fri", "America/Chicago")]
    source = write_workbook(tmp_path / "fleet.xlsx", crews=crews)
    run(source, "-o", tmp_path / "o", *AS_OF, "--json", tmp_path / "p.json")
    found = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    raw = (tmp_path / "o" / "fleet.route.ics").read_bytes()
    events = {str(e["UID"]): e for e in icalendar.Calendar.from_ical(raw).walk("VEVENT")}
    assert events
    for day in found["days"]:
        for stop in day["stops"]:
            # central standard time, six hours behind UTC from 1 November 2026
            local = datetime.datetime.fromisoformat(f"{day['date']}T{stop['start']}")
            start = events[f"{stop['visit_id']}@fleetaudit"].decoded("DTSTART")
            assert start.astimezone(datetime.UTC).replace(tzinfo=None) == local + datetime.timedelta(hours=6)
    assert not any("times on the calendar" in one["what"] for one in found["assumptions"])


def test_a_skill_from_the_sheets(tmp_path):
    crews = [
        ("Crew A", -45.0, -20.0, 900, 40, 3, "Mon-Fri"),
        ("Crew B", -45.0, -20.0, 900, 40, 3, "Mon-Fri", None, "Hoist; boat"),
    ]
    sites = [("north dairy", None, None, None, "hoist"), ("far cabins", None, None, None, "hoist, diver")]
    source = write_workbook(tmp_path / "fleet.xlsx", crews=crews, sites=sites)
    run(source, "-o", tmp_path / "o", *AS_OF, "--json", tmp_path / "p.json")
    found = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    where = {unit: day["crew"] for day in found["days"] for s in day["stops"] for unit in s["unit_ids"]}
    assert where["U-1"] == "Crew B"
    [item] = [one for one in found["left_out"] if "U-6" in one["unit_ids"]]
    assert item["kind"] == "skill"
    assert "Crew B lacks diver" in item["reason"]


def test_pages_reach_nowhere_and_carry_what_crews_need(out, plan):
    for name in ("fleet.route.html", "fleet.route.stops.html", "fleet.route.loads.html"):
        page = (out / name).read_text(encoding="utf-8")
        assert "default-src 'none'" in page
        assert not re.search(r"<script|https?://|<link|<img|\sstyle=", page)
    page = html.unescape((out / "fleet.route.stops.html").read_text(encoding="utf-8"))
    for words in (
        "key under the pot",
        "activated carbon",
        "Bucket",
        "arrows on the body",
        "Measured drain flow",
        "Common practice",
        "wet",
    ):
        assert words.casefold() in page.casefold()
    assert page.count("<svg") == len(stops(plan))  # a code to the place of each stop
    overview = (out / "fleet.route.html").read_text(encoding="utf-8")
    assert "straight lines, not roads" in overview
    assert overview.count('class="map"') == len(plan["days"]) + 1


def test_loads_begin_with_the_last_stop(out, plan):
    rows = list(
        openpyxl.load_workbook(out / "fleet.route.xlsx")["Loads"].iter_rows(min_row=2, values_only=True)
    )
    for day in plan["days"]:
        mine = [row[4] for row in rows if row[0].date().isoformat() == day["date"] and row[1] == day["crew"]]
        expected = [stop["visit_id"] for stop in reversed(day["stops"]) if stop["kg_new"]]
        assert list(dict.fromkeys(mine)) == expected


def edited(out: Path, change) -> Path:
    book = openpyxl.load_workbook(out / "fleet.route.xlsx")
    change(book["Route"])
    book.save(out / "fleet.route.xlsx")
    return out / "fleet.route.xlsx"


def test_a_lock_is_obeyed_by_the_next_plan(out, plan, tmp_path):
    first = stops(plan)[0]["visit_id"]

    def pin(page):
        assert page["A2"].value == first
        page["B2"], page["D2"], page["E2"] = datetime.date(2026, 12, 2), "day", "confirmed by phone"

    run(edited(out, pin), "-o", tmp_path / "next", *AS_OF, "--days", "3", "--json", tmp_path / "next.json")
    found = json.loads((tmp_path / "next.json").read_text(encoding="utf-8"))
    assert [day["date"] for day in found["days"] for stop in day["stops"] if stop["visit_id"] == first] == [
        "2026-12-02"
    ]
    page = openpyxl.load_workbook(next((tmp_path / "next").glob("*.xlsx")))["Route"]
    row = next(row for row in page.iter_rows(min_row=2, values_only=True) if row[0] == first)
    assert row[3:5] == ("day", "confirmed by phone")
    others = {stop["visit_id"]: day["date"] for day in plan["days"] for stop in day["stops"]}
    moved = [s["visit_id"] for d in found["days"] for s in d["stops"] if others[s["visit_id"]] != d["date"]]
    assert moved in ([], [first])


def test_the_lock_offers_its_words(out):
    page = openpyxl.load_workbook(out / "fleet.route.xlsx")["Route"]
    (rule,) = page.data_validations.dataValidation
    assert (rule.type, rule.formula1) == ("list", '"day,crew,both"')
    assert page["D1"].value == "Lock" and str(rule.sqref) == f"D2:D{page.max_row}"
    assert not rule.showErrorMessage, "other words are understood too"


def test_a_unit_whose_name_holds_commas_keeps_its_lock_and_its_day(tmp_path):
    odd = ("B-1, lead", "comma inn", -45.05, -20.05, "10x54", "activated carbon", 1.5, "2012-05-01", 5)
    near = ("B-1", "comma inn", -45.05, -20.05, "10x54", "activated carbon", 1.5, "2026-09-01", 5)
    source = write_workbook(tmp_path / "fleet.xlsx", units=[*UNITS, odd, near])
    run(source, "-o", tmp_path / "out", *AS_OF, "--days", "3")

    def pin(page):
        row = next(row for row in page.iter_rows(min_row=2) if "B-1, lead" in str(row[11].value))
        row[1].value, row[3].value = datetime.date(2026, 12, 2), "day"

    path = edited(tmp_path / "out", pin)
    run(path, "-o", tmp_path / "next", *AS_OF, "--days", "3", "--json", tmp_path / "next.json")
    found = json.loads((tmp_path / "next.json").read_text(encoding="utf-8"))
    days = {unit: day["date"] for day in found["days"] for stop in day["stops"] for unit in stop["unit_ids"]}
    assert days["B-1, lead"] == "2026-12-02"
    made = next((tmp_path / "next").glob("*.xlsx"))
    book = open_workbook(made)
    planned = read_route_days(book, load(), ["B-1, lead", "B-1", "U-1"])
    assert planned["B-1, lead"] == ((datetime.date(2026, 12, 2) - datetime.date(1970, 1, 1)).days, "Crew A")
    assert "B-1" not in planned or "B-1" in days


def test_a_lock_that_cannot_be_kept_comes_first(out, tmp_path):
    def pin(page):
        page["B2"], page["D2"] = datetime.date(2026, 12, 5), "both"  # a Saturday

    result = run(edited(out, pin), "-o", tmp_path / "next", *AS_OF, code=1)
    assert result.output.startswith("! ")
    assert "Route!D2" in result.output
    page = (tmp_path / "next" / "fleet.route.2026-11-28.html").read_text(encoding="utf-8")
    assert page.index("cannot be kept") < page.index("<h1>")


def test_a_word_that_is_no_lock_stops_the_run(out, tmp_path):
    def pin(page):
        page["D2"] = "maybe"

    with pytest.raises(FleetAuditError, match=r'Route!D2: "maybe" is no lock'):
        run(edited(out, pin), "-o", tmp_path / "next", *AS_OF)


def test_sheets_of_the_user_with_our_names_stay(tmp_path):
    def own(book):
        book.create_sheet("Route")["A1"] = "mine"
        book.create_sheet("Loads")["A1"] = "mine too"

    source = write_workbook(tmp_path / "fleet.xlsx", extra=own)
    run(source, "-o", tmp_path / "out", *AS_OF)
    book = openpyxl.load_workbook(tmp_path / "out" / "fleet.route.xlsx")
    assert (book["Route"]["A1"].value, book["Loads"]["A1"].value) == ("mine", "mine too")
    ours = [name for name in book.sheetnames if name.startswith("Route") and name != "Route"]
    assert len(ours) == 1
    assert book[ours[0]]["D1"].value == "Lock"


def test_own_distances(workbook, tmp_path):
    table = tmp_path / "ways.csv"
    table.write_text(
        "from_id,to_id,km,minutes\nCrew A,lost clinic,12,15\nnorth dairy,nowhere,5,9\n", encoding="utf-8"
    )
    run(workbook, "-o", tmp_path / "o", *AS_OF, "--matrix", table, "--json", tmp_path / "p.json")
    found = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    clinic = next(stop for stop in stops(found) if "U-5" in stop["unit_ids"])
    assert (clinic["lat"], clinic["lon"]) == (None, None)
    assert any("nowhere" in one["taken_as"] for one in found["assumptions"])


@pytest.mark.parametrize(
    ("crews", "says"),
    [
        ([("Crew A", None, None, 900, 40, 2, "Mon-Fri")], 'the depot of crew "Crew A" has no place'),
        ([("Crew A", -45.0, -20.0, None, 40, 2, "Mon-Fri")], 'crew "Crew A" has no "Payload"'),
        ([("Crew A", -45.0, -20.0, 900, 40, 2, "now and then")], '"now and then" names no days'),
        (
            [("Crew A", -45.0, -20.0, 900, 40, 2, "Mon-Fri", "Mars/Olympus")],
            'Crews!H2: "Mars/Olympus" is no time',
        ),
        ([("Crew A", None, None, None, None, None, None)], "no crew can be planned for"),
    ],
)
def test_what_a_crews_sheet_lacks_is_said_in_a_sentence(tmp_path, crews, says):
    source = write_workbook(tmp_path / "fleet.xlsx", crews=crews)
    with pytest.raises(FleetAuditError, match=re.escape(says)):
        run(source, "-o", tmp_path / "o", *AS_OF)


def test_a_site_with_hours_nobody_understands_stops_the_run(tmp_path):
    source = write_workbook(tmp_path / "fleet.xlsx", sites=[("north dairy", "mornings mostly", None, None)])
    with pytest.raises(FleetAuditError, match=r'Sites!B2: "mornings mostly" are no hours'):
        run(source, "-o", tmp_path / "o", *AS_OF)


class Engine(BaseHTTPRequestHandler):
    """Answers as routing engines do.

    10 km and 600 s for every pair, and no way at all between the first two.
    """

    def do_GET(self):
        asked = parse_qs(urlparse(self.path).query)
        rows, columns = (len(asked[name][0].split(";")) for name in ("sources", "destinations"))
        body = {
            name: [
                [None if (row, column) == (0, 1) else value for column in range(columns)]
                for row in range(rows)
            ]
            for name, value in (("durations", 600.0), ("distances", 10_000.0))
        }
        self.send_response(200)
        self.end_headers()
        self.wfile.write(json.dumps(body).encode())

    def log_message(self, *args):
        pass


def test_a_routing_engine_of_ones_own(workbook, tmp_path):
    server = HTTPServer(("127.0.0.1", 0), Engine)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    address = f"http://127.0.0.1:{server.server_port}"
    run(workbook, "-o", tmp_path / "o", *AS_OF, "--roads", address, "--json", tmp_path / "p.json")
    server.shutdown()
    server.server_close()
    found = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    # every leg is 10 km, a day of n stops has n + 1 of them; the missing one is taken from its way back
    for day in found["days"]:
        assert day["km"] == 10 * (len(day["stops"]) + 1)
    again = tmp_path / "o" / "fleet.route.ways.csv"
    run(workbook, "-o", tmp_path / "again", *AS_OF, "--matrix", again, "--json", tmp_path / "q.json")
    assert json.loads((tmp_path / "q.json").read_text(encoding="utf-8"))["days"] == found["days"]


@pytest.mark.parametrize("address", ["http://127.0.0.1:9", "ftp://example.invalid", "localhost"])
def test_a_routing_engine_that_does_not_answer(workbook, tmp_path, address):
    with pytest.raises(FleetAuditError, match="routing engine"):
        run(workbook, "-o", tmp_path / "o", *AS_OF, "--roads", address)


def test_the_form_is_read_back_by_record(out, workbook, plan, tmp_path):
    form = out / "fleet.route.returns.xlsx"
    book = openpyxl.load_workbook(form)
    page = book.worksheets[0]
    titles = {str(cell.value).split(" (")[0]: cell.column for cell in page[1]}
    units = [page.cell(row, titles["Unit ID"]).value for row in range(2, page.max_row + 1)]
    assert units == [unit for stop in stops(plan) for unit in stop["unit_ids"]]
    row = units.index("U-3") + 2
    page.cell(row, titles["Visit date"]).value = datetime.date(2026, 11, 27)
    page.cell(row, titles["Initials"]).value = "AB"
    page.cell(row, titles["Bed"]).value = "new bed"
    page.cell(row, titles["Media loaded"]).value = "softener resin"
    book.save(form)
    args = ["record", str(workbook), str(form), "-o", str(tmp_path / "kept"), "--as-of", "2026-11-28"]
    result = CliRunner().invoke(main.cli, args, standalone_mode=False)
    assert result.exception is None, result.output
    kept = openpyxl.load_workbook(next((tmp_path / "kept").glob("*.xlsx")))["Units"]
    assert [str(r[7])[:10] for r in kept.iter_rows(values_only=True) if r[0] == "U-3"] == ["2026-11-27"]


def test_the_same_from_python(workbook, plan):
    request = RouteRequest(Request(workbook, datetime.date(2026, 11, 28)), days=3, effort="quick")
    assert fleetaudit.plan_route(request)["days"] == plan["days"]


def test_the_order_of_the_list_does_not_matter(workbook, plan, tmp_path):
    source = write_workbook(
        tmp_path / "turned.xlsx", units=UNITS[::-1], sites=[("north dairy", "Mon-Fri 8-12", None, None)]
    )
    request = RouteRequest(Request(source, datetime.date(2026, 11, 28)), days=3, effort="quick")
    found = fleetaudit.plan_route(request)
    for one in (found, plan):
        for stop in stops(one):
            stop["unit_ids"].sort()
    assert found["days"] == plan["days"]


def test_nothing_due_says_so(tmp_path):
    fresh = [("U-1", "north dairy", -44.9, -20.0, "10x54", "activated carbon", 1.5, "2026-10-01", 5)]
    source = write_workbook(tmp_path / "fleet.xlsx", units=fresh)
    result = run(source, "-o", tmp_path / "o", *AS_OF, "--fixes", "none", "--json", tmp_path / "p.json")
    found = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    assert (found["days"], found["left_out"]) == ([], [])
    assert "Nothing to plan" in result.output
    assert "Nothing to plan" in (tmp_path / "o" / "fleet.route.html").read_text(encoding="utf-8")
    # RFC 5545 section 3.6: a calendar holds at least one component
    assert not (tmp_path / "o" / "fleet.route.ics").exists()
    assert openpyxl.load_workbook(tmp_path / "o" / "fleet.route.xlsx")["Route"].max_row == 1


def test_an_unknown_fix_is_refused(workbook, tmp_path):
    with pytest.raises(FleetAuditError, match='--fixes "urgent" is neither'):
        run(workbook, "-o", tmp_path / "o", *AS_OF, "--fixes", "urgent")


def test_the_sample_can_be_planned_as_it_comes(tmp_path):
    sample = Path(__file__).resolve().parents[2] / "sample_fleet.xlsx"
    run(sample, "-o", tmp_path, "--as-of", "2026-11-01", "--effort", "quick", "--json", tmp_path / "p.json")
    found = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    assert stops(found)
    assert any("latitude and longitude" in item["reason"] for item in found["left_out"])
    page = (tmp_path / "sample_fleet.route.html").read_text(encoding="utf-8")
    drawing = page[page.index("<svg") : page.index("</svg>")]
    dots = [
        tuple(map(float, found))
        for found in re.findall(r'class="stop">.*?cx="([\d.]+)" cy="([\d.]+)" r="9"', drawing)
    ]
    assert len(dots) == len(stops(found))
    assert all(math.dist(one, two) > 17 for one, two in itertools.combinations(dots, 2))  # side by side
    book = openpyxl.load_workbook(tmp_path / "sample_fleet.route.xlsx")
    assert {"Route", "Loads", "Left out", "Assumptions", "Water rooms"} <= set(book.sheetnames)


def test_notes_and_doubtful_findings_ride_along_and_never_make_a_trip():
    sample = Path(__file__).resolve().parents[2] / "sample_fleet.xlsx"
    asked = Request(sample, datetime.date(2026, 11, 1))
    planned = plan_workbook(RouteRequest(asked, fixes=("plan",), effort="quick", use_solver=False))
    reasons = {
        (one.unit, one.check): one
        for one in planned.audit_report.findings
        if one.confidence != "measure-first"
    }
    visits = planned.report.plan.problem.visits
    riding = [task for visit in visits if visit.riders for task in visit.riders.tasks]
    assert riding
    assert all(task.rides for task in riding)
    assert all((task.kg_new == 0) == ("media-due-later" not in task.why) for task in riding)
    for visit in visits:
        assert visit.tasks
        for task in visit.tasks:
            assert not task.rides
            found = [reasons[task.unit, slug] for slug in task.why]
            assert all(one.tier != "note" or one.check == "media-due-soon" for one in found)
