"""Dates from a closed list of forms; whether day or month comes first is settled for the whole column."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime
from enum import Enum

import numpy as np
from msgspec import Struct

from fleetaudit.facts.frame import Floats
from fleetaudit.language import dated, later, say, several
from fleetaudit.reading import grammar
from fleetaudit.reading.cells import NAN, Filled, Reading, Rules, Strip, report_trouble, spread
from fleetaudit.reading.patterns import pattern
from fleetaudit.reading.remarks import CELLS, Log, spoken
from fleetaudit.schema.column import Missing, Origin
from fleetaudit.schema.remark import Level

FIRST_YEAR, LAST_YEAR = 1950, 2100
_EPOCH = date(1970, 1, 1).toordinal()
_SERIAL_ZERO = date(1899, 12, 30).toordinal()
_SHIFT_1904 = 1462
_CENTURY_TURN = 50

_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "january jan",
            "february feb",
            "march mar",
            "april apr",
            "may",
            "june jun",
            "july jul",
            "august aug",
            "september sept sep",
            "october oct",
            "november nov",
            "december dec",
        ),
        1,
    )
    for name in names.split()
}
_NAME = "(?P<name>" + "|".join(sorted(_MONTHS, key=len, reverse=True)) + r")\.?"
_TIME = r"(?:[ T][0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]+)?)?(?: ?[ap]\.?m\.?)?Z?)?"
_YEAR = r"'?(?P<year>[0-9]{4}|[0-9]{2})"
_DAY = r"(?P<day>[0-9]{1,2})(?:st|nd|rd|th)?"


class Order(Enum):
    """What comes first in a date of numbers."""

    UNKNOWN = "auto"
    DAY = "day"
    MONTH = "month"


class Span(Struct, frozen=True, gc=False):
    """First and last day of a date as typed, counted from 1970-01-01; `problem` says why there is none."""

    low: int = 0
    high: int = 0
    guessed: bool = False
    problem: str = ""


_ISO = pattern(
    rf"(?P<year>[0-9]{{4}})(?P<mark>[-/.])(?P<month>[0-9]{{1,2}})(?P=mark)(?P<day>[0-9]{{1,2}}){_TIME}", re.I
)
_COMPACT = pattern(r"(?P<year>(?:19|20)[0-9]{2})(?P<month>[01][0-9])(?P<day>[0-3][0-9])")
_NUMBERS = pattern(
    r"(?P<first>[0-9]{1,2})(?P<mark>[-/.])(?P<second>[0-9]{1,2})(?P=mark)(?P<year>[0-9]{4}|[0-9]{2})" + _TIME,
    re.I,
)
_NAMED = (
    pattern(rf"{_DAY}[ -/.]*(?:of )?{_NAME}[ -/.,]*{_YEAR}{_TIME}", re.I),
    pattern(rf"{_NAME}[ -/]*{_DAY}(?:,? |[-/]){_YEAR}{_TIME}", re.I),
)
_MONTH_FORMS = (
    pattern(rf"{_NAME}[ -/.,]*{_YEAR}", re.I),
    pattern(r"(?P<month>[0-9]{1,2})[-/.](?P<year>[0-9]{4})"),
    pattern(r"(?P<year>[0-9]{4})[-/.](?P<month>[0-9]{1,2})"),
)
_YEAR_FORM = pattern(r"(?P<year>[0-9]{4})")
_ODD_ABBREVIATION = pattern(rf"{_NAME}[ -/.,]+(?P<year>[0-9]{{2}})", re.I)


def _full_year(text: str) -> int:
    year = int(text)
    return year if len(text) > 2 else year + (2000 if year < _CENTURY_TURN else 1900)


def _day(year: int, month: int, day: int) -> Span:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        return Span(problem=later("lies outside {first} to {last}", first=FIRST_YEAR, last=LAST_YEAR))
    try:
        number = date(year, month, day).toordinal() - _EPOCH
    except ValueError:
        return Span(problem="is no day of the calendar")
    return Span(number, number)


def _month(year: int, month: int, guessed: bool = False) -> Span:
    if not 1 <= month <= 12:
        return Span(problem="is no month of the calendar")
    first = _day(year, month, 1)
    if first.problem:
        return first
    after = date(year + month // 12, month % 12 + 1, 1).toordinal() - _EPOCH
    return Span(first.low, after - 1, guessed)


def _year(year: int) -> Span:
    first, last = _day(year, 1, 1), _day(year, 12, 31)
    return first if first.problem else Span(first.low, last.low)


def read_text(text: str, order: Order) -> Span:
    """Read a date typed as text, which must be plain.

    >>> read_text("5 Apr 2021", Order.UNKNOWN) == read_text("2021-04-05", Order.UNKNOWN)
    True
    >>> read_text("03/04/2021", Order.UNKNOWN).problem
    'could be 3 April or 4 March'
    """
    for form in (_ISO, _COMPACT):
        found = form.fullmatch(text)
        if found:
            return _day(int(found["year"]), int(found["month"]), int(found["day"]))
    found = _NUMBERS.fullmatch(text)
    if found:
        return _from_numbers(int(found["first"]), int(found["second"]), _full_year(found["year"]), order)
    for form in _NAMED:
        found = form.fullmatch(text)
        if found:
            return _day(_full_year(found["year"]), _MONTHS[found["name"].lower()], int(found["day"]))
    for form in _MONTH_FORMS:
        found = form.fullmatch(text)
        if found:
            named = found.groupdict().get("name")
            month = _MONTHS[named.lower()] if named else int(found["month"])
            short = bool(_ODD_ABBREVIATION.fullmatch(text)) and int(found["year"]) <= 31
            return _month(_full_year(found["year"]), month, short and "'" not in text)
    found = _YEAR_FORM.fullmatch(text)
    return _year(int(found["year"])) if found else Span(problem="is not a date this tool knows")


_MONTH_NAMES = tuple(date(2000, month, 1).strftime("%B") for month in range(1, 13))


def _from_numbers(first: int, second: int, year: int, order: Order) -> Span:
    if order is Order.UNKNOWN and first != second and first <= 12 and second <= 12:
        if not first or not second:
            return Span(problem="is no day of the calendar")
        return Span(
            problem=later(
                "could be {one} or {other}",
                one=f"{first} {_MONTH_NAMES[second - 1]}",
                other=f"{second} {_MONTH_NAMES[first - 1]}",
            )
        )
    day_first = order is Order.DAY or first > 12
    if second > 12:
        day_first = False
    day, month = (first, second) if day_first else (second, first)
    return _day(year, month, day)


def proves(text: str) -> Order | None:
    """Order of the only way in which a date of numbers can be read; None where there are two ways or none."""
    found = _NUMBERS.fullmatch(text)
    if found is None:
        return None
    first, second = int(found["first"]), int(found["second"])
    return Order.DAY if first > 12 >= second else Order.MONTH if second > 12 >= first else None


def column_order(texts: Iterable[str], wanted: str = "auto") -> tuple[Order, int, bool]:
    """Order of a column, the number of texts that prove it, and whether others prove the contrary."""
    proofs = [proves(text) for text in texts]
    day, month = proofs.count(Order.DAY), proofs.count(Order.MONTH)
    if day and month:
        return Order.UNKNOWN if wanted == "auto" else Order(wanted), day + month, True
    if wanted != "auto":
        return Order(wanted), day + month, False
    return (Order.DAY if day else Order.MONTH if month else Order.UNKNOWN), day + month, False


def read_serial(number: float, epoch_1904: bool) -> Span:
    """Read a bare number as a year, a date written 20210405, or the day count of a spreadsheet.

    >>> read_serial(44291, False) == read_text("2021-04-05", Order.UNKNOWN)
    True
    """
    if number == int(number) and FIRST_YEAR <= number <= LAST_YEAR:
        return _year(int(number))
    compact = _COMPACT.fullmatch(str(int(number))) if number == int(number) else None
    if compact:
        return _day(int(compact["year"]), int(compact["month"]), int(compact["day"]))
    ordinal = int(number) + _SERIAL_ZERO + (_SHIFT_1904 if epoch_1904 else 0)
    first, last = date(FIRST_YEAR, 1, 1).toordinal(), date(LAST_YEAR, 12, 31).toordinal()
    if not first <= ordinal <= last:
        return Span(problem=later("is no date between {first} and {last}", first=FIRST_YEAR, last=LAST_YEAR))
    return Span(ordinal - _EPOCH, ordinal - _EPOCH)


def _in_bounds(day: date) -> Span:
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        return _day(day.year, day.month, day.day)
    number = day.toordinal() - _EPOCH
    return Span(number, number)


class Dates(Struct, frozen=True):
    """Dates of a column: the middle of what was typed, and both ends [days since 1970-01-01]."""

    middle: Filled
    low: Floats
    high: Floats


def read_dates(strip: Strip, rules: Rules, log: Log) -> Dates:
    """Dates of a column, with remarks on order, serial numbers and what could not be read."""
    order, proof, contrary = column_order(strip.deciding_texts(), rules.date_order)
    reading = Reading.empty(len(strip.distinct))
    low, high = [NAN] * len(strip.distinct), [NAN] * len(strip.distinct)
    groups: dict[str, list[int]] = {"serial": [], "guessed": [], "decided": []}
    for which, cell in enumerate(strip.distinct):
        if cell.value is None:
            continue
        if type(cell.value) is date and FIRST_YEAR <= cell.value.year <= LAST_YEAR:
            low[which] = high[which] = number = cell.value.toordinal() - _EPOCH
            reading.known(which, number, Origin.TYPED)
            continue
        missing = report_trouble(strip, which, log)
        if missing is not None:
            reading.lost(which, missing)
            continue
        span = _span(cell.value, order, rules.epoch_1904)
        if span is None:
            continue
        if span.problem:
            _unread(strip, which, span.problem, reading, log)
            continue
        low[which], high[which] = span.low, span.high
        reading.known(which, (span.low + span.high) // 2, Origin.GUESSED if span.guessed else Origin.TYPED)
        if span.guessed:
            groups["guessed"].append(which)
        elif isinstance(cell.value, int | float) and span.low == span.high:
            groups["serial"].append(which)
        elif isinstance(cell.value, str) and read_text(cell.value, Order.UNKNOWN).problem:
            groups["decided"].append(which)
    _sum_up(strip, groups, order, proof, contrary, rules, log)
    ends = (np.array(side, dtype=np.float64)[strip.index] for side in (low, high))
    return Dates(spread(strip, reading), *ends)


def _span(value: object, order: Order, epoch_1904: bool) -> Span | None:
    if isinstance(value, datetime):
        return _in_bounds(value.date())
    if isinstance(value, date):
        return _in_bounds(value)
    if isinstance(value, str):
        return None if grammar.says_nothing(value) else read_text(value, order)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return read_serial(value, epoch_1904)
    return Span(problem="is not a date")


def _unread(strip: Strip, which: int, problem: str, reading: Reading, log: Log) -> None:
    outside = "outside" in problem or "between" in problem
    reading.lost(which, Missing.IMPLAUSIBLE if outside else Missing.UNREADABLE)
    fix = say("Type it as 2021-04-05.")
    if problem.startswith("could be"):
        fix = say("Type it as 2021-04-05, or set date_order on the Settings sheet to day or month.")
    shown = strip.distinct[which].shown
    log.add(
        Level.SKIP,
        "implausible" if outside else "unreadable-date",
        say(
            '{cells} {column} "{shown}" {problem}. {fix}',
            cells=CELLS,
            column=spoken(strip.column),
            shown=shown,
            problem=say(problem),
            fix=fix,
        ),
        strip.cells(log, which),
        read=shown,
        effect="checks that need the date did not run",
        column=strip.column.name,
    )


def _sum_up(
    strip: Strip,
    groups: dict[str, list[int]],
    order: Order,
    proof: int,
    contrary: bool,
    rules: Rules,
    log: Log,
) -> None:
    name = strip.column.name
    for which in groups["serial"]:
        cell = strip.distinct[which]
        day = date.fromordinal(int(read_serial(float(str(cell.value)), rules.epoch_1904).low) + _EPOCH)
        log.add(
            Level.INFO,
            "serial-date",
            say("{cells} {shown} read as {day}.", cells=CELLS, shown=cell.shown, day=dated(day)),
            strip.cells(log, which),
            read=cell.shown,
            assumed=day.isoformat(),
            column=name,
        )
    for which in groups["guessed"]:
        cell = strip.distinct[which]
        log.add(
            Level.WARN,
            "guessed-date",
            say(
                '{cells} "{shown}" is taken for a month of a year, not for a day. Type the whole date.',
                cells=CELLS,
                shown=cell.shown,
            ),
            strip.cells(log, which),
            read=cell.shown,
            assumed="a month of a year",
            column=name,
        )
    if groups["decided"]:
        first = say("day") if order is Order.DAY else say("month")
        why = (
            several(proof, "1 other allows nothing else", "{count:,} others allow nothing else")
            if rules.date_order == "auto"
            else say("Settings: date_order")
        )
        log.add(
            Level.WARN,
            "date-order",
            say(
                'Column "{heading}": dates such as "{shown}" are read {first} first ({why}).',
                heading=strip.heading,
                shown=strip.distinct[groups["decided"][0]].shown,
                first=first,
                why=why,
            ),
            strip.cells(log, *groups["decided"]),
            read=say("two readings"),
            assumed=say("{first} first", first=first),
            column=name,
        )
    _warn_of_turned_dates(strip, log)
    if contrary:
        log.add(
            Level.WARN,
            "date-order-mixed",
            say(
                'Column "{heading}" holds dates that can only be day first and others that can '
                "only be month first. Dates that could be either are not read. Type them as "
                "2021-04-05.",
                heading=strip.heading,
            ),
            column=name,
        )


TURNED_LEAST = 8
"""Real dates needed before their days tell anything: eight of at most 12 are a chance of one in 2,000."""


def _warn_of_turned_dates(strip: Strip, log: Log) -> None:
    """Warn where a spreadsheet of the other day and month order seems to have changed dates on the way in.

    Then all that became dates have a day up to 12, and only those that could not be turned stayed text.
    """
    real = [which for which, cell in enumerate(strip.distinct) if isinstance(cell.value, date)]
    days = [cell.value.day for cell in strip.distinct if isinstance(cell.value, date)]
    texts = [cell.value for cell in strip.distinct if isinstance(cell.value, str)]
    numeric = [found for found in map(_NUMBERS.fullmatch, texts) if found]
    stayed = all(int(found["first"]) > 12 or int(found["second"]) > 12 for found in numeric)
    if len(real) >= TURNED_LEAST and numeric and stayed and max(days) <= 12:
        log.add(
            Level.WARN,
            "dates-perhaps-turned",
            say(
                'Column "{heading}": all {count:,} real dates have a day up to 12 and those with '
                "a later day are text, as when day and month were swapped on the way in. Compare "
                "one with its paper.",
                heading=strip.heading,
                count=len(real),
            ),
            strip.cells(log, *real),
            read=say("real dates"),
            effect="every date of the column",
            column=strip.column.name,
        )
