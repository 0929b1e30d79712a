"""The answer for one vessel: against the worked example, an audit of the same row, and slips."""

from __future__ import annotations

import itertools
import json
import subprocess
import sys
from collections.abc import Mapping
from datetime import date

import numpy as np
import pytest
from click.testing import CliRunner

from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from fleetaudit.cli.main import cli
from fleetaudit.errors import FleetAuditError
from fleetaudit.facts.needed import needed
from fleetaudit.facts.window import flow_window
from fleetaudit.units import from_si
from tests.frames import frame_of

KEYS = [
    "area_ft2",
    "rate_gpm_ft2",
    "flow_at_rate_gpm",
    "needed_gpm",
    "expansion_pct",
    "restrictor_recommended_gpm",
    "housing_recommended",
    "sources",
]
WORKED = [
    *("--media", "activated carbon 12x40", "--vessel", "13x54", "--bed-depth", "30in"),
    *("--freeboard", "16in", "--cold", "5C", "--warm", "18C"),
]


def run(*options: str) -> str:
    """What the command prints."""
    found = CliRunner().invoke(cli, ["size", *options], catch_exceptions=False, standalone_mode=False)
    assert found.exception is None
    return found.stdout


def answer(*options: str) -> dict:
    return json.loads(run(*options, "--json", "-"))


def complaint(*options: str) -> str:
    with pytest.raises(FleetAuditError) as trouble:
        cli.main(["size", *options], standalone_mode=False)
    assert "\n" not in trouble.value.message
    return trouble.value.message


def test_worked_example() -> None:
    """0.9218 ft2; window 8.61 to 9.87, best 9.22 gpm; a 9 gpm restrictor: 46 % at 5 and 30 % at 18 degC."""
    found = answer(*WORKED, "--restrictor", "9gpm")
    assert list(found) == KEYS
    assert found["area_ft2"] == pytest.approx(0.9218, rel=5e-3)
    needed_gpm = found["needed_gpm"]
    assert [needed_gpm[end] for end in ("low", "target", "high")] == pytest.approx(
        [8.61, 9.22, 9.87], rel=5e-3
    )
    assert found["expansion_pct"] == {"cold": 46, "warm": 30}
    assert found["restrictor_recommended_gpm"] == pytest.approx(9)
    assert found["housing_recommended"] == "medium"
    assert all(isinstance(line, str) and line for line in found["sources"])


@pytest.mark.parametrize(("rating", "cold", "warm"), [(7, 31, 19), (8, 38, 24), (10, 54, 36), (12, 70, 49)])
def test_expansion_of_the_other_ratings_of_the_worked_example(rating: int, cold: int, warm: int) -> None:
    found = answer(*WORKED, "--restrictor", f"{rating} gpm")
    assert found["expansion_pct"] == {"cold": pytest.approx(cold, abs=1), "warm": pytest.approx(warm, abs=1)}


def test_too_little_freeboard_cuts_the_most_flow() -> None:
    """Worked example with 9 in: 8.61 needed, 7.68 allowed."""
    found = answer(*WORKED[:6], "--freeboard", "9in", "--cold", "5C", "--warm", "18C")
    assert found["needed_gpm"]["low"] == pytest.approx(8.61, rel=5e-3)
    assert found["needed_gpm"]["high"] == pytest.approx(7.68, rel=5e-3)
    assert "Too little freeboard" in run(*WORKED[:6], "--freeboard", "9in", "--cold", "5C", "--warm", "18C")


def test_rate_overrides_both_ends_and_its_flow_is_rate_times_area() -> None:
    """10 gpm/ft2 over pi/4 x (12.8/12)^2 = 0.8936 ft2 is 8.94 gpm; at the stated 10 degC least and most are
    one.
    """
    found = answer(
        *("--media", "activated carbon 12x40", "--inside-diameter", "12.8in", "--rate", "10gpm/ft2"),
        *("--cold", "10C", "--warm", "10C"),
    )
    assert found["area_ft2"] == pytest.approx(0.8936, abs=1e-4)
    assert found["rate_gpm_ft2"] == pytest.approx(10)
    assert found["flow_at_rate_gpm"] == pytest.approx(8.936, abs=1e-3)
    assert list(found["needed_gpm"].values()) == pytest.approx([8.936] * 3, abs=2e-3)


@pytest.mark.parametrize(
    "written", ["8-12gpm/ft2", "8 to 12 gpm/ft2", "8gpm/ft2-12gpm/ft2", "19.558 to 29.337 m/h"]
)
def test_a_range_of_rates(written: str) -> None:
    """The catalogue's own 8 to 12 written out gives what the catalogue gives."""
    usual, asked = answer(*WORKED), answer(*WORKED, "--rate", written)
    assert asked["needed_gpm"] == pytest.approx(usual["needed_gpm"], rel=1e-4)
    assert asked["rate_gpm_ft2"] == pytest.approx(96**0.5, rel=1e-4)


def test_tolerance_decides_which_ratings_lie_wholly_inside() -> None:
    """9 gpm at 2 % is 8.82 to 9.18, inside; the finding on 8.5 gpm turns from an edge into too small: 8.5 x
    1.01 < 8.61.
    """
    loose = run(*WORKED, "--restrictor", "8.5gpm")
    tight = run(*WORKED, "--restrictor", "8.5gpm", "--tolerance", "1%")
    assert "Restrictor at the edge" in loose
    assert "Restrictor too small" in tight
    assert run(*WORKED, "--restrictor", "8.5gpm", "--tolerance", "0.01") == tight


def test_metric_and_us_say_the_same() -> None:
    """13 in is 330.2 mm, 30 in 762 mm, 16 in 406.4 mm."""
    metric = answer(
        *("--media", "activated carbon 12x40", "--vessel", "330.2x1371.6", "--bed-depth", "762"),
        *("--freeboard", "406.4", "--cold", "5", "--warm", "18", "--units", "metric"),
    )
    us = answer(*WORKED)
    assert metric["needed_gpm"] == pytest.approx(us["needed_gpm"], rel=1e-6)
    assert "L/min" in run(*WORKED, "--units", "metric")


def test_water_not_given_is_assumed_and_said() -> None:
    found = CliRunner().invoke(
        cli, ["size", "--media", "calcite", "--vessel", "10x54", "--json", "-"], standalone_mode=False
    )
    assert "assumed" in found.stderr
    assert json.loads(found.stdout)["needed_gpm"]["low"] > 0


def test_text_fits_the_terminal_and_ends_with_cautions_and_sources() -> None:
    text = run(*WORKED, "--restrictor", "12gpm")
    assert max(map(len, text.splitlines())) <= 80
    assert "nominal diameter" in text
    assert "Sources:" in text
    assert "bucket" in text


def test_layers_are_those_of_an_audited_row() -> None:
    catalogue = load()
    row = {
        "vessel_diameter": "24 in",
        "layers": "anthracite-fine 18 in; filter-sand 12 in",
        "freeboard": "18 in",
    }
    row |= {"water_cold": "5 degC", "water_warm": "18 degC"}
    window = flow_window(audit(frame_of([row], catalogue), catalogue, date(2026, 11, 1)).view)
    found = answer(
        *("--media", "anthracite-fine 18 in; filter sand 12 in", "--vessel", "24x72"),
        *("--freeboard", "18in", "--cold", "5C", "--warm", "18C"),
    )
    for end, flow in (("low", window.low.value), ("high", window.high.value)):
        assert found["needed_gpm"][end] == pytest.approx(from_si(float(flow[0]), "gpm"), abs=1e-4)


def test_a_size_without_a_unit_is_in_the_only_unit_it_can_be_in() -> None:
    assert answer("--media", "calcite", "--vessel", "330.2x1371.6")["area_ft2"] == pytest.approx(
        0.9218, rel=1e-3
    )
    in_metric = answer("--media", "calcite", "--vessel", "13x54", "--units", "metric")
    assert in_metric["area_ft2"] == pytest.approx(0.9218, rel=1e-3)


ROWS = [
    dict(zip(("medium", "vessel", "cold", "warm", "restrictor", "freeboard"), row, strict=True))
    for row in itertools.product(
        (
            "filter-sand",
            "calcite-16x40",
            "cation-resin",
            "manganese-ore-8x20",
            "iron-hydroxide",
            "multi-media",
        ),
        (8, 13, 24),
        ("5",),
        ("12", "25"),
        ("", "7", "30"),
        ("", "14"),
    )
]


def test_an_audit_of_the_same_rows_says_the_same() -> None:
    """Every number of the answer is the one the audit holds for a workbook row with those cells."""
    catalogue = load()

    def cells(row: Mapping[str, object]) -> dict[str, str]:
        return {
            "vessel_diameter": f"{row['vessel']} in",
            "medium": str(row["medium"]),
            "mesh_stated": "yes",
            "water_cold": f"{row['cold']} degC",
            "water_warm": f"{row['warm']} degC",
            "restrictor": f"{row['restrictor']} gpm" if row["restrictor"] else "",
            "freeboard": f"{row['freeboard']} in" if row["freeboard"] else "",
            "bed_depth": "30 in",
        }

    view = audit(frame_of([cells(row) for row in ROWS], catalogue), catalogue, date(2026, 11, 1)).view
    window, need = flow_window(view), needed(view)
    for place, row in enumerate(ROWS):
        options = ["--media", row["medium"], "--vessel", f"{row['vessel']}", "--bed-depth", "30in"]
        options += ["--cold", f"{row['cold']}C", "--warm", f"{row['warm']}C"]
        options += ["--restrictor", f"{row['restrictor']}gpm"] if row["restrictor"] else []
        options += ["--freeboard", f"{row['freeboard']}in"] if row["freeboard"] else []
        found = answer(*options)
        wanted = [
            window.low.value[place],
            window.target[place],
            window.high.value[place],
            need.rating_m3_s[place],
        ]
        got = [*found["needed_gpm"].values(), found["restrictor_recommended_gpm"]]
        for value, mine in zip(wanted, got, strict=True):
            if np.isnan(value):
                assert mine is None
            else:
                assert mine == pytest.approx(from_si(float(value), "gpm"), abs=1e-4)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--media", "moon dust", "--vessel", "13x54"], ["moon dust", "catalogue media"]),
        (["--media", "actvated carbon", "--vessel", "13x54"], ["Did you mean"]),
        (["--media", "cartridge", "--vessel", "13x54"], ["no backwashing bed"]),
        (["--media", "-", "--vessel", "13x54"], ["not given"]),
        (["--media", "calcite"], ["--vessel 13x54", "--inside-diameter"]),
        (["--media", "calcite", "--vessel", "big"], ["--vessel", "big", "13x54"]),
        (["--media", "calcite", "--vessel", "100x300"], ["6 to 72 in"]),
        (["--media", "calcite", "--vessel", "13x54", "--rate", "10"], []),
        (["--media", "calcite", "--vessel", "13x54", "--rate", "ten"], ["--rate", "ten", "10gpm/ft2"]),
        (["--media", "calcite", "--vessel", "13x54", "--rate", "10 gpm"], ["gpm", "10gpm/ft2"]),
        (["--media", "calcite", "--vessel", "13x54", "--rate", "12-8gpm/ft2"], ["lower rate first"]),
        (["--media", "calcite", "--vessel", "13x54", "--cold", "5"], ["--cold", "Without a unit"]),
        (["--media", "calcite", "--vessel", "13x54", "--cold", "20C", "--warm", "5C"], ["warmer"]),
        (["--media", "calcite", "--vessel", "13x54", "--tolerance", "10"], ["--tolerance 10%"]),
        (["--media", "calcite", "--vessel", "13x54", "--restrictor", "9 in"], ["no flow"]),
        (["--media", "calcite", "--vessel", "13x54", "--bed-depth", "9 gpm"], ["no depth"]),
    ],
)
def test_slips_are_answered_with_a_sentence(options: list[str], words: list[str]) -> None:
    if not words:
        assert answer(*options)["rate_gpm_ft2"] == pytest.approx(10)
        return
    message = complaint(*options)
    assert all(word in message for word in words), message


def test_neither_pandas_nor_openpyxl_is_loaded() -> None:
    code = (
        "import sys\nfrom fleetaudit.cli.main import main\n"
        f"try:\n    main(['size', *{WORKED!r}])\n"
        "except SystemExit as end:\n    assert not end.code, end.code\n"
        "print(sorted({'pandas', 'openpyxl', 'pint', 'scipy', 'jinja2'} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
