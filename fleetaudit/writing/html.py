"""The summary page: one file that opens from disk, asks no network for anything and works without scripts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from markupsafe import Markup

from fleetaudit.assets import read_text
from fleetaudit.language import say
from fleetaudit.schema.results import NOT_CHECKED, NOT_JUDGED, VERDICTS
from fleetaudit.writing import page_sections as sections
from fleetaudit.writing.charts import age_chart, check_chart, window_chart
from fleetaudit.writing.cost_chart import cost_chart
from fleetaudit.writing.crew_chart import funnel_chart
from fleetaudit.writing.finding_rows import finding_list
from fleetaudit.writing.map_chart import map_chart
from fleetaudit.writing.page import ROWS_SHOWN, content_hash, environment, lean, query
from fleetaudit.writing.page_words import KINDS, WORDS
from fleetaudit.writing.register import in_order
from fleetaudit.writing.report import Report
from fleetaudit.writing.setup_chart import setup_chart

CHUNK = 300
LOT = 1_000
LINES_SHOWN = 30_000
#: names of columns that the style sheet writes, by its own word for each
LABELS = {
    "day": "Route day",
    "account": "Account",
    "unit": "Unit",
    "cost": "A year",
    "confidence": "Confidence",
    "crew": "Crew",
}


def render(report: Report, *, catalogue_hash: str = "") -> str:
    """Summary page of a report."""
    return "".join(pieces(report, catalogue_hash=catalogue_hash))


def pieces(report: Report, *, catalogue_hash: str = "") -> Iterator[str]:
    """The same in pieces: a long page is never held as one text, which takes a multiple of its bytes."""
    style, script = (
        lean(read_text("templates/summary.css")) + _labels(),
        lean(read_text("templates/summary.js")),
    )
    listed = in_order(report)
    shown = finding_list(listed[:LINES_SHOWN], report)
    rows = shown.rows
    return (
        environment()
        .get_template("summary.html.j2")
        .generate(
            report=report,
            catalogue_hash=catalogue_hash,
            style=Markup(style),
            script=Markup(script),
            style_hash=content_hash(style),
            script_hash=content_hash(script),
            headline=sections.headline(report),
            first=sections.first(listed, rows),
            charts=(
                window_chart(report),
                age_chart(report),
                check_chart(report),
                setup_chart(report),
                cost_chart(report),
                map_chart(report),
            ),
            crews=sections.crews(report),
            funnel=funnel_chart(report.crews),
            first_lines=Markup("".join(shown.markup[:CHUNK])),
            first_count=len(rows[:CHUNK]),
            other_lines=_lots(shown.markup[CHUNK:]),
            sentences=shown.sentences,
            due=sections.media_due(report),
            lines=len(listed),
            rows_shown=LINES_SHOWN,
            tiers=sections.by_tier(listed),
            accounts=sections.groups(rows, "account"),
            days=sections.by_day(rows, report),
            off_route=sum(not row.day for row in rows),
            shown=len(rows),
            gaps=sections.gaps(report.not_checked),
            unjudged_link=f"tier={query(say(WORDS[NOT_CHECKED]))}",
            unjudged=report.by_verdict.get(NOT_CHECKED, 0),
            problems=sorted(report.remarks, key=lambda remark: remark.level)[:ROWS_SHOWN],
            cited={
                source: number
                for number, source in enumerate(dict.fromkeys(s.source for s in report.sources), start=1)
            },
            judged=len(report.units) - report.by_verdict.get(NOT_JUDGED, 0),
            verdicts=[(KINDS[v], say(WORDS.get(v, v)), report.by_verdict.get(v, 0)) for v in VERDICTS],
        )
    )


def _lots(lines: Sequence[str]) -> list[Markup]:
    """Lines of markup, many at a time."""
    return [Markup("".join(lines[first : first + LOT])) for first in range(0, len(lines), LOT)]


def _labels() -> str:
    """Names of the columns that the style sheet puts before the cells of a narrow page."""
    words = "".join(f'--{name}:"{say(title)}: ";' for name, title in LABELS.items())
    return f"\n:root{{{words}}}"
