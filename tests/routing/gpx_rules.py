"""The rules of GPX 1.1 in as far as routes use them, restated from the published schema documentation.

Source: TopoGrafix, "GPX 1.1 Schema Documentation", topografix.com/GPX/1/1: types gpxType, rteType, wptType,
latitudeType, longitudeType. The schema file itself states no licence and is therefore not kept here.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from decimal import Decimal, InvalidOperation

SPACE = "{http://www.topografix.com/GPX/1/1}"
#: children of each type, in the order in which they must stand; those that may be there more than once
CHILDREN = {
    "gpx": ("metadata", "wpt", "rte", "trk", "extensions"),
    "rte": ("name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"),
    "rtept": (
        "ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix",
        "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions",
    ),
}  # fmt: skip
SEVERAL = {"wpt", "rte", "trk", "link", "rtept"}
TEXTS = {"name", "cmt", "desc", "src", "type", "sym"}


def broken_rules(text: str) -> list[str]:
    """What the schema would not allow."""
    root = ET.fromstring(text)
    if root.tag != f"{SPACE}gpx":
        return ["the root is no gpx of version 1.1"]
    found = []
    if root.attrib.get("version") != "1.1":
        found.append("version is not 1.1")
    if "creator" not in root.attrib:
        found.append("no creator")
    found += [f"gpx has no attribute {name}" for name in root.attrib if name not in ("version", "creator")]
    return found + _children(root)


def _children(parent: ET.Element) -> list[str]:
    kind = parent.tag.removeprefix(SPACE)
    allowed, found = CHILDREN[kind], []
    names = [child.tag.removeprefix(SPACE) for child in parent]
    strange = [name for name in names if name not in allowed]
    if strange:
        return [f"{kind} has no {', '.join(strange)}"]
    places = [allowed.index(name) for name in names]
    if places != sorted(places):
        found.append(f"children of {kind} stand in the wrong order")
    found += [f"{kind} has several {name}" for name in set(names) - SEVERAL if names.count(name) > 1]
    for child, name in zip(parent, names, strict=True):
        if name in CHILDREN:
            found += _children(child)
            found += _position(child) if name == "rtept" else [f"{name} has attributes"] * bool(child.attrib)
        elif name in TEXTS and len(child):
            found.append(f"{name} holds elements")
    return found


def _position(point: ET.Element) -> list[str]:
    found = [f"rtept has no attribute {name}" for name in point.attrib if name not in ("lat", "lon")]
    for name, low, high in (("lat", -90, 90), ("lon", -180, 180)):
        text = point.attrib.get(name, "")
        try:
            number = Decimal(text)
        except InvalidOperation:
            number = Decimal("NaN")
        # xsd:decimal has no exponent; longitude ends before 180
        if not number.is_finite() or "e" in text.lower() or not low <= number <= high or number == 180:
            found.append(f'{name} "{text}" is out of its range')
    return found
