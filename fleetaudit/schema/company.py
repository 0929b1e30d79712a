"""Columns of the sheets a company keeps for itself: its own figures, crews and settings.

Every cell may stay blank: what a row leaves out stays as shipped. A cell may hold a number in the unit of its
heading, a number with a unit of its own, or a range such as 8-12.
"""

from __future__ import annotations

from msgspec import Struct

from fleetaudit.schema import fleet, route
from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Kind, Quantity

DENSITY = Quantity("density", Kind.NUMBER, "_kg_m3", "kg/m3", "lb/ft3", "kg/m3", 0)
GRAIN_DENSITY = Quantity("grain density", Kind.NUMBER, "_kg_m3", "kg/m3", "kg/m3", "kg/m3", 0)
GRAIN_SIZE = Quantity("grain size", Kind.NUMBER, "_m", "m", "mm", "mm", 2)


class CompanySheet(Struct, frozen=True):
    """A sheet of the company; `key` is the column without which a row says nothing."""

    name: str
    doc: str
    columns: tuple[Column, ...]
    key: Column


SOURCE = Column(
    "source",
    "Source",
    q.TEXT,
    "Where the figure comes from; shown beside it in every report.",
    ("where from", "reference", "from"),
    example="our own bucket tests (invented)",
)
NOTE = Column(
    "note", "Note", q.TEXT, "Anything else; shown beside the source.", ("notes", "comment", "remarks")
)

MEDIUM = Column(
    "medium",
    "Medium",
    q.TEXT,
    "Name of a shipped medium to change, or a new name.",
    ("media", "name of medium", "media name"),
    needed=True,
    example="activated carbon",
)
LIKE = Column(
    "like",
    "Like",
    q.TEXT,
    "For a new medium: the shipped medium that lends it every figure left blank.",
    ("same as", "based on"),
    example="activated carbon",
)
SYNONYMS = Column(
    "synonyms",
    "Other spellings",
    q.TEXT,
    "Other names your list uses for it, parted by semicolons.",
    ("aliases", "spellings", "also called", "alias"),
    example="char; black stuff",
)
MESH = Column("mesh", "Mesh", q.TEXT, "Grain size as sieves or millimetres.", ("mesh size",), example="12x40")
FAMILY = Column("family", "Family", q.TEXT, "Media of one family are the same material in several meshes.")
SUITS = Column(
    "suits",
    "Suits",
    q.TEXT,
    "What it takes out, parted by semicolons.",
    ("good for", "purposes"),
    example="chlorine; taste",
)
GUARD = Column(
    "guard",
    "Guards health",
    q.CHOICE,
    "Whether somebody's health hangs on the bed.",
    ("health",),
    choices={"yes": (), "no": (), "by-purpose": ("by purpose",)},
)
D10 = Column(
    "d10",
    "Effective size",
    GRAIN_SIZE,
    "Sieve opening that a tenth of the grains pass.",
    ("effective grain size",),
)
UNIFORMITY = Column(
    "uniformity", "Uniformity coefficient", q.NUMBER, "Ratio of the 60 % to the 10 % sieve opening.", ("uc",)
)
GRAIN = Column(
    "grain_density",
    "Grain density",
    GRAIN_DENSITY,
    "Density of a grain with its pores full of water.",
    ("particle density", "wet grain density"),
)
SPHERICITY = Column("sphericity", "Sphericity", q.NUMBER, "1 for a ball, less for a sharp grain.")
POROSITY = Column(
    "porosity", "Settled porosity", q.SHARE, "Share of the settled bed that is water.", ("void fraction",)
)
BULK = Column("bulk_density", "Bulk density", DENSITY, "Mass of a volume of dry bed.")
RATE_LOW = Column(
    "rate_low",
    "Least wash rate",
    q.FLUX,
    "Least backwash flow per area of bed.",
    ("min wash rate", "minimum backwash rate", "rate low"),
)
RATE_HIGH = Column(
    "rate_high",
    "Greatest wash rate",
    q.FLUX,
    "Greatest backwash flow per area of bed.",
    ("max wash rate", "maximum backwash rate", "rate high"),
)
RATE_TEMPERATURE = Column(
    "rate_temperature",
    "Temperature of the wash rate",
    q.TEMPERATURE,
    "Water temperature those rates are meant for.",
    ("rate temperature",),
)
EXPANSION_LOW = Column(
    "expansion_low",
    "Least expansion",
    q.SHARE,
    "Least rise of the bed while it is washed.",
    ("min expansion",),
)
EXPANSION_TARGET = Column(
    "expansion_target", "Expansion aimed at", q.SHARE, "Rise of the bed aimed at.", ("expansion",)
)
EXPANSION_HIGH = Column(
    "expansion_high", "Greatest expansion", q.SHARE, "Greatest rise of the bed.", ("max expansion",)
)
FREEBOARD = Column(
    "freeboard", "Freeboard share", q.SHARE, "Space above the bed as a share of its depth.", ("freeboard",)
)
SERVICE_FLUX = Column(
    "service_flux",
    "Greatest service loading",
    q.FLUX,
    "Greatest service flow per area of bed.",
    ("service rate", "max service rate"),
)
CONTACT = Column(
    "contact_time",
    "Least contact time",
    q.MINUTES,
    "Empty-bed contact time needed.",
    ("contact time", "ebct"),
)
LEAST_DEPTH = Column(
    "least_depth",
    "Least bed depth",
    q.LENGTH,
    "Least depth of bed that does its work.",
    ("minimum depth", "least depth"),
)
LIFE = Column(
    "life",
    "Life",
    q.YEARS,
    "Years to the next replacement; a range gives its two ends.",
    ("media life", "life years"),
)
BED_VOLUMES = Column(
    "life_bed_volumes",
    "Life in bed volumes",
    q.NUMBER,
    "Volumes of its own bed that the medium treats before it is spent.",
    ("bed volumes", "capacity in bed volumes"),
)
TOP_UP = Column(
    "top_up",
    "Topped up every",
    q.YEARS,
    "For a medium that dissolves: years from one top-up to the next.",
    ("top up", "top-up", "top up every"),
)
PH_LOW = Column("ph_low", "Lowest pH", q.NUMBER, "Lowest pH the medium stands.", ("min ph",))
PH_HIGH = Column("ph_high", "Highest pH", q.NUMBER, "Highest pH the medium stands.", ("max ph",))
TEMPERATURE_MAX = Column(
    "temperature_max",
    "Warmest water",
    q.TEMPERATURE,
    "Warmest water the medium stands.",
    ("max temperature",),
)

MEDIA = CompanySheet(
    "Media",
    "Your media: figures that replace the shipped ones, new media, other spellings.",
    (
        MEDIUM,
        LIKE,
        SYNONYMS,
        MESH,
        FAMILY,
        SUITS,
        GUARD,
        RATE_LOW,
        RATE_HIGH,
        RATE_TEMPERATURE,
        EXPANSION_LOW,
        EXPANSION_TARGET,
        EXPANSION_HIGH,
        FREEBOARD,
        LIFE,
        BED_VOLUMES,
        TOP_UP,
        LEAST_DEPTH,
        CONTACT,
        SERVICE_FLUX,
        D10,
        UNIFORMITY,
        GRAIN,
        SPHERICITY,
        POROSITY,
        BULK,
        PH_LOW,
        PH_HIGH,
        TEMPERATURE_MAX,
        SOURCE,
        NOTE,
    ),
    MEDIUM,
)

RATING = Column(
    "rating",
    "Rating",
    q.FLOW,
    "Flow the restrictor is rated for.",
    ("restrictor", "size", "flow", "restrictor rating"),
    needed=True,
    example="5",
)
STOCKED = Column(
    "stocked",
    "Stocked",
    q.FLAG,
    "No where you do not keep it; blank counts as yes.",
    ("in stock", "stock", "kept"),
    example="yes",
)
RESTRICTORS = CompanySheet(
    "Restrictors",
    "The drain restrictors you stock.",
    (RATING, STOCKED, SOURCE, NOTE),
    RATING,
)

HOUSING = Column(
    "housing",
    "Housing",
    q.CHOICE,
    "Which of the housings.",
    ("name", "key", "housing size"),
    choices={"small": (), "medium": (), "large": ()},
    needed=True,
    example="small",
)
LIMIT = Column(
    "limit",
    "Takes up to",
    q.FLOW,
    "Largest restrictor it takes; the limit itself still fits.",
    ("limit", "max flow", "largest restrictor", "max"),
    example="7",
)
HOUSINGS = CompanySheet(
    "Housings",
    "The restrictor housings and the largest rating each takes.",
    (HOUSING, LIMIT, SOURCE, NOTE),
    HOUSING,
)

DIAMETER = Column(
    "diameter",
    "Diameter",
    q.DIAMETER,
    "Nominal diameter of the vessel.",
    ("vessel", "nominal diameter", "dia"),
    needed=True,
    example="10",
)
HEIGHTS = Column(
    "heights",
    "Heights",
    q.LENGTH,
    "Heights it comes in, parted by semicolons; the last is the usual one.",
    ("height",),
    example="35; 44; 54",
)
INSIDE = Column(
    "inside", "Inside diameter", q.DIAMETER, "Inside diameter, where you know it.", ("inside dia", "bore")
)
FILL_LOW = Column(
    "fill_low",
    "Least usual fill",
    q.VOLUME,
    "Least volume of media usually put in.",
    ("min fill", "least fill"),
)
FILL_HIGH = Column(
    "fill_high",
    "Greatest usual fill",
    q.VOLUME,
    "Greatest volume of media usually put in.",
    ("max fill", "greatest fill"),
)
VESSELS = CompanySheet(
    "Vessels",
    "Vessels you use, by nominal diameter.",
    (DIAMETER, HEIGHTS, INSIDE, FILL_LOW, FILL_HIGH, SOURCE, NOTE),
    DIAMETER,
)

CREW = Column(
    "crew", "Crew", q.NAME, "Name to be shown.", ("crew name", "name"), needed=True, example="crew A"
)
CREW_SPELLINGS = Column(
    "spellings",
    "Other spellings",
    q.TEXT,
    "Other ways your list names the same crew, parted by semicolons. Nothing else is merged.",
    ("aliases", "also written", "alias", "spelling"),
    example="team A; A-team",
)
CREWS = CompanySheet(
    "Crews",
    "Which spellings are one crew; and, for planning routes, where each starts and what its truck takes.",
    (CREW, CREW_SPELLINGS, *route.CREW_COLUMNS, NOTE),
    CREW,
)

SITES = CompanySheet(
    route.SITES_SHEET,
    "For planning routes: where sites are, when somebody can be there, and what they ask of a crew; and the "
    "water of sites, for units that give none.",
    (*route.SITE_COLUMNS, fleet.COLD, fleet.WARM, fleet.WATER_SOURCE),
    fleet.ACCOUNT,
)

SETTING = Column(
    "setting",
    "Setting",
    q.TEXT,
    "Name of the setting, as the command `fleetaudit catalogue` lists it.",
    ("key", "name"),
    needed=True,
    example="due_within_days",
)
VALUE = Column(
    "value", "Value", q.TEXT, "Value that replaces the shipped one.", ("setting value",), example="60"
)
UNIT = Column(
    "unit", "Unit", q.TEXT, "Unit of the value; blank counts as the shipped unit.", ("units",), example="d"
)
SETTINGS = CompanySheet(
    "Settings",
    "Limits, defaults, switches and prices; below a row that says Columns, your headings.",
    (SETTING, VALUE, UNIT, SOURCE, NOTE),
    SETTING,
)
#: word in the first column of Settings below which each row maps a heading to a column of the audit
COLUMNS_PART = "Columns"

SHEETS: tuple[CompanySheet, ...] = (MEDIA, RESTRICTORS, HOUSINGS, VESSELS, CREWS, SETTINGS)
BY_SHEET: dict[str, CompanySheet] = {sheet.name: sheet for sheet in SHEETS}
