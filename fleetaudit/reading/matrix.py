"""The user's own distances, as CSV: pairs of places, or square tables of kilometres or minutes."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from math import isnan, nan
from pathlib import Path

from msgspec import Struct, field

from fleetaudit.errors import InputError, together
from fleetaudit.language import say

KM_M, MINUTE_S = 1000.0, 60.0
PAIR_HEADINGS = ("from_id", "to_id", "km", "minutes")
#: words of the first cell of a square table, and which of way and time it holds, in SI
CORNERS = {"km": (0, KM_M), "minutes": (1, MINUTE_S), "min": (1, MINUTE_S)}
NONE = ("", "-")
MOST_PROBLEMS = 10
Pairs = dict[tuple[str, str], tuple[float, float]]
Row = tuple[int, list[str]]


class Matrix(Struct):
    """Way [m] and time [s] by the ids of its two ends; NaN for the one that a table does not give."""

    pairs: Pairs = field(default_factory=dict)

    @property
    def ids(self) -> frozenset[str]:
        """Every place the table names."""
        return frozenset(name for pair in self.pairs for name in pair)


def read_matrix(paths: Sequence[Path]) -> Matrix:
    """Read tables of pairs and square tables; one error names every line that cannot be used."""
    out, problems = Matrix(), []
    for path in paths:
        problems += _Table(path, out.pairs).read()
    if problems:
        more = (
            [say("and {count} more lines", count=len(problems) - MOST_PROBLEMS)]
            if len(problems) > MOST_PROBLEMS
            else []
        )
        raise InputError(together(problems[:MOST_PROBLEMS] + more))
    return out


class _Table:
    """One file: a table of pairs, or one or more square tables under each other."""

    def __init__(self, path: Path, pairs: Pairs) -> None:
        self.name, self.pairs = path.name, pairs
        self.problems: list[str] = []
        text = _text(path)
        first = text.partition("\n")[0]
        self.sign = max(",;\t", key=first.count)
        rows = csv.reader(io.StringIO(text), delimiter=self.sign)
        self.rows: list[Row] = [
            (rows.line_num, [cell.strip() for cell in row]) for row in rows if any(map(str.strip, row))
        ]

    def read(self) -> list[str]:
        """Fill in the pairs; gives what is wrong."""
        heading = [cell.casefold() for cell in self.rows[0][1]] if self.rows else []
        if tuple(heading[: len(PAIR_HEADINGS)]) == PAIR_HEADINGS:
            for number, row in self.rows[1:]:
                self._pair(number, row)
        elif heading and heading[0] in CORNERS:
            self._squares()
        else:
            raise InputError(
                say(
                    '{file}: the first line must be "{headings}", or begin with km or minutes and then name '
                    "the places of a square table.",
                    file=self.name,
                    headings=",".join(PAIR_HEADINGS),
                )
            )
        return self.problems

    def _pair(self, number: int, row: list[str]) -> None:
        try:
            start, end, km, minutes = row[0], row[1], self._number(row[2]), self._number(row[3])
        except (IndexError, ValueError):
            self._problem(number, say('"{text}" is no pair with km and minutes', text=self.sign.join(row)))
            return
        self._put(number, start, end, 0, km * KM_M)
        self._put(number, start, end, 1, minutes * MINUTE_S)

    def _squares(self) -> None:
        """Rows under a line that begins with km or minutes: a place, and the way to each named above."""
        ends: list[str] = []
        which, unit = 0, KM_M
        for number, row in self.rows:
            if row[0].casefold() in CORNERS:
                which, unit = CORNERS[row[0].casefold()]
                ends = [name for name in row[1:] if name]
                twice = sorted({name for name in ends if ends.count(name) > 1})
                if twice:
                    self._problem(number, say("{names} stands there twice", names=", ".join(twice)))
                continue
            if len(row) < 1 + len(ends) or any(row[1 + len(ends) :]):
                self._problem(
                    number,
                    say("{count} figures are wanted, one for each place of its heading", count=len(ends)),
                )
                continue
            for end, text in zip(ends, row[1:], strict=False):
                if end != row[0] and text not in NONE:
                    self._cell(number, (row[0], end), which, text, unit)

    def _cell(self, number: int, pair: tuple[str, str], which: int, text: str, unit: float) -> None:
        try:
            self._put(number, *pair, which, self._number(text) * unit)
        except ValueError:
            self._problem(
                number,
                say('"{text}" from {start} to {end} is no figure', text=text, start=pair[0], end=pair[1]),
            )

    def _put(self, number: int, start: str, end: str, which: int, value: float) -> None:
        """Keep a figure; one that contradicts what is known of the pair is a problem."""
        known = list(self.pairs.get((start, end), (nan, nan)))
        if not isnan(known[which]) and known[which] != value:
            self._problem(
                number,
                say("{start} to {end} stands there twice with different figures", start=start, end=end),
            )
            return
        known[which] = value
        self.pairs[start, end] = known[0], known[1]

    def _number(self, text: str) -> float:
        number = float(text.replace(",", ".") if self.sign != "," else text)
        if not 0 <= number < 1e6:
            raise ValueError(text)
        return number

    def _problem(self, number: int, text: str) -> None:
        self.problems.append(
            say("{file}, line {number}: {problem}.", file=self.name, number=number, problem=text)
        )


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as trouble:
        raise InputError(say("{file} is no UTF-8 text. Save it as CSV (UTF-8).", file=path.name)) from trouble
    except OSError as trouble:
        raise InputError(f"{path}: {trouble.strerror or trouble}.") from trouble
