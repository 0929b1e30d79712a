"""Ways and times from a routing engine the user runs and names.

Nothing is asked unless an address is given.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from http.client import HTTPException
from urllib.error import URLError
from urllib.parse import urlsplit
from urllib.request import urlopen

from fleetaudit.errors import InputError
from fleetaudit.language import say
from fleetaudit.reading.matrix import KM_M, MINUTE_S, PAIR_HEADINGS, Pairs
from fleetaudit.routing.model import Place

#: places of one question, half of them starts and half of them ends; common engines answer for a hundred
BLOCK = 50
WAIT_S = 30.0


def ask_roads(url: str, places: Mapping[str, Place]) -> Pairs:
    """Ways between all places by the `table` service many engines offer.

    A way it does not know is left out.
    """
    if urlsplit(url).scheme not in ("http", "https"):
        raise InputError(
            say(
                '--roads "{url}" is no address of a routing engine. Write it as http://localhost:5000',
                url=url,
            )
        )
    names = list(places)
    pairs: Pairs = {}
    for first in range(0, len(names), BLOCK):
        for second in range(0, len(names), BLOCK):
            starts, ends = names[first : first + BLOCK], names[second : second + BLOCK]
            pairs.update(_block(url.rstrip("/"), places, starts, ends))
    return pairs


def _block(url: str, places: Mapping[str, Place], starts: Sequence[str], ends: Sequence[str]) -> Pairs:
    points = ";".join(
        f"{places[name].longitude:.6f},{places[name].latitude:.6f}" for name in (*starts, *ends)
    )
    chosen = ";".join(map(str, range(len(starts))))
    wanted = ";".join(str(len(starts) + number) for number in range(len(ends)))
    asked = (
        f"{url}/table/v1/driving/{points}"
        f"?annotations=duration,distance&sources={chosen}&destinations={wanted}"
    )
    try:
        with urlopen(asked, timeout=WAIT_S) as answer:
            found = json.load(answer)
        times, ways = found["durations"], found["distances"]
        return {
            (start, end): (float(ways[row][column]), float(times[row][column]))
            for row, start in enumerate(starts)
            for column, end in enumerate(ends)
            if start != end and times[row][column] is not None and ways[row][column] is not None
        }
    except (URLError, HTTPException, OSError, ValueError, LookupError, TypeError) as trouble:
        raise InputError(
            say(
                "The routing engine at {url} gave no table of ways ({trouble}). Start it, or plan without "
                "--roads.",
                url=url,
                trouble=trouble,
            )
        ) from trouble


def as_csv(pairs: Pairs) -> str:
    """The answers as a table of distances, so that a plan can be made again without the engine."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(PAIR_HEADINGS)
    for (start, end), (way_m, time_s) in pairs.items():
        writer.writerow([start, end, f"{way_m / KM_M:.3f}", f"{time_s / MINUTE_S:.2f}"])
    return out.getvalue()
