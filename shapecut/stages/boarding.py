"""How boards are laid over an outline and what they are cut from, as a job's tables say.

One value serves the whole plan, the comparison of directions and the rows alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from shapecut.errors import LayoutError
from shapecut.findings import Finding
from shapecut.job.boards import Boards, JointTable, JoistTable, SawTable
from shapecut.job.edges import Allowances
from shapecut.job.stock import StockTable
from shapecut.layout.edging import Edging, EdgingRules, lay_edged
from shapecut.layout.joists import Joists
from shapecut.layout.layout import Layout
from shapecut.layout.saw_limits import saw_findings
from shapecut.layout.supports import Supports
from shapecut.shape.allowance import with_allowances
from shapecut.shape.outline import Outline, Treatment
from shapecut.shape.setting_out import SettingOut
from shapecut.stages.carpentry import (
    board_to_lay,
    edge_reach,
    joint_rules,
    layout_rules,
    saw_rules,
)
from shapecut.stages.carrying import carried, joists_of
from shapecut.stages.cutting import all_on_hand, pieces_cut
from shapecut.stages.movement_notes import movement_notes
from shapecut.stock.cutplan import CutPlan, Offcut, Stock
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["Boarding"]


@dataclass(frozen=True)
class Boarding:
    """All that a plan is made from but the outline.

    Attributes:
        boards: The boards and how they are laid.
        allowances: For each treatment.
        stock: What the yard sells, and the saw's kerf.
        joists: What the boards lie on, if that is known.
        joints: How rows longer than any board are joined; None where they may not be.
        saw: What can be cut, and what lasts.
        on_hand: Offcuts that are there besides those that the stock states.
        edging: Border boards, breakers, and edges at which boards are left long.
        marks: What was drawn on the template, for joists that lie along it.
        lengths: How findings and refusals write lengths.
    """

    boards: Boards
    allowances: Allowances
    stock: StockTable
    joists: JoistTable | None = None
    joints: JointTable | None = None
    saw: SawTable = field(default_factory=SawTable)
    on_hand: Sequence[Offcut] = ()
    edging: EdgingRules = field(default_factory=EdgingRules)
    marks: SettingOut | None = None
    lengths: LengthStyle = MILLIMETRES

    @cached_property
    def reach(self) -> Mapping[Treatment, float]:
        """How far boards reach past an edge of each treatment, mm."""
        return edge_reach(self.allowances, board_to_lay(self.boards, self.lengths).gap_mm)

    def joists_under(self, outline: Outline, direction_rad: float) -> Joists | None:
        """The joists under boards of one direction, where they are known.

        Raises:
            LayoutError: Joists that cannot be.
        """
        if self.joists is None:
            return None
        return joists_of(
            self.joists, outline, direction_rad, marks=self.marks, lengths=self.lengths
        )

    def laid(self, outline: Outline, direction_rad: float) -> tuple[Layout, Edging]:
        """The boards laid in one direction, and joined where that is allowed.

        Args:
            outline: With its edges treated.
            direction_rad: Of the boards in the plane.

        Raises:
            ShapeError: Allowances that leave nothing of the outline.
            LayoutError: Boards that cannot be laid by these rules.
        """
        boards, stock = self.boards, self.stock
        longest = max(entry.length for entry in stock.lengths) - 2 * stock.squared_end
        layout, edging = lay_edged(
            outline,
            with_allowances(outline, self.reach),
            board_to_lay(boards, self.lengths),
            layout_rules(
                boards,
                direction_rad=direction_rad,
                reach_mm=self._start_reach(outline),
                lengths=self.lengths,
            ),
            self.edging,
            longest_mm=longest,
            joists=self.joists_under(outline, direction_rad),
            joints=joint_rules(self.joints, boards, longest, self.lengths) if self.joints else None,
        )
        there = all_on_hand(stock, self.on_hand)
        longest = max([longest, *(offcut.length_mm for offcut in there)])
        if self.joints is None:
            _check_lengths(layout, longest, self.lengths)
        return layout, edging

    def supports(self, outline: Outline, layout: Layout) -> Supports | None:
        """What carries a layout; None where the joists are not known.

        Raises:
            LayoutError: Joists that cannot be, or that run along the rows.
        """
        joists = self.joists_under(outline, layout.frame.turn_rad)
        if self.joists is None or joists is None:
            return None
        return carried(layout, joists, self.joists, lengths=self.lengths)

    def findings(self, layout: Layout, supports: Supports | None) -> tuple[Finding, ...]:
        """What a fitter must know of a layout and of what carries it."""
        saw = saw_rules(self.saw, self.stock.kerf, self.lengths)
        return (
            *layout.findings,
            *movement_notes(self.boards, self.joints, layout, self.lengths),
            *saw_findings(layout.pieces, saw),
            *(supports.findings if supports else ()),
        )

    def cut(self, layout: Layout, yard: Sequence[Stock], *, time_limit_s: float) -> CutPlan:
        """The pieces cut from what is on hand and what a yard sells.

        Raises:
            StockError: Pieces that cannot be cut from these.
        """
        return pieces_cut(
            layout.pieces,
            self.boards,
            self.stock,
            yard=yard,
            on_hand=self.on_hand,
            time_limit_s=time_limit_s,
            lengths=self.lengths,
        )

    def _start_reach(self, outline: Outline) -> float:
        """How far boards reach past the edge that the first row is taped from."""
        edges = {edge.name: edge for edge in outline.edges}
        edge = edges.get(self.boards.start.edge or "")
        return self.reach[edge.treatment] if edge else 0.0


def _check_lengths(layout: Layout, longest_mm: float, lengths: LengthStyle) -> None:
    """Refuse pieces that no board gives whole."""
    piece = max(layout.pieces, key=lambda piece: piece.length_mm, default=None)
    if piece and piece.length_mm > longest_mm:
        raise LayoutError(
            f"Piece {piece.label} is {lengths(piece.length_mm)} long, and the longest board gives "
            f"{lengths(longest_mm)}: state longer boards under [stock], or allow joints with "
            f"[joints] and say with [joists] what they lie over."
        )
