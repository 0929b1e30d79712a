"""Columns of what goes out and comes back: return sheets, the history of changes, accepted findings."""

from __future__ import annotations

from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import Column
from fleetaudit.schema.company import CompanySheet

RETURNS_SHEET, HISTORY_SHEET, ACCEPTED_SHEET = "Returns", "History", "Accepted"

# What a return sheet tells the crew; nothing of it is read back but the unit and its vessel.
ON_RECORD = Column(
    "on_record",
    "Restrictor on record",
    q.FLOW,
    "What the list of units says is fitted.",
    ("recorded restrictor",),
)
TO_FIT = Column(
    "to_fit", "Restrictor to fit", q.FLOW, "What the audit asks for.", ("restrictor wanted", "fit")
)
HOUSING_TO_FIT = Column("housing_to_fit", "Housing to fit", q.TEXT, "What the audit asks for.", ())
TO_CONFIRM = Column(
    "to_confirm",
    "Flow to confirm",
    q.TEXT,
    "Drain flow that a bucket and a watch should show.",
    ("flow wanted",),
)
TOLD = (
    fleet.UNIT_ID, fleet.VESSEL_LABEL, fleet.ACCOUNT, fleet.ADDRESS, fleet.SIZE, fleet.MEDIUM, ON_RECORD,
    TO_FIT, HOUSING_TO_FIT, TO_CONFIRM,
)  # fmt: skip

# What the crew fills in.
VISIT_DATE = Column(
    "visit_date", "Visit date", q.DATE, "Day of the visit. Needed.",
    ("date", "date of visit", "visited", "visited on", "done on", "day"),
    example="2026-11-20",
)  # fmt: skip
CREW = Column("visit_crew", "Crew", q.NAME, "Name of the crew, as your list of units writes it.", ("team",))
INITIALS = Column(
    "initials", "Initials", q.NAME, "Who fills in this line. Needed, unless the crew is named.",
    ("initial", "by", "signed", "technician", "filled in by", "name"),
    example="AB",
)  # fmt: skip
FOUND = Column(
    "found", "What was found", q.TEXT, "In a few words.", ("found", "findings", "condition found", "observed")
)
RESTRICTOR_FOUND = Column(
    "restrictor_found", "Restrictor found", q.FLOW, "Rating read on the restrictor that was in there.",
    ("found restrictor", "old restrictor", "restrictor was"),
    fleet.RESTRICTOR.bounds,
    example="5 gpm",
)  # fmt: skip
RESTRICTOR_FITTED = Column(
    "restrictor_fitted", "Restrictor fitted", q.FLOW, "Rating of the one in there now, if it was changed.",
    ("new restrictor", "fitted restrictor", "restrictor now", "restrictor left"),
    fleet.RESTRICTOR.bounds,
    example="7 gpm",
)  # fmt: skip
HOUSING_FITTED = Column(
    "housing_fitted", "Housing fitted", q.CHOICE, "Housing that is in there now.",
    ("new housing", "housing now", "housing found"),
    choices=fleet.HOUSING.choices,
    example="medium",
)  # fmt: skip
LABELLED = Column(
    "labelled", "Label written", q.FLAG, "Whether the fitted flow is written on the unit.",
    ("labelled", "labeled", "label", "flow written on unit"),
    example="yes",
)  # fmt: skip
MEASURED = Column(
    "measured", "Measured drain flow", q.FLOW, "Found by bucket and watch, after the work.",
    ("measured flow", "drain flow", "bucket test", "flow measured", "measured", "bucket flow"),
    fleet.MEASURED.bounds,
    example="6.8 gpm",
)  # fmt: skip
BED_WORK = Column(
    "bed_work", "Bed", q.CHOICE, "Whether media were added to the bed or the whole bed was replaced.",
    ("bed work", "work on the bed", "media work"),
    choices={
        "new bed": ("new", "rebed", "re-bed", "rebedded", "re-bedded", "replaced", "whole bed"),
        "topped up": ("top up", "top-up", "topup", "added", "topped"),
    },
    example="new bed",
)  # fmt: skip
MEDIUM_LOADED = Column(
    "medium_loaded", "Media loaded", q.TEXT, "Name and mesh of what was put in; layers from the top down.",
    ("medium loaded", "media put in", "medium put in", "new media", "new medium", "loaded"),
    example="activated carbon 12x40",
)  # fmt: skip
VOLUME_LOADED = Column(
    "volume_loaded", "Volume loaded", q.VOLUME, "How much was put in, all vessels of the line together.",
    ("media volume loaded", "amount loaded", "volume put in"),
    fleet.VOLUME.bounds,
    example="1.5 ft3",
)  # fmt: skip
DEPTH = Column(
    "bed_depth_now", "Bed depth now", q.LENGTH, "Depth of the settled bed, without gravel.",
    ("bed depth", "depth now", "media depth"),
    fleet.DEPTH.bounds,
)  # fmt: skip
FREEBOARD = Column(
    "freeboard_now", "Freeboard now", q.LENGTH, "From the settled bed up to the upper distributor.",
    ("freeboard",),
    fleet.FREEBOARD.bounds,
)  # fmt: skip
NOTE = Column(
    "visit_note", "Note", q.TEXT, "Anything else.", ("notes", "remark", "remarks", "comment", "comments")
)
FILLED_IN = (
    VISIT_DATE, CREW, INITIALS, FOUND, RESTRICTOR_FOUND, RESTRICTOR_FITTED, HOUSING_FITTED, LABELLED,
    MEASURED, BED_WORK, MEDIUM_LOADED, VOLUME_LOADED, DEPTH, FREEBOARD, NOTE,
)  # fmt: skip
#: what stands on a return sheet, in order
RETURN_COLUMNS = (*TOLD, *FILLED_IN)

#: what was filled in and the column of the list of units that says the same; the later one of a column counts
SAME_AS: tuple[tuple[Column, Column], ...] = (
    (RESTRICTOR_FOUND, fleet.RESTRICTOR),
    (RESTRICTOR_FITTED, fleet.RESTRICTOR),
    (HOUSING_FITTED, fleet.HOUSING),
    (LABELLED, fleet.LABEL),
    (MEASURED, fleet.MEASURED),
    (DEPTH, fleet.DEPTH),
    (FREEBOARD, fleet.FREEBOARD),
)
#: a cell of the first column says nothing any more once the second has another value
OUTDATED_BY: tuple[tuple[Column, Column], ...] = (
    (fleet.MEASURED, fleet.RESTRICTOR),
    (fleet.MESH, fleet.MEDIUM),
    (fleet.DEPTH, fleet.LAYERS),
    (fleet.VOLUME, fleet.LAYERS),
    (fleet.TREATED, fleet.MEDIA_DATE),
    (fleet.TOP_UP_DATE, fleet.MEDIA_DATE),
    (fleet.DEPTH_LEFT, fleet.MEDIA_DATE),
    (fleet.DEPTH_LEFT, fleet.TOP_UP_DATE),
)

WHEN = Column("when", "When", q.DATE, "Day of the visit.")
WHAT = Column(
    "what", "What", q.TEXT, "Column of the list of units, or of the return sheet, that this is about."
)
CELL = Column(
    "cell", "Cell", q.TEXT, "Cell that was changed; blank where the list of units has no such column."
)
OLD_VALUE = Column("old_value", "Old value", q.TEXT, "What stood there.")
NEW_VALUE = Column("new_value", "New value", q.TEXT, "What stands there now.")
BY = Column("changed_by", "By", q.NAME, "Crew and initials of the return sheet.")
SOURCE = Column("source", "Source", q.TEXT, "File, sheet and row that said so.")
RECORDED = Column("recorded", "Recorded on", q.DATE, "Day it was written here.")
WHY = Column("why", "Remark", q.TEXT, "Why a cell was changed that nobody filled in.")
HISTORY = CompanySheet(
    HISTORY_SHEET,
    "Every change that was recorded from return sheets, one line each; lines are only ever added.",
    (WHEN, fleet.UNIT_ID, fleet.VESSEL_LABEL, WHAT, CELL, OLD_VALUE, NEW_VALUE, BY, SOURCE, RECORDED, WHY),
    fleet.UNIT_ID,
)

CHECK = Column(
    "check", "Check", q.TEXT, "The finding that is accepted, as the findings sheet names it.",
    ("finding", "accepted finding"),
    needed=True,
    example="restrictor-too-small",
)  # fmt: skip
REASON = Column(
    "reason", "Reason", q.TEXT, "Why it is accepted. Needed.", ("why", "because"), needed=True,
    example="supply is replaced in spring (invented)",
)  # fmt: skip
ACCEPTED_BY = Column(
    "accepted_by", "Accepted by", q.NAME, "Who answers for it. Needed.", ("name", "by", "who"), needed=True,
    example="A. Manager (invented)",
)  # fmt: skip
ACCEPTED_ON = Column("accepted_on", "Accepted on", q.DATE, "Day it was accepted.", ("on", "date", "since"))
UNTIL = Column(
    "until", "Until", q.DATE, "Last day on which it is accepted. Needed.",
    ("valid until", "expires", "till", "to"),
    needed=True,
    example="2027-03-31",
)  # fmt: skip
DATA_MARK = Column(
    "data_mark", "Data mark", q.NAME,
    "Leave blank: the annotated copy fills it in. Once the data of the unit differ, the finding comes back.",
    ("mark", "fingerprint"),
)  # fmt: skip
ACCEPTED = CompanySheet(
    ACCEPTED_SHEET,
    "Findings that somebody answers for leaving as they are; listed apart and not counted.",
    (fleet.UNIT_ID, fleet.VESSEL_LABEL, CHECK, REASON, ACCEPTED_BY, ACCEPTED_ON, UNTIL, DATA_MARK),
    CHECK,
)
