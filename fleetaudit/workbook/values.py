"""A cell as a Python value, with what the value alone does not tell kept beside it."""

from __future__ import annotations

import math
import re
from datetime import date, datetime, time, timedelta

from msgspec import Struct

from fleetaudit.errors import WorkbookError
from fleetaudit.language import say
from fleetaudit.workbook.archive import Limits
from fleetaudit.workbook.cells import Held, Special, Value
from fleetaudit.workbook.formats import NumberFormat, number_format
from fleetaudit.workbook.markup import unescape, unescape_cell
from fleetaudit.workbook.texts import rich_text

_GENERAL = number_format("General")
_INTEGER = re.compile(rb"-?[0-9]{1,300}")
# Serial numbers know no time zone, so neither do these.
_DAYS_1900 = datetime(1899, 12, 30)  # noqa: DTZ001  no time zone in a workbook
_DAYS_1900_EARLY = datetime(1899, 12, 31)  # noqa: DTZ001  no time zone in a workbook
_DAYS_1904 = datetime(1904, 1, 1)  # noqa: DTZ001  no time zone in a workbook
_SHIFT_1904 = 1462
_LEAP_DAY_1900 = 60
_LAST_SERIAL_1900 = 2_958_466  # 31 December 9999
_MILLISECONDS = 86_400_000


class Decoder(Struct, frozen=True):
    """All that turning raw cells into values needs to know of the workbook."""

    strings: list[str]
    formats: list[NumberFormat]
    epoch_1904: bool
    limits: Limits
    label: str

    def read(
        self,
        style: int,
        kind: bytes,
        has_formula: bool,
        value: bytes,
        inline: bytes | None,
        is_plain: bool = False,
    ) -> Held:
        """What a filled cell holds; `is_plain` tells that markup and entities are undone."""
        if inline is not None and kind != b"s":
            return unescape_cell(inline.decode() if is_plain else rich_text(inline)) or None
        if has_formula and not value and inline is None and kind != b"str":
            return Special(None, unstored=True)
        if kind == b"s":
            return self._shared(value)
        if kind == b"n":
            return self._number(style, value)
        text = value.decode() if is_plain else unescape(value.decode())
        return Special(None, error=text) if kind == b"e" else _typed(kind, text)

    def _shared(self, value: bytes) -> Value:
        try:
            return self.strings[int(value)] or None
        except (ValueError, IndexError) as error:
            raise WorkbookError(
                say(
                    "{label} is damaged (a cell refers to text {number}, which does not exist). Open "
                    "and repair it in your spreadsheet program, then save.",
                    label=self.label,
                    number=value.decode(errors="replace"),
                )
            ) from error

    def _number(self, style: int, value: bytes) -> Held:
        """Number, date or time; an index of a style that does not exist counts as none."""
        shown = self.formats[style] if style < len(self.formats) else _GENERAL
        found = number(value)
        if shown.plain:
            return found
        if shown.shows != "number":
            found = from_serial(found, shown.shows, self.epoch_1904)
        return Special(found, shown.code)


def _typed(kind: bytes, text: str) -> Value:
    if kind == b"b":
        return text.strip() in ("1", "true")
    return _from_iso(text) if kind == b"d" else unescape_cell(text) or None


def number(text: bytes) -> Value:
    """Number as written in the file: whole ones as int; what is no number stays text."""
    if (text.isdigit() and len(text) < 300) or _INTEGER.fullmatch(text):
        return int(text)
    try:
        found = float(text)
    except ValueError:
        return text.decode().strip() or None
    return found if math.isfinite(found) and b"_" not in text else text.decode()


def from_serial(serial: Value, shows: str, epoch_1904: bool) -> Value:
    """Date, time or duration behind a serial number; one outside the calendar stays a number.

    >>> from_serial(44291, "date", False), from_serial(42829, "date", True)
    (datetime.date(2021, 4, 5), datetime.date(2021, 4, 5))
    """
    if not isinstance(serial, int | float) or isinstance(serial, bool):
        return serial
    if not 0 <= serial < _LAST_SERIAL_1900 - (_SHIFT_1904 if epoch_1904 else 0):
        return serial
    if isinstance(serial, int) and shows == "date" and serial >= _LEAP_DAY_1900:
        return date.fromordinal(_first_day(serial, epoch_1904).toordinal() + serial)
    days, part = divmod(round(serial * _MILLISECONDS), _MILLISECONDS)
    clock = timedelta(milliseconds=part)
    if shows == "duration":
        return timedelta(days=days) + clock
    moment = _first_day(days, epoch_1904) + timedelta(days=days) + clock
    if days == 0 and (shows == "time" or not epoch_1904):
        return moment.time()
    return moment if part or shows == "time" else moment.date()


def _first_day(days: int, epoch_1904: bool) -> datetime:
    """Day zero of the serial numbers; the 1900 system counts a 29 February 1900 that never was."""
    if epoch_1904:
        return _DAYS_1904
    return _DAYS_1900 if days >= _LEAP_DAY_1900 else _DAYS_1900_EARLY


def _from_iso(text: str) -> Value:
    for reader in (date.fromisoformat, datetime.fromisoformat, time.fromisoformat):
        try:
            return reader(text.removesuffix("Z"))
        except ValueError:
            continue
    return text or None
