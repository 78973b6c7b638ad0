"""From distances taped on the spot to an outline, each edge with its uncertainty.

Offsets place a point each, unchecked.  Distances are adjusted by least squares together
(`survey/taped_points.py`), and one that contradicts the others is left out by name.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from shapecut.drawings.drawn_outline import GivenOutline
from shapecut.errors import JobFileError, ShapeError, SurveyError
from shapecut.findings import Finding, Level
from shapecut.job.taped import Taped
from shapecut.shape.bulge import arc_through
from shapecut.shape.curves import Curve, Line
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Placement, Point
from shapecut.shape.validity import check_outline, oriented
from shapecut.stages.taped_places import rough_places
from shapecut.survey.misread_tape import COVERAGE, AgreedPoints, agreed_points, between, misses
from shapecut.survey.taped_points import TapedPoints
from shapecut.survey.tapes import Tape
from shapecut.units import MILLIMETRES, LengthStyle, format_within

__all__ = ["taped_outline"]

Array = NDArray[np.float64]

TAPES = "taped outline"
"""What findings say they are about."""

GROSS = 20.0
"""A tape this many of its standard uncertainties off a rough drawing is named when nothing fits."""

LEAST_CONTROL = 0.05
"""A tape of whose error less than this share shows in its own residual is hardly checked."""

_PLACES = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Where along an edge its uncertainty is worked out, as fractions of its length."""


def taped_outline(taped: Taped, lengths: LengthStyle = MILLIMETRES) -> GivenOutline:
    """Make the outline of a job's taped distances.

    Args:
        taped: As the job states them.
        lengths: How findings and refusals write lengths.

    Returns:
        The outline, base line along x, its edges named after their corners (`A-B`), each with its
        standard uncertainty across itself; and how well the tapes agree.

    Raises:
        JobFileError: Distances that do not hold the points, or corners that are no outline.
    """
    if taped.offsets:
        places, covariance = _by_offsets(taped)
        findings: tuple[Finding, ...] = (_unchecked(),)
    else:
        places, covariance, findings = _by_distances(taped, lengths)
    outline = oriented(Outline(Ring(_edges(taped, places, covariance))))
    try:
        check_outline(outline)
    except ShapeError as error:
        raise JobFileError(
            f"template.taped: {error} Check the order of the corners and the sides they lie on."
        ) from None
    return GivenOutline(outline, findings)


def _unchecked() -> Finding:
    return Finding(
        Level.CHECK,
        TAPES,
        "Nothing checks the offsets: one that was misread does not show.",
        "Tape both longest diagonals on the spot and compare them with the plan.",
    )


def _by_offsets(taped: Taped) -> tuple[dict[str, Point], Array]:
    """Places from offsets, and their (2 N, 2 N) covariance.

    An offset that is not square to the base line by an angle lands that much of itself along it.
    """
    places = {offset.name: (offset.along, offset.offset_mm) for offset in taped.offsets}
    square_u = math.radians(taped.square_u_deg)
    variances = [
        variance
        for offset in taped.offsets
        for variance in (offset.u**2 + (square_u * offset.offset_mm) ** 2, offset.u**2)
    ]
    return places, np.diag(variances)


def _by_distances(
    taped: Taped, lengths: LengthStyle
) -> tuple[dict[str, Point], Array, tuple[Finding, ...]]:
    """Places by all distances, base line along x, their covariance, and how well they agree."""
    tapes = [Tape(*tape.between, tape.length, tape.u) for tape in taped.distances]
    base = taped.base or ("", "")
    rough = rough_places(tapes, base, taped.right, lengths)
    picture = {name: (x, -y) for name, (x, y) in rough.items()}
    try:
        agreed = agreed_points(tapes, picture)
    except SurveyError as error:
        raise JobFileError(f"template.taped: {error}{_oddest(tapes, rough, lengths)}") from None
    points = agreed.points
    start, end = (points.places[points.names.index(name)] for name in base)
    turn = math.atan2(end[1] - start[1], end[0] - start[0])
    on_base = Placement((float(start[0]), float(start[1])), turn).inverse()
    places = {
        name: on_base.to_plane((float(x), float(y)))
        for name, (x, y) in zip(points.names, points.places, strict=True)
    }
    c, s = math.cos(turn), math.sin(turn)
    turned = np.kron(np.eye(len(points.names)), np.array([[c, s], [-s, c]]))
    widened = max(points.chi2 / points.freedom, 1.0) if agreed.contradict else 1.0
    covariance = widened * turned @ points.covariance @ turned.T
    order = _order(points.names, list(places))
    return places, covariance[np.ix_(order, order)], tuple(_findings(agreed, lengths))


def _oddest(tapes: Sequence[Tape], rough: Mapping[str, Point], lengths: LengthStyle) -> str:
    """The sentence on the tape that a rough drawing contradicts most, if it does grossly."""

    def drawn(tape: Tape) -> float:
        return math.dist(rough[tape.start], rough[tape.end])

    odd = max(tapes, key=lambda tape: abs(tape.length_mm - drawn(tape)))
    if abs(odd.length_mm - drawn(odd)) <= GROSS * odd.u_mm:
        return ""
    return (
        f" By a rough drawing {between(odd)} is about {lengths(drawn(odd))}, not "
        f"{lengths(odd.length_mm)}: tape it again."
    )


def _order(names: Sequence[str], wanted: Sequence[str]) -> list[int]:
    """Rows of the coordinates of some points."""
    return [2 * names.index(name) + axis for name in wanted for axis in (0, 1)]


def _findings(agreed: AgreedPoints, lengths: LengthStyle) -> list[Finding]:
    found = []
    if agreed.misread:
        found.append(_misread(agreed.misread, agreed.points, lengths))
    if agreed.contradict:
        found.append(_contradiction(agreed, lengths))
    if agreed.points.freedom == 0:
        found.append(
            Finding(
                Level.CHECK,
                TAPES,
                "There are only as many distances as the points need: one that was misread does "
                "not show.",
                "Tape a diagonal or two more.",
            )
        )
    else:
        found += _hardly_checked(agreed.points)
        found.append(misses(agreed.points, TAPES, lengths))
    return found


def _hardly_checked(points: TapedPoints) -> list[Finding]:
    """What tapes the others do not check."""
    loose = [
        between(tape)
        for tape, control in zip(points.tapes, points.control, strict=True)
        if control < LEAST_CONTROL
    ]
    if not loose:
        return []
    return [
        Finding(
            Level.CHECK,
            TAPES,
            f"The other distances hardly check {', '.join(loose)}: a misreading there would not "
            "show.",
            "Tape those again, or another distance from each of their points.",
        )
    ]


def _misread(tape: Tape, points: TapedPoints, lengths: LengthStyle) -> Finding:
    expected, u_mm = points.distance_mm(tape.start, tape.end)
    return Finding(
        Level.SERIOUS,
        str(tape),
        f"It reads {lengths(tape.length_mm)} where all others expect {lengths(expected)}, "
        f"{format_within(COVERAGE * u_mm, lengths.units)}; it was not used.",
        "Tape it again and correct the job file.",
    )


def _contradiction(agreed: AgreedPoints, lengths: LengthStyle) -> Finding:
    worst = float(np.abs(agreed.points.residuals_mm).max())
    likeliest = " or ".join(map(between, agreed.suspects))
    named = f" ({likeliest} the likeliest)" if likeliest else ""
    return Finding(
        Level.SERIOUS,
        TAPES,
        f"The tapes contradict each other by up to {lengths.fine(worst)} after adjustment, more "
        f"than they are uncertain by; one may be misread{named}.",
        "Tape them again, or one more diagonal, and correct the job file.",
    )


def _edges(taped: Taped, places: dict[str, Point], covariance: Array) -> tuple[Edge, ...]:
    """The edges from corner to corner, through the points on arcs between them."""
    names, ring = list(places), taped.ring
    corners = [k for k, name in enumerate(ring) if name not in taped.arcs]
    edges = []
    for k, after in zip(corners, [*corners[1:], corners[0] + len(ring)], strict=True):
        passed = [ring[j % len(ring)] for j in range(k, after + 1)]
        points = [places[name] for name in passed]
        if points[0] == points[-1]:
            raise JobFileError(f"template.taped: {passed[0]} and {passed[-1]} are in one place.")
        curve = Line(*points) if len(points) == 2 else arc_through(*points)
        u_mm = _across(curve, covariance, _order(names, passed))
        edges.append(Edge(f"{passed[0]}-{passed[-1]}", curve, u_mm))
    return tuple(edges)


def _across(curve: Curve, covariance: Array, rows: Sequence[int]) -> float:
    """Standard uncertainty of an edge's place across itself, typical along it.

    Between the taped points the edge moves as the parabola (for a line: the straight line) through
    what they are off does.
    """
    count = len(rows) // 2
    own = covariance[np.ix_(rows, rows)]
    knots = np.linspace(0.0, 1.0, count)
    variances = []
    for fraction in _PLACES:
        shares = [
            math.prod((fraction - other) / (knot - other) for other in knots if other != knot)
            for knot in knots
        ]
        u, v = curve.direction(fraction)
        moved = np.outer(shares, (v, -u)).ravel()
        variances.append(float(moved @ own @ moved))
    return math.sqrt(max(sum(variances) / len(variances), 0.0))
