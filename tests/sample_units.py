"""The rows of the invented fleet: sound units, the habits of their crews, and units set up on purpose.

The right restrictor of a sound unit is worked out from a rate per area and the nominal area alone. Nothing of
the audit is used, so that the sample can be held against it.
"""

from __future__ import annotations

import random
import tomllib
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import log, sqrt
from pathlib import Path
from typing import Any

SCENARIO = Path(__file__).resolve().parent / "sample" / "scenario.toml"
STORY = tomllib.loads(SCENARIO.read_text(encoding="utf-8"))
AS_OF = date(2026, 11, 1)
SEED = 7301
ACCOUNTS = 104
#: ratings to choose from, gpm; example series, from memory, unverified
STOCK = (1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8, 9, 10, 12, 15, 17, 20, 25, 30, 35, 40, 45, 50, 60, 75, 100)
#: largest rating of each housing, gpm; common practice, no source
HOUSINGS = (("small", 7), ("medium", 25), ("large", 45))
#: the water is a little warmer than the rates are stated for: the middle of the window lies a little higher
WARMER = 1.06
LPM_PER_GPM = 3.785411784
L_PER_FT3 = 28.316846592
#: coldest and warmest water by source, degrees Fahrenheit
SEASONS = {"well": (50, 53), "borehole": (50, 54), "town": (46, 58), "pond": (45, 62)}
COLUMNS = [tuple(column) for column in STORY["columns"]]
PLACE = {key: index for index, (key, *_) in enumerate(COLUMNS)}


@dataclass
class Row:
    """One line of the list: cells by own key, the checks it is meant for, its place in the sheet (from 0)."""

    cells: dict[str, Any]
    aim: list[str] = field(default_factory=list)
    hidden: bool = False
    planned: bool = False
    line: int = -1


MEDIA = {medium["key"]: medium for medium in STORY["medium"]}
VESSELS = {vessel["size"]: vessel for vessel in STORY["vessel"]}
CREWS = {crew["name"]: crew for crew in STORY["crew"]}


def right_restrictor(medium: str, size: str) -> float:
    """Stocked rating nearest to the middle of rate x nominal area, gpm."""
    low, high = MEDIA[medium]["rate"]
    wanted = sqrt(low * high) * WARMER * VESSELS[size]["area"]
    return min(STOCK, key=lambda rating: abs(log(rating / wanted)))


def housing_for(rating: float) -> str:
    """Smallest housing that takes the rating."""
    return next((name for name, limit in HOUSINGS if rating <= limit), "external")


def before(years: float) -> date:
    """Day so many years before the day of the audit."""
    return AS_OF - timedelta(days=round(years * 365.25))


def pick(rng: random.Random, rows: list[dict[str, Any]]) -> dict[str, Any]:
    """One of the rows, by their shares."""
    return rng.choices(rows, weights=[row["share"] for row in rows])[0]


def sound_unit(rng: random.Random, medium: str, size: str, source: str, crew: str) -> dict[str, Any]:
    """Cells of a unit with nothing wrong, as plain values; blanks as people leave them."""
    bed, vessel = MEDIA[medium], VESSELS[size]
    rating = right_restrictor(medium, size)
    age = rng.uniform(0.1, 0.95) * bed["lives"]
    installed = before(age) if rng.random() < 0.5 else before(age + rng.uniform(0.4, 9))
    cells: dict[str, Any] = {
        "status": rng.choice(["", "", "in service", "in service", "active"]),
        "kind": "softener" if "resin" in medium else rng.choice(["filter", "filter", "backwash filter"]),
        "route": f"R{rng.randint(1, 9)}",
        "tank": size,
        "media": rng.choice(bed["spellings"]),
        "mesh": rng.choice(bed["mesh"]),
        "cuft": vessel["usual"] if rng.random() < 0.7 else "",
        "removes": rng.choice(bed["removes"]) if rng.random() < 0.9 or "carbon" in medium else "",
        "installed": installed,
        "by": crew,
        "rebed": before(age),
        "dlfc": rating,
        "house": housing_for(rating),
        "marked": rng.choice(["yes", "y", "yes", ""]),
        "inout": rng.choice(["ok", "ok", "", "checked"]),
        "source": source,
    }
    if installed != before(age) and rng.random() < 0.6:
        cells["rebedby"] = crew if rng.random() < 0.5 else rng.choice(sorted(CREWS))
    if bed.get("temperature", True) and "resin" not in medium and rng.random() < 0.35:
        cold, warm = SEASONS[source]
        cells["winter"], cells["summer"] = cold, warm
    if "ph" in bed and rng.random() < 0.5:
        low, high = bed["ph"]
        cells["ph"] = round(rng.uniform(low, high), 1)
    if rng.random() < 0.45:
        cells["bwmin"] = rng.choice([8, 10, 10, 12])
    if rng.random() < 0.4:
        cells["bwdays"] = rng.choice([2, 3, 3, 4, 7])
    if rng.random() < 0.3 and medium != "alumina":
        cells["peak"] = round(rng.uniform(1.5, 3) * vessel["area"], 1)
    if rng.random() < 0.3:
        cells["pump"] = round(rating * rng.uniform(1.3, 2.2) + 1)
        cells["psi"] = rng.choice([45, 50, 55, 60])
    if rng.random() < 0.4:
        cells["drain"] = _drain_for(rating)
    if rng.random() < 0.12:
        cells["bucket"] = round(rating * rng.uniform(0.95, 1.05), 1)
    return cells


def _drain_for(rating: float) -> float | int:
    for bore, flow in ((0.5, 4), (0.75, 9), (1, 20), (1.5, 50)):
        if rating <= flow:
            return bore
    return 2


def set_up_by(rng: random.Random, cells: dict[str, Any], crew: str, year: int) -> list[str]:
    """Lay the habits of a crew over a sound unit; the check that may then speak."""
    habits, rating = CREWS[crew], cells["dlfc"]
    fitted = rating
    if habits.get("one_size"):
        fitted = 5 if rating < 10 else 10
    elif rng.random() < habits["slip"] * (2 if year < 2018 else 1):
        step = rng.choice([-3, -2, 2, 3])
        fitted = STOCK[min(max(STOCK.index(rating) + step, 0), len(STOCK) - 1)]
    cells["dlfc"] = fitted
    if fitted != rating:
        cells["house"] = housing_for(max(fitted, rating))
        cells.pop("bucket", None)
        cells.pop("pump", None)
        cells.pop("psi", None)
        cells["drain"] = _drain_for(max(fitted, rating)) if cells.get("drain") else ""
        return ["restrictor-too-small" if fitted < rating else "restrictor-too-large"]
    return []


def forget(rng: random.Random, cells: dict[str, Any]) -> list[str]:
    """Leave a cell blank now and then; older beds and dates go wrong too."""
    chance = rng.random()
    if chance < 0.02:
        cells["dlfc"] = ""
        cells.pop("bucket", None)
        return ["restrictor-missing"]
    if chance < 0.035:
        cells["house"] = ""
        return []
    if chance < 0.05:
        cells["rebed"] = ""
        return ["media-date-unknown"]
    if chance < 0.09:
        cells["rebed"] = before(rng.uniform(1.6, 2.4) * 5)
        cells["installed"] = cells["rebed"]
        return ["media-overdue"]
    return []


def roughen(rng: random.Random, cells: dict[str, Any], medium: str, size: str) -> None:
    """Write the same facts the way different hands do."""
    bed = MEDIA[medium]
    if cells["tank"] == size:
        cells["tank"] = rng.choice(_sizes(size))
    if "typos" in bed and rng.random() < 0.1:
        cells["media"] = rng.choice(bed["typos"])
    if cells.get("by") in CREWS:
        cells["by"] = rng.choice(CREWS[cells["by"]]["spellings"])
    for key, rewrite in HANDS.items():
        if cells.get(key, "") != "":
            cells[key] = rewrite(cells[key], rng.random())
    if isinstance(cells.get("winter"), int) and rng.random() < 0.2:
        for key in ("winter", "summer"):
            cells[key] = f"{(cells[key] - 32) / 1.8:.0f} °C"
    if rng.random() < 0.05:
        cells["notes"] = rng.choice(STORY["story"]["remarks"])


def _sizes(size: str) -> list[str]:
    ways = [size] * 9
    ways += [size.replace("x", sign) for sign in (" x ", " X ", "×")]
    ways.append(size.replace("x", '"x') + '"')
    return ways + [VESSELS[size][key] for key in ("guessed", "metric") if key in VESSELS[size]]


def _flow(value: Any, chance: float) -> Any:
    if chance < 0.015:  # at odds with the heading, so nobody can tell which is meant
        return f"{value * LPM_PER_GPM:.1f} L/min"
    if chance < 0.12:
        return f"{value:g} gpm"
    return f"{value:g}" if chance < 0.18 else value


def _litres(value: Any, chance: float) -> Any:
    return f"{value * LPM_PER_GPM:.0f} L/min" if chance < 0.15 else value


def _volume(value: Any, chance: float) -> Any:
    return f"{value * L_PER_FT3:.0f} L" if chance < 0.08 else value


def _as_text(value: Any, chance: float) -> Any:
    return str(value) if chance < 0.2 else value


def _housing(value: Any, chance: float) -> Any:
    return STORY["story"]["short"].get(value, value) if chance < 0.3 else value


def _day(value: Any, chance: float) -> Any:
    if chance < 0.06:
        return f"{value:%b %Y}"
    if chance < 0.1:
        return f"{value:%d/%m/%Y}"
    return str(value.year) if chance < 0.12 and value < date(2025, 6, 1) else value


#: how the hands differ, cell by cell
HANDS = {
    "dlfc": _flow,
    "bucket": _litres,
    "pump": _litres,
    "cuft": _volume,
    "ph": _as_text,
    "house": _housing,
    "rebed": _day,
}


def planned_unit(rng: random.Random, wish: dict[str, Any], source: str) -> list[Row]:
    """Rows of a unit written down on purpose."""
    wish = dict(wish)
    aim, medium, size = wish.pop("aim"), wish.pop("medium"), wish.pop("vessel")
    after, age, bare = wish.pop("after", ""), wish.pop("age", None), wish.pop("bare", False)
    installed_age = wish.pop("installed_age", age)
    water = wish.get("source", source)
    crew = wish.pop("by", rng.choice(STORY["story"]["careless"]))
    cells = sound_unit(rng, medium, size, {"surface": "pond"}.get(water, water), crew)
    for key in ("bucket", "pump", "psi", "drain", "peak", "winter", "summer"):
        cells.pop(key, None)
    if age is not None:
        cells |= {"rebed": before(age), "installed": before(installed_age), "rebedby": ""}
    if bare:
        cells = {key: cells[key] for key in ("status", "route", "installed", "by")}
    cells |= wish
    rows = [Row(cells, list(aim), hidden=after == "hide", planned=True)]
    if after in ("again", "twin"):
        other = {"A": "B", "lead": "lag"}.get(cells.get("tankno", ""), "")
        second = cells | {"tankno": other} if after == "twin" else dict(cells)
        rows.append(Row(second, list(aim), planned=True))
    return rows


def fleet() -> list[Row]:
    """All rows of the list, in its order."""
    rng = random.Random(SEED)
    wishes = list(STORY["unit"])
    rng.shuffle(wishes)
    planned = len(wishes)
    story = STORY["story"]
    names = [f"{trade}, {place}" for place in story["places"] for trade in story["trades"]]
    rng.shuffle(names)
    rows: list[Row] = []
    number = 0
    for index, name in enumerate(sorted(names[:ACCOUNTS], key=lambda text: text.split(", ")[1])):
        town = name.split(", ")[1]
        source = rng.choice(["well", "borehole", "town", "town", "pond"])
        crew = pick(rng, STORY["crew"])["name"]
        mine: list[list[Row]] = []
        for _ in range(rng.choice([1, 1, 2, 2, 3, 3, 4])):
            if rng.random() < 0.3:
                crew = pick(rng, STORY["crew"])["name"]
            mine.append([_everyday_unit(rng, source, crew)])
        take = (index + 1) * planned // ACCOUNTS - index * planned // ACCOUNTS
        mine += [planned_unit(rng, wishes.pop(), source) for _ in range(take)]
        for together in mine:
            number += 1
            for row in together:
                row.cells = {"no": f"Q-{number:03d}", "cust": name, "town": town} | row.cells
                rows.append(row)
    return rows


def _everyday_unit(rng: random.Random, source: str, crew: str) -> Row:
    bed = pick(rng, STORY["medium"])
    size = rng.choice(bed["vessels"]) if "vessels" in bed else pick(rng, STORY["vessel"])["size"]
    cells = sound_unit(rng, bed["key"], size, source, crew)
    aim = set_up_by(rng, cells, crew, cells["installed"].year)
    if not aim:
        aim = forget(rng, cells)
    roughen(rng, cells, bed["key"], size)
    return Row(cells, aim)
