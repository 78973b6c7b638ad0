"""Marks and cards that contradict the rest, found one after another and left out by name.

A group of sightings (one mark, one card in one photograph, one card altogether) is tested by how
much the chi-square falls without it, in units of what is left: W. Baarda's data snooping ("A
testing procedure for use in geodetic networks", 1968) for blocks of observations.  The fall is
first estimated from the residuals' covariance; the groups that stand out are then really left out.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import SurveyError
from shapecut.survey.chance import chi2_by_chance
from shapecut.survey.join import LEAST_SHARED
from shapecut.survey.joint import Joint, card_names, readjusted
from shapecut.survey.start import LEAST_CORNERS, rigid_fit

__all__ = [
    "LEAST_CARDS",
    "Cleared",
    "Contradiction",
    "Group",
    "cleared",
    "enough_cards",
    "pointed_at",
]

Indices = NDArray[np.intp]

LEAST_CARDS = 3
"""Fewer cards lie on one line, and across that line nothing holds the plane (two cards: errors of
1 mm and more that no residual shows)."""

MARGIN = 3.0
"""A group is left out when the chi-square falls by this many times what chance allows, in units of
the variance factor that is left: paper and lenses are never quite as modelled."""

LEAST_PLACE_MM = 1.0
"""A card that one photograph shows less than this off its place is kept: an uneven floor or a card
that does not lie quite flat does as much."""

LEAST_SHAPE_MM = 0.3
"""A card or mark less than this off its shape is kept: paper stretches and curls as much."""

UNSETTLED = 4.0
"""With a variance factor above this the estimated falls are not trusted to find nothing."""

MOST_TRIALS = 12
"""Groups that are really left out in one round, those of the greatest estimated fall."""

MOST_LEFT_OUT = 0.25
"""Greatest fraction of the sightings that may be left out before the cards are refused."""

CONTROLLED = 0.02
"""Directions in which the rest controls less than this fraction of a group's variance are left out
of its estimate: there it would agree with anything."""


@dataclass(frozen=True)
class Group:
    """Sightings that stand or fall together.

    Attributes:
        card: Name of the card they are of.
        photo: Index of the photograph, or None for all of them.
        mark: Number or name of the mark, or None for all of the card's.
    """

    card: str
    photo: int | None
    mark: int | str | None

    def holds(self, seen: Sighting) -> bool:
        """Whether a sighting belongs to the group."""
        return (
            seen.card == self.card
            and self.photo in (None, seen.photo)
            and self.mark in (None, seen.mark)
        )


@dataclass(frozen=True)
class Contradiction:
    """A group that does not lie as the rest has it.

    Attributes:
        group: The sightings in question.
        off_mm: Greatest distance of their corners on the plane from where the card, as the other
            sightings place it, has them; if there are no others, from the card's own shape.
    """

    group: Group
    off_mm: float


@dataclass(frozen=True)
class Cleared:
    """An adjustment that nothing contradicts any more.

    Attributes:
        joint: The adjustment of what is left.
        left_out: What was left out, in the order of finding.
    """

    joint: Joint
    left_out: tuple[Contradiction, ...]


@dataclass(frozen=True)
class _Trial:
    """An adjustment without one group, and how much better the rest fits then (see `_excess`)."""

    contradiction: Contradiction
    joint: Joint
    excess: float


def cleared(photos: Sequence[Photo], joint: Joint) -> Cleared:
    """Leave out the worst group and adjust, again and again until none contradicts the rest.

    Args:
        photos: The photographs.
        joint: The adjustment of all sightings, of enough cards (see `enough_cards`).

    Raises:
        SurveyError: If more contradicts than may be left out.
    """
    count = len(joint.sightings)
    left_out: tuple[Contradiction, ...] = ()
    while suspects := _suspects(joint):
        trials = [trial for group in suspects if (trial := _trial(photos, joint, group))]
        worst = max(trials, key=lambda trial: trial.excess, default=None)
        if worst is None or worst.excess < 1:
            break
        left_out = (*left_out, worst.contradiction)
        joint = worst.joint
        if count - len(joint.sightings) > max(1.0, MOST_LEFT_OUT * count):
            raise SurveyError(_contradicting(left_out[0], photos))
    return Cleared(joint, left_out)


def enough_cards(sightings: Sequence[Sighting]) -> bool:
    """Whether the cards sighted are enough to measure by: several, or one that stands alone."""
    return len(card_names(sightings)) >= LEAST_CARDS or any(seen.stands_alone for seen in sightings)


def _posed(sightings: Sequence[Sighting], photo: int) -> bool:
    """Whether a card in a photograph has the corners that a pose takes."""
    counts: Counter[str] = Counter()
    for seen in sightings:
        if seen.photo == photo:
            counts[seen.card] += len(seen.corners_px)
    return max(counts.values(), default=0) >= LEAST_CORNERS


def _hang_together(sightings: Sequence[Sighting]) -> bool:
    """Whether shared cards tie all photographs to each other (see `join`)."""
    cards: defaultdict[int, set[str]] = defaultdict(set)
    alone = {seen.card for seen in sightings if seen.stands_alone}
    for seen in sightings:
        cards[seen.photo].add(seen.card)
    waiting = sorted(cards.values(), key=len)
    reached = waiting.pop()
    while tied := [
        own for own in waiting if len(own & reached) >= LEAST_SHARED or own & reached & alone
    ]:
        reached = reached.union(*tied)
        waiting = [own for own in waiting if own not in tied]
    return not waiting


def pointed_at(group: Group, photos: Sequence[Photo]) -> str:
    """A group as a person would point at it."""
    named = f"mark {group.mark}" if isinstance(group.mark, int) else group.mark
    mark = "" if group.mark is None else f", {named}"
    return group.card + mark + ("" if group.photo is None else f" in {photos[group.photo].name}")


def _contradicting(worst: Contradiction, photos: Sequence[Photo]) -> str:
    """The sentence for cards that cannot be reconciled."""
    return (
        f"The cards contradict each other, {pointed_at(worst.group, photos)} the most (by "
        f"{worst.off_mm:.1f} mm): see that none was moved between the photographs, that all lie "
        "flat on one floor and are of the stated size, then photograph again."
    )


def _suspects(joint: Joint) -> list[Group]:
    """Groups worth a trial, the most suspicious first; none if all is well."""
    groups = list(_groups(joint.sightings))
    excesses = _estimated_excesses([members for _, members in groups], joint)
    rated = [(excess, group) for excess, (group, _) in zip(excesses, groups, strict=True)]
    rated.sort(key=lambda pair: -pair[0])
    if rated[0][0] < 1 and joint.solution.variance_factor < UNSETTLED:
        return []
    return [group for _, group in rated[:MOST_TRIALS]]


def _groups(sightings: Sequence[Sighting]) -> Iterator[tuple[Group, list[int]]]:
    """All groups and their sightings; each set of sightings once, named by the widest kind."""
    members: defaultdict[Group, list[int]] = defaultdict(list)
    for by_photo, by_mark in ((False, False), (True, False), (True, True)):
        for k, seen in enumerate(sightings):
            photo, mark = seen.photo if by_photo else None, seen.mark if by_mark else None
            members[Group(seen.card, photo, mark)].append(k)
    known = set()
    for group, own in members.items():
        if tuple(own) not in known:
            known.add(tuple(own))
            yield group, own


def _estimated_excesses(groups: Sequence[Sequence[int]], joint: Joint) -> list[float]:
    """For each group of sightings the excess that the residuals' own covariance foretells."""
    corners = joint.corners
    equations = [
        np.flatnonzero(np.repeat(np.isin(corners.sighting, members), 2)) for members in groups
    ]
    excesses = np.zeros(len(groups))
    for size in {len(rows) for rows in equations}:
        alike = [k for k, rows in enumerate(equations) if len(rows) == size]
        excesses[alike] = _excesses_alike(np.array([equations[k] for k in alike]), joint)
    return [float(excess) for excess in excesses]


def _excesses_alike(equations: Indices, joint: Joint) -> list[float]:
    """The same for groups of as many equations each, (groups, equations)."""
    solution = joint.solution
    residuals = (solution.residuals / joint.corners.u_px[:, None]).ravel()[equations]
    jacobian = solution.jacobian[equations]
    explained = jacobian @ solution.covariance @ jacobian.swapaxes(1, 2)
    control, directions = np.linalg.eigh(np.eye(equations.shape[1]) - explained)
    along = np.squeeze(residuals[:, None, :] @ directions, axis=1)
    tested = control > CONTROLLED
    falls = np.sum(np.where(tested, along**2 / np.where(tested, control, 1), 0), axis=1)
    return [
        _excess(fall, count, (solution.chi2 - fall) / max(solution.freedom - count, 1))
        for fall, count in zip(map(float, falls), map(int, tested.sum(axis=1)), strict=True)
    ]


def _excess(fall: float, count: int, variance_factor: float) -> float:
    """A fall of chi-square over the most that is put down to chance.

    Args:
        fall: By how much the sum of squares is less without a group.
        count: Degrees of freedom that the group takes with it.
        variance_factor: Of what is left; not taken below 1.
    """
    if count < 1:
        return 0.0
    return fall / (MARGIN * chi2_by_chance(count) * max(variance_factor, 1.0))


def _trial(photos: Sequence[Photo], joint: Joint, group: Group) -> _Trial | None:
    """Adjust without a group; None if it is hardly off, or too little would be left."""
    rest = tuple(seen for seen in joint.sightings if not group.holds(seen))
    posed = all(_posed(rest, photo) for photo in range(len(photos)))
    if not (posed and enough_cards(rest) and _hang_together(rest)):
        return None
    without = readjusted(joint, rest)
    off_mm = _off_mm(group, joint, without)
    other_place = group.mark is None and group.photo is not None and group.card in without.cards
    if off_mm < (LEAST_PLACE_MM if other_place else LEAST_SHAPE_MM):
        return None
    before, after = joint.solution, without.solution
    excess = _excess(
        before.chi2 - after.chi2, before.freedom - after.freedom, after.variance_factor
    )
    return _Trial(Contradiction(group, off_mm), without, excess)


def _off_mm(group: Group, joint: Joint, without: Joint) -> float:
    """How far a group's corners are from where the rest has them (see `Contradiction`)."""
    network = without.solution.network
    distances = []
    for seen in filter(group.holds, joint.sightings):
        plane = network.view(seen.photo).mm_from_px(seen.corners_px)
        if seen.card in without.cards:
            placement = network.placement(without.cards.index(seen.card))
        else:
            placement, _ = rigid_fit(seen.corners_mm, plane)
        distances.append(np.linalg.norm(plane - placement.points_to_plane(seen.corners_mm), axis=1))
    return float(np.max(distances))
