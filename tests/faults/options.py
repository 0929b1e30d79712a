"""Options that ask for what is not there, and the company's own sheets with mistakes in them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from . import packages
from .fault import STOP, WARN, Build, Fault, fleet, write

SETTINGS = ("Setting", "Value", "Source")


def own(sheet: str, *rows: Sequence[Any]) -> Build:
    """Build a sound fleet with a sheet of the company's own beside it."""
    return fleet(others={sheet: rows})


def with_settings(build: Build) -> Build:
    """Build a sound fleet, and beside it a workbook own.xlsx."""

    def both(folder: Path) -> Path:
        build(folder)
        return fleet()(folder)

    return both


def own_book(folder: Path) -> Path:
    return write(folder / "own.xlsx", {"Settings": [SETTINGS, ("restrictor_tolerence", 5, "")]})


def _file_in_the_way(folder: Path) -> Path:
    (folder / "out").write_text("here already")
    return fleet()(folder)


def _copy_there(folder: Path) -> Path:
    for name in ("fleet.audited.xlsx", "fleet.summary.html"):
        (folder / name).write_text("older result")
    return fleet()(folder)


def _copy_is_a_folder(folder: Path) -> Path:
    (folder / "fleet.audited.xlsx").mkdir()
    return fleet()(folder)


def refused(name: str, options: tuple[str, ...], *words: str, build: Build | None = None) -> Fault:
    """Options that stop a run on a sound fleet."""
    return Fault(name, STOP, words, build or fleet(), options)


FAULTS = (
    refused("a sheet that is not there", ("--sheet", "Unts"), "fleet.xlsx", '"Unts"', '"Units"'),
    refused(
        "a sheet without a list",
        ("--sheet", "Notes"),
        '"Notes"',
        "headings",
        build=own("Notes", ("Ring first",)),
    ),
    refused(
        "a heading that is not there", ("--map", "Tnk=vessel size"), "fleet.xlsx", '"Tnk"', '"Vessel size"'
    ),
    refused(
        "a column that is not ours",
        ("--map", "Account=restrictr"),
        '"restrictr"',
        'Did you mean "Restrictor"?',
    ),
    refused("a map without a sign", ("--map", "Account"), '"Account"', "--map"),
    refused(
        "no settings workbook",
        ("--settings", "owm.xlsx"),
        '"owm.xlsx"',
        '"own.xlsx"',
        build=with_settings(own_book),
    ),
    refused(
        "settings that are text",
        ("--settings", "own.xlsx"),
        "own.xlsx",
        "not a workbook",
        build=with_settings(packages.raw("own.xlsx", b"a,b\n")),
    ),
    refused(
        "a setting nobody knows",
        ("--settings", "own.xlsx"),
        "own.xlsx",
        "Settings!A2",
        '"restrictor_tolerence"',
        "restrictor_tolerance",
        build=with_settings(own_book),
    ),
    refused("no date", ("--as-of", "yesterday"), '"yesterday"', "2026-11-01"),
    refused("no day of the calendar", ("--as-of", "2026-02-30"), '"2026-02-30"', "2026-11-01"),
    refused("days below zero", ("--due-within", "-3"), "-3", "--due-within"),
    refused("days in words", ("--due-within", "soon"), "soon", "--due-within"),
    refused("units of another world", ("--units", "cubits"), "cubits", "metric"),
    refused("no tier", ("--fail-on", "sometimes"), "sometimes", "plan"),
    refused("an account nobody has", ("--account", "Site 99"), "fleet.xlsx", '"Site 99"', "account"),
    refused("a crew nobody has", ("--crew", "Crew Z"), "fleet.xlsx", '"Crew Z"', "crew"),
    refused("an option nobody knows", ("--forse",), "--forse", "--force"),
    refused("a folder that is a file", ("-o", "out"), "out", build=_file_in_the_way),
    refused("a JSON file in no folder", ("--json", "none/results.json"), "none", "results.json"),
    refused("results that are there already", (), "fleet.audited.xlsx", "--force", build=_copy_there),
    refused(
        "results that are there already, second line", (), "fleet.summary.html", "--force", build=_copy_there
    ),
    refused(
        "a result that is a folder",
        ("--force",),
        "fleet.audited.xlsx",
        "is a folder",
        build=_copy_is_a_folder,
    ),
    refused(
        "JSON over the workbook", ("--json", "fleet.xlsx", "--force"), "fleet.xlsx", "never written over"
    ),
    refused(
        "a setting with a word for a number",
        (),
        "fleet.xlsx",
        "Settings!",
        '"lots"',
        build=own("Settings", SETTINGS, ("restrictor_tolerance", "lots", "")),
    ),
    refused(
        "a switch that is neither",
        (),
        "fleet.xlsx",
        "Settings!",
        '"perhaps"',
        "yes",
        build=own("Settings", SETTINGS, ("use_inside_diameter", "perhaps", "")),
    ),
    refused(
        "a choice that is none",
        (),
        "fleet.xlsx",
        "Settings!",
        '"lake"',
        "well or mixed or surface",
        build=own("Settings", SETTINGS, ("default_water", "lake", "")),
    ),
    refused(
        "an error in a setting",
        (),
        "fleet.xlsx",
        "Settings!B2",
        "#REF!",
        "Repair",
        build=own("Settings", SETTINGS, ("restrictor_tolerance", "#REF!", "")),
    ),
    refused(
        "a medium with a rate below zero",
        (),
        "fleet.xlsx",
        "Media!",
        "-4",
        build=own("Media", ("Medium", "Least wash rate (gpm/ft2)"), ("activated carbon", -4)),
    ),
    refused(
        "a spelling claimed twice",
        (),
        "fleet.xlsx",
        "Crews!",
        '"JP"',
        "one of them",
        build=own("Crews", ("Crew", "Other spellings"), ("Crew A", "JP"), ("Crew B", "JP")),
    ),
    refused(
        "a housing that takes nothing",
        (),
        "fleet.xlsx",
        "Housings!",
        build=own("Housings", ("Housing", "Takes up to (gpm)"), ("small", 0)),
    ),
    refused(
        "a restrictor of no flow",
        (),
        "fleet.xlsx",
        "Restrictors!",
        build=own("Restrictors", ("Rating (gpm)", "Stocked"), ("none", "yes")),
    ),
    Fault(
        "a sheet of our name but not ours",
        WARN,
        ("fleet.xlsx", "Media", "no heading", "nothing of it was used"),
        own("Media", ("Television", "Radio"), ("channel 1", "long wave")),
    ),
    Fault(
        "a heading on our sheet that means nothing",
        WARN,
        ("fleet.xlsx", '"Colour" (C1)', "not used"),
        own("Media", ("Medium", "Least wash rate (gpm/ft2)", "Colour"), ("activated carbon", 8, "black")),
    ),
)
