"""Random fleets, built from the columns of the schema; rows are written as `tests.frames` reads them."""

from __future__ import annotations

from hypothesis import strategies as st

from fleetaudit.catalogue.shipped import load
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Kind
from fleetaudit.units import from_si

CATALOGUE = load()
#: media that can be the whole bed
ALONE = tuple(
    medium.key
    for medium in CATALOGUE.media
    if "rate_low_m_s" in medium.figures and medium.sets_rate and not medium.blend_only
)
GRAINY = tuple(key for key in ALONE if "d10_m" in CATALOGUE.medium(key).figures)
SIZES_IN = tuple(f"{from_si(vessel.diameter_m, 'in'):g} in" for vessel in CATALOGUE.vessels)
HEIGHTS_IN = ("35 in", "44 in", "54 in", "65 in", "72 in")
PURPOSES = tuple(purpose.key for purpose in CATALOGUE.purposes)
RATINGS = tuple(f"{from_si(rating, 'gpm'):g} gpm" for rating in CATALOGUE.stocked_m3_s)
#: blank, unreadable, impossible
ODD = ("", "", "", "?", "!")

STEPS = 1_000_000
UNIT_IDS = st.sampled_from(("U-1", "U-2", "u-1", "U-3", ""))
DATES = st.one_of(
    st.dates().map(lambda day: day.replace(year=2001 + day.year % 26, day=min(day.day, 28)).isoformat()),
    st.integers(2001, 2026).map(str),
)


def within(column: Column) -> st.SearchStrategy[str]:
    """Any number inside the bounds of a numeric column, in the unit people expect.

    The ends are among them; next to an end come steps of a millionth of the range, as nobody writes 1e-300.
    """
    low, high = column.bounds or (0.0, 1.0)
    unit = column.quantity.us
    number = st.integers(0, STEPS).map(lambda step: low + (high - low) * step / STEPS)
    return number.map(lambda value: f"{from_si(value, unit)!r} {unit}" if unit else repr(value))


def layers() -> st.SearchStrategy[str]:
    """Two or three media from the top down, or a blend of two."""
    depth = st.integers(4, 30).map(lambda inches: f"{inches} in")
    several = st.lists(st.tuples(st.sampled_from(GRAINY), depth), min_size=1, max_size=3)
    stacked = several.map(lambda parts: "; ".join(f"{key} {deep}" for key, deep in parts))
    share = st.integers(50, 95)
    mixed = st.tuples(st.sampled_from(GRAINY), st.sampled_from(GRAINY), share).map(
        lambda blend: f"{blend[0]} {blend[2]}%; {blend[1]} {100 - blend[2]}%"
    )
    return st.one_of(stacked, mixed)


#: columns whose plain range would hardly ever hit anything real
LIKELY = {
    fleet.UNIT_ID: UNIT_IDS,
    fleet.VESSEL_LABEL: st.sampled_from(("", "A", "B")),
    fleet.MEDIUM: st.sampled_from((*ALONE, *ALONE, *(medium.key for medium in CATALOGUE.media), "moon dust")),
    fleet.PURPOSE: st.sampled_from(PURPOSES),
    fleet.LAYERS: layers(),
    fleet.DIAMETER: st.sampled_from(SIZES_IN),
    fleet.HEIGHT: st.sampled_from(HEIGHTS_IN),
    fleet.RESTRICTOR: st.sampled_from(RATINGS),
    fleet.VESSELS: st.integers(1, 4).map(str),
    fleet.DRAIN_BORE: st.sampled_from(
        ("0.375 in", "0.5 in", "0.75 in", "1 in", "1.25 in", "1.5 in", "2 in", "3 in")
    ),
    fleet.DEPTH: st.integers(5, 60).map(lambda inches: f"{inches} in"),
    fleet.FREEBOARD: st.integers(0, 50).map(lambda inches: f"{inches} in"),
    fleet.COLD: st.integers(0, 15).map(lambda degrees: f"{degrees} degC"),
    fleet.WARM: st.integers(5, 35).map(lambda degrees: f"{degrees} degC"),
}


def value(column: Column) -> st.SearchStrategy[str]:
    """A readable cell of a column."""
    kind = column.quantity.kind
    if column in LIKELY:
        likely = LIKELY[column]
        return st.one_of(likely, likely, within(column)) if kind is Kind.NUMBER and column.bounds else likely
    if kind in (Kind.CHOICE, Kind.FLAG):
        return st.sampled_from(tuple(column.choices) or ("no", "yes"))
    if kind is Kind.DATE:
        return DATES
    if kind is Kind.NUMBER:
        return within(column)
    return st.sampled_from(("north", "south", "east"))


def marked(column: Column) -> st.SearchStrategy[str]:
    """A readable cell that may have been guessed, or whose unit may have been assumed."""
    if column.quantity.kind is Kind.NUMBER or column is fleet.MEDIUM:
        return st.tuples(st.sampled_from(("", "", "", "", "~", "=")), value(column)).map("".join)
    return value(column)


def cell(column: Column) -> st.SearchStrategy[str]:
    """Any cell of a column: mostly readable."""
    if column is fleet.UNIT_ID:
        return UNIT_IDS
    return st.one_of(marked(column), marked(column), marked(column), st.sampled_from(ODD))


#: columns of the frame; the size is read into diameter and height, which are columns of their own
FILLED = tuple(column for column in fleet.COLUMNS if column is not fleet.SIZE)


def rows() -> st.SearchStrategy[dict[str, str]]:
    """A row in which any column may be filled, blank or odd, or left out."""
    known = {column.name: cell(column) for column in FILLED}
    extra = {
        "mesh_stated": st.sampled_from(("yes", "no")),
        "bed": st.sampled_from(("yes", "yes", "yes", "no")),
    }
    core = (fleet.DIAMETER.name, fleet.MEDIUM.name, fleet.RESTRICTOR.name)
    return st.fixed_dictionaries(
        {name: known.pop(name) for name in core},
        optional=known | extra,
    )


def fleets(most: int = 5) -> st.SearchStrategy[list[dict[str, str]]]:
    """A fleet of a few rows, possibly none."""
    return st.lists(rows(), max_size=most)
