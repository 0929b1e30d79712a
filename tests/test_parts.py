"""Parts, media, gravel and bags, worked out by hand in each test.

Bulk densities are the middles of the catalogue: carbon 31, sand 100, calcite 90, gravel 100 lb/ft3. A vessel
of 10 in is pi/4 x (10/12)^2 = 0.5454 ft2. A bag holds 1 ft3, of heavier media 50 lb.
"""

from __future__ import annotations

from datetime import date
from math import pi

import pytest
from msgspec.structs import replace

from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.catalogue.shipped import load
from fleetaudit.needs import Asked, Item, Need, Stocked, drawn, needs, whole_bags
from fleetaudit.parts import Part, PartKind, parts
from fleetaudit.units import from_si, to_si
from fleetaudit.writing.orders import Clerk, Grouped, grouped, order_groups, totals
from fleetaudit.writing.quotes import quotes
from tests.frames import frame_of

CATALOGUE = load()
AS_OF = date(2026, 11, 1)
GROUND_FT2 = pi / 4 * (10 / 12) ** 2
CARBON = {
    "unit_id": "U-1",
    "account": "A",
    "vessel_diameter": "10 in",
    "medium": "activated-carbon-12x40",
    "mesh_stated": "yes",
    "purpose": "chlorine",
    "restrictor": "5 gpm",
    "water_temperature": "10 degC",
    "media_date": "2012-01-01",
    "media_volume": "1.5 ft3",
    "gravel_depth": "3 in",
    "housing": "small",
}
SOUND = CARBON | {"media_date": "2026-06-01"}


def with_settings(**values: object) -> Catalogue:
    changed = {key: replace(CATALOGUE.settings[key], value=value) for key, value in values.items()}
    return replace(CATALOGUE, settings=dict(CATALOGUE.settings) | changed)


def found(catalogue: Catalogue, *rows: dict[str, str]) -> list[Part]:
    return parts(audit(frame_of(list(rows), catalogue), catalogue, AS_OF))


def needed(*rows: dict[str, str], catalogue: Catalogue = CATALOGUE) -> dict[PartKind, Need]:
    return {need.item.kind: need for need in needs(found(catalogue, *rows), catalogue)}


def by_account(clerk: Clerk, lines: list[Part], rows: list[dict[str, str]]) -> Grouped:
    return grouped(clerk, Asked(lines, CATALOGUE), [rows[part.unit]["account"] for part in lines])


def ft3(volume_m3: float) -> float:
    return float(from_si(volume_m3, "ft3"))


def pounds(mass_kg: float) -> float:
    return float(from_si(mass_kg, "lb"))


def test_a_new_bed_by_volume_mass_and_bags_with_gravel() -> None:
    need = needed(CARBON)
    bed, gravel = need[PartKind.MEDIUM], need[PartKind.GRAVEL]
    assert ft3(bed.volume_m3) == pytest.approx(1.5)
    assert pounds(bed.mass_kg) == pytest.approx(1.5 * 31)
    assert bed.bags == 2
    assert ft3(gravel.volume_m3) == pytest.approx(GROUND_FT2 * 3 / 12)
    assert pounds(gravel.mass_kg) == pytest.approx(GROUND_FT2 * 3 / 12 * 100)
    assert gravel.bags == 1
    assert not bed.doubtful and not gravel.doubtful


def test_heavy_media_come_in_bags_by_mass() -> None:
    """2 ft3 of sand are 200 lb, four bags of 50."""
    need = needed(CARBON | {"medium": "filter-sand", "media_volume": "2 ft3"})[PartKind.MEDIUM]
    assert pounds(need.mass_kg) == pytest.approx(200)
    assert need.bags == 4


def test_bags_whole_for_each_unit_or_for_the_total() -> None:
    """Three beds of 1.5 ft3: two bags each, or five for 4.5 ft3."""
    rows = [CARBON | {"unit_id": f"U-{n}"} for n in range(3)]
    assert needed(*rows)[PartKind.MEDIUM].bags == 6
    assert needed(*rows, catalogue=with_settings(bags_whole_for="the total"))[PartKind.MEDIUM].bags == 5


@pytest.mark.parametrize(
    ("rule", "bags", "whole"),
    [
        ("up", 1.0, 1), ("up", 1.04, 1), ("up", 1.06, 2), ("up", 0.02, 1), ("up", 0.0, 0),
        ("nearest", 1.4, 1), ("nearest", 1.5, 2), ("nearest", 0.2, 1), ("none", 1.4, 1.4),
    ],
)  # fmt: skip
def test_rounding_of_bags(rule: str, bags: float, whole: float) -> None:
    """Up, but a twentieth of a bag opens no other; to the nearest, but at least one; or not at all."""
    assert whole_bags(bags, with_settings(bag_rounding=rule)) == whole


def test_vessels_of_a_row_are_counted() -> None:
    need = needed(CARBON | {"vessels": "2"})
    assert ft3(need[PartKind.MEDIUM].volume_m3) == pytest.approx(3.0)
    assert need[PartKind.MEDIUM].bags == 3


def test_no_gravel_where_there_is_none_or_it_stays() -> None:
    assert PartKind.GRAVEL not in needed(CARBON | {"gravel_depth": "0 in"})
    assert PartKind.GRAVEL not in needed(CARBON, catalogue=with_settings(renew_gravel=False))


def test_gravel_nobody_measured_is_measured_first() -> None:
    gravel = needed(CARBON | {"gravel_depth": ""}, SOUND)[PartKind.GRAVEL]
    assert gravel.doubtful == pytest.approx(gravel.volume_m3)


def test_a_dissolving_bed_is_filled_up_and_keeps_its_gravel() -> None:
    """From 20 to 30 in: 10/12 ft x 0.5454 ft2, 90 lb/ft3."""
    calcite = SOUND | {
        "medium": "calcite-16x40",
        "purpose": "ph",
        "media_volume": "",
        "bed_depth": "30 in",
        "depth_left": "20 in",
    }
    need = needed(calcite)
    assert ft3(need[PartKind.MEDIUM].volume_m3) == pytest.approx(GROUND_FT2 * 10 / 12)
    assert pounds(need[PartKind.MEDIUM].mass_kg) == pytest.approx(GROUND_FT2 * 10 / 12 * 90)
    assert PartKind.GRAVEL not in need


def test_layers_are_ordered_one_by_one() -> None:
    """1.5 ft3 in layers of 18 and 12 in: 0.9 and 0.6 ft3."""
    row = CARBON | {
        "medium": "multi-media",
        "layers": "anthracite-fine 18 in; filter-sand 12 in",
        "mesh_stated": "no",
    }
    amounts = {
        need.item.medium: ft3(need.volume_m3)
        for need in needs(found(CATALOGUE, row), CATALOGUE)
        if need.item.kind is PartKind.MEDIUM
    }
    assert amounts == pytest.approx(
        {CATALOGUE.codes["anthracite-fine"]: 0.9, CATALOGUE.codes["filter-sand"]: 0.6}
    )


def test_a_bed_of_several_is_ordered_as_the_catalogue_builds_it_and_is_to_be_measured() -> None:
    """1.5 ft3 of 60, 28 and 12 parts in a hundred; the shares are recalled, so nobody buys by them unseen."""
    lines = [part for part in found(CATALOGUE, CARBON | {"medium": "multi-media"}) if part.contents]
    bed = next(part for part in lines if part.kind is PartKind.MEDIUM)
    wanted = {"anthracite-coarse": 0.6, "filter-sand": 0.28, "garnet-30x60": 0.12}
    volumes = {code: ft3(volume) for code, volume in bed.contents}
    assert volumes == pytest.approx({CATALOGUE.codes[key]: 1.5 * share for key, share in wanted.items()})
    assert bed.to_bring and "measure first" in bed.because


def test_restrictors_by_rating_and_housing() -> None:
    """2 gpm is too small for 4.4 to 6.5 gpm; the large housing that is there takes the right one too."""
    small, large = (
        needed(SOUND | {"restrictor": "2 gpm", "housing": size})[PartKind.RESTRICTOR]
        for size in ("small", "large")
    )
    assert 4.3 < from_si(small.item.size, "gpm") < 6.6
    keys = [row.key for row in CATALOGUE.housings]
    assert (small.item.housing, large.item.housing) == (keys.index("small"), keys.index("large"))


def test_stock_is_taken_off_once() -> None:
    rows = [SOUND | {"unit_id": f"U-{n}", "restrictor": "2 gpm"} for n in range(3)]
    there = needs(found(CATALOGUE, *rows), CATALOGUE)
    rating = there[0].item.size
    stock = [
        Stocked(Item(PartKind.RESTRICTOR, rating), 2, "pieces"),
        Stocked(Item(PartKind.RESTRICTOR, rating * 2), 9, "pieces"),
    ]
    left = drawn(there, stock, CATALOGUE)
    assert (there[0].pieces, there[0].stock, there[0].order) == (3, 2, 1)
    assert left == [(replace(stock[0], amount=0.0), True), (stock[1], False)]


def test_stock_of_media_in_volume_mass_and_bags() -> None:
    """Two bags for 1.5 ft3: one off for a bag, 0.5 for half a cubic foot, one for 31 lb."""
    item = Item(PartKind.MEDIUM, medium=CATALOGUE.codes["activated-carbon-12x40"])
    for amount, unit, left in (
        (1.0, "bags", 1.0),
        (to_si(0.5, "ft3"), "m3", 1.5),
        (to_si(31.0, "lb"), "kg", 1.0),
        (9.0, "bags", 0.0),
    ):
        there = needs(found(CATALOGUE, CARBON), CATALOGUE)
        drawn(there, [Stocked(item, float(amount), unit)], CATALOGUE)
        bed = next(need for need in there if need.item.kind is PartKind.MEDIUM)
        assert bed.order == pytest.approx(left), unit


def test_what_is_ordered_is_whole_bags() -> None:
    item = Item(PartKind.MEDIUM, medium=CATALOGUE.codes["activated-carbon-12x40"])
    lines = totals(
        Clerk(CATALOGUE, "us"),
        needs(found(CATALOGUE, CARBON), CATALOGUE),
        [Stocked(item, float(to_si(0.5, "ft3")), "m3")],
    ).lines
    bed = next(line for line in lines if line.order_unit == "bags" and line.what.startswith("Activated"))
    assert (bed.needed, bed.unit, bed.mass, bed.bags, bed.stock, bed.to_order) == (
        1.5,
        "ft³",
        46.5,
        2,
        0.5,
        2,
    )


def test_accounts_add_up_to_the_total() -> None:
    rows = [CARBON | {"unit_id": f"U-{n}", "account": "AB"[n % 2]} for n in range(5)]
    clerk, lines = Clerk(CATALOGUE, "us"), found(CATALOGUE, *rows)
    groups = order_groups(by_account(clerk, lines, rows), "account", "none")
    whole = totals(clerk, needs(lines, CATALOGUE), []).lines
    assert [group.name for group in groups] == ["A", "B"]
    for line in whole:
        mine = [
            one for group in groups for one in group.lines if (one.what, one.size) == (line.what, line.size)
        ]
        assert sum(one.needed for one in mine) == pytest.approx(line.needed, abs=0.02)
        assert sum(one.bags or 0 for one in mine) == (line.bags or 0)


def test_what_a_group_needs_is_what_its_parts_alone_need() -> None:
    rows = [
        CARBON | {"unit_id": f"U-{n}", "restrictor": "2 gpm", "vessels": str(n % 2 + 1)} for n in range(7)
    ]
    lines = found(CATALOGUE, *rows)
    groups = [part.unit % 3 for part in lines]
    together = Asked(lines, CATALOGUE).by(groups, 3)
    every = together.each()
    for group in range(3):
        alone = needs([part for part, own in zip(lines, groups, strict=True) if own == group], CATALOGUE)
        assert every[together.starts[group] : together.starts[group + 1]] == alone
    assert needs([], CATALOGUE) == [] and Asked([], CATALOGUE).by([], 0).starts == [0]


def test_a_quote_adds_up() -> None:
    """A restrictor and a bed, with the hours both take, at 45 an hour.

    The restrictor is at 6 and half an hour; the bed is 1.5 ft3 at 90, 0.1364 ft3 of gravel at 25, an hour and
    1.5 x 20 min.
    """
    rows = [SOUND | {"restrictor": "2 gpm"}, CARBON | {"unit_id": "U-2", "account": "B"}]
    clerk, lines = Clerk(CATALOGUE, "us"), found(CATALOGUE, *rows)
    small, bed = quotes(clerk, lines, by_account(clerk, lines, rows))
    assert small.parts.target == pytest.approx(6)
    assert small.hours.target == pytest.approx(0.5)
    assert small.total.target == pytest.approx(6 + 22.5)
    assert bed.media.target == pytest.approx(1.5 * 90 + GROUND_FT2 * 3 / 12 * 25)
    assert bed.hours.target == pytest.approx(1 + 1.5 * 20 / 60)
    assert bed.total.target == pytest.approx(1.5 * 90 + GROUND_FT2 * 3 / 12 * 25 + 1.5 * 45)
    assert bed.text.startswith("B: 1 unit. 1.5 ft³ Activated carbon 12x40")
    assert bed.total.low < bed.total.target < bed.total.high
