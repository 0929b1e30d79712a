"""A plan as iCalendar (RFC 5545): one event a visit, its UID the same from plan to plan."""

from __future__ import annotations

import re
from datetime import date, timedelta

from fleetaudit.language import code, say
from fleetaudit.routing.dates import clock, date_of
from fleetaudit.routing.model import DAY_S, DayPlan, Stop
from fleetaudit.schema.results import TOOL
from fleetaudit.writing.route_report import RouteReport, ft3
from fleetaudit.writing.time_zone import description

LINE_OCTETS = 75
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


def calendar(report: RouteReport) -> str:
    """Events of all visits, and cancellations of promised ones that are left out.

    Times are those of the time zone of the crew, described in the file; local where it names none. Nothing
    where there is no event: the standard asks for at least one.
    """
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:-//{TOOL}//{report.version}//{code().upper()}",
        "CALSCALE:GREGORIAN",
        "METHOD:PUBLISH",
    ]
    problem = report.plan.problem
    for zone in sorted({_zone(report, day) for day in report.plan.days} - {""}):
        lines += description(zone, date_of(problem.first_day), date_of(problem.last_day))
    for day in report.plan.days:
        for stop in day.stops:
            lines += _event(report, day, stop)
    for item in report.plan.left_out:
        lines += _cancelled(report, item.visit)
    if not any(line == "BEGIN:VEVENT" for line in lines):
        return ""
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in _folded(line))


def _event(report: RouteReport, day: DayPlan, stop: Stop) -> list[str]:
    visit, crew, when = report.visit(stop.visit), report.crew(day), report.date(day)
    shift = report.plan.problem.shifts[day.shift]
    zone = f";TZID={_zone(report, day)}" if _zone(report, day) else ""
    words = "\n".join((
        say("Units {units}", units=", ".join(visit.unit_ids)),
        say("Media {kg:.0f} kg, {room:.1f} ft3", kg=visit.kg_new, room=ft3(visit.m3_new)),
        report.access.get(visit.id, ""),
    ))  # fmt: skip
    lines = [
        "BEGIN:VEVENT",
        f"UID:{visit.id}@{TOOL}",
        f"DTSTAMP:{report.as_of:%Y%m%d}T000000Z",
        f"SEQUENCE:{report.revision(stop.visit, crew, shift.day, clock(stop.arrive_s))}",
        f"DTSTART{zone}:{_moment(when, stop.start_s)}",
        f"DTEND{zone}:{_moment(when, stop.depart_s)}",
        f"SUMMARY:{_text(f'{crew}: {visit.site}')}",
        f"DESCRIPTION:{_text(words.strip())}",
    ]
    if visit.place is not None:
        lines.append(f"GEO:{visit.place.latitude:.6f};{visit.place.longitude:.6f}")
    return [
        *lines,
        "STATUS:CONFIRMED" if visit.promise and visit.promise.confirmed else "STATUS:TENTATIVE",
        "END:VEVENT",
    ]


def _zone(report: RouteReport, day: DayPlan) -> str:
    return report.plan.problem.crews[report.plan.problem.shifts[day.shift].crew].time_zone


def _cancelled(report: RouteReport, number: int) -> list[str]:
    visit = report.visit(number)
    before = visit.promise
    if before is None:
        return []
    day = date_of(before.day)
    return [
        "BEGIN:VEVENT",
        f"UID:{visit.id}@{TOOL}",
        f"DTSTAMP:{report.as_of:%Y%m%d}T000000Z",
        f"SEQUENCE:{before.revision + 1}",
        f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
        f"DTEND;VALUE=DATE:{day + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{_text(say('Called off: {site}', site=visit.site))}",
        "STATUS:CANCELLED",
        "END:VEVENT",
    ]


def _moment(day: date, seconds: int) -> str:
    """Local date and time; a day may run past midnight."""
    day, seconds = day + timedelta(days=seconds // DAY_S), seconds % DAY_S
    return f"{day:%Y%m%d}T{clock(seconds).replace(':', '')}00"


def _text(value: str) -> str:
    value = _CONTROL.sub("\ufffd", value.replace("\r\n", "\n").replace("\r", "\n"))
    for sign in "\\;,":
        value = value.replace(sign, f"\\{sign}")
    return value.replace("\n", "\\n")


def _folded(line: str) -> list[str]:
    """Line cut to at most 75 octets, never inside a character; each further piece begins with a blank."""
    pieces, piece, size = [], "", 0
    for sign in line:
        octets = len(sign.encode("utf-8"))
        if size + octets > LINE_OCTETS:
            pieces.append(piece)
            piece, size = " ", 1
        piece, size = piece + sign, size + octets
    return [*pieces, piece]
