"""The shipped figures against printed ones; each row of published/media.csv names where it stands.

Read for this table: Davis (2010) tables 11-1 and 11-10; Wisconsin Adm. Code NR 811.49, .52; the Ten States
section 4.4.2 in the summary of Rensselaer Polytechnic Institute; Hunt (2001). Factors to SI are those of
NIST SP 811 (2008), appendix B.
"""

import csv
from pathlib import Path

import pytest

from fleetaudit.catalogue import shipped
from fleetaudit.catalogue.kinds import BY_NAME

TABLE = Path(__file__).parent / "published" / "media.csv"
NIST = {
    "1": 1.0,
    "m": 1.0,
    "mm": 1e-3,
    "in": 2.54e-2,
    "kg/m3": 1.0,
    "lb/ft3": 16.018463,
    "gpm/ft2": 6.309020e-5 / 9.290304e-2,
}
PRINTED = {"davis2010", "nr811", "tenstates", "hunt2001"}
ROUNDING = 1e-6  # NIST prints seven digits

with TABLE.open(encoding="utf-8", newline="") as table:
    ROWS = list(csv.DictReader(table))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['medium']}-{row['figure']}-{row['source']}")
def test_figure_agrees_with_print(row):
    """A figure that names the source lies inside what it prints; any other has a range that meets it."""
    figure = shipped.load().medium(row["medium"]).figures[BY_NAME[row["figure"]].key]
    low, high = (float(row[end]) * NIST[row["unit"]] for end in ("low", "high"))
    slack = ROUNDING * high
    if figure.source == row["source"]:
        assert low - slack <= figure.value <= high + slack
    else:
        assert figure.low <= high + slack
        assert figure.high >= low - slack


def test_every_figure_that_names_a_printed_source_is_compared():
    compared = {(row["medium"], BY_NAME[row["figure"]].key, row["source"]) for row in ROWS}
    named = {
        (medium.key, key, figure.source)
        for medium in shipped.load().media
        for key, figure in medium.figures.items()
        if figure.source in PRINTED
    }
    assert named - compared == set()


def test_beds_of_solid_grains_have_credible_voids():
    """Voids 1 - bulk/grain density: spheres at random 0.36 (Scott 1960, from memory, unverified)
    to crushed coal 0.60 (Davis 2010, table 11-1).
    """
    checked = 0
    for medium in shipped.load().media:
        grain = medium.figures.get("grain_density_kg_m3")
        if grain is None or medium.porous:
            continue
        voids = 1 - medium.figures["bulk_density_kg_m3"].value / grain.value
        assert 0.36 <= voids <= 0.60, medium.key
        checked += 1
    assert checked >= 10
