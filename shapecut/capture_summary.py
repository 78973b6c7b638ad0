"""What `camera` and `check` say: lines for whoever stands beside the sheet or the cards."""

import math
from collections.abc import Iterator

import numpy as np

from shapecut.capture.mark_looks import typical_blur_px
from shapecut.findings import finding_lines
from shapecut.papers.length_uncertainty import COVERAGE
from shapecut.stages.calibrating import CameraCalibrated
from shapecut.stages.checking import Checked
from shapecut.stages.surveying import Seen
from shapecut.survey.next_shot import NextShot
from shapecut.survey.survey import PlacedCard, Survey
from shapecut.survey.view import PhotoView, View
from shapecut.units import MILLIMETRES, MM_PER_INCH, LengthStyle

__all__ = ["camera_lines", "check_lines", "outlook_lines", "seen_lines", "seen_words"]

WORTHWHILE = 0.9
"""A further measurement is proposed when it leaves less than this fraction of the uncertainty."""


def camera_lines(made: CameraCalibrated) -> Iterator[str]:
    """Say what a calibration found and how sure."""
    camera, u = made.camera.camera, np.sqrt(np.diag(made.camera.covariance))
    yield f"photos   {len(made.basis.photos)} used, corners within {made.basis.residual_px:.2f} px"
    yield f"focal    {camera.focal_px:.1f} ± {COVERAGE * camera.focal_px * u[0]:.1f} px"
    (x, y), (_, x_u, y_u, *_) = camera.centre_px, COVERAGE * u
    yield f"centre   {x:.1f} ± {x_u:.1f}, {y:.1f} ± {y_u:.1f} px"
    k1, k2, _, _, k3 = camera.distortion
    radial = zip(("k1", "k2", "k3"), (k1, k2, k3), COVERAGE * u[[3, 4, 7]], strict=True)
    yield f"lens     {', '.join(f'{name} {k:.4f} ± {k_u:.4f}' for name, k, k_u in radial)}"
    yield from finding_lines(made.findings)


def seen_lines(seen: Seen) -> Iterator[str]:
    """Say which cards each photograph shows, and how."""
    for index, photo in enumerate(seen.photos):
        yield f"{photo.name}: {seen_words(seen, index)}"
    yield from finding_lines(seen.findings)


def seen_words(seen: Seen, photo: int) -> str:
    """Which cards one photograph shows, and how."""
    looks = seen.looks[photo]
    cards = list(dict.fromkeys(mark.card for mark in seen.marks if mark.photo == photo))
    parts = [f"{len(cards)} cards seen ({', '.join(cards)})"]
    if looks:
        sides = [look.side_px for look in looks]
        parts.append(f"marks {min(sides):.0f} to {max(sides):.0f} px wide")
        parts.append(f"blur {typical_blur_px(looks):.1f} px")
    return ", ".join(parts)


def check_lines(checked: Checked, lengths: LengthStyle = MILLIMETRES) -> Iterator[str]:
    """Say what was used, how well all fits, what would help most, and what is wrong with it.

    What the pictures themselves say, `seen_lines` has said.
    """
    seen, survey = checked.surveyed.seen, checked.surveyed.survey
    for view, photo in zip(survey.views, seen.photos, strict=True):
        count = sum(view.photo in card.photos for card in survey.cards)
        yield f"{photo.name}: {count} cards used{_stand(view, lengths)}"
    for card in survey.cards:
        yield f"{card.name}: {_fit(survey, card, lengths)}"
    yield from outlook_lines(checked.shot, lengths)
    yield from finding_lines(survey.findings[len(seen.findings) :])
    yield "fit to measure by" if checked.measurable else "not fit to measure by"


def _stand(view: View, lengths: LengthStyle) -> str:
    """From where a photograph was taken."""
    if not isinstance(view, PhotoView):
        return ""
    tilt = math.degrees(math.acos(min(1.0, abs(float(view.rotation[2, 2])))))
    return f", tilted {tilt:.0f}°, from {_far(view.position[2], lengths)} above"


def _fit(survey: Survey, card: PlacedCard, lengths: LengthStyle) -> str:
    """How well one card fits, in pixels and on the floor."""
    scales = []
    for photo in card.photos:
        view = survey.views[photo]
        middle = view.px_from_mm(np.array([card.placement.origin]))
        ends = view.mm_from_px(middle + np.array([(0, 0), (1, 0), (0, 1)]))
        scales.append(float(np.linalg.norm(ends[1:] - ends[0], axis=1).mean()))
    off_mm = card.residual_px * float(np.mean(scales))
    count = "1 photograph" if len(card.photos) == 1 else f"{len(card.photos)} photographs"
    return f"in {count}, marks fit within {card.residual_px:.2f} px = {_close(off_mm, lengths)}"


def outlook_lines(shot: NextShot, lengths: LengthStyle = MILLIMETRES) -> Iterator[str]:
    """How sure points are, and what would make their shape and their scale surer."""

    def within(u_mm: float) -> str:
        return f"±{_close(COVERAGE * u_mm, lengths)}"

    yield (
        f"points among the cards: within {within(shot.shape_u_mm)}, with the scale "
        f"{within(shot.u_mm)} (95 %)"
    )
    photo, tape = shot.photo, shot.tape
    if tape and tape.u_mm < WORTHWHILE * shot.u_mm:
        yield (
            f"better with a tape from the middle of {tape.start} to that of {tape.end} (about "
            f"{lengths(tape.length_mm)}): {within(tape.u_mm)} with the scale"
        )
    if photo and photo.u_mm < WORTHWHILE * shot.shape_u_mm:
        yield (
            f"better with a photograph {photo.side}, tilted {photo.tilt_deg:.0f}°, from about "
            f"{_far(photo.distance_mm, lengths)}: {within(photo.u_mm)} before the scale"
        )


def _close(length_mm: float, lengths: LengthStyle) -> str:
    """What is smaller than any rule shows."""
    if lengths.units == "in":
        return f"{length_mm / MM_PER_INCH:.3f} in"
    return f"{length_mm:.2f} mm"


def _far(length_mm: float, lengths: LengthStyle) -> str:
    """From where a photograph is taken."""
    if lengths.units == "in":
        return f"{length_mm / (12 * MM_PER_INCH):.1f} ft"
    return f"{length_mm / 1000:.1f} m"
