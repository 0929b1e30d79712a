"""A fleet in parts gives what it gives as a whole."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tracemalloc
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from fleetaudit import summary
from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue import shipped
from fleetaudit.crews import counts as set_ups
from fleetaudit.facts import repeats
from fleetaudit.facts.frame import Frame
from fleetaudit.scale.partitions import (
    Keys,
    Short,
    Totals,
    anywhere,
    audit_parts,
    fleetwide,
    here,
    parts_of,
)
from tests.frames import frame_of

ROOT = Path(__file__).resolve().parents[2]
AS_OF = date(2026, 11, 1)
CATALOGUE = shipped.load()
MEDIA = ("filter-sand", "calcite-16x40", "cation-resin", "")


def fleet_of(units: int) -> Frame:
    rng = random.Random(7)
    return frame_of(
        [
            {
                "unit_id": f"U-{rng.randrange(units)}",  # some ids come more than once, in parts far apart
                "medium": rng.choice(MEDIA),
                "vessel_diameter": rng.choice(["9 in", "10 in", "13 in", "21 in"]),
                "restrictor": rng.choice(["", "2 gpm", "5 gpm", "7 gpm", "20 gpm"]),
                "media_date": rng.choice(["2015-04-05", "2025-06-01", ""]),
                "crew": rng.choice(["north", "south"]),
            }
            for _ in range(units)
        ],
        CATALOGUE,
    )


WHOLE = fleet_of(240)


@pytest.mark.parametrize("size", [50, 100, 240, 1000])
def test_counts_of_parts_are_those_of_the_whole(size: int) -> None:
    result = audit(WHOLE, CATALOGUE, AS_OF)
    parts = list(parts_of(WHOLE, size))
    assert sum(part.units for part in parts) == WHOLE.units
    assert fleetwide(parts, CATALOGUE) == result.view.fleetwide
    assert max(result.view.fleetwide.repeats.values()) > 1
    assert audit_parts(parts, CATALOGUE, AS_OF) == Totals(summary.count(result), set_ups.count(result))


def test_findings_of_parts_are_those_of_the_whole() -> None:
    result = audit(WHOLE, CATALOGUE, AS_OF)
    results: list[AuditResult] = []
    audit_parts(list(parts_of(WHOLE, 50)), CATALOGUE, AS_OF, each=results.append)
    for state in (State.FOUND, State.NOT_CHECKED):
        whole, start = result.findings(state), 0
        joined: dict[str, list[int]] = {name: [] for name in whole}
        for part in results:
            for name, values in part.findings(state).items():
                joined[name] += (values + (start if name == "unit" else 0)).tolist()
            start += part.view.units
        assert joined == {name: values.tolist() for name, values in whole.items()}


def test_findings_are_the_pairs_in_their_order() -> None:
    result = audit(WHOLE, CATALOGUE, AS_OF)
    unit, check = result.pairs(State.FOUND)
    columns = result.findings()
    np.testing.assert_array_equal(columns["unit"], unit)
    np.testing.assert_array_equal(columns["check"], check)
    tiers = [int(result.checks[c].tier[u]) for u, c in zip(unit, check, strict=True)]
    assert columns["tier"].tolist() == tiers


def test_totals_add_up_in_any_grouping() -> None:
    results: list[AuditResult] = []
    audit_parts(list(parts_of(WHOLE, 60)), CATALOGUE, AS_OF, each=results.append)
    one, two, three, four = map(Totals.of, results)
    assert (one + two) + (three + four) == four + (one + (three + two))
    assert Totals() + one == one


def test_nothing_at_all_counts_nothing() -> None:
    assert audit_parts([], CATALOGUE, AS_OF).counts.units == 0


def test_an_iterator_that_ends_is_refused() -> None:
    with pytest.raises(TypeError, match="more than once"):
        fleetwide(parts_of(WHOLE, 10), CATALOGUE)


def all_alike(texts: Sequence[str]) -> Keys:
    return np.zeros(len(texts), dtype=np.uint64)


def test_ids_are_the_same_whatever_their_case_and_whatever_stands_in_them() -> None:
    ids = ["Straße 1", "STRASSE 1", "line\nbreak", "LINE\nBREAK", "ẞ", "u", ""]
    rows = [{"unit_id": name, "vessel_label": label} for name in ids for label in ("a", "b")]
    times = repeats.count(frame_of(rows, CATALOGUE), CATALOGUE).repeats
    assert sorted(times.values()) == [1, 1, 1, 1, 2, 2, 2, 2]


@pytest.mark.parametrize("short", [here, anywhere, all_alike])
def test_ids_that_merely_share_their_short_form_are_no_repeats(short: Short) -> None:
    parts = list(parts_of(WHOLE, 20))
    assert fleetwide(parts, CATALOGUE, short) == repeats.report(repeats.count(WHOLE, CATALOGUE))


def test_short_forms_for_other_machines_do_not_hang_on_the_process() -> None:
    code = (
        "from fleetaudit.scale.partitions import anywhere\n"
        "print(anywhere(['U-1', 'U-2', 'Ü\\ud800', '']).tolist(), hash('U-1'))"
    )
    said = [
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)},
        ).stdout.rpartition(" ")
        for seed in ("1", "2")
    ]
    assert said[0][0] == said[1][0] and said[0][2] != said[1][2]
    assert len(set(anywhere(["U-1", "U-2", "Ü\ud800", ""]).tolist())) == 4


class Parts:
    """The same part again and again, made when it is asked for."""

    def __init__(self, times: int) -> None:
        self.times = times

    def __iter__(self) -> Iterator[Frame]:
        for _ in range(self.times):
            yield WHOLE.part(0, WHOLE.units)


def _peak(times: int) -> int:
    parts = Parts(times)
    tracemalloc.start()
    audit_parts(parts, CATALOGUE, AS_OF)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def test_memory_holds_one_part_however_many_there_are() -> None:
    _peak(1)
    assert _peak(12) < 1.5 * _peak(3)
