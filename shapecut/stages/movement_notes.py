"""What to leave on the day, where gaps were reckoned from moisture or heat."""

from collections.abc import Iterator

from shapecut.findings import Finding, Level
from shapecut.job.boards import Boards, JointTable
from shapecut.layout.layout import Layout
from shapecut.units import LengthStyle

__all__ = ["movement_notes"]


def movement_notes(
    boards: Boards, joints: JointTable | None, layout: Layout, lengths: LengthStyle
) -> Iterator[Finding]:
    """Say which gaps were reckoned, and what becomes of them.

    Args:
        boards: The job's.
        joints: The job's, if rows may be joined.
        layout: Laid with the gaps as they were reckoned.
        lengths: How the notes write lengths.
    """
    if boards.seasoning:
        seasoning, gap = boards.seasoning, layout.board.gap_mm
        later = boards.width + gap - boards.gap
        yield Finding(
            Level.NOTE,
            "gap",
            f"Leave {lengths.fine(gap)} between rows at {seasoning.at_laying:g} % moisture: at "
            f"{seasoning.in_service:g} % the boards of {seasoning.species} will be "
            f"{lengths.fine(later)} wide and {lengths.fine(boards.gap)} apart.",
        )
    if joints and joints.heat and layout.joints:
        heat = joints.heat
        left = f"{lengths.fine(joints.gap)} of that are left" if joints.gap else "they close"
        yield Finding(
            Level.NOTE,
            "end gap",
            f"Leave the joints open as drawn at {heat.laid_at:g} °C: at {heat.hottest:g} °C "
            f"{left}.",
        )
