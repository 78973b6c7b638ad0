"""From rows and the job's joists to what carries the boards.

Takes and returns values; no file is read or written.
"""

from dataclasses import replace

from shapecut.job.boards import JoistTable
from shapecut.layout.along_joists import along_joists
from shapecut.layout.joists import Joists, joists_under
from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports, supports_of
from shapecut.shape.outline import Outline
from shapecut.shape.setting_out import SettingOut
from shapecut.stages.carpentry import joist_rules, support_rules
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["carried", "joists_of"]


def joists_of(
    table: JoistTable,
    outline: Outline,
    direction_rad: float,
    *,
    marks: SettingOut | None = None,
    lengths: LengthStyle = MILLIMETRES,
) -> Joists:
    """The joists under boards of one direction.

    Args:
        table: The job's.
        outline: That the joists run through.
        direction_rad: Of the boards in the plane.
        marks: What was drawn on the template, for joists that lie along it.
        lengths: How refusals write lengths.

    Raises:
        LayoutError: Joists that cannot be.
    """
    rules = joist_rules(table, outline, direction_rad, marks=marks, lengths=lengths)
    return joists_under(outline, rules)


def carried(
    layout: Layout, joists: Joists, table: JoistTable, *, lengths: LengthStyle = MILLIMETRES
) -> Supports:
    """What carries a layout, and the blocking proposed where nothing does.

    Args:
        layout: Rows, border boards and breakers; those along the joists are blocked, not listed.
        joists: Under it.
        table: What the job asks of them.
        lengths: How findings write lengths.

    Raises:
        LayoutError: If the joists run along the rows.
    """
    along = along_joists(layout, joists, lengths=lengths)
    found = supports_of(along.across, joists, support_rules(table, lengths))
    return replace(
        found, blocks=found.blocks + along.blocks, findings=along.findings + found.findings
    )
