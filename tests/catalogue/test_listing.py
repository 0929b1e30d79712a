"""What `catalogue` prints: every figure once, in the reader's units, with its source."""

import pytest

from fleetaudit.catalogue import shipped
from fleetaudit.catalogue.listing import lines
from fleetaudit.catalogue.overrides import OverrideRow, apply
from fleetaudit.errors import CatalogueError


def one(found, figure):
    (line,) = [line for line in found if line.figure == figure]
    return line


def test_every_figure_has_a_source_that_can_be_read():
    found = lines(shipped.load())
    assert {line.section for line in found} == {
        "media",
        "restrictors",
        "housings",
        "vessels",
        "drains",
        "settings",
    }
    assert all(line.source and line.source not in shipped.load().sources for line in found)


def test_same_rate_in_both_systems():
    """12 gpm/ft2 is 29.337 m/h: 1 gpm/ft2 = 2.44475 m/h from the factors of NIST SP 811."""
    us = one(lines(shipped.load(), "us", "filter-sand"), "least wash rate")
    metric = one(lines(shipped.load(), "metric", "filter-sand"), "least wash rate")
    assert (us.value, us.unit) == (12, "gpm/ft2")
    assert metric.value == pytest.approx(29.337, rel=1e-4)
    assert metric.unit == "m/h"


def test_temperatures_in_both_systems():
    us = one(lines(shipped.load(), "us", "water_well_cold"), shipped.load().settings["water_well_cold"].doc)
    metric = one(lines(shipped.load(), "metric", "water_well_cold"), us.figure)
    assert (us.value, us.unit) == (48.2, "degF")  # 9 C
    assert (metric.value, metric.unit) == (9, "degC")


@pytest.mark.parametrize(
    "word", ["media", "GAC", "carbon", "small", "restrictors", "visit_cost", "cation-resin"]
)
def test_narrowing(word):
    found = lines(shipped.load(), only=word)
    assert 0 < len(found) < len(lines(shipped.load()))


def test_nothing_of_that_name():
    with pytest.raises(CatalogueError, match="Did you mean"):
        lines(shipped.load(), only="visit_cots")


def test_replaced_figure_is_shown_beside_its_successor():
    row = OverrideRow("Media!A2", {"medium": "sand", "rate_low": 13}, "fleet.xlsx")
    changed = apply(shipped.load(), {"Media": [row]})
    line = one(lines(changed, "us", "filter-sand"), "least wash rate")
    assert line.value == 13
    assert line.source == "user: fleet.xlsx, Media, row 2"
    assert line.replaced.startswith("12 gpm/ft2 (")
    assert one(lines(changed, "us", "filter-sand"), "greatest wash rate").replaced == ""
