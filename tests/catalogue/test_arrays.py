"""Figures of many units at once."""

import numpy as np
import pytest

from fleetaudit.catalogue import arrays, shipped

CATALOGUE = shipped.load()
CODE = CATALOGUE.codes
PURPOSE = CATALOGUE.purpose_codes
YEAR_S = 365.25 * 86400  # Julian year, IAU
UNKNOWN = -1


def codes(*keys):
    return np.array([UNKNOWN if key is None else CODE[key] for key in keys])


def purposes(*cells):
    """What units are there for: "pfas, chlorine" is both."""
    together = tuple(tuple(PURPOSE[key] for key in cell.split(", ")) for cell in cells if cell)
    numbers = iter(range(len(together)))
    return arrays.Sought(np.array([next(numbers) if cell else UNKNOWN for cell in cells]), together)


def test_spread_takes_each_units_own_medium():
    keys = ["calcite-16x40", "filter-sand", "calcite-16x40"]
    value, low, high = arrays.spread(CATALOGUE, codes(*keys), "d10_m")
    expected = [CATALOGUE.medium(key).figures["d10_m"] for key in keys]
    np.testing.assert_array_equal(value, [figure.value for figure in expected])
    np.testing.assert_array_equal(low, [figure.low for figure in expected])
    np.testing.assert_array_equal(high, [figure.high for figure in expected])


def test_unknown_medium_and_missing_figure_are_nan():
    value, low, high = arrays.spread(CATALOGUE, codes(None, "iron-hydroxide", "filter-sand"), "d10_m")
    for column in (value, low, high):
        np.testing.assert_array_equal(np.isnan(column), [True, True, False])


def test_no_units_give_no_rows():
    value, _, _ = arrays.spread(CATALOGUE, codes().astype(int), "d10_m")
    assert value.shape == (0,)


def test_life_follows_the_purpose_where_the_catalogue_knows_one():
    """Carbon: chlorine 3-5 years, chloramine 1-2, organics 0.5-1.5 (from memory, unverified)."""
    carbon = "activated-carbon-12x40"
    units = codes(carbon, carbon, carbon, carbon, "filter-sand", None)
    asked = purposes("chlorine", "chloramine", "pfas", None, "chlorine", "chlorine")
    value, low, high = arrays.spread_for_purpose(CATALOGUE, units, asked, "life_s")
    np.testing.assert_allclose(low[:3] / YEAR_S, [3, 1, 0.5])
    np.testing.assert_allclose(high[:3] / YEAR_S, [5, 2, 1.5])
    assert value[3] == CATALOGUE.medium(carbon).figures["life_s"].value
    assert value[4] == CATALOGUE.medium("filter-sand").figures["life_s"].value
    assert np.isnan(value[5])


def test_contact_time_is_asked_only_where_it_matters():
    carbon = "activated-carbon-12x40"
    value, _, _ = arrays.spread_for_purpose(
        CATALOGUE,
        codes(carbon, carbon, "activated-alumina-28x48"),
        purposes("pfas", "chlorine", None),
        "contact_time_s",
    )
    assert np.isfinite(value).tolist() == [True, False, True]


@pytest.mark.parametrize(
    ("medium", "purpose", "guards"),
    [
        ("activated-alumina-28x48", None, True),
        ("activated-carbon-12x40", "chlorine", False),
        ("activated-carbon-12x40", "solvents", True),
        ("activated-carbon-12x40", None, False),
        ("activated-carbon-12x40", "chlorine, solvents", True),
        ("activated-carbon-12x40", "chlorine, taste-odour", False),
        ("anion-resin", "nitrate", True),
        ("filter-sand", "arsenic", False),
        (None, "arsenic", False),
    ],
)
def test_guards_health(medium, purpose, guards):
    assert arrays.guards_health(CATALOGUE, codes(medium), purposes(purpose)).tolist() == [guards]


def test_flags():
    units = codes("calcite-16x40", "calcite-16x40", "cation-resin", None)
    assert arrays.flag(CATALOGUE, units, "dissolves").tolist() == [True, True, False, False]
    assert arrays.flag(CATALOGUE, units, "loss_sensitive").tolist() == [False, False, True, False]


def test_a_figure_for_a_purpose_goes_before_the_general_one() -> None:
    carbon = CATALOGUE.medium("activated-carbon-12x40")
    for_pfas = carbon.contact_time_by_purpose["pfas"]
    assert carbon.figure("contact_time_s", ["pfas"]) is for_pfas
    assert carbon.figure("contact_time_s", ["iron"]) is carbon.figures.get("contact_time_s")
    assert carbon.figure("life_s", ["chloramine"]) is carbon.life_by_purpose["chloramine"]
    assert carbon.figure("d10_m", ["pfas"]) is carbon.figures["d10_m"]


def test_of_several_purposes_the_shortest_life_and_the_longest_contact_count() -> None:
    """Life of carbon: taste 3-5 years, chloramine 1-2, iron as any (from memory, unverified)."""
    carbon = CATALOGUE.medium("activated-carbon-12x40")
    assert carbon.ruling("life_s", ["taste-odour", "chloramine"]) == (
        carbon.life_by_purpose["chloramine"],
        "chloramine",
    )
    assert carbon.ruling("contact_time_s", ["chlorine", "pfas"])[1] == "pfas"
    assert carbon.ruling("life_s", ["iron"]) == (carbon.figures["life_s"], "")
    both = purposes("taste-odour, chloramine", "chloramine", "taste-odour")
    unit = "activated-carbon-12x40"
    _, low, high = arrays.spread_for_purpose(CATALOGUE, codes(unit, unit, unit), both, "life_s")
    np.testing.assert_allclose(low / YEAR_S, [1, 1, 3])
    np.testing.assert_allclose(high / YEAR_S, [2, 2, 5])
