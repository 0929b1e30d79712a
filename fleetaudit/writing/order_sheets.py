"""Sheets of what to order, quote and measure, and of when media fall due."""

from __future__ import annotations

from fleetaudit.language import say
from fleetaudit.schema import results
from fleetaudit.workbook.place import quoted
from fleetaudit.workbook.sheets import Link, Sheet, Styled
from fleetaudit.writing.report import OrderLine, Report, Span

Row = list[object]

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


def order_sheets(report: Report) -> list[Sheet]:
    """All of them, in the order they stand in the workbook."""
    return [_order(report), _quote(report), _measuring(report), _media(report)]


def _table(
    name: str, columns: tuple[results.ResultColumn, ...], rows: list[Row], styles: tuple[str, ...], none: str
) -> Sheet:
    heading: Row = [Styled(column.title, "heading") for column in columns]
    body: list[Row] = rows or [[Styled(none)]]
    return Sheet(
        name,
        [heading, *body],
        [column.width for column in columns],
        freeze_rows=1,
        filter=True,
        styles=styles,
    )


def _order(report: Report) -> Sheet:
    rows = [_ordered(TOTAL, "", line, netted=True) for line in report.orders]
    rows += [
        _ordered(group.kind, group.name, line, netted=group.netted)
        for group in report.order_groups
        for line in group.lines
    ]
    return _table(
        results.SHEET_ORDER, results.ORDER_COLUMNS, rows, ORDER_STYLES, "No finding asks for a part."
    )


def _ordered(kind: str, name: str, line: OrderLine, *, netted: bool) -> Row:
    stock: Row = [line.stock, line.to_order, line.order_unit] if netted else [None, None, None]
    return [
        kind, name, line.what, line.size, line.needed, line.unit, line.mass, line.mass_unit, line.bags,
        line.bag, *stock, line.doubtful or None, line.units,
    ]  # fmt: skip


def _quote(report: Report) -> Sheet:
    rows: list[Row] = [
        [
            line.account, line.units, line.what, *_middle(line.parts, line.media, line.work),
            *_ends(line.total),
            *(round(getattr(line.hours, end) or 0.0, 1) for end in ("low", "target", "high")),
            line.text,
        ]
        for line in report.quotes
    ]  # fmt: skip
    return _table(results.SHEET_QUOTE, results.QUOTE_COLUMNS, rows, QUOTE_STYLES, "No finding asks for work.")


def _middle(*spans: Span) -> list[object]:
    return [round(span.target or 0.0) for span in spans]


def _ends(span: Span) -> list[object]:
    return [round(span.low or 0.0), round(span.target or 0.0), round(span.high or 0.0)]


def _measuring(report: Report) -> Sheet:
    column = f"{quoted(report.sheet)}!A"
    rows: list[Row] = [
        [
            line.unit_id,
            line.account,
            _link(f"{column}{line.row}"),
            line.because,
            line.measure,
            line.bring,
            line.crew,
        ]
        for line in report.measuring
    ]
    return _table(
        results.SHEET_MEASURING,
        results.MEASURING_COLUMNS,
        rows,
        MEASURING_STYLES,
        "No unit has to be measured first.",
    )


def _media(report: Report) -> Sheet:
    column = f"{quoted(report.sheet)}!A"
    rows: list[Row] = [
        [
            line.unit_id, line.account, _link(f"{column}{line.row}"), say(line.media), line.loaded, line.day,
            line.earliest, line.latest, line.overdue_days,
            ", ".join(say(part) for part in line.state.split(", ")), say(line.by), say(line.work),
            "yes" if line.guards else "",
        ]
        for line in report.media
    ]  # fmt: skip
    return _table(
        results.SHEET_MEDIA, results.MEDIA_COLUMNS, rows, MEDIA_STYLES, "No unit in service holds a medium."
    )


def _link(cell: str) -> Link:
    return Link(cell, cell)
