"""Bring the files of texts in step with the code: `python -m tests.make_texts`.

Every English text that is said anywhere becomes an entry of `fleetaudit/data/texts.<language>.po`, with the
places that say it. What a translator has written stays; what nothing says any more is dropped, and printed.
"""

from __future__ import annotations

import ast
import json
import textwrap
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from typing import Any

import click
from babel.messages import Catalog
from babel.messages.mofile import write_mo
from jinja2.ext import extract_from_ast

from fleetaudit import sizing
from fleetaudit.assets import read_table
from fleetaudit.auditing import confidence
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.catalogue.kinds import BY_KEY
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.check import Confidence, Tier
from fleetaudit.checks.registry import CHECKS
from fleetaudit.cli import printing, speaking, typed
from fleetaudit.cli.main import COMMANDS, cli
from fleetaudit.crews import counts, naming
from fleetaudit.language import LANGUAGES, read_entries
from fleetaudit.parts import PartKind
from fleetaudit.ranking import MEDIA, VISITS, WATER
from fleetaudit.reading import block, cells, stock
from fleetaudit.routing import dates, left_out
from fleetaudit.routing.plan import GREEDY, SOLVED
from fleetaudit.schema import fleet, route, visits
from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import MISSING_WORDS, Column
from fleetaudit.web import jobs, server
from fleetaudit.workbook import container
from fleetaudit.writing import (
    acceptance_words,
    added_sheets,
    blank,
    cautions,
    comparison,
    cost_words,
    crew_chart,
    crew_sheet,
    crew_words,
    derivation,
    display,
    explain_text,
    explanation,
    html,
    job_steps,
    map,
    map_chart,
    measuring,
    page_words,
    returns_sheet,
    setup_chart,
    size_text,
    visit_record,
    waiting,
    window_steps,
    wording,
    working,
)  # fmt: skip
from fleetaudit.writing.basis import BASIS_FIGURES
from fleetaudit.writing.orders import PIECES
from fleetaudit.writing.page import environment

ROOT = Path(__file__).resolve().parents[1]
CODE, TEMPLATES = ROOT / "fleetaudit", ROOT / "templates"
#: functions whose first text, or first two, are said
SAYING = {"say": (0,), "later": (0,), "several": (1, 2), "_": (0,), "phrase": (0,)}
#: arguments of remarks that are said where they are put together
SAID_LATER = ("effect", "assumed", "problem")
WIDTH = 100
#: the day a compiled file bears, so that the same texts give the same bytes
NO_DAY = datetime(1980, 1, 1, tzinfo=UTC)


def tables() -> Iterator[tuple[str, str]]:
    """Texts that stand in tables and are said by whoever looks them up, each with the table's name."""
    catalogue = load()
    named: dict[str, Any] = {
        "catalogue/kinds.py": [kind.title for kind in BY_KEY.values()],
        "schema/fleet.py": [column.title for column in fleet.COLUMNS],
        "writing/blank.py": [
            *blank.HOW_TO, blank.UNITS_DOC, *blank.EXPLAINED, *blank.UNIT_SIGNS.values(),
            *(sheet.doc for sheet in blank.SHEETS),
            *(column.doc for sheet in (fleet, *blank.SHEETS) for column in _columns(sheet)),
        ],
        "schema/fleet.py: status": list(fleet.STATUS.choices),
        "schema/fleet.py: water source": list(fleet.WATER_SOURCE.choices),
        "schema/fleet.py: connections": list(fleet.CONNECTIONS.choices),
        "schema/route.py": [column.title for column in route.CREW_COLUMNS],
        "schema/route.py: lock": [route.LOCK.title, route.LOCK.doc, *route.LOCK.choices],
        "schema/visits.py": [
            visits.RETURNS_SHEET,
            *(text for column in visits.RETURN_COLUMNS for text in (column.title, column.doc)),
            *visits.BED_WORK.choices,
        ],
        "schema/column.py": list(MISSING_WORDS.values()),
        "auditing/confidence.py": [confidence.RULE, *(word.word for word in Confidence)],
        "auditing/verdict.py": [word.word for word in Verdict],
        "checks/check.py": [tier.word for tier in Tier],
        "data/media.toml": [name for medium in catalogue.media for name in (medium.name, medium.family)],
        "data/media.toml: mesh": ["layered"],
        "data/purposes.toml": [purpose.words for purpose in catalogue.purposes],
        "data/housings.toml": [housing.name for housing in catalogue.housings],
        "data/settings.toml": [setting.doc for setting in catalogue.settings.values()],
        "data: trust": [f"trust: {word}" for word in ("high", "medium", "low")],
        "crews/naming.py": [word.value for kind in (naming.Standing, naming.Direction) for word in kind],
        "crews/counts.py": [
            counts.NOT_JUDGED, counts.TWICE, counts.CHANGED, counts.UNSETTLED, counts.DATES_SILENT,
        ],
        "parts.py": [*(kind.value for kind in PartKind), PIECES],
        "ranking.py": [WATER, MEDIA, VISITS],
        "routing/dates.py": list(dates.NAMES),
        "routing/left_out.py": list(left_out.NUMBER_NAMES),
        "routing/plan.py": [GREEDY, SOLVED],
        "workbook/container.py": [words for _, words in container._OTHER_STARTS],
        "reading/block.py": [block.AGAIN, block.TOTALS],
        "reading/cells.py": [
            *cells._FIXES, *cells._FIXES.values(), cells.NO_FIX, cells.NUMBER_ALONE, cells.SET_MARK,
        ],
        "reading/stock.py": [stock.NOT_KNOWN, stock.UNITS_WANTED],
        "cli/main.py": [line for _, line in COMMANDS.values()],
        "cli/speaking.py": [*speaking.CLICK_SAYS, *speaking.KINDS.values(), speaking.GROUP_METAVAR],
        "cli/typed.py": [typed.LENGTH, q.FLUX.name, *(column.quantity.name for column in typed.COLUMNS)],
        "cli/printing.py": [*printing.WORDS.values(), *printing.LEVELS.values()],
        "web/jobs.py": list(jobs.WORDS.values()),
        "web/server.py": list(server.SAYS.values()),
        "writing/acceptance_words.py": list(acceptance_words.ENDED.values()),
        "writing/added_sheets.py": list(added_sheets.VERDICT_WORDS.values()),
        "writing/crew_sheet.py": list(crew_sheet.TITLES.values()),
        "writing/basis.py": [words for _, words, _ in BASIS_FIGURES],
        "sizing.py": [sizing.LAW, *sizing.FIGURES.values(), *sizing.SETTINGS.values()],
        "writing/explanation.py": [
            *filter(None, explanation.ORIGIN_WORDS.values()), explanation.PHYSICS, *explanation.MARKS,
            *(title for title, _ in explanation.FIGURE_TITLES.values()),
            *(title for _, title, _ in explanation.STAND_INS),
            *(text for pair in explanation.OTHER_LIMITS for text in pair),
            *(text for pair in explanation.CHANGES.values() for text in pair),
        ],
        "writing/explain_text.py": [explain_text.LEGEND],
        "writing/size_text.py": list(size_text.CAUTIONS),
        "writing/working.py": [working.LAW, working.TERMINAL, working.OWN, working.GEOMETRY],
        "writing/window_steps.py": [window_steps.MIDDLE, *window_steps.CLASH_WORDS.values()],
        "writing/waiting.py": [waiting.RULE],
        "writing/cautions.py": list(cautions.CAUTIONS),
        "writing/cost_words.py": [
            *cost_words.PRICE_WORDS.values(), *(per for _, per in cost_words._WATER_PRICE.values()),
        ],
        "writing/crew_chart.py": list(crew_chart.TWIN),
        "writing/crew_words.py: kinds of job": ["vessel size", "medium", "install year"],
        "writing/crew_words.py": [
            crew_words.PURPOSE, crew_words.TRIED, *crew_words.QUESTIONS, *crew_words.HINTS.values(),
            *crew_words.SAID.values(), *crew_words.UNKNOWN_CLASS.values(), *crew_words.NEXT.values(),
            *(text for subject in crew_words.Subject for text in subject.value),
        ],
        "writing/derivation.py": [
            *derivation.FIGURE_WORDS.values(), *derivation.LIMIT_WORDS.values(),
            *derivation.ACROSS_WORDS.values(),
        ],
        "writing/display.py": [display.UNKNOWN, display.ANY, *display.SIGNS.values(), *display.ONE.values()],
        "writing/html.py": list(html.LABELS.values()),
        "writing/page_words.py": [
            *page_words.WORDS.values(), *page_words.LEVELS.values(), page_words.UNJUDGED, page_words.BETWEEN,
            page_words.DASH,
        ],
        "writing/job_steps.py": [job_steps.STANDING, *job_steps.STEPS],
        "writing/map.py": [map.NOTE],
        "writing/map_chart.py": [*map_chart.WORDS.values(), *map_chart.LENGTH_WORDS.values()],
        "writing/measuring.py": [
            *(text for pairs in measuring.MEASURES.values() for pair in pairs for text in pair),
            *measuring.LEFT,
            *measuring.CELL, *measuring.STATES, measuring.SILENT, *measuring.WAYS, *measuring.WORKS,
        ],
        "writing/returns_sheet.py": [returns_sheet.READ_ME, *returns_sheet.HOW_TO],
        "writing/comparison.py": [
            *(text for pair in comparison.PARTS.values() for text in pair),
            *(column.title for column in comparison.COLUMNS),
            comparison.WAS_UNCHECKED, comparison.OUT_OF_SERVICE, comparison.BY_THE_CALENDAR,
            comparison.CANNOT_RUN, comparison.VALUE_LOST,
        ],
        "writing/visit_record.py": list(visit_record.REASONS.values()),
        "writing/setup_chart.py": [setup_chart.OTHER],
        "writing/wording.py": list(wording.NUMBER_WORDS.values()),
    }  # fmt: skip
    for where, texts in named.items():
        for text in texts:
            yield text, where
    for check in CHECKS:
        for text in (check.title, check.message, check.why, check.fix, check.caution, check.source):
            yield text, f"checks/{check.slug.replace('-', '_')}.py"
    yield from ((text, "data/letters.toml") for text in _leaves(read_table("data/letters.toml")))


def _columns(sheet: Any) -> Sequence[Column]:
    return tuple(sheet.COLUMNS if sheet is fleet else sheet.columns)


def in_help() -> Iterator[tuple[str, str]]:
    """Texts of the help of every command."""
    for name, command in commands().items():
        where = f"cli/{name}.py"
        yield from ((text, where) for _, text in speaking.paragraphs(command.help or ""))
        yield command.options_metavar or "", where
        for param in command.params:
            for text in (param.metavar, getattr(param, "help", None)):
                if text and not (text == param.metavar and any(sign.isdigit() for sign in text)):
                    yield text, where  # 13x54 is an example in every language


def commands() -> dict[str, click.Command]:
    """The group and every command."""
    return {"main": cli} | {name: import_module(module).command for name, (module, _) in COMMANDS.items()}


def _leaves(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key not in ("internal", "language"):
                yield from _leaves(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _leaves(inner)
    else:
        yield value


def in_code() -> Iterator[tuple[str, str]]:
    """Texts that stand where they are said, and the phrases of checks."""
    for path in sorted(CODE.rglob("*.py")):
        where = path.relative_to(CODE).as_posix()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                yield from ((text, where) for text in _said(node, where))
            # say(text) for text in ("one", "another")
            each = getattr(node, "elt", None)
            if isinstance(each, ast.Call) and getattr(each.func, "id", "") == "say":
                yield from ((text, where) for text in _texts(node.generators[0].iter))


def _said(call: ast.Call, where: str) -> Iterator[str]:
    name = getattr(call.func, "id", getattr(call.func, "attr", ""))
    for place in SAYING.get(name, ()):
        if place < len(call.args):
            yield from _texts(call.args[place])
    if name == "Words" and len(call.args) > 1:
        yield from _texts(call.args[1])
    if name in ("damaged", "unsafe", "_not_inside"):
        for argument in call.args:
            yield from _texts(argument)
    if where.startswith("reading/"):
        for word in call.keywords:
            if word.arg in SAID_LATER:
                yield from _texts(word.value)
        if name in ("_unreadable", "_unread"):
            yield from _texts(call.args[-1])
        if name == "add" and len(call.args) > 2:
            yield from _texts(call.args[2])


def _texts(node: ast.expr) -> Iterator[str]:
    """Texts an expression can be: a constant, either side of a choice, members of a tuple."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body)
        yield from _texts(node.orelse)
    elif isinstance(node, ast.Tuple | ast.List):
        for inner in node.elts:
            yield from _texts(inner)


def in_templates() -> Iterator[tuple[str, str]]:
    """Texts that the pages say."""
    for path in sorted(TEMPLATES.rglob("*.j2")):
        where = path.relative_to(ROOT).as_posix()
        tree = environment().parse(path.read_text(encoding="utf-8"))
        found = extract_from_ast(tree, ("_", "several"))
        for _, _, texts in found:
            for text in texts if isinstance(texts, tuple) else (texts,):
                if isinstance(text, str):
                    yield text, where


def extracted() -> dict[str, list[str]]:
    """Every English text that is said, with the places that say it."""
    found: dict[str, list[str]] = {}
    for source in (in_templates(), in_code(), tables(), in_help()):
        for text, where in source:
            if any(sign.isalpha() for sign in text):
                places = found.setdefault(text, [])
                if where not in places:
                    places.append(where)
    return found


def written(language: str, english: dict[str, list[str]], known: dict[str, str]) -> str:
    """The file of texts of a language."""
    lines = [
        f"# Texts in {LANGUAGES[language]}, for each English text what is said instead.",
        "# Names in braces are filled in",
        "# and must stay as they are; their order may change. Numbers keep the comma for thousands.",
        "# `python -m tests.make_texts` adds what is new and drops what is no longer said.",
        'msgid ""', 'msgstr ""', '"Content-Type: text/plain; charset=UTF-8\\n"', f'"Language: {language}\\n"',
    ]  # fmt: skip
    for text, places in english.items():
        lines += ["", *(f"#: {place.replace(' ', '_')}" for place in places)]
        lines += [*_entry("msgid", text), *_entry("msgstr", known.get(text, ""))]
    return "\n".join(lines) + "\n"


def write_for_click(language: str, known: dict[str, str]) -> None:
    """What Click says itself, as the compiled file that gettext reads."""
    catalog = Catalog(locale=language, creation_date=NO_DAY, revision_date=NO_DAY)
    for text in speaking.CLICK_SAYS:
        catalog.add(text, known.get(text, ""))
    path = speaking.FOLDER / language / "LC_MESSAGES" / f"{speaking.DOMAIN}.mo"
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        write_mo(file, catalog)


def _entry(word: str, text: str) -> list[str]:
    if len(text) <= WIDTH and "\n" not in text:
        return [f"{word} {json.dumps(text, ensure_ascii=False)}"]
    pieces = textwrap.wrap(
        text,
        WIDTH,
        drop_whitespace=False,
        replace_whitespace=False,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [f'{word} ""', *(json.dumps(piece, ensure_ascii=False) for piece in pieces)]


def main() -> None:
    """Write every file of texts anew."""
    english = extracted()
    for language in list(LANGUAGES)[1:]:
        path = CODE / "data" / f"texts.{language}.po"
        known = read_entries(path.read_text(encoding="utf-8")) if path.is_file() else {}
        path.write_text(written(language, english, known), encoding="utf-8")
        write_for_click(language, known)
        for text in known.keys() - english.keys():
            print(f"{language}: dropped, said nowhere: {text!r}")
        print(f"{language}: {len(english)} texts, {len(english.keys() - known.keys())} to translate")


if __name__ == "__main__":
    main()
