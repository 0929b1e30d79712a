"""The user's sheets laid over the catalogue: what wins, what is remembered, what is refused."""

import pytest

from fleetaudit.catalogue import shipped
from fleetaudit.catalogue.overrides import OverrideRow, apply
from fleetaudit.errors import CatalogueError

SHIPPED = shipped.load()
GPM_M3_S = 6.309020e-5  # NIST SP 811
GPM_FT2_M_S = GPM_M3_S / 9.290304e-2
SAND, CARBON = "filter-sand", "activated-carbon-12x40"


def laid(sheet, *rows, over=SHIPPED):
    """Catalogue under rows of one sheet, the first in row 2."""
    placed = [
        OverrideRow(f"{sheet}!A{number}", row, "fleet.xlsx") for number, row in enumerate(rows, start=2)
    ]
    return apply(over, {sheet: placed})


def refused(sheet, *rows):
    with pytest.raises(CatalogueError) as caught:
        laid(sheet, *rows)
    return caught.value.message


def figure(catalogue, medium, key):
    return catalogue.medium(medium).figures[key]


def test_no_rows_change_nothing():
    assert apply(SHIPPED, {}).hash == SHIPPED.hash
    assert laid("Media").hash == SHIPPED.hash


@pytest.mark.parametrize(
    ("field", "cell", "key", "si"),
    [
        ("rate_low", 11, "rate_low_m_s", 11 * GPM_FT2_M_S),
        ("rate_low_m_s", 0.007, "rate_low_m_s", 0.007),
        ("rate_low", "27 m/h", "rate_low_m_s", 27 / 3600),
        ("d10", "0.6 mm", "d10_m", 0.0006),
        ("d10_m", 0.0006, "d10_m", 0.0006),
        ("rate_temperature", 50, "rate_temperature_k", 283.15),
        ("rate_temperature", "10 degC", "rate_temperature_k", 283.15),
        ("expansion_target", 0.27, "expansion_target", 0.27),
        ("expansion_target", "27 %", "expansion_target", 0.27),
        ("expansion_target", 27, "expansion_target", 0.27),
        ("freeboard_fraction", 0.6, "freeboard_fraction", 0.6),
        ("least_depth", 30, "least_depth_m", 0.762),
    ],
)
def test_a_cell_replaces_a_figure_and_the_old_one_is_kept(field, cell, key, si):
    new = figure(laid("Media", {"medium": "sand", field: cell}), SAND, key)
    assert new.value == pytest.approx(si, rel=1e-6)
    assert new.low <= new.value <= new.high
    assert new.source == "user: fleet.xlsx, Media, row 2"
    assert new.replaced == SHIPPED.medium(SAND).figures[key]


def test_other_figures_and_media_stay():
    changed = laid("Media", {"medium": "GAC", "rate_low": 9})
    assert figure(changed, CARBON, "rate_high_m_s") == figure(SHIPPED, CARBON, "rate_high_m_s")
    assert changed.medium(SAND) == SHIPPED.medium(SAND)
    assert changed.codes == SHIPPED.codes


def test_blank_cells_say_nothing():
    changed = laid("Media", {"medium": "GAC", "rate_low": None, "rate_high": "  ", "d10": float("nan")})
    assert changed.medium(CARBON).figures == SHIPPED.medium(CARBON).figures


def test_a_later_sheet_wins_over_an_earlier_one_and_the_chain_is_kept():
    company = apply(
        SHIPPED, {"Media": [OverrideRow("Media!B9", {"medium": "GAC", "rate_low": 9}, "company.xlsx")]}
    )
    both = apply(
        company, {"Media": [OverrideRow("Media!B3", {"medium": "GAC", "rate_low": 10}, "fleet.xlsx")]}
    )
    new = figure(both, CARBON, "rate_low_m_s")
    assert [new.source, new.replaced.source, new.replaced.replaced.source] == [
        "user: fleet.xlsx, Media, row 3",
        "user: company.xlsx, Media, row 9",
        "memory",
    ]


def test_a_range_gives_both_ends():
    changed = laid("Media", {"medium": "GAC", "rate": "9-11 gpm/ft2", "expansion": "20-40 %", "ph": "5 to 9"})
    figures = changed.medium(CARBON).figures
    assert figures["rate_low_m_s"].value == pytest.approx(9 * GPM_FT2_M_S, rel=1e-6)
    assert figures["rate_high_m_s"].value == pytest.approx(11 * GPM_FT2_M_S, rel=1e-6)
    assert [figures[f"expansion_{end}"].value for end in ("low", "target", "high")] == pytest.approx(
        [0.2, 0.3, 0.4]
    )
    assert [figures[f"ph_{end}"].value for end in ("low", "high")] == [5, 9]


def test_a_life_of_ones_own_holds_for_every_purpose():
    changed = laid("Media", {"medium": "GAC", "life": "2 year"})
    medium = changed.medium(CARBON)
    assert SHIPPED.medium(CARBON).life_by_purpose
    assert medium.life_by_purpose == {}
    assert (
        medium.figures["life_low_s"].value
        <= medium.figures["life_s"].value
        <= medium.figures["life_high_s"].value
    )


def test_the_users_own_source_is_kept_with_the_row():
    new = figure(
        laid("Media", {"medium": "GAC", "rate_low": 9, "source": "data sheet 2026"}), CARBON, "rate_low_m_s"
    )
    assert new.source == "user: fleet.xlsx, Media, row 2; data sheet 2026"


def test_a_new_medium_like_a_known_one():
    changed = laid(
        "Media", {"medium": "House blend", "like": "GAC", "rate_low": 10, "synonyms": "hb; blend no 7"}
    )
    assert (
        changed.find_medium("HB") == changed.find_medium("Blend no. 7") == changed.find_medium("house blend")
    )
    medium = changed.medium("house-blend")
    assert changed.media[-1] is medium
    assert changed.codes.items() >= SHIPPED.codes.items()
    assert medium.figures["d10_m"] == SHIPPED.medium(CARBON).figures["d10_m"]
    assert medium.figures["rate_low_m_s"].value == pytest.approx(10 * GPM_FT2_M_S, rel=1e-6)


def test_a_new_medium_from_its_rates_alone():
    changed = laid(
        "Media", {"medium": "House grit", "rate_low": 10, "rate_high": 14, "loss_sensitive": "yes"}
    )
    medium = changed.medium("house-grit")
    assert medium.loss_sensitive
    assert "d10_m" not in medium.figures
    assert "wash_minutes_low_s" in medium.figures


def test_a_users_alias_wins_over_a_shipped_one():
    changed = laid("Media", {"medium": "coconut", "synonyms": "carbon"})
    assert changed.find_medium("Carbon") == "coconut-carbon-12x40"
    assert changed.find_medium("GAC") == CARBON
    assert "carbon" not in changed.medium(CARBON).synonyms


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"medium": "sand", "grain_density": "1000 kg/m3"}, "would float"),
        ({"medium": "sand", "grain_density": "990 kg/m3"}, "would float"),
        ({"medium": "sand", "uniformity": 1.05}, "between 1.1 and 3"),
        ({"medium": "sand", "uniformity": 3.2}, "between 1.1 and 3"),
        ({"medium": "sand", "sphericity": 0.39}, "between 0.4 and 1"),
        ({"medium": "sand", "sphericity": 1.01}, "between 0.4 and 1"),
        ({"medium": "sand", "bulk_density": "50 lb/ft3"}, "voids"),
        ({"medium": "sand", "rate_low": 20, "rate_high": 12}, "is above"),
        ({"medium": "sand", "rate_low": 19}, "is above"),
        ({"medium": "sand", "rate": "18-12 gpm/ft2"}, "smaller number first"),
        ({"medium": "sand", "rate_low": 0}, "above zero"),
        ({"medium": "sand", "rate_low": "fast"}, 'has "fast"'),
        ({"medium": "sand", "rate_low": "12 gpm"}, "measures something else"),
        ({"medium": "sand", "rate_low": "12 knots"}, "does not know"),
        ({"medium": "sand", "rat_low": 12}, 'Did you mean "rate_low"?'),
        ({"medium": "grensand", "d10": 0.3}, 'Did you mean "greensand"?'),
        ({"medium": "house mix", "like": "carbn tank mix 9"}, "no known medium"),
        ({"rate_low": 12}, "names no medium"),
        ({"medium": "sand", "guard": "perhaps"}, "by-purpose"),
        ({"medium": "sand", "loss_sensitive": "perhaps"}, "yes or no"),
        ({"medium": "sand", "suits": "sedimnt"}, 'Did you mean "sediment"?'),
    ],
)
def test_media_rows_that_cannot_be_true(row, said):
    message = refused("Media", row)
    assert said in message
    assert message.startswith("fleet.xlsx: Media!A2 ")


def test_limits_themselves_are_allowed():
    changed = laid("Media", {"medium": "sand", "uniformity": 1.1, "sphericity": 1.0})
    assert figure(changed, SAND, "uniformity").value == 1.1


def test_two_rows_that_claim_one_spelling():
    message = refused(
        "Media", {"medium": "sand", "synonyms": "grit"}, {"medium": "garnet", "synonyms": "Grit"}
    )
    assert "fleet.xlsx: Media!A3" in message
    assert '"Grit"' in message


@pytest.mark.parametrize(
    ("key", "cell", "si"),
    [
        ("restrictor_tolerance", 0.15, 0.15),
        ("Restrictor tolerance", "15 %", 0.15),
        ("restrictor_tolerance", 15, 0.15),
        ("freeboard_margin", 3, 0.0762),
        ("freeboard_margin", "50 mm", 0.05),
        ("water_well_cold", "50 degF", 283.15),
        ("water_surface_cold", 1, 274.15),
        ("due_within_days", 30, 30 * 86400),
        ("water_price", 8, 8 / 3.785412),  # NIST SP 811, per 1000 gal
        ("use_inside_diameter", "yes", True),
        ("use_inside_diameter", True, True),
        ("hidden_rows", "Skip", "skip"),
    ],
)
def test_settings(key, cell, si):
    changed = laid("Settings", {"setting": key, "value": cell})
    name = key.lower().replace(" ", "_")
    value = changed.setting(name)
    assert value == (si if isinstance(si, bool | str) else pytest.approx(si, rel=1e-6))
    assert changed.settings[name].replaced == SHIPPED.settings[name]
    assert changed.settings[name].source == "user: fleet.xlsx, Settings, row 2"


def test_a_setting_with_its_unit_in_a_column_of_its_own():
    changed = laid("Settings", {"setting": "freeboard_margin", "value": 40, "unit": "mm"})
    assert changed.number("freeboard_margin") == pytest.approx(0.04)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"setting": "watr_price", "value": 3}, 'Did you mean "water_price"?'),
        ({"setting": "", "value": 3}, "unknown setting"),
        ({"setting": "water_price", "value": "dear"}, 'has "dear"'),
        ({"setting": "water_price", "value": -1}, "below zero"),
        ({"setting": "restrictor_tolerance", "value": "150 %"}, "above 100 %"),
        ({"setting": "freeboard_margin", "value": "2 gpm"}, "measures something else"),
        ({"setting": "hidden_rows", "value": "ski"}, 'Did you mean "skip"?'),
        ({"setting": "use_inside_diameter", "value": "sometimes"}, "yes or no"),
        ({"setting": "water_price", "valeu": 3}, 'Did you mean "value"?'),
    ],
)
def test_settings_that_cannot_be_used(row, said):
    assert said in refused("Settings", row)


def stocked_gpm(catalogue):
    return [round(flow / GPM_M3_S, 3) for flow in catalogue.stocked_m3_s]


def test_restrictors_are_added_and_taken_out_row_by_row():
    changed = laid(
        "Restrictors", {"rating": 5.5}, {"rating": "5 gpm", "stocked": "no"}, {"rating": "30.28329 L/min"}
    )
    before, after = stocked_gpm(SHIPPED), stocked_gpm(changed)
    assert set(after) - set(before) == {5.5}
    assert set(before) - set(after) == {5.0}
    assert after == sorted(after)
    eight = next(
        item for item in changed.restrictors if item.rating_m3_s == pytest.approx(8 * GPM_M3_S, rel=1e-5)
    )
    assert eight.rating.replaced is not None


def test_only_the_users_own_restrictors_where_asked():
    changed = apply(
        SHIPPED,
        {
            "Restrictors": [
                OverrideRow("Restrictors!A2", {"rating": 7}),
                OverrideRow("Restrictors!A3", {"rating": 9}),
            ],
            "Settings": [OverrideRow("Settings!A2", {"setting": "restrictor_series", "value": "mine only"})],
        },
    )
    assert stocked_gpm(changed) == [7.0, 9.0]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"rating": 0}, "above zero"),
        ({"rating": -3}, "above zero"),
        ({"stocked": "yes"}, "nothing under rating"),
        ({"rating": "5 in"}, "measures something else"),
        ({"ratng": 5}, 'Did you mean "rating"?'),
    ],
)
def test_restrictor_rows_that_cannot_be_used(row, said):
    assert said in refused("Restrictors", row)


def test_housing_limit():
    changed = laid("Housings", {"housing": "Small", "limit": 8})
    small = changed.housings[0]
    assert small.limit_m3_s == pytest.approx(8 * GPM_M3_S, rel=1e-6)
    assert small.limit.replaced == SHIPPED.housings[0].limit


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"housing": "small", "limit": 26}, "higher limit than the medium"),
        ({"housing": "huge", "limit": 26}, "Only small, medium, large"),
        ({"housing": "external", "limit": 26}, "Only small, medium, large"),
        ({"housing": "small"}, "nothing under limit"),
    ],
)
def test_housing_rows_that_cannot_be_used(row, said):
    assert said in refused("Housings", row)


def test_vessel_is_changed_or_added():
    changed = laid(
        "Vessels",
        {"diameter": 10, "inside": "9.7 in", "fill": "1-1.6 ft3"},
        {"diameter": 11, "heights": "44, 54"},
    )
    ten, eleven = changed.vessel_of(0.254), changed.vessel_of(0.2794)
    assert ten.inside.value == pytest.approx(9.7 * 0.0254)
    assert ten.inside.replaced == SHIPPED.vessel_of(0.254).inside
    assert ten.heights_m == SHIPPED.vessel_of(0.254).heights_m
    assert (ten.fill.low, ten.fill.high) == pytest.approx(
        (0.02831685, 1.6 * 0.02831685), rel=1e-6
    )  # NIST SP 811
    assert eleven.heights_m == pytest.approx((44 * 0.0254, 54 * 0.0254))
    assert [v.diameter_m for v in changed.vessels] == sorted(v.diameter_m for v in changed.vessels)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"diameter": 10, "inside": 10.2}, "not below the nominal"),
        ({"diameter": 11}, "without a height"),
        ({"height": 54}, "nothing under diameter"),
        ({"diameter": 11, "height": 54, "fill_low": 2, "fill_high": 1}, "Swap them"),
    ],
)
def test_vessel_rows_that_cannot_be_used(row, said):
    assert said in refused("Vessels", row)


def test_all_problems_of_all_sheets_in_one_message():
    rows = {
        "Media": [OverrideRow("Media!A2", {"medium": "sand", "uniformity": 9}, "f.xlsx")],
        "Settings": [OverrideRow("Settings!A7", {"setting": "nonsense", "value": 1}, "f.xlsx")],
        "Vesels": [],
    }
    with pytest.raises(CatalogueError) as caught:
        apply(SHIPPED, rows)
    assert len(caught.value.message.splitlines()) == 3
    assert all(
        word in caught.value.message for word in ("Media!A2", "Settings!A7", 'Did you mean "Vessels"?')
    )


def test_the_shipped_catalogue_is_untouched():
    before = SHIPPED.hash
    changed = laid("Media", {"medium": "sand", "uniformity": 1.3})
    assert shipped.load().hash == before != changed.hash
