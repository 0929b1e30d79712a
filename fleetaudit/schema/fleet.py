"""Columns a service manager fills in, one row for each installed unit.

Aliases are headings as people write them; case, blanks, punctuation and a unit in brackets do not matter.
"""

from __future__ import annotations

from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import Column

INCH = 0.0254
GPM = 6.30902e-5
PSI = 6894.757
YEAR = 31557600.0
DAY = 86400.0

UNIT_ID = Column(
    "unit_id", "Unit ID", q.NAME, "Your own number or name for the installed unit; leading zeros are kept.",
    ("unit", "unit no", "unit number", "unit #", "id", "asset", "asset no", "asset id", "serial",
     "serial no", "equipment id", "equipment no", "filter id", "filter no", "tag", "tag no", "ref",
     "reference", "unit name", "filter name", "equip no", "equip id", "serial #", "s/n", "sn",
     "tag id", "asset tag", "system no", "system id", "unit tag"),
    example="U-104",
)
ACCOUNT = Column(
    "account", "Account", q.NAME, "Customer or site the unit belongs to.",
    ("customer", "client", "customer name", "account name", "name", "site", "site name", "account no",
     "customer no", "property", "owner", "cust", "acct", "customer/site", "site no", "facility",
     "building", "client name", "cust name", "company", "customer id", "location name"),
    example="Mill Lane Dairy (invented)",
)
ADDRESS = Column(
    "address", "Address", q.TEXT, "Street address of the site.",
    ("street", "street address", "site address", "location", "addr", "service address", "address 1",
     "address line 1", "street name"),
    example="1 Example Road",
)
CITY = Column(
    "city", "City", q.TEXT, "Town of the site.",
    ("town", "city/town", "village", "town/city"),
    example="Exampleville",
)
STATE = Column(
    "state", "State", q.TEXT, "State or region of the site.",
    ("province", "region", "county"),
)
POSTCODE = Column(
    "postcode", "Postcode", q.NAME, "Postcode of the site; leading zeros are kept.",
    ("zip", "zip code", "zipcode", "postal code", "post code"),
)
LATITUDE = Column(
    "latitude", "Latitude", q.NUMBER, "Decimal degrees, north positive.",
    ("lat",),
    (-90.0, 90.0),
)
LONGITUDE = Column(
    "longitude", "Longitude", q.NUMBER, "Decimal degrees, east positive.",
    ("lon", "long", "lng"),
    (-180.0, 180.0),
)
STATUS = Column(
    "status", "Status", q.CHOICE, "Only units in service are judged; the others are counted.",
    ("unit status", "state of unit", "active", "in service", "service status", "in use", "live",
     "current status"),
    choices={
        "in service": (
            "active", "in use", "live", "yes", "y",
            "ok", "on", "running", "installed", "current", "open",
        ),
        "removed": (
            "gone", "pulled", "decommissioned", "scrapped",
            "taken out", "out", "inactive", "retired", "no",
        ),
        "spare": ("stock", "in stock", "stored", "shop", "warehouse", "standby"),
        "account closed": ("closed", "cancelled", "canceled", "moved away", "lost account", "terminated"),
    },
    example="in service",
)
KIND = Column(
    "kind", "Kind of unit", q.TEXT, "Filter, softener, neutralizer, or something that is no backwashing bed.",
    ("equipment", "equipment type", "unit type", "type", "filter type", "system", "system type", "device",
     "description", "kind", "filter/softener", "type of unit", "equip type", "appliance"),
    example="filter",
)
VESSEL_LABEL = Column(
    "vessel_label", "Vessel label", q.NAME,
    "Tells the vessels of a twin or triple set apart (A, B, lead, lag).",
    ("vessel no", "vessel #", "tank no", "tank #", "position", "lead/lag", "lead or lag", "stage",
     "tank label", "tank letter", "tank position", "which tank", "a/b"),
    example="A",
)
SIZE = Column(
    "vessel_size", "Vessel size", q.SIZE,
    "Nominal diameter x height, as 10x54; a unit may stand in the cell.",
    ("vessel", "tank", "size", "tank size", "tank dims", "vessel dimensions", "tank (dia x ht)",
     "cylinder", "tank dimensions", "pressure vessel", "mineral tank", "shell", "vessel dims", "d x h",
     "dia x ht", "dia x height", "diameter x height", "filter size", "unit size", "tank/vessel",
     "vessel/tank", "size of tank", "size of vessel", "media tank", "tank size dxh"),
    needed=True, example="10x54",
)
DIAMETER = Column(
    "vessel_diameter", "Vessel diameter", q.DIAMETER, "Nominal diameter, where it has a column of its own.",
    ("diameter", "tank diameter", "tank dia", "vessel dia", "dia", "nominal diameter", "diam",
     "tank width", "tank diam", "vessel diam", "diameter of tank", "diameter of vessel", "tank d"),
    (6 * INCH, 72 * INCH),
    example="10 in",
)
HEIGHT = Column(
    "vessel_height", "Vessel height", q.LENGTH, "Height of the vessel, where it has a column of its own.",
    ("height", "tank height", "vessel ht", "tank ht", "straight side", "ht", "height of tank",
     "height of vessel", "tank tall"),
    (10 * INCH, 200 * INCH),
    example="54 in",
)
INSIDE = Column(
    "inside_diameter", "Inside diameter", q.DIAMETER, "Measured inside diameter; used where given.",
    ("id measured", "inside dia", "bore", "vessel bore", "internal diameter", "inner diameter",
     "measured inside diameter"),
    (4 * INCH, 72 * INCH),
)
VESSELS = Column(
    "vessels", "Vessels", q.COUNT, "How many equal vessels the row stands for.",
    ("no of vessels", "number of vessels", "vessel count", "qty", "quantity", "no of tanks",
     "number of tanks", "tanks", "how many", "no tanks", "tank count", "# of vessels", "number of filters",
     "no of filters"),
    (1.0, 24.0),
    example="1",
)
WASH_TOGETHER = Column(
    "wash_together", "Washed together", q.FLAG, "Whether the vessels of the row are washed at the same time.",
    ("wash together", "simultaneous backwash", "backwash together", "washed at once", "wash at once",
     "washed at the same time", "all at once"),
    example="no",
)
MEDIUM = Column(
    "medium", "Medium", q.TEXT, "Name of the filter medium.",
    ("media", "media type", "bed", "bed type", "filter media", "filter medium", "mineral", "fill",
     "material", "media in tank", "resin/media", "bed material", "type of media", "resin", "filter bed",
     "bed media", "media name", "loaded with", "filled with", "contents", "media used", "current media",
     "bed contents", "filter material"),
    choices_from="Media", needed=True, example="activated carbon",
)
MESH = Column(
    "mesh", "Mesh", q.TEXT, "Grain size of the medium, as 12x40 mesh or 0.8-1.6 mm.",
    ("mesh size", "grain size", "media mesh", "media size", "grading", "particle size", "sieve",
     "sieve size", "mesh of media", "media grade"),
    example="12x40",
)
LAYERS = Column(
    "layers", "Layers", q.LAYERS, "Layers from the top down, as `anthracite 18 in; sand 12 in`.",
    ("bed layers", "layering", "media layers", "bed make-up", "bed build", "bed layout", "layers top down",
     "layers from top", "bed composition"),
    example="anthracite 18 in; sand 12 in",
)
PURPOSE = Column(
    "purpose", "Purpose", q.TEXT, "What the unit is there to take out.",
    ("treats", "for", "target", "contaminant", "problem", "application", "removes", "treating",
     "water problem", "treatment", "treatment for", "treated for", "used for", "removal", "water issue",
     "to remove"),
    example="chlorine",
)
VOLUME = Column(
    "media_volume", "Media volume", q.VOLUME, "Volume of the bed in one vessel, without gravel.",
    ("volume", "media qty", "media quantity", "cu ft", "cubic feet", "cf", "bed volume", "media cu ft",
     "media vol", "amount of media", "cuft", "ft3 media", "cu ft of media", "cubic ft", "volume of media",
     "qty of media", "media amount", "bed vol", "resin volume", "resin qty", "resin cu ft", "cu ft media",
     "media cf", "vol"),
    (0.05 * 0.0283168, 400 * 0.0283168),
    example="1.5 ft3",
)
VOLUME_IS_TOTAL = Column(
    "volume_is_total", "Volume is the total", q.FLAG,
    "Yes where the volume is that of all vessels of the row together.",
    ("total volume", "volume for all tanks", "volume of all vessels"),
)
DEPTH = Column(
    "bed_depth", "Bed depth", q.LENGTH, "Depth of the settled bed, without gravel.",
    ("media depth", "depth", "bed height", "depth of bed", "depth of media", "media height",
     "height of media", "bed depth settled", "settled depth"),
    (2 * INCH, 150 * INCH),
    example="36 in",
)
GRAVEL = Column(
    "gravel_depth", "Gravel depth", q.LENGTH, "Depth of the support gravel.",
    ("gravel", "underbed", "support gravel", "underbedding", "gravel bed", "gravel depth in tank",
     "depth of gravel", "support bed"),
    (0.0, 40 * INCH),
    example="5 in",
)
FREEBOARD = Column(
    "freeboard", "Freeboard", q.LENGTH,
    "Measured from the settled bed to the underside of the upper distributor.",
    ("free board", "headspace", "space above bed", "head space", "empty space above media", "free space",
     "space over bed", "room above bed", "freeboard height"),
    (0.0, 120 * INCH),
    example="18 in",
)
MEDIA_DATE = Column(
    "media_date", "Media date", q.DATE, "When the medium was last replaced.",
    ("rebed date", "re-bed date", "last rebed", "last media change", "media changed", "media replaced",
     "media installed", "date of media", "bed date", "rebedded", "media change date",
     "last media replacement", "last bed change", "rebed", "re-bed", "last re-bed", "date rebedded",
     "rebedded on", "date of rebed", "date of last rebed", "media change", "date media changed",
     "media last changed", "bed changed", "bed last changed", "new media date", "last replaced",
     "media replacement date", "replacement date", "last media date", "media fitted"),
    example="2021-04-05",
)
MEDIA_LIFE = Column(
    "media_life", "Media life", q.YEARS, "Life of the medium at this site, where you know better.",
    ("life", "expected life", "media life years", "rebed interval", "replace every", "change every",
     "replace interval", "life expectancy", "service life", "media lifetime", "rebed every"),
    (0.05 * YEAR, 40 * YEAR),
)
INSTALL_DATE = Column(
    "install_date", "Install date", q.DATE, "When the unit was set up.",
    ("installed", "date installed", "installation date", "install", "in service date", "commissioned",
     "start date", "set up", "inst date", "date of install", "date of installation", "installed on",
     "set date", "set-up date", "start up", "start-up date", "startup date", "commission date",
     "commissioning date", "date set"),
    example="2019-06-12",
)
TREATED = Column(
    "volume_treated", "Volume treated", q.THROUGHPUT, "Water treated since the medium was replaced.",
    ("meter reading", "gallons treated", "throughput", "total flow", "totaliser", "totalizer",
     "gallons since rebed", "water treated", "volume through", "total gallons", "treated volume",
     "throughput since rebed"),
    (0.0, 1e7),
)
DAILY_USE = Column(
    "daily_use", "Daily use", q.DAILY, "Water treated on a usual day, all vessels of the row together.",
    ("gallons per day", "gpd", "daily usage", "water use", "water usage", "use per day", "daily gallons",
     "daily water use", "average daily use", "avg daily use", "daily demand", "gal per day", "gal/day",
     "usage per day", "daily consumption", "litres per day", "liters per day"),
    (0.0, 4.0),
    example="300 gpd",
)
THROUGHPUT_LIMIT = Column(
    "throughput_limit", "Throughput limit", q.THROUGHPUT,
    "Water the media of the row can treat before they are spent, where you know better.",
    ("rated throughput", "gallon capacity", "capacity gallons", "capacity in gallons", "treats up to",
     "rated gallons", "throughput capacity", "change after gallons", "gallons per bed"),
    (0.0, 1e7),
)
TOP_UP_DATE = Column(
    "top_up_date", "Top-up date", q.DATE, "When a medium that dissolves was last topped up.",
    ("last top up", "last top-up", "topped up", "topped up on", "top up", "date topped up", "last topped up",
     "media topped up", "topped off", "last topped off", "media added", "date media added"),
)
DEPTH_LEFT = Column(
    "depth_left", "Depth left", q.LENGTH, "Depth found of a medium that dissolves.",
    ("media left", "depth remaining", "remaining depth", "bed left", "depth now", "media remaining",
     "depth of media left"),
    (0.0, 150 * INCH),
)
RESTRICTOR = Column(
    "restrictor", "Restrictor", q.FLOW, "Flow the fitted drain restrictor is rated for.",
    ("dlfc", "drain restrictor", "bw restrictor", "backwash restrictor", "flow restrictor", "flow control",
     "drain flow control", "drain line flow control", "bw flow control", "backwash flow",
     "bw restrictor gpm", "washer", "drain washer", "bw flow", "bw rate", "backwash rate",
     "fitted restrictor", "restrictor size", "restrictor rating", "restrictor fitted", "dlfc size",
     "dlfc rating", "dlfc button", "button", "drain button", "bw button", "flow button", "flow washer",
     "fitted dlfc", "bw gpm", "backwash gpm", "drain restrictor size",
     "drain line restrictor", "flow restrictor size", "bw restrictor size", "bw restriction",
     "backwash control", "orifice", "drain orifice", "drain control", "bw dlfc", "backwash dlfc"),
    (0.2 * GPM, 400 * GPM),
    example="5 gpm",
)
LABEL = Column(
    "restrictor_label", "Restrictor labelled", q.FLAG, "Whether the fitted flow is written on the unit.",
    ("labelled", "labeled", "label", "restrictor marked", "marked", "flow on label", "tagged",
     "flow marked", "label present", "is it labelled", "dlfc marked", "dlfc labelled", "size marked"),
    example="yes",
)
HOUSING = Column(
    "housing", "Housing", q.CHOICE, "Housing the restrictor sits in.",
    ("restrictor housing", "drain housing", "flow control housing", "housing size", "drain fitting",
     "dlfc housing", "restrictor body", "flow control body", "housing type", "dlfc body", "elbow size",
     "restrictor holder"),
    choices={
        "small": ("s", "sm", "little"),
        "medium": ("m", "med", "mid"),
        "large": ("l", "lg", "big"),
        "external": ("ext", "outside", "in line", "inline", "in drain line", "external control"),
    },
    example="small",
)
CONNECTIONS = Column(
    "connections", "Connections", q.CHOICE,
    "Whether inlet and outlet are piped as the arrows on the body say.",
    ("plumbing", "inlet/outlet", "in/out", "piping", "inlet outlet", "connections ok", "flow direction",
     "inlet outlet ok", "piped right", "ports", "connection", "in and out", "inlet and outlet"),
    choices={
        "right": ("ok", "correct", "good", "fine", "right way", "checked", "yes"),
        "reversed": ("swapped", "backwards", "wrong way", "wrong", "crossed", "back to front", "reverse"),
    },
    example="right",
)
MEASURED = Column(
    "measured_flow", "Measured drain flow", q.FLOW, "Drain flow found by bucket and watch.",
    ("bucket test", "measured flow", "actual backwash", "measured gpm", "flow measured", "bucket gpm",
     "bw measured", "tested flow", "bucket", "bucket flow", "bucket and watch", "measured bw",
     "measured backwash", "measured bw flow", "actual bw", "actual bw flow", "actual flow", "timed flow",
     "flow test", "drain flow measured", "backwash measured"),
    (0.05 * GPM, 400 * GPM),
    example="4.8 gpm",
)
SERVICE_FLOW = Column(
    "service_flow", "Service flow", q.FLOW, "Peak flow through the bed in service.",
    ("peak flow", "flow rate", "service flow rate", "peak service flow", "use rate", "demand", "peak gpm",
     "service gpm", "max flow", "peak demand", "peak use", "service rate", "flow in service",
     "peak flow rate"),
    (0.05 * GPM, 1000 * GPM),
    example="6 gpm",
)
SUPPLY_FLOW = Column(
    "supply_flow", "Supply flow", q.FLOW, "What the pump or main can sustain at the unit.",
    ("pump flow", "well yield", "pump gpm", "available flow", "supply", "well gpm", "pump rate",
     "supply gpm", "pump output", "well flow", "well pump", "supply rate", "flow available",
     "available gpm", "well pump flow", "pump capacity"),
    (0.1 * GPM, 2000 * GPM),
    example="8 gpm",
)
SUPPLY_PRESSURE = Column(
    "supply_pressure", "Supply pressure", q.PRESSURE, "Pressure at the unit at that flow.",
    ("pressure", "inlet pressure", "psi", "line pressure", "static pressure", "water pressure",
     "incoming pressure", "pressure at unit", "pump pressure", "feed pressure", "psi at unit",
     "working pressure"),
    (2 * PSI, 250 * PSI),
    example="50 psi",
)
DRAIN_BORE = Column(
    "drain_bore", "Drain bore", q.DIAMETER, "Bore of the drain line.",
    ("drain size", "drain line", "drain pipe", "drain dia", "drain line size", "drain diameter",
     "drain line bore", "drain pipe size", "drain hose", "drain tube", "drain line dia",
     "drain line diameter", "drain pipe dia"),
    (0.2 * INCH, 8 * INCH),
    example="3/4 in",
)
DRAIN_LENGTH = Column(
    "drain_length", "Drain length", q.DISTANCE, "Length of the drain line.",
    ("drain run", "length of drain", "drain line length", "drain line run", "drain pipe length",
     "length of drain line"),
    (0.0, 300.0),
    example="20 ft",
)
DRAIN_RISE = Column(
    "drain_rise", "Drain rise", q.DISTANCE, "Height the drain line climbs above the valve.",
    ("rise", "drain lift", "drain height", "vertical rise", "height of drain", "rise of drain",
     "drain line rise"),
    (0.0, 40.0),
    example="4 ft",
)
DRAIN_ELBOWS = Column("drain_elbows", "Drain elbows", q.COUNT, "How many elbows the drain line has.",
    ("elbows", "drain bends", "bends", "drain fittings", "elbows in drain"), (0.0, 60.0), example="3")
WATER_SOURCE = Column(
    "water_source", "Water source", q.CHOICE,
    "Where the water comes from; sets the temperature range where none is given.",
    ("source", "water supply", "source of water", "feed", "raw water", "water type", "supply type",
     "source type", "city or well", "well or city", "city/well", "well/city", "type of water",
     "feed source"),
    choices={
        "well": ("bore", "borehole", "ground", "groundwater", "private well"),
        "mixed": ("city", "municipal", "town", "mains", "public", "utility", "unknown"),
        "surface": ("lake", "river", "pond", "spring", "creek", "cistern", "stream"),
    },
    example="well",
)
COLD = Column(
    "water_cold", "Coldest water", q.TEMPERATURE, "Temperature of the coldest feed water of the year.",
    ("coldest water temp", "winter temp", "cold temp", "min temp", "min water temp", "water temp min",
     "winter water", "winter water temp", "cold water temp", "winter", "coldest", "winter temperature",
     "coldest temp", "lowest temp", "low temp", "temp winter", "water temp winter", "cold season temp"),
    (272.15, 333.15),
    example="41 F",
)
WARM = Column(
    "water_warm", "Warmest water", q.TEMPERATURE, "Temperature of the warmest feed water of the year.",
    ("warmest water temp", "summer temp", "warm temp", "max temp", "max water temp", "water temp max",
     "summer water", "summer water temp", "summer", "warmest", "summer temperature", "warmest temp",
     "highest temp", "high temp", "temp summer", "water temp summer", "warm season temp"),
    (272.15, 353.15),
    example="64 F",
)
TEMPERATURE = Column(
    "water_temperature", "Water temperature", q.TEMPERATURE,
    "Temperature of the feed water where only one is known.",
    ("water temp", "temp", "temperature", "feed temp", "feed temperature", "water temperature now",
     "inlet temp", "inlet temperature", "temp of water"),
    (272.15, 353.15),
    example="50 F",
)
PH = Column(
    "ph", "pH", q.NUMBER, "pH of the feed water.",
    ("ph", "feed ph", "raw ph", "water ph", "ph level", "inlet ph", "ph raw", "ph feed"),
    (2.0, 12.5),
    example="6.8",
)
WASH_MINUTES = Column(
    "wash_minutes", "Backwash minutes", q.MINUTES, "Length of the backwash.",
    ("bw minutes", "bw time", "backwash time", "backwash min", "wash time", "bw min", "backwash duration",
     "backwash length", "length of backwash", "bw length", "bw duration", "bw mins", "backwash mins",
     "minutes of backwash", "duration of backwash"),
    (0.0, 240 * 60.0),
    example="10",
)
WASH_INTERVAL = Column(
    "wash_interval", "Days between washes", q.DAYS, "Days from one backwash to the next.",
    ("bw every", "backwash every", "days between backwash", "bw interval", "backwash frequency",
     "regen days", "wash every", "bw days", "backwash interval", "wash interval", "regen every",
     "days between backwashes", "days between bw", "wash days", "backwash days", "bw frequency",
     "days between regens", "washes every"),
    (0.04 * DAY, 366 * DAY),
    example="3",
)
CREW = Column(
    "crew", "Crew", q.NAME, "Who set the unit up.",
    ("installed by", "installer", "technician", "tech", "team", "set up by", "crew name", "fitted by",
     "inst by", "set by", "crew/tech", "installer name", "tech name", "technician name", "install crew",
     "install tech", "installing crew", "setup by", "put in by", "commissioned by"),
    example="crew A",
)
MEDIA_CREW = Column(
    "media_crew", "Media crew", q.NAME, "Who last changed the medium or the restrictor.",
    ("rebedded by", "rebed by", "media changed by", "last changed by", "rebed crew", "media tech",
     "serviced by", "bed changed by", "media replaced by", "media loaded by", "last rebed by",
     "re-bedded by", "rebed tech", "restrictor changed by"),
    example="crew B",
)
NOTE = Column(
    "note", "Note", q.TEXT, "Anything else; shown, never judged.",
    ("notes", "comment", "comments", "remarks", "remark", "memo", "other", "misc", "observations",
     "additional notes"),
)

COLUMNS: tuple[Column, ...] = (
    UNIT_ID, ACCOUNT, ADDRESS, CITY, STATE, POSTCODE, LATITUDE, LONGITUDE, STATUS, KIND, VESSEL_LABEL,
    SIZE, DIAMETER, HEIGHT, INSIDE, VESSELS, WASH_TOGETHER, MEDIUM, MESH, LAYERS, PURPOSE, VOLUME,
    VOLUME_IS_TOTAL, DEPTH, GRAVEL, FREEBOARD, MEDIA_DATE, MEDIA_LIFE, INSTALL_DATE, TREATED,
    DAILY_USE, THROUGHPUT_LIMIT, TOP_UP_DATE, DEPTH_LEFT,
    RESTRICTOR, LABEL, HOUSING, CONNECTIONS, MEASURED, SERVICE_FLOW, SUPPLY_FLOW, SUPPLY_PRESSURE,
    DRAIN_BORE, DRAIN_LENGTH, DRAIN_RISE, DRAIN_ELBOWS,
    WATER_SOURCE, COLD, WARM, TEMPERATURE, PH, WASH_MINUTES, WASH_INTERVAL, CREW, MEDIA_CREW, NOTE,
)
BY_NAME: dict[str, Column] = {column.name: column for column in COLUMNS}
