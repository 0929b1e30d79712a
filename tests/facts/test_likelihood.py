"""The probability behind a flow finding, against equations and draws of the tests' own."""

from __future__ import annotations

from datetime import date
from functools import cache

import numpy as np
import pytest
from msgspec.structs import replace
from scipy.stats import norm

from fleetaudit.auditing.confidence import label
from fleetaudit.auditing.result import AuditResult, CheckResult, State
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.check import Confidence
from fleetaudit.facts import draws, likelihood
from fleetaudit.facts.due import due
from fleetaudit.facts.likelihood import fit_odds
from fleetaudit.facts.view import View
from fleetaudit.facts.worked import Worked
from fleetaudit.hydraulics import bed, held_at_porosity, other_laws, water
from tests.frames import frame_of
from tests.simulation.fleet import COAL, GPM, INCH, SAND, VESSELS, Beds, ends, setting, simulate

AS_OF = date(2026, 11, 1)
CARBON = {
    "vessel_diameter": "12 in",
    "vessel_height": "52 in",
    "medium": "activated-carbon-12x40",
    "mesh_stated": "yes",
    "bed_depth": "30 in",
    "freeboard": "14 in",
    "water_cold": "6 degC",
    "water_warm": "17 degC",
}


def with_settings(**values: float) -> Catalogue:
    """The shipped catalogue with some settings changed."""
    catalogue = load()
    changed = {key: replace(catalogue.settings[key], value=value) for key, value in values.items()}
    return replace(catalogue, settings={**catalogue.settings, **changed})


def view_of(rows: list[dict[str, str]], catalogue: Catalogue | None = None) -> View:
    """View of some rows."""
    catalogue = catalogue or load()
    return View(frame_of(rows, catalogue), catalogue, 0.0, 0.0)


def one(result: AuditResult, slug: str) -> CheckResult:
    """Result of one check."""
    return next(item for item in result.checks if item.check.slug == slug)


@cache
def real_units(law: int, number: int = 60_000) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Limits of the flow [gpm] of real units like CARBON and what a rating is multiplied by, by the tests'
    own draws.
    """
    rng = np.random.default_rng(20260)

    def grain(figure: str) -> np.ndarray:
        low, _, high = ends("activated-carbon-12x40", figure)
        return rng.uniform(low, high, number)

    # carbon is mostly sharper than sand: then the constants lie anywhere between those of sand and of coal
    place = np.where(grain("sphericity") < 0.78, rng.random(number), 0.0)
    constants = [((1 - place) * SAND[k : k + 2].mean() + place * COAL[k : k + 2].mean()) for k in (0, 2)]
    beds = Beds(
        grain("d10") * grain("uniformity") * 1e-3,
        grain("grain_density"),
        grain("porosity"),
        np.full(number, law),
        *constants,
        np.ones(number),
    )
    cold, warm = 6 + rng.uniform(-1, 1, number), 17 + rng.uniform(-1, 1, number)
    room, depth = 14 + rng.uniform(-1, 1, number), 30 + rng.uniform(-1, 1, number)
    low = beds.velocity(np.full(number, 0.25), warm)
    high = np.minimum(beds.velocity(np.full(number, 0.35), cold), beds.velocity(room / depth, cold))
    share = (VESSELS["12"]["inside"]["low"] / 12) ** 2
    area = np.pi / 4 * (12 * INCH) ** 2 * rng.uniform(share, 1, number)
    slack = rng.uniform(*setting("restrictor_tolerance"), number) / 100
    return (
        np.minimum(low, high) * area / GPM,
        np.maximum(low, high) * area / GPM,
        1 + rng.uniform(-slack, slack),
    )


@pytest.mark.parametrize(("law", "shares"), [(0, (1.0, 0.0)), (1, (0.0, 1.0))], ids=["Wen-Yu", "Ergun form"])
@pytest.mark.parametrize("gpm", [6, 7, 9, 12, 15, 20])
def test_odds_are_those_of_many_random_units(law: int, shares: tuple[float, float], gpm: float) -> None:
    """Equations: Hendricks (2011), eq. 12.53, and Crittenden et al. (2012), eq. 11-15, as the simulation
    writes them.

    Within 2.5 points: the audit's fixed draws are 509, and the simulation's formula for viscosity is good to
    2 %.
    """
    catalogue = with_settings(law_share_wen_yu=shares[0], law_share_ergun_form=shares[1], law_error=0.0)
    odds = fit_odds(view_of([{**CARBON, "restrictor": f"{gpm} gpm"}], catalogue))
    least, most, off = real_units(law)
    assert odds.small[0] == pytest.approx((gpm * off < least).mean(), abs=0.025)
    assert odds.large[0] == pytest.approx((gpm * off > most).mean(), abs=0.025)


def test_more_flow_is_less_often_too_small_and_more_often_too_large() -> None:
    odds = fit_odds(
        view_of([{**CARBON, "restrictor": f"{gpm} gpm"} for gpm in (3, 4, 5, 6, 10, 12, 15, 20, 25, 30)])
    )
    assert not np.isnan(odds.small).any()
    assert (np.diff(odds.small) <= 0).all()
    assert (np.diff(odds.large) >= 0).all()
    assert odds.small[0] > 0.99
    assert odds.large[-1] > 0.99


def test_what_is_not_known_makes_a_finding_less_sure() -> None:
    """Blank water temperatures, depth and freeboard widen the ranges: the odds move towards the middle."""
    blank = {key: value for key, value in CARBON.items() if key[:5] not in ("water", "bed_d", "freeb")}
    known, unknown = (fit_odds(view_of([{**row, "restrictor": "5 gpm"}])).small[0] for row in (CARBON, blank))
    assert unknown < known


def test_a_measured_flow_counts_instead_of_the_rating() -> None:
    odds = fit_odds(
        view_of(
            [
                {**CARBON, "restrictor": "8 gpm", "measured_flow": "3 gpm"},
                {**CARBON, "restrictor": "3 gpm", "measured_flow": ""},
            ]
        )
    )
    assert odds.small[0] >= odds.small[1] > 0.99


def test_parts_and_order_give_the_same_to_the_last_bit() -> None:
    frame = frame_of(simulate(31, 240, documented=False).rows, load())
    whole = fit_odds(View(frame, load(), 0.0, 0.0))
    asked = ~np.isnan(whole.small)
    assert 40 < asked.sum() < 240
    catalogue = load()
    for parts, worked in (
        ([(0, 1), (1, 240)], None),
        ([(0, 97), (97, 98), (98, 240)], None),
        ([(0, 97), (97, 98), (98, 240)], Worked(catalogue)),
        ([(98, 240), (98, 98), (0, 97), (97, 98)], Worked(catalogue)),
    ):
        for first, last in parts:
            part = fit_odds(View(frame.part(first, last), catalogue, 0.0, 0.0, worked=worked))
            np.testing.assert_array_equal(part.small, whole.small[first:last])
            np.testing.assert_array_equal(part.large, whole.large[first:last])
    rows = simulate(31, 240, documented=False).rows
    other = with_settings(law_error=0.2)
    assert (fit_odds(View(frame, other, 0.0, 0.0, worked=worked)).small != whole.small)[asked].any()
    turned = fit_odds(view_of(rows[::-1]))
    np.testing.assert_array_equal(turned.small[::-1], whole.small)


def test_probability_of_a_medium_without_grain_data_follows_its_rate() -> None:
    """Copper-zinc, 30 to 40 gpm/ft2 (media.toml): a 10 in vessel has 0.545 ft2: 16.4 gpm or more at 10 C."""
    row = {
        "vessel_diameter": "10 in",
        "vessel_height": "54 in",
        "medium": "copper-zinc",
        "water_cold": "10 degC",
        "water_warm": "10 degC",
    }
    odds = fit_odds(view_of([{**row, "restrictor": f"{gpm} gpm"} for gpm in (8, 14, 45)]))
    assert odds.small[0] == 1.0
    assert 0.3 < odds.small[1] < 1.0
    assert odds.large[2] > 0.9


def test_beds_of_several_media_are_never_sure() -> None:
    row = {"vessel_diameter": "24 in", "restrictor": "6 gpm", "medium": "multi-media", "layers": ""}
    result = audit(
        frame_of(
            [
                row,
                {**row, "layers": "anthracite-coarse 18 in; filter-sand 12 in"},
                {**row, "medium": "filter-sand"},
            ],
            load(),
        ),
        load(),
        AS_OF,
    )
    found = one(result, "restrictor-too-small")
    assert (found.state == State.FOUND).all()
    assert found.outcome.probability is not None
    assert (found.outcome.probability > 0.99).all()
    np.testing.assert_array_equal(found.confidence, [Confidence.LIKELY, Confidence.LIKELY, Confidence.SURE])


def test_what_was_guessed_is_likely_at_most() -> None:
    result = audit(
        frame_of(
            [
                {**CARBON, "restrictor": "2 gpm"},
                {**CARBON, "restrictor": "2 gpm", "medium": "~activated-carbon-12x40"},
            ],
            load(),
        ),
        load(),
        AS_OF,
    )
    np.testing.assert_array_equal(
        one(result, "restrictor-too-small").confidence, [Confidence.SURE, Confidence.LIKELY]
    )


def test_label_follows_the_settings() -> None:
    probability = np.array([1.0, 0.99, 0.9899, 0.90, 0.8999, 0.0, np.nan])
    words = [Confidence(int(code)).word for code in label(probability, 0.99, 0.90)]
    assert words == ["sure", "sure", "likely", "likely", "measure-first", "measure-first", "measure-first"]
    result = audit(
        frame_of([{**CARBON, "restrictor": "5 gpm"}], load()), with_settings(confidence_sure=1.01), AS_OF
    )
    assert one(result, "restrictor-too-small").confidence[0] == Confidence.LIKELY


@pytest.mark.parametrize(
    ("loaded", "chance"),
    [
        ("2022-11-02", 0.0),
        ("2021-11-01", 0.302),
        ("2020-11-01", 0.573),
        ("2018-01-01", 1.0),
    ],
)
def test_chance_that_a_medium_is_past_its_life(loaded: str, chance: float) -> None:
    """Greensand, 4 to 8 years (media.toml), 5.657 in the geometric middle: half of all lives end evenly below
    it.

    5 years: 1/2 x 1 / 1.657 = 0.302; 6 years: 1/2 + 1/2 x 0.343 / 2.343 = 0.573.
    """
    rows = [{"medium": "manganese-greensand", "media_date": loaded}]
    view = View(frame_of(rows, load()), load(), float((AS_OF - date(1970, 1, 1)).days), 0.0)
    assert due(view).chance[0] == pytest.approx(chance, abs=0.002)


def test_draws_are_even_and_in_no_step_with_each_other() -> None:
    """Each name an even comb; no two correlated by more than two standard errors of 509 random points."""
    table = np.array(list(draws.points().values()))
    comb = (np.arange(draws.DRAWS) + 0.5) / draws.DRAWS
    np.testing.assert_allclose(np.sort(table, axis=1), np.broadcast_to(comb, table.shape), atol=1e-12)
    off = np.corrcoef(table) - np.eye(len(table))
    assert np.abs(off).max() < 2 / np.sqrt(draws.DRAWS)


def test_bell_is_normal() -> None:
    """Against scipy."""
    np.testing.assert_allclose(draws.bell("error"), norm.ppf(draws.points()["error"]), atol=1e-9)


def test_laws_read_from_tables_are_the_laws() -> None:
    """Both ways round with the functions they stand for, which have published values of their own."""
    size, rho_s, psi, kelvin = 0.74e-3, 2650.0, 0.8, 288.15
    rho, mu = float(water.density_kg_m3(kelvin)), float(water.viscosity_pa_s(kelvin))
    galileo = np.full(5, float(bed.galileo(size, rho_s, rho, mu)))
    porosity = np.array([0.42, 0.5, 0.6, 0.75, 0.9])
    velocity = mu / (rho * size)
    wen_yu = held_at_porosity.wen_yu(porosity, galileo) * velocity
    np.testing.assert_allclose(bed.wen_yu_porosity(wen_yu, size, rho_s, rho, mu), porosity, rtol=1e-4)
    ergun = held_at_porosity.ergun_form(porosity, galileo, np.full(5, 112.5), np.full(5, 2.25)) * velocity
    expected = other_laws.crittenden_velocity_for_porosity(porosity, size, rho_s, rho, mu, 112.5, 2.25)
    np.testing.assert_allclose(ergun, expected, rtol=1e-9)
    primary = held_at_porosity.akgiray_soyer(porosity, galileo, np.full(5, psi)) * velocity
    np.testing.assert_allclose(bed.expanded_porosity(primary, size, rho_s, psi, rho, mu), porosity, rtol=1e-4)


def test_flows_on_which_all_draws_agree_get_what_the_draws_say(monkeypatch: pytest.MonkeyPatch) -> None:
    """Over beds of one medium and of several, room known and not: the short way gives the same odds."""
    room = [{**CARBON, "freeboard": inches} for inches in ("2 in", "14 in", "")]
    several = {key: value for key, value in CARBON.items() if key != "mesh_stated"}
    mixed = [{**several, "medium": "multi-media", "freeboard": inches} for inches in ("6 in", "")]
    coarse = {**several, "medium": "calcite-16x40"}
    rows = [
        {**row, "restrictor": f"{gpm} gpm"}
        for row in (*room, *mixed, coarse)
        for gpm in (0.5, 2, 4, 6, 9, 12, 20, 40, 80)
    ]
    short = fit_odds(view_of(rows))
    assert (np.isin(short.small, (0, 1)) | np.isin(short.large, (0, 1))).any()

    def never(lot: object, flow: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.full(len(flow), np.nan), np.full(len(flow), np.nan)

    monkeypatch.setattr(likelihood, "_agreed", never)
    drawn = fit_odds(view_of(rows))
    np.testing.assert_allclose(short.small, drawn.small, atol=1e-12)
    np.testing.assert_allclose(short.large, drawn.large, atol=1e-12)
