"""The user's own distances, as a CSV of pairs."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from msgspec import Struct, field

from fleetaudit.errors import InputError, together

KM_M, MINUTE_S = 1000.0, 60.0
PAIR_HEADINGS = ("from_id", "to_id", "km", "minutes")
MOST_PROBLEMS = 10
Pairs = dict[tuple[str, str], tuple[float, float]]


class Matrix(Struct):
    """Way [m] and time [s] by the ids of its two ends."""

    pairs: Pairs = field(default_factory=dict)

    @property
    def ids(self) -> frozenset[str]:
        """Every place the table names."""
        return frozenset(name for pair in self.pairs for name in pair)


def read_matrix(path: Path) -> Matrix:
    """Read `from_id,to_id,km,minutes`; one error names every line that cannot be used."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as trouble:
        raise InputError(f"{path.name} is no UTF-8 text. Save it as CSV (UTF-8).") from trouble
    except OSError as trouble:
        raise InputError(f"{path}: {trouble.strerror or trouble}.") from trouble
    sign = ";" if text.partition("\n")[0].count(";") > text.partition("\n")[0].count(",") else ","
    rows = list(csv.reader(io.StringIO(text), delimiter=sign))
    heading = [cell.strip().casefold() for cell in rows[0]] if rows else []
    if tuple(heading[: len(PAIR_HEADINGS)]) != PAIR_HEADINGS:
        raise InputError(f'{path.name}: the first line must be "{",".join(PAIR_HEADINGS)}".')
    out, problems = Matrix(), []
    for number, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        try:
            start, end, km, minutes = (
                row[0].strip(),
                row[1].strip(),
                _positive(row[2], sign),
                _positive(row[3], sign),
            )
        except (IndexError, ValueError):
            problems.append(f'{path.name}, line {number}: "{sign.join(row)}" is no pair with km and minutes.')
            continue
        known = out.pairs.setdefault((start, end), (km * KM_M, minutes * MINUTE_S))
        if known != (km * KM_M, minutes * MINUTE_S):
            problems.append(
                f"{path.name}, line {number}: {start} to {end} stands there twice with different figures."
            )
    if problems:
        more = [f"and {len(problems) - MOST_PROBLEMS} more lines"] if len(problems) > MOST_PROBLEMS else []
        raise InputError(together(problems[:MOST_PROBLEMS] + more))
    return out


def _positive(text: str, sign: str) -> float:
    number = float(text.strip().replace(",", ".") if sign == ";" else text.strip())
    if not 0 <= number < 1e6:
        raise ValueError(text)
    return number
