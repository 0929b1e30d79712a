"""Units as they stand in most cellars: right by practice, little recorded. They must not be called wrong."""

from __future__ import annotations

import math
import tomllib
from datetime import date
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from fleetaudit.auditing.result import State
from fleetaudit.auditing.run import audit
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.check import Tier
from tests.frames import frame_of

AS_OF = date(2026, 11, 1)
DATA = Path(__file__).resolve().parents[2] / "fleetaudit" / "data"
MEDIA = tomllib.loads((DATA / "media.toml").read_text(encoding="utf-8"))["media"]
VESSELS = tomllib.loads((DATA / "vessels.toml").read_text(encoding="utf-8"))["vessels"]
STOCK = tomllib.loads((DATA / "restrictors.toml").read_text(encoding="utf-8"))["stock"]["ratings"]
#: vessels that most installed filters have, nominal diameter in inches
COMMON = ("8", "9", "10", "12", "13", "14", "16", "18", "21", "24", "30", "36")
MOST_FRIGHTENED = 0.05
ENOUGH = 100


@pytest.mark.parametrize(
    "row",
    [
        {
            "vessel_diameter": "10 in",
            "vessel_height": "54 in",
            "medium": "activated-carbon-12x40",
            "restrictor": "5 gpm",
        },
        {
            "vessel_diameter": "12 in",
            "vessel_height": "52 in",
            "medium": "calcite-16x40",
            "restrictor": "8 gpm",
        },
        {
            "vessel_diameter": "9 in",
            "vessel_height": "48 in",
            "medium": "cation-resin",
            "restrictor": "2.4 gpm",
        },
        {
            "vessel_diameter": "21 in",
            "vessel_height": "62 in",
            "medium": "filter-sand",
            "restrictor": "35 gpm",
        },
    ],
    ids=lambda row: row["medium"],
)
@pytest.mark.parametrize("mesh", ["yes", "no"])
@pytest.mark.parametrize("source", ["", "well", "mixed", "surface"])
def test_a_normal_unit_of_which_little_is_known_frightens_nobody(
    row: dict[str, str], mesh: str, source: str
) -> None:
    catalogue = load()
    known = row | {"mesh_stated": mesh, "water_source": source, "media_date": "2025-06-01"}
    result = audit(frame_of([known], catalogue), catalogue, AS_OF)
    assert Verdict(int(result.verdict[0])) in (Verdict.CLEAN, Verdict.NOTE)
    for item in result.checks:
        if item.state[0] == State.FOUND:
            assert item.tier[0] == Tier.NOTE


def combinations() -> list[dict[str, str]]:
    """Every medium that may stand alone in every common vessel, with the stocked rating nearest to its middle
    rate."""
    rows = []
    for (key, medium), size in product(MEDIA.items(), COMMON):
        if "rate" not in medium or medium.get("blend_only") or not medium.get("sets_rate", True):
            continue
        area_ft2 = math.pi / 4 * (float(VESSELS[size]["diameter"]["value"]) / 12) ** 2
        middle = (medium["rate"]["low"] + medium["rate"]["high"]) / 2 * area_ft2
        rating = min(STOCK, key=lambda gpm, middle=middle: abs(math.log(gpm / middle)))
        beyond = middle < min(STOCK) / math.sqrt(1.5) or middle > max(STOCK) * math.sqrt(1.25)
        if not beyond:  # the series does not reach so far
            rows.append({"vessel_diameter": f"{size} in", "medium": key, "restrictor": f"{rating} gpm"})
    return rows


@pytest.mark.parametrize("mesh", ["yes", "no"])
@pytest.mark.parametrize("source", ["", "well", "surface"])
def test_nearest_stocked_rating_for_the_middle_rate_is_right_nearly_always(mesh: str, source: str) -> None:
    catalogue = load()
    rows = [row | {"mesh_stated": mesh, "water_source": source} for row in combinations()]
    assert len(rows) >= ENOUGH
    result = audit(frame_of(rows, catalogue), catalogue, AS_OF)
    judged_at_all = result.verdict != Verdict.NOT_JUDGED
    assert judged_at_all.all()
    grave = np.zeros(len(rows), dtype=bool)
    for item in result.checks:
        found = item.state == State.FOUND
        assert not (found & (item.tier == Tier.NOW)).any(), item.check.slug
        grave |= found & (item.tier == Tier.PLAN)
    told = ", ".join(
        f"{rows[place]['medium']} in {rows[place]['vessel_diameter']}" for place in np.flatnonzero(grave)
    )
    print(f"{len(rows)} combinations, {grave.sum()} above note ({grave.mean():.1%}): {told}")
    assert grave.mean() <= MOST_FRIGHTENED, told


def test_the_combinations_hold_every_medium_that_may_stand_alone() -> None:
    alone = {
        key
        for key, medium in MEDIA.items()
        if "rate" in medium and not medium.get("blend_only") and medium.get("sets_rate", True)
    }
    assert {row["medium"] for row in combinations()} == alone
