"""What a column measures: its SI suffix and the unit people expect in each system."""

from __future__ import annotations

from enum import Enum

from msgspec import Struct


class Kind(Enum):
    """How the cells of a column are read."""

    TEXT = "text"
    NAME = "identifier"
    NUMBER = "number"
    SIZE = "vessel size"
    DATE = "date"
    CHOICE = "choice"
    FLAG = "yes or no"
    LAYERS = "layers"


class Quantity(Struct, frozen=True):
    """A physical quantity; `us` and `metric` are spellings of the unit table, "" where there is no unit."""

    name: str
    kind: Kind = Kind.NUMBER
    suffix: str = ""
    si: str = "1"
    us: str = ""
    metric: str = ""
    digits: int = 1

    def unit(self, system: str) -> str:
        """Unit to show in the system "us" or "metric"."""
        return self.metric if system == "metric" else self.us


TEXT = Quantity("text", Kind.TEXT)
NAME = Quantity("identifier", Kind.NAME)
SIZE = Quantity("vessel size", Kind.SIZE, "_m", "m", "in", "mm")
DATE = Quantity("date", Kind.DATE, "_day")
CHOICE = Quantity("choice", Kind.CHOICE)
FLAG = Quantity("yes or no", Kind.FLAG)
LAYERS = Quantity("layers", Kind.LAYERS)
COUNT = Quantity("count", digits=0)
NUMBER = Quantity("number", digits=2)
SHARE = Quantity("share", Kind.NUMBER, "", "1", "%", "%", 0)
DIAMETER = Quantity("diameter", Kind.NUMBER, "_m", "m", "in", "mm", 1)
LENGTH = Quantity("depth", Kind.NUMBER, "_m", "m", "in", "mm", 1)
DEPTH_SHOWN = LENGTH
BORE = Quantity("bore", Kind.NUMBER, "_m", "m", "in", "mm", 2)
CONTACT = Quantity("contact time", Kind.NUMBER, "_s", "s", "min", "min", 1)
DISTANCE = Quantity("length of pipe", Kind.NUMBER, "_m", "m", "ft", "m", 0)
VOLUME = Quantity("volume", Kind.NUMBER, "_m3", "m3", "ft3", "L", 2)
THROUGHPUT = Quantity("volume treated", Kind.NUMBER, "_m3", "m3", "gal", "m3", 0)
DAILY = Quantity("daily use", Kind.NUMBER, "_m3_s", "m3/s", "gpd", "L/d", 0)
FLOW = Quantity("flow", Kind.NUMBER, "_m3_s", "m3/s", "gpm", "L/min", 1)
AREA = Quantity("area", Kind.NUMBER, "_m2", "m2", "ft2", "m2", 3)
FLUX = Quantity("flow per area", Kind.NUMBER, "_m_s", "m/s", "gpm/ft2", "m/h", 1)
PRESSURE = Quantity("pressure", Kind.NUMBER, "_pa", "Pa", "psi", "kPa", 0)
TEMPERATURE = Quantity("temperature", Kind.NUMBER, "_k", "K", "degF", "degC", 0)
MINUTES = Quantity("minutes", Kind.NUMBER, "_s", "s", "min", "min", 0)
DAYS = Quantity("days", Kind.NUMBER, "_s", "s", "d", "d", 0)
DAY = Quantity("day", Kind.DATE, "_day", "d", "", "", 0)
YEARS = Quantity("years", Kind.NUMBER, "_s", "s", "year", "year", 1)
PER_VOLUME = Quantity("flow per bed volume", Kind.NUMBER, "_1_s", "1/s", "gpm/ft3", "BV/h", 1)

#: seconds of a day; dates are counted in days since 1970-01-01
DAY_SECONDS = 86400.0

#: flow units a restrictor may be meant in, with factors to m3/s; a test compares them with the unit table
FLOW_UNITS = {"gpm": 6.309019639999999e-05, "L/min": 1 / 60000, "m3/h": 1 / 3600, "L/s": 0.001}

#: seconds of a week and of a mean year (365.25 days)
WEEK_SECONDS = 7 * DAY_SECONDS
YEAR_SECONDS = 365.25 * DAY_SECONDS
