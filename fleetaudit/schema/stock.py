"""Columns of the sheet that says what parts and media are there already."""

from __future__ import annotations

from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import Column
from fleetaudit.schema.company import CompanySheet

WHAT = Column(
    "stock_what", "What", q.TEXT, "Restrictor, housing, external flow control, or the name of a medium.",
    ("item", "part", "medium", "media", "description"),
    needed=True,
    example="restrictor",
)  # fmt: skip
SIZE = Column(
    "stock_size", "Size", q.TEXT, "Rating of a restrictor, name of a housing, mesh of a medium.",
    ("rating", "part size", "mesh"),
    example="7 gpm",
)  # fmt: skip
QUANTITY = Column(
    "stock_quantity", "Quantity", q.NUMBER, "How many or how much is there.",
    ("qty", "amount", "on hand", "in stock", "how many", "count"),
    (0.0, 1e6),
    needed=True,
    example="12",
)  # fmt: skip
UNIT = Column(
    "stock_unit", "Unit", q.CHOICE, "Unit of the quantity; blank counts as pieces, of media as bags.",
    ("unit of quantity", "units", "uom"),
    choices={
        "pieces": ("piece", "pc", "pcs", "ea", "each"),
        "bags": ("bag", "sack", "sacks"),
        "ft3": ("cu ft", "cubic feet", "cf", "cuft"),
        "L": ("litres", "liters", "litre", "liter"),
        "lb": ("lbs", "pounds", "pound"),
        "kg": ("kgs", "kilograms"),
    },
    example="pieces",
)  # fmt: skip
STOCK = CompanySheet(
    "Stock", "Parts and media that are there already; taken off what is to be ordered.",
    (WHAT, SIZE, QUANTITY, UNIT), WHAT,
)  # fmt: skip
