"""Letters to customers: what was found at an account in plain words; a file each, language by choice."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import Any

from markupsafe import Markup
from msgspec import Struct

from fleetaudit.assets import read_table, read_text
from fleetaudit.language import code, say
from fleetaudit.schema.results import CLEAN, NOTE, NOW, PLAN
from fleetaudit.writing.files import write_text
from fleetaudit.writing.page import content_hash, environment, lean
from fleetaudit.writing.report import FindingRecord, Report, UnitRecord

UNSETTLED = "measure-first"
SOON = "media-due-soon"
#: units of which a letter may say that they give no reason for a visit
SOUND = (CLEAN, NOTE)
NAME_LENGTH = 60
#: stands in each letter, so that only our own are replaced
MARK = '<meta name="generator" content="fleetaudit letter">'
_UNWANTED = re.compile(r"[^a-z0-9]+")


class About(Struct, frozen=True):
    """What one letter says of one unit."""

    unit: str
    address: str
    sentences: tuple[str, ...]


class Letter(Struct, frozen=True):
    """One letter: name of its file and the page."""

    name: str
    page: str


def texts() -> dict[str, Any]:
    """Texts of the letters in the language that is spoken."""
    spoken: dict[str, Any] = _spoken(read_table("data/letters.toml"))
    return spoken


def _spoken(text: Any) -> Any:
    if isinstance(text, dict):
        return {key: _spoken(value) for key, value in text.items()}
    return [say(one) for one in text] if isinstance(text, list) else say(text)


def letters(report: Report) -> Iterator[Letter]:
    """A letter for each account at which something was found that its people should hear of."""
    words = texts()
    style = lean(read_text("templates/paper.css"))
    template = environment().get_template("letter.html.j2")
    units: dict[str, list[UnitRecord]] = {}
    for unit in report.units:
        units.setdefault(unit.account, []).append(unit)
    found: dict[int, list[FindingRecord]] = {}
    for finding in report.findings:
        if finding.check in words["found"] and (finding.tier in (NOW, PLAN) or finding.check == SOON):
            found.setdefault(finding.unit, []).append(finding)
    names: set[str] = set()
    for account, own in units.items():
        about = [_about(unit, found[unit.index], words) for unit in own if unit.index in found]
        if not account or not about:
            continue
        sound = sum(unit.verdict in SOUND and unit.index not in found for unit in own)
        page = template.render(
            language=code(), texts=words, account=account, about=about, others=sound,
            date=dated(report.as_of, words), style=Markup(style), style_hash=content_hash(style),
            mark=Markup(MARK),
        )  # fmt: skip
        yield Letter(_name(account, names), page)


def _about(unit: UnitRecord, found: list[FindingRecord], texts: dict[str, Any]) -> About:
    sentences = list(dict.fromkeys(texts["found"][finding.check] for finding in found))
    if all(finding.confidence == UNSETTLED for finding in found):
        sentences.append(texts["unsure"])
    elif any(finding.tier == NOW and finding.confidence != UNSETTLED for finding in found):
        sentences.append(texts["soon"])
    return About(unit.unit_id, unit.address, tuple(sentences))


def dated(day: date, texts: dict[str, Any]) -> str:
    """A date as the language writes it."""
    written: str = texts["date"]
    return written.format(day=day.day, month=texts["months"][day.month - 1], year=day.year)


def _name(account: str, taken: set[str]) -> str:
    """A plain name of a file for an account, no two alike."""
    letters_only = unicodedata.normalize("NFKD", account).encode("ascii", "ignore").decode().lower()
    stem = _UNWANTED.sub("-", letters_only).strip("-")[:NAME_LENGTH].strip("-") or "account"
    name, number = f"{stem}.html", 1
    while name in taken:
        number += 1
        name = f"{stem}-{number}.html"
    taken.add(name)
    return name


def write_letters(report: Report, folder: Path, *, force: bool) -> int:
    """Write the letters into a folder of their own; gives how many there are."""
    folder.mkdir(exist_ok=True)
    count, written = 0, set()
    for letter in letters(report):
        write_text(folder / letter.name, letter.page, force=force)
        written.add(letter.name)
        count += 1
    for old in folder.glob("*.html"):
        if old.name not in written:
            with suppress(OSError, UnicodeDecodeError):
                if MARK in old.read_text(encoding="utf-8"):
                    old.unlink()
    return count
