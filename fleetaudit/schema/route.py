"""Columns of planning: what a crew and a site can do, and the sheets of a plan."""

from __future__ import annotations

from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Kind, Quantity

MASS = Quantity("mass", Kind.NUMBER, "_kg", "kg", "kg", "kg", 0)
WAY = Quantity("way", Kind.NUMBER, "_m", "m", "km", "km", 1)

# What the Crews sheet says of a crew beside its name; a crew without a depot, payload or room plans nothing.
DEPOT_LATITUDE = Column(
    "depot_latitude",
    "Depot latitude",
    q.NUMBER,
    "Where the crew starts and ends its day, decimal degrees.",
    ("start latitude",),
    fleet.LATITUDE.bounds,
)
DEPOT_LONGITUDE = Column(
    "depot_longitude",
    "Depot longitude",
    q.NUMBER,
    "The same, east positive.",
    ("start longitude",),
    fleet.LONGITUDE.bounds,
)
DEPOT_POSTCODE = Column(
    "depot_postcode",
    "Depot postcode",
    q.NAME,
    "US postcode of the depot, where its coordinates are not known.",
    ("start postcode", "depot zip"),
)
WORK_DAYS = Column(
    "work_days", "Work days", q.TEXT, "Days of the week the crew works.", ("working days",), example="Mon-Fri"
)
DAY_STARTS = Column("day_starts", "Day starts", q.TEXT, "Start of the day.", ("shift start",), example="7:30")
DAY_ENDS = Column(
    "day_ends", "Day ends", q.TEXT, "End of the day without overtime.", ("shift end",), example="16:00"
)
DAYS_OFF = Column(
    "days_off",
    "Days off",
    q.TEXT,
    "Dates the crew does not work, parted by semicolons.",
    ("holidays",),
    example="2026-12-24; 2026-12-25",
)
PAYLOAD = Column(
    "payload",
    "Payload",
    MASS,
    "What the truck may carry: its plate less people, tools and water.",
    (),
    (1.0, 40000.0),
    example="900",
)
ROOM = Column(
    "load_room", "Media room", q.VOLUME, "Volume of media the truck holds.", (), (0.001, 100.0), example="40"
)
PEOPLE = Column(
    "crew_people", "People", q.COUNT, "How many people the crew has.", (), (1.0, 20.0), example="2"
)
OVERTIME = Column(
    "overtime", "Overtime", q.MINUTES, "Most overtime on one day.", (), (0.0, 43200.0), example="60"
)
OVERTIME_PRICE = Column(
    "overtime_price",
    "Overtime cost an hour",
    q.NUMBER,
    "What an hour of it costs on top of the usual hour.",
    (),
)
HOUR_PRICE = Column("hour_price", "Cost an hour", q.NUMBER, "What an hour of the crew on the road costs.", ())
KM_PRICE = Column("km_price", "Cost a km", q.NUMBER, "What a kilometre costs.", ())
RELOADS = Column(
    "reloads", "Reloads a day", q.COUNT, "Returns to the depot for another load on one day.", (), (0.0, 3.0)
)
PLACE_ID = Column(
    "place_id",
    "Place id",
    q.NAME,
    "Name of the place in your own table of distances.",
    ("place", "distance id"),
)
CREW_SKILLS = Column(
    "crew_skills",
    "Skills",
    q.TEXT,
    "What the crew can do or holds that some sites ask for, parted by commas: licences, keys, lifting gear.",
    ("skill", "can do"),
    example="hoist, site pass",
)
TIME_ZONE = Column(
    "time_zone",
    "Time zone",
    q.TEXT,
    "Time zone of the crew's calendar, by its name in the time zone database; blank for local times.",
    ("timezone", "tz"),
    example="America/Chicago",
)
CREW_COLUMNS = (
    DEPOT_LATITUDE,
    DEPOT_LONGITUDE,
    DEPOT_POSTCODE,
    WORK_DAYS,
    DAY_STARTS,
    DAY_ENDS,
    DAYS_OFF,
    PAYLOAD,
    ROOM,
    PEOPLE,
    CREW_SKILLS,
    OVERTIME,
    OVERTIME_PRICE,
    HOUR_PRICE,
    KM_PRICE,
    RELOADS,
    TIME_ZONE,
    PLACE_ID,
)

# What a site asks for: on a sheet of sites, or as columns of the list of units.
SITES_SHEET = "Sites"
SITE_HOURS = Column(
    "site_hours",
    "Site hours",
    q.TEXT,
    "When somebody can be there.",
    ("opening hours",),
    example="Mon-Fri 8-16; Sat 9-12",
)
CLOSED_DATES = Column(
    "closed_dates", "Closed dates", q.TEXT, "Dates it is closed, parted by semicolons.", ("closed on",)
)
EARLIEST = Column("earliest", "Earliest date", q.DATE, "Not before this day.", ("not before",))
LATEST = Column("latest", "Latest date", q.DATE, "Not after this day.", ("not after",))
PEOPLE_NEEDED = Column(
    "people_needed", "People needed", q.COUNT, "Where it takes more than the weight says.", (), (1.0, 20.0)
)
SKILLS_NEEDED = Column(
    "skills_needed",
    "Skills needed",
    q.TEXT,
    "What a crew must be able to do to go there, in the words of the Crews sheet, parted by commas.",
    ("skill needed", "needs skills"),
    example="hoist",
)
ACCESS = Column(
    "access_note", "Access note", q.TEXT, "Keys, gate, parking: printed on the stop sheet.", ("access",)
)
SITE_COLUMNS = (
    fleet.ACCOUNT,
    fleet.CITY,
    fleet.LATITUDE,
    fleet.LONGITUDE,
    fleet.POSTCODE,
    SITE_HOURS,
    CLOSED_DATES,
    EARLIEST,
    LATEST,
    PEOPLE_NEEDED,
    SKILLS_NEEDED,
    ACCESS,
    PLACE_ID,
)

# The sheets of a plan; what is filled in on Route is obeyed by the next one.
ROUTE_SHEET, LOADS_SHEET, LEFT_SHEET, ASSUMPTIONS_SHEET = "Route", "Loads", "Left out", "Assumptions"
PLAN_SHEETS = (ROUTE_SHEET, LOADS_SHEET, LEFT_SHEET, ASSUMPTIONS_SHEET)
VISIT_ID = Column("visit_id", "Visit", q.NAME, "Stays the same from plan to plan.")
DAY = Column("plan_day", "Day", q.DATE, "Day of the visit; change it and set a lock to move the visit.")
TEAM = Column("plan_crew", "Crew", q.NAME, "Crew of the visit; change it and set a lock.")
LOCK = Column(
    "lock",
    "Lock",
    q.TEXT,
    "What the next plan must keep of this line: day, crew or both; blank for nothing.",
    ("locked",),
    choices={
        "day": ("date",),
        "crew": ("team",),
        "both": (
            "yes",
            "y",
            "x",
            "true",
            "locked",
            "all",
            "day and crew",
            "crew and day",
            "crew, day",
            "day, crew",
        ),
    },
    example="both",
)
APPOINTMENT = Column(
    "appointment",
    "Appointment",
    q.TEXT,
    "What was agreed; one that begins with `confirmed` is moved last.",
    (),
)
CONSENT = Column("consent", "Customer consent", q.TEXT, "Who agreed, and when.", ())
ARRIVE = Column("arrive", "Arrive", q.TEXT, "Estimated arrival.")
REVISION = Column(
    "revision", "Revision", q.COUNT, "Rises when day, crew or time change; calendars follow it."
)
TIMES_LEFT = Column(
    "times_left",
    "Times left out",
    q.COUNT,
    "Plans in a row that left the visit out; its worth grows with them.",
)
REASON = Column("left_reason", "Reason", q.TEXT, "Why it is not in the plan.")
UNITS = Column("plan_units", "Units", q.TEXT, "Units worked on at the visit, parted by commas.")
READ_FROM_ROUTE = (VISIT_ID, DAY, TEAM, LOCK, APPOINTMENT, CONSENT, ARRIVE, REVISION)
READ_FROM_LEFT = (VISIT_ID, TIMES_LEFT, APPOINTMENT, CONSENT)
