"""Remarks on what stands in for values that nobody gave."""

from __future__ import annotations

import numpy as np

from fleetaudit.auditing.result import AuditResult
from fleetaudit.facts import site
from fleetaudit.facts.frame import Flags
from fleetaudit.language import say, several
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import Column
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.writing.wording import Speaker


def _count(mask: Flags) -> int:
    return int(np.sum(mask))


def _units_of(mask: Flags) -> str:
    count = _count(mask)
    return several(count, "1 unit", "{count:,} units")


def assumed(result: AuditResult, speaker: Speaker) -> list[Remark]:
    """What defaults stand in for, each said once with how many units it touches."""
    view, show = result.view, speaker.display
    judged, remarks = site.judged(view), []
    water = site.season(view)
    unknown = judged & water.assumed
    if unknown.any():
        low, high = float(np.min(water.cold.low[unknown])), float(np.max(water.warm.high[unknown]))
        remarks.append(
            _data_assumed(
                speaker,
                unknown,
                fleet.COLD,
                "water temperature",
                say("Water temperature is not known for {units}.", units=_units_of(unknown)),
                show.range(q.TEMPERATURE, low, high),
                say(
                    "The flow window is that at the middle of the range; findings it decides are "
                    "measure-first."
                ),
            )
        )
    mesh = judged & ~site.mesh_stated(view) & (view.medium >= 0)
    if mesh.any():
        remarks.append(
            _data_assumed(
                speaker,
                mesh,
                fleet.MEDIUM,
                "grain size",
                say(
                    "The grain size is not given for {units} whose medium is sold in several.",
                    units=_units_of(mesh),
                ),
                say("the usual size"),
                say("A flow right for any listed size raises nothing above a note."),
            )
        )
    if view.fleetwide.restrictor_unit_doubtful:
        rows = judged & site.rating(view).assumed
        remarks.append(
            _data_assumed(
                speaker,
                rows,
                fleet.RESTRICTOR,
                "unit of the restrictor column",
                say(
                    "The restrictor column has no unit and fits better as {unit}. "
                    "Add the unit to the heading.",
                    unit=view.fleetwide.restrictor_unit_better,
                ),
                fleet.RESTRICTOR.quantity.us,
                say("Every restrictor finding of these rows is measure-first."),
            )
        )
    return remarks


def _data_assumed(
    speaker: Speaker,
    rows: Flags,
    column: Column,
    kind: str,
    text: str,
    assumed: str,
    effect: str,
) -> Remark:
    frame = speaker.result.view.frame
    cells = speaker.cells(np.flatnonzero(rows), column) or [
        say("{sheet} row {row}", sheet=frame.sheet, row=row) for row in frame.rows[rows].tolist()
    ]
    return Remark(
        Level.WARN, f"data-assumed: {kind}", text, tuple(cells), "", assumed, effect, say(column.title)
    )
