"""What the cut cards say, in words, and in which order."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from shapecut.layout.layout import Layout, Piece
from shapecut.layout.left_long import Trim
from shapecut.papers.cut_card import CardCut, CardMark, CutCard
from shapecut.papers.marking_out import cut_card, rounding_step
from shapecut.papers.on_board import OnBoard, on_their_boards
from shapecut.shape.outline import Edge, Treatment
from shapecut.stock.cutplan import Cut, CutBoard, CutPlan
from shapecut.stock.turns import Turn
from shapecut.units import format_length

__all__ = ["CardWords", "WrittenCard", "cards_in_order"]

FINEST_FRACTION = 64
"""No tape or rule shows smaller parts of an inch than 1/this."""

_AFTERWARDS = {Treatment.EXPOSED: "; sand back to it", Treatment.WALL: "; leave the gap open"}


@dataclass(frozen=True)
class CardWords:
    """How a card's values are put into words.

    Attributes:
        units: `mm` or `in`, which comes first where both are written.
        denominator: Inches are rounded to 1/denominator.
        reach: By an edge's name what boards meet there, and how far they reach past it (+) or stay
            back from it (-), mm.
        left_long: By an edge's name how far boards are left longer there, mm.
    """

    units: str
    denominator: int
    reach: Mapping[str, tuple[Treatment, float | None]]
    left_long: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def about(
        cls,
        edges: Sequence[Edge],
        allowances: Mapping[Treatment, float],
        *,
        units: str,
        denominator: int,
        trims: Sequence[Trim] = (),
    ) -> "CardWords":
        """Words on pieces of an outline with these edges, allowances and trims."""
        reach = {edge.name: (edge.treatment, allowances.get(edge.treatment)) for edge in edges}
        return cls(units, denominator, reach, {trim.edge: trim.by_mm for trim in trims})

    def length(self, length_mm: float, exact_mm: float | None = None) -> str:
        """In both units: the job's first, as rounded on cards, and the other from the exact one."""
        exact_mm = length_mm if exact_mm is None else exact_mm
        if self.units == "in":
            return f"{self.short(length_mm, 'in')} ({self.short(exact_mm, 'mm')})"
        return f"{length_mm:g} mm ({self.short(exact_mm, 'in')})"

    def short(self, length_mm: float, units: str) -> str:
        """In one unit."""
        return format_length(length_mm, units, self.denominator)

    def heading(self, card: CutCard, board: CutBoard, place: int) -> tuple[str, ...]:
        """Where the piece is cut from, and what follows."""
        cut = board.cuts[place]
        source = board.stock.on_hand.name if board.stock.on_hand else f"board {board.number}"
        later = board.cuts[place + 1].label if place + 1 < len(board.cuts) else None
        follows = f"then {later}" if later else "the last on this board"
        row = f"Row {card.row}" if card.row else "Border or breaker"
        return (
            f"{row}, {_face(cut)}, {self.short(card.length_mm, self.units)} long, from a board "
            f"{self.length(card.width_mm)} wide.",
            f"From {source}: {self.short(cut.start_mm, self.units)} to "
            f"{self.short(cut.end_mm, self.units)} from its reference end{_turned(cut)}; "
            f"{follows}.",
        )

    def mark(self, mark: CardMark) -> str:
        """One line of the list of marks."""
        along, across = mark.exact
        up = f"{mark.edge} edge" if mark.edge else f"{self.length(mark.across_mm, across)} up"
        return f"{self.length(mark.along_mm, along)} along, {up}"

    def place(self, along_mm: float, across_mm: float) -> str:
        """A place on the board, or off it."""
        along = "along" if along_mm >= 0 else "before the reference end"
        up = "up" if across_mm >= 0 else "below the lower edge"
        return f"{self.length(abs(along_mm))} {along}, {self.length(abs(across_mm))} {up}"

    def cut(self, cut: CardCut) -> str:
        """One line on a cut."""
        edge = f" along {cut.edge}" if cut.edge else ""
        how = cut.angle
        if compass := cut.compass:
            how += (
                f", radius {self._radius(compass.radius_mm)} about "
                f"{self.place(compass.along_mm, compass.across_mm)}"
            )
        return f"{cut.first} to {cut.last}{edge}: {how}; keep {cut.keep}."

    def _radius(self, radius_mm: float) -> str:
        """Inches twice as fine as marks are: centre and radius are off together."""
        if self.units != "in":
            return self.length(radius_mm)
        finer = min(2 * self.denominator, FINEST_FRACTION)
        return f"{format_length(radius_mm, 'in', finer)} ({self.short(radius_mm, 'mm')})"

    def notes(self, card: CutCard) -> Iterator[str]:
        """What to do at the saw besides the cuts."""
        for opening in card.round_holes:
            yield (
                f"Drill or saw a round hole of {self.length(opening.diameter_mm)} about "
                f"{self.place(opening.along_mm, opening.across_mm)}."
            )
        if card.inside:
            corners = "is an inside corner" if len(card.inside) == 1 else "are inside corners"
            yield (
                f"{', '.join(card.inside)} {corners}: stop the saw short on both cuts and finish "
                "by hand."
            )
        for hole in card.relief:
            yield (
                f"To let a blade turn at {hole.mark}, drill {self.length(hole.diameter_mm)} in the "
                f"waste at {self.place(hole.along_mm, hole.across_mm)}."
            )
        for edge in dict.fromkeys(cut.edge for cut in card.cuts if cut.edge in self.left_long):
            yield (
                f"{edge}: cut here {self.length(self.left_long[edge])} too long; it is trimmed to "
                "its line once the boards are laid."
            )
        edges = dict.fromkeys(
            cut.edge
            for cut in card.cuts
            if cut.edge in self.reach and cut.edge not in self.left_long
        )
        for treatment, allowance in dict.fromkeys(self.reach[edge] for edge in edges):
            names = [edge for edge in edges if self.reach[edge] == (treatment, allowance)]
            if allowance is not None:
                yield f"{', '.join(names)} ({treatment.value}): {self._line(treatment, allowance)}."

    def _line(self, treatment: Treatment, allowance_mm: float) -> str:
        """How a cut's line lies to the measured edge."""
        if not allowance_mm:
            return "the line is the measured edge itself"
        does = "reaches past" if allowance_mm > 0 else "stays back from"
        by = self.length(abs(allowance_mm))
        return f"the line {does} the measured edge by {by} already{_AFTERWARDS.get(treatment, '')}"


@dataclass(frozen=True)
class WrittenCard:
    """A card with the piece that it shows and its heading.

    Attributes:
        lying: The piece on its board.
        card: Of that piece.
        heading: Where it is cut from, and what follows.
    """

    lying: OnBoard
    card: CutCard
    heading: tuple[str, ...]

    @property
    def piece(self) -> Piece:
        """The piece as it lies on its board."""
        return self.lying.piece


def cards_in_order(layout: Layout, plan: CutPlan, words: CardWords) -> Iterator[WrittenCard]:
    """The cards of all pieces, in the order in which the boards are sawn."""
    lying = {one.piece.label: one for one in on_their_boards(layout, plan)}
    width_mm, step_mm = layout.board.width_mm, rounding_step(words.units, words.denominator)
    for board in plan.boards:
        for place, cut in enumerate(board.cuts):
            one = lying[cut.label]
            card = cut_card(one.piece, width_mm, step_mm=step_mm, beside=one.beside)
            yield WrittenCard(one, card, words.heading(card, board, place))


def _face(cut: Cut) -> str:
    return "its other face up" if cut.turn.face_down else "face up"


def _turned(cut: Cut) -> str:
    """How the card shows the piece, when not as it is laid."""
    return "" if cut.turn is Turn.AS_LAID else f", shown as it lies there, {cut.turn}"
