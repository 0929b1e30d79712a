"""Sheets of what to order, quote and measure, and of when media fall due."""

from __future__ import annotations

from functools import lru_cache

from fleetaudit.language import say
from fleetaudit.schema import results
from fleetaudit.workbook.place import quoted
from fleetaudit.workbook.sheets import Link, Sheet
from fleetaudit.writing.report import MeasureLine, MediaLine, OrderLine, QuoteLine, Report, Span
from fleetaudit.writing.tables import Row, long_table

TOTAL = "total"
ORDER_STYLES = (
    "top", "wrap", "wrap", "wrap", "top", "top", "top", "top", "top", "top", "top", "top", "top", "top",
    "integer",
)  # fmt: skip
QUOTE_STYLES = ("wrap", "integer", "wrap", *(("integer",) * 6), "top", "top", "top", "wrap")
MEASURING_STYLES = ("top", "wrap", "", "wrap", "wrap", "wrap", "wrap")
MEDIA_STYLES = (
    "top",
    "wrap",
    "",
    "wrap",
    "date",
    "date",
    "date",
    "date",
    "integer",
    "wrap",
    "wrap",
    "top",
    "top",
)


def order_sheet(report: Report) -> Sheet:
    """What to order: in all, then by account and crew, and on the days of a route."""
    lines = [(TOTAL, "", line, True) for line in report.orders]
    lines += [
        (group.kind, group.name, line, group.netted) for group in report.order_groups for line in group.lines
    ]
    return long_table(
        results.SHEET_ORDER,
        results.ORDER_COLUMNS,
        lines,
        lambda line: _ordered(*line),
        ORDER_STYLES,
        "No finding asks for a part.",
    )


def _ordered(kind: str, name: str, line: OrderLine, netted: bool) -> Row:
    stock: Row = [line.stock, line.to_order, line.order_unit] if netted else [None, None, None]
    return [
        kind, name, line.what, line.size, line.needed, line.unit, line.mass, line.mass_unit, line.bags,
        line.bag, *stock, line.doubtful or None, line.units,
    ]  # fmt: skip


def quote_sheet(report: Report) -> Sheet:
    """A priced line for each account."""
    return long_table(
        results.SHEET_QUOTE,
        results.QUOTE_COLUMNS,
        report.list_quotes(),  # not kept: nothing else of an audit wants them
        _quoted,
        QUOTE_STYLES,
        "No finding asks for work.",
    )


def _quoted(line: QuoteLine) -> Row:
    return [
        line.account, line.units, line.what, *_middle(line.parts, line.media, line.work), *_ends(line.total),
        *[round(end or 0.0, 1) for end in (line.hours.low, line.hours.target, line.hours.high)],
        line.text,
    ]  # fmt: skip


def _middle(*spans: Span) -> list[object]:
    return [round(span.target or 0.0) for span in spans]


def _ends(span: Span) -> list[object]:
    return [round(span.low or 0.0), round(span.target or 0.0), round(span.high or 0.0)]


def measuring_sheet(report: Report) -> Sheet:
    """What to measure before anybody acts."""
    column = f"{quoted(report.sheet)}!A"

    def row(line: MeasureLine) -> Row:
        return [
            line.unit_id,
            line.account,
            _link(f"{column}{line.row}"),
            line.because,
            line.measure,
            line.bring,
            line.crew,
        ]

    return long_table(
        results.SHEET_MEASURING,
        results.MEASURING_COLUMNS,
        report.measuring,
        row,
        MEASURING_STYLES,
        "No unit has to be measured first.",
    )


def media_sheet(report: Report) -> Sheet:
    """When media fall due."""
    column = f"{quoted(report.sheet)}!A"
    spoken = lru_cache(maxsize=1_024)(say)  # the same few words for every unit

    @lru_cache(maxsize=64)
    def state(words: str) -> str:
        return ", ".join([say(part) for part in words.split(", ")])

    def row(line: MediaLine) -> Row:
        return [
            line.unit_id, line.account, _link(f"{column}{line.row}"), spoken(line.media), line.loaded,
            line.day, line.earliest, line.latest, line.overdue_days, state(line.state), spoken(line.by),
            spoken(line.work), "yes" if line.guards else "",
        ]  # fmt: skip

    return long_table(
        results.SHEET_MEDIA,
        results.MEDIA_COLUMNS,
        report.media,
        row,
        MEDIA_STYLES,
        "No unit in service holds a medium.",
    )


def _link(cell: str) -> Link:
    return Link(cell, cell)
