"""The step of the outline: found in the photographs, looked at over them, and corrected."""

from collections.abc import Mapping, Sequence
from typing import Any

from shapecut.bench.changes import is_value
from shapecut.bench.corrections import (
    HINTS,
    with_correction,
    with_hint,
    without_correction,
    without_edges,
)
from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.job_store import Edit, edited
from shapecut.bench.long_step import LongStep
from shapecut.bench.pictures import Picture
from shapecut.bench.scene import finding_values, lengths_of, outline_scene
from shapecut.bench.tracing import NotTracedError, Seen
from shapecut.bench.views import (
    corner_values,
    drawn_over,
    flat_points,
    named_edges,
    photo_points,
)
from shapecut.errors import ShapecutError, UsageError
from shapecut.findings import Finding, Level
from shapecut.job.job import OTHERS, Job
from shapecut.job.reading import job_from_text
from shapecut.papers.edge_bands import band_enlargement
from shapecut.shape.naming import whole_name
from shapecut.shape.outline import Outline
from shapecut.stages.measuring import Measured
from shapecut.stages.planning import treated
from shapecut.trace.correction import APPLIED, Correction

__all__ = ["OutlineStep"]

MOST_WORDS = 40
"""Texts of one correction."""

FARTHEST_PX = 1e6
"""No picture has pixels beyond."""


class OutlineStep:
    """The outline, with what its edges meet."""

    name = "outline"

    def __init__(self, desk: Desk) -> None:
        """Show the outline of the job on a desk."""
        self._desk = desk
        self.calls: Mapping[str, Call] = {
            "correct": self._correct,
            "uncorrect": self._uncorrect,
            "hint": self._hint,
            "mean": self._mean,
        }
        self.long_steps: Mapping[str, LongStep] = {"trace": desk.tracing.step}

    def shown(self, job: Job) -> Values:
        """The edges, the views of them, what to look at, and what the person decided."""
        if job.template.is_outline:
            return {"given": job.template.outline or "the taped distances"} | self._given(job)
        photos = self._desk.pictures.listed(job.template.pictures)
        values: Values = {
            "photos": [_photo_values(n, photo) for n, photo in enumerate(photos)],
            "hints": _hint_values(job),
            "corrections": [{"words": str(one.correction)} for one in job.corrections],
            "regular": [{"words": str(one)} for one in job.template.regular],
        }
        try:
            seen, measured = self._desk.tracing.seen(job), self._desk.tracing.measured(job)
            return values | _traced_values(job, seen, measured)
        except NotTracedError:
            return values | {"untraced": True}
        except ShapecutError as error:
            return values | {"wrong": self._desk.plainly(error)}

    def picture(self, name: str) -> bytes | None:
        """A picture that `shown` names: a reduced photograph, or one turned flat."""
        job = self._desk.store.job
        photos = self._desk.pictures.listed(job.template.pictures)
        for number, photo in enumerate(photos):
            if name == _photo_name(number, photo):
                return self._desk.pictures.reduced(photo)
        try:
            seen = self._desk.tracing.seen(job)
        except NotTracedError:
            return None
        named = {_flat_name(number, seen): flat for number, flat in enumerate(seen.flats)}
        return named[name].jpeg if name in named else None

    def _given(self, job: Job) -> Values:
        given = self._desk.tracing.outline(job)
        outline = treated(given.outline, job.edges)
        flat = drawn_over(outline, given.findings, flat_points)
        return outline_scene(outline, lengths_of(job)) | {
            "findings": finding_values(given.findings),
            "flats": [flat | {"picture": None, "name": ""}],
            "enlarged": band_enlargement(outline),
        }

    def _correct(self, values: Values) -> None:
        """Write a correction down, if the outline can be had with it."""
        correction = _correction(values.get("correction"))
        self._desk.store.rewrite(lambda text: self._checked(with_correction(text, correction)))

    def _uncorrect(self, values: Values) -> None:
        number = values.get("number")
        if not isinstance(number, int):
            raise UsageError("A correction has a number.")
        self._desk.store.rewrite(lambda text: without_correction(text, number))

    def _mean(self, values: Values) -> None:
        """Write down what was meant regular, if the outline can be had so."""
        regular = values.get("regular")
        if not is_value(regular) or not isinstance(regular, list):
            raise UsageError("What is regular is a list of texts.")
        edit = Edit("template", "regular", regular or None)
        self._desk.store.rewrite(lambda text: self._checked(edited(text, [edit])))

    def _hint(self, values: Values) -> None:
        kind, photo, places = (values.get(key) for key in ("kind", "photo", "places"))
        if kind not in HINTS or not isinstance(photo, str) or len(photo) > 255:
            raise UsageError("A hint is about a picture.")
        if places is not None and not _are_places(places):
            raise UsageError("A hint is a place [x, y] in a picture, or two.")
        self._desk.store.rewrite(lambda text: with_hint(text, str(kind), photo, places))

    def _checked(self, text: str) -> str:
        """A job file with a new correction; edges that are no more by it meet nothing.

        Raises:
            ShapecutError: If there is no such outline.
        """
        job = job_from_text(text)
        outline = self._desk.tracing.measured(job).outline
        there = {name for edge in outline.edges for name in (edge.name, whole_name(edge.name))}
        gone = set(job.edges) - there - {OTHERS}
        return without_edges(text, gone) if gone else text


def _traced_values(job: Job, seen: Seen, measured: Measured) -> Values:
    outline, findings = treated(measured.outline, job.edges), measured.findings
    height = measured.survey.height_mm
    by_hand = measured.traced.by_hand
    views = measured.survey.views
    return outline_scene(outline, lengths_of(job)) | {
        "findings": finding_values(findings),
        "by_hand": sorted({name for one in by_hand for name in one.edges}),
        "doubtful": _doubtful(outline, findings),
        "corrections": _correction_values(job, [one.what for one in by_hand]),
        "corners": corner_values(outline),
        "enlarged": band_enlargement(outline),
        "flats": [
            drawn_over(outline, findings, flat_points)
            | {
                "picture": f"/picture/{_flat_name(number, seen)}",
                "name": seen.names[view.photo],
                "frame": [flat.box[0], -flat.box[3], *flat.sides],
            }
            for number, (view, flat) in enumerate(zip(views, seen.flats, strict=True))
        ],
        "views": [
            drawn_over(outline, findings, photo_points(view, height)) | {"photo": view.photo}
            for view in views
        ],
    }


def _doubtful(outline: Outline, findings: Sequence[Finding]) -> list[str]:
    """Edges that a finding asks to look at."""
    asked = [finding for finding in findings if finding.level is not Level.NOTE]
    return sorted({edge.name for finding in asked for edge in named_edges(finding, outline)})


def _correction_values(job: Job, said: Sequence[str]) -> list[Values]:
    """The corrections in the job file's order, each with what it changed."""
    corrections = [table.correction for table in job.corrections]
    order = sorted(range(len(corrections)), key=lambda number: _turn(corrections[number]))
    words = {number: said[place] for place, number in enumerate(order)}
    return [{"words": words[number]} for number in range(len(corrections))]


def _turn(correction: Correction) -> int:
    return APPLIED.index(type(correction))


def _hint_values(job: Job) -> list[Values]:
    hints = job.template.hints
    return [
        {"kind": kind, "photo": photo, "places": places if kind == "box" else [places]}
        for kind in HINTS
        for photo, places in getattr(hints, kind).items()
    ]


def _photo_values(number: int, photo: Picture) -> Values:
    width, height = photo.size
    # The centre of a picture's first pixel is its origin.
    return {
        "name": photo.name,
        "picture": f"/picture/{_photo_name(number, photo)}",
        "frame": [-0.5, -0.5, width, height],
    }


def _photo_name(number: int, photo: Picture) -> str:
    """A name that changes with the file, so that no browser shows a former one."""
    _, size, changed, inode = photo.state
    return f"{number}-{size:x}-{changed:x}-{inode:x}"


def _flat_name(number: int, seen: Seen) -> str:
    return f"flat-{number}-{seen.source[:16]}"


def _correction(given: Any) -> dict[str, str | list[str]]:
    """A correction of a call, as far as its kind of values; the job file's checks are to come.

    Raises:
        UsageError: If it is none.
    """
    if not isinstance(given, dict) or not given:
        raise UsageError("A correction is a table of texts.")
    words = [one for value in given.values() for one in _texts(value)]
    if len(words) > MOST_WORDS or not all(isinstance(one, str) for one in words):
        raise UsageError("A correction's values are texts, or lists of them.")
    return given


def _texts(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


def _are_places(places: Any) -> bool:
    """Whether they are one place in a picture, or two."""
    if not isinstance(places, list) or len(places) != 2:
        return False
    return _is_place(places) or all(map(_is_place, places))


def _is_place(place: Any) -> bool:
    """Whether something is [x, y] in pixels."""
    if not isinstance(place, list) or len(place) != 2:
        return False
    return all(isinstance(one, int | float) and abs(one) < FARTHEST_PX for one in place)
