"""The working behind one unit: figures of the worked example, cells, sources, drawing and what flips it."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from datetime import date
from pathlib import Path

import pytest
import xlsxwriter
from click.testing import CliRunner

from fleetaudit.auditing.run import audit
from fleetaudit.cli.main import cli
from fleetaudit.errors import InputError, OutputError
from fleetaudit.explain_file import Request, explain_file
from fleetaudit.reading.company import load_catalogue
from fleetaudit.reading.fleet import read_fleet
from fleetaudit.workbook.book import open_workbook
from fleetaudit.writing.explanation import explain

ROOT = Path(__file__).resolve().parent.parent
HEADINGS = (
    *("Unit ID", "Account", "Vessel size (in)", "Inside diameter (in)", "Medium", "Layers"),
    *("Media volume (ft3)", "Bed depth (in)", "Freeboard (in)", "Restrictor (gpm)", "Measured flow (gpm)"),
    *("Service flow (gpm)", "Supply pressure (psi)", "Drain bore (mm)", "Drain length (ft)"),
    *("Drain rise (ft)", "Coldest water (C)", "Warmest water (C)"),
)
WORKED = {
    "Unit ID": "U-104",
    "Account": "Mill Lane Dairy (invented)",
    "Vessel size (in)": "13x54",
    "Medium": "activated carbon 12x40",
    "Bed depth (in)": 30,
    "Freeboard (in)": 16,
    "Restrictor (gpm)": 12,
    "Coldest water (C)": 5,
    "Warmest water (C)": 18,
}
ROWS = (
    WORKED,
    WORKED | {"Unit ID": "U-105", "Restrictor (gpm)": 9, "Freeboard (in)": None, "Bed depth (in)": None},
    WORKED | {"Unit ID": "U-106", "Restrictor (gpm)": "nine", "Inside diameter (in)": 12.8},
    WORKED
    | {
        **{"Unit ID": "U-107", "Restrictor (gpm)": 10, "Supply pressure (psi)": 50, "Drain bore (mm)": 13.8},
        **{
            "Drain length (ft)": 100,
            "Drain rise (ft)": 4,
            "Service flow (gpm)": 6,
            "Media volume (ft3)": 2.3,
        },
    },
    WORKED
    | {
        **{"Unit ID": "U-108", "Vessel size (in)": "24x72", "Bed depth (in)": None, "Restrictor (gpm)": 45},
        **{"Medium": None, "Layers": "anthracite 0.6-0.8 mm 18 in; filter sand 12 in", "Freeboard (in)": 18},
    },
    WORKED | {"Unit ID": "<b>U-109", "Account": "<script>alert(1)</script>", "Medium": "moon dust"},
    WORKED | {"Unit ID": "U-110", "Coldest water (C)": None, "Warmest water (C)": None},
    WORKED | {"Unit ID": "U-111", "Medium": "manganese greensand", "Warmest water (C)": 25},
    WORKED | {"Unit ID": "U-104 ", "Restrictor (gpm)": 9},
    WORKED
    | {
        **{"Unit ID": "U-112", "Medium": None, "Bed depth (in)": None, "Inside diameter (in)": 12.5},
        **{"Layers": "anthracite 0.6-0.8 mm 1.5 ft3; filter sand 1 ft3"},
    },
)


@pytest.fixture(scope="module")
def workbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("fleet") / "fleet.xlsx"
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("Units")
    sheet.write_row(0, 0, HEADINGS)
    for line, row in enumerate(ROWS, 1):
        for place, heading in enumerate(HEADINGS):
            sheet.write(line, place, row.get(heading))
    book.close()
    return path


def printed(*options: str) -> str:
    found = CliRunner().invoke(
        cli, ["explain", *options, "--as-of", "2026-11-01"], catch_exceptions=False, standalone_mode=False
    )
    assert found.exception is None
    return found.stdout


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def one(workbook: Path, unit: str, system: str = "us"):
    return explain_file(Request(workbook, unit, date(2026, 11, 1), system=system)).units[0]


def step(explained, title: str):
    return next(found for found in explained.steps if found.title == title)


def numbers(text: str) -> list[float]:
    return [float(found) for found in re.findall(r"\d+\.?\d*", text)]


def test_worked_example_with_its_numbers(workbook: Path) -> None:
    """8 x 1.1675 x 0.9218 = 8.61, 12 x 0.8923 x 0.9218 = 9.87, best 9.22, ceilings 9.12 and 11.53 gpm."""
    explained = one(workbook, "row 2")
    assert numbers(step(explained, "Area").numbers)[-1] == pytest.approx(0.9218, abs=1e-3)
    least = numbers(step(explained, "Least flow").numbers)
    assert least[-1] == pytest.approx(8.61, rel=5e-3)
    assert numbers(step(explained, "Most flow").numbers)[-1] == pytest.approx(9.87, rel=5e-3)
    assert numbers(step(explained, "Best flow").numbers)[-1] == pytest.approx(9.22, rel=5e-3)
    ceiling = step(explained, "Freeboard ceiling").numbers
    assert "47%" in ceiling
    assert pytest.approx([float(x) for x in re.findall(r"([\d.]+) gpm", ceiling)], rel=5e-3) == [9.12, 11.53]
    assert numbers(step(explained, "Flow to drain").numbers) == pytest.approx([12, 10.8, 13.2])
    assert "too large" in step(explained, "Compared").numbers
    rise = step(explained, "Expansion at that flow").numbers
    assert "50% to 70% in the coldest, 33% to 49% in the warmest" in rise


@pytest.mark.parametrize("title", ["Temperature", "Least flow", "Most flow"])
def test_equations_come_out_when_worked_again(workbook: Path, title: str) -> None:
    """The factors printed multiply to the result printed."""
    explained = one(workbook, "U-105")
    if title == "Temperature":
        assert re.search(r"f\(41 °F\) = 0\.892; f\(64 °F\) = 1\.16[78]", step(explained, title).numbers)
        return
    left, right = step(explained, title).numbers.split(" = ")
    product = 1.0
    for factor in left.split(" × "):
        product *= float(factor.split()[0])
    assert product == pytest.approx(float(right.split()[0]), rel=2e-3)


def test_every_step_and_figure_names_its_source(workbook: Path) -> None:
    for name in ("U-105", "U-107", "U-108"):
        explained = one(workbook, name)
        assert [found.title for found in explained.steps if not found.source.strip()] == []
        assert [found.title for found in (*explained.figures, *explained.limits) if not found.source] == []
        assert len(explained.figures) >= 10


def test_cells_carry_addresses_and_how_they_were_read(workbook: Path) -> None:
    explained = one(workbook, "U-106")
    found = {line.title: line for line in explained.inputs}
    assert (found["Freeboard"].cell, found["Freeboard"].value) == ("I4", "16 in")
    assert found["Freeboard"].origin == "unit from the heading"
    assert not found["Restrictor"].used
    assert "nine" in found["Restrictor"].value
    assert found["Inside diameter"].cell == "D4"
    assert "measured inside diameter" in step(explained, "Area").numbers
    assert "Media volume (G4)" in explained.blank
    assert any("nine" in words for words in explained.remarks)


def test_drain_line_supply_and_service_are_worked(workbook: Path) -> None:
    """50 - 5 - 4 x 0.433 psi less the line; 0.9218 ft2 x 30 in of bed over 6 gpm; 10 gpm cannot pass."""
    explained = one(workbook, "U-107")
    pressure = step(explained, "Pressure left for the washer").numbers
    assert "50 psi − 5 psi (valve) − 1.73" in pressure
    reduced = numbers(step(explained, "Flow under that pressure").numbers)
    assert 6 < reduced[0] < 8
    assert reduced[1] == 10
    assert "contact" in " ".join(found.title.lower() for found in explained.steps)
    assert "flow that results" in step(explained, "Flow to drain").equation


def test_layers_are_worked_one_by_one(workbook: Path) -> None:
    titles = [found.title for found in one(workbook, "U-108").steps]
    assert sum(title.startswith("Least flow, ") for title in titles) == 2
    assert "All layers" in titles
    mixing = step(one(workbook, "U-108"), next(title for title in titles if title.startswith("Mixing")))
    assert "stay apart" in mixing.numbers


def test_each_layer_cites_the_source_of_its_own_rate(workbook: Path) -> None:
    """Coal and sand are washed at the same rate; the catalogue's file names a source for each."""
    data = ROOT / "fleetaudit" / "data"
    media, sources = (
        tomllib.loads((data / f"{name}.toml").read_text("utf-8")) for name in ("media", "sources")
    )
    for key, name in (("anthracite-fine", "Anthracite, fine"), ("filter-sand", "Filter sand")):
        cited = step(one(workbook, "U-108"), f"Least flow, {name}").source
        assert sources[media["media"][key]["rate"]["source"]]["title"] in cited


def test_volumes_of_layers_stand_in_the_bore_that_counts(workbook: Path) -> None:
    """1 ft3 over pi/4 x (12.5 in)^2 = 122.7 in2 is 14.1 in, 1.5 ft3 are 21.1 in."""
    found = {line.title: line.value for line in one(workbook, "U-112").inputs}
    assert "21.1 in" in found["Layers"]
    assert "14.1 in" in found["Layers"]


def test_assumed_water_is_drawn_as_assumed(workbook: Path) -> None:
    explained = one(workbook, "U-110")
    assert any(line.title.startswith("water temperature") for line in explained.assumed)
    assert any(bar.title.startswith("Water assumed") for bar in explained.drawing.bars)


def test_seasons_that_contradict_each_other_are_said_so(workbook: Path) -> None:
    explained = one(workbook, "U-111")
    assert "No flow is right all year" in explained.answer[0]
    assert any(bar.kind == "clash" for bar in explained.drawing.bars)
    assert any("under the least in warm water" in found.fix for found in explained.findings)


def test_drawing_holds_both_seasons_and_the_restrictor(workbook: Path) -> None:
    """At 5 degC 8 and 12 times 0.8923, at 18 degC times 1.1675, both times 0.9218 ft2; 12 gpm is 10.8 to
    13.2.
    """
    gpm = 3.785411784e-3 / 60
    bars = {bar.title.partition(",")[0]: bar for bar in one(workbook, "row 2").drawing.bars}
    cold, warm, year, drain = (
        bars[name] for name in ("Coldest water", "Warmest water", "Whole year", "To drain")
    )
    assert (cold.low / gpm, cold.high / gpm) == pytest.approx((6.58, 9.87), rel=5e-3)
    assert (warm.low / gpm, warm.high / gpm) == pytest.approx((8.61, 12.91), rel=5e-3)
    assert (year.low / gpm, year.middle / gpm, year.high / gpm) == pytest.approx((8.61, 9.22, 9.87), rel=5e-3)
    assert (drain.low / gpm, drain.middle / gpm, drain.high / gpm) == pytest.approx((10.8, 12, 13.2))


def test_what_would_change_it_names_rating_temperature_and_freeboard(workbook: Path) -> None:
    told = " ".join(one(workbook, "row 2").flips)
    assert "Ratings on stock that raise nothing about the wash: 9 gpm." in told
    assert re.search(r"A restrictor rated below about 11\.[45]\d* gpm", told)
    assert "Coldest water" in told
    assert "Freeboard above about" in told


def test_text_is_80_columns_in_both_unit_systems(workbook: Path) -> None:
    for system in ("us", "metric"):
        text = printed(str(workbook), "row 2", "--units", system)
        assert max(map(len, text.splitlines())) <= 80
        assert text.splitlines()[0] == "U-104, Mill Lane Dairy (invented)"
        assert "Restrictor to have" in text.splitlines()[-1]
    assert "L/min" in text
    assert "gpm" not in text.replace("gpm/ft", "")


def test_bar_stands_where_its_numbers_are(workbook: Path) -> None:
    """The restrictor's bar starts right of where the year's window ends: 10.8 > 9.87."""
    lines = printed(str(workbook), "row 2").splitlines()
    window = next(line for line in lines if line.startswith("  Whole year"))
    drain = next(line for line in lines if line.startswith("  To drain"))
    assert drain.index("[") > window.rindex("=")
    assert drain.index("[") < drain.rindex("o") < drain.index("]")


def test_a_name_given_twice_explains_both(workbook: Path) -> None:
    text = printed(str(workbook), "u-104")
    assert text.count("Verdict:") == 2
    assert "row 2" in text
    assert "row 10" in text


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        ("U-1O5", "U-105"),
        ("U105", "U-105"),
        ("row 99", "row 99 is no unit"),
        ("zzz", 'no unit is called "zzz".'),
    ],
)
def test_unknown_units_are_answered_with_the_nearest(workbook: Path, unit: str, words: str) -> None:
    with pytest.raises(InputError) as trouble:
        one(workbook, unit)
    assert words in trouble.value.message


def test_page_is_one_safe_file(workbook: Path, tmp_path: Path) -> None:
    page = tmp_path / "unit.html"
    printed(str(workbook), "<b>U-109", "--html", str(page))
    html = page.read_text(encoding="utf-8")
    assert "<script" not in html
    assert "&lt;script&gt;" in html
    assert "<b>U-109" not in html
    assert not re.search(r"(?:src|href)\s*=\s*[\"']?(?:https?:)?//", html)
    assert "default-src 'none'" in html
    again = CliRunner().invoke(
        cli, ["explain", str(workbook), "U-105", "--html", str(page)], standalone_mode=False
    )
    assert again.exception is not None
    printed(str(workbook), "U-105", "--html", str(page), "--force")
    html = page.read_text(encoding="utf-8")
    assert html.count("<svg") == 1
    assert 'role="img"' in html
    assert "Coldest water" in html


def test_the_workbook_is_never_written_over(workbook: Path) -> None:
    before = workbook.read_bytes()
    with pytest.raises(OutputError, match="never written over"):
        cli.main(
            ["explain", str(workbook), "U-105", "--html", str(workbook), "--force"], standalone_mode=False
        )
    assert workbook.read_bytes() == before


def test_what_leaving_it_costs_is_worked_out_with_its_place_in_the_list(workbook: Path) -> None:
    """12 gpm over 9.87 (worked example), 2 washes of 10 min a week, 12 per 1,000 gal; a fifth of a visit."""
    line = next(found for found in one(workbook, "row 2").waiting if found.startswith("Restrictor too large"))
    water = (12 - 9.87) * 10 * 2 * 365.25 / 7
    media = water * 231 / 1728 * 0.0005 * 90  # 231 cubic inches a gallon, NIST Handbook 44, appendix C
    place, every, total = numbers(line.partition(" a year")[0].replace(",", ""))
    assert total == pytest.approx(water * 12 / 1000 + media + 0.2 * 150, rel=0.01)
    assert 1 <= place <= every
    assert f"= {water * 12 / 1000:,.0f};" in line and line.endswith("= 30.")
    shown = flat(printed(str(workbook), "U-105"))
    assert "What leaving it costs" in shown and "Order: by tier" in shown


def test_neither_pandas_nor_openpyxl_is_loaded(workbook: Path) -> None:
    code = (
        "import sys\nfrom fleetaudit.cli.main import main\n"
        f"try:\n    main(['explain', {str(workbook)!r}, 'U-105'])\n"
        "except SystemExit as end:\n    assert not end.code, end.code\n"
        "print(sorted({'pandas', 'openpyxl', 'pint', 'scipy'} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.slow
def test_every_row_of_the_sample_can_be_explained() -> None:
    sample = ROOT / "sample_fleet.xlsx"
    catalogue, _ = load_catalogue(None, open_workbook(sample))
    frame = read_fleet(sample, catalogue).frame
    result = audit(frame, catalogue, date(2026, 11, 1))
    for unit in range(frame.units):
        explained = explain(result, unit, "us")
        assert explained.heading
        assert all(found.numbers for found in explained.steps)
        assert (explained.drawing is None) == (not explained.limits)
