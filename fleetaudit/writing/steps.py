"""The equations behind one unit, each with its numbers put in, in the reader's units."""

from __future__ import annotations

from fleetaudit.auditing.result import AuditResult
from fleetaudit.facts.window import flow_window
from fleetaudit.writing.bed_steps import BedSteps
from fleetaudit.writing.display import Display
from fleetaudit.writing.flow_steps import FlowSteps
from fleetaudit.writing.window_steps import WindowSteps
from fleetaudit.writing.working import Step


def steps(result: AuditResult, unit: int, display: Display) -> list[Step]:
    """Every step that the unit's cells and the catalogue allow, in the order of the working."""
    bed, window = BedSteps(result, unit, display), WindowSteps(result, unit, display)
    flow = FlowSteps(result, unit, display)
    made = [bed.area(), *bed.depth(), bed.water(), *bed.room()]
    if flow_window(result.view).known[unit]:
        made += [*window.sides(), *window.ceilings(), window.target(), *window.mixing()]
    return [*made, *flow.supply(), *flow.drain(), *flow.expansion(), *flow.service()]
