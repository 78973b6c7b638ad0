"""Random scenes of cards round a template as photographs show them: surveys without pictures."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.cards import Card
from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.shape.placement import Placement
from shapecut.survey.view import Camera, PhotoView
from tests.scenes import look_at

__all__ = ["SIZE", "RandomScene", "random_scene"]

Array = NDArray[np.float64]

SIZE = (4000, 3000)
"""Pixels of every photograph."""

CARD_REACH_MM = 120.0
"""Cards' middles lie this far outside the template's sides."""

FILLED = 0.88
"""Fraction of the picture that the cards span, the lens's bending aside."""

CARD_HALF_MM = 95.0
"""Half the longest side of a card: its curl is greatest there."""

Bump = Callable[[Array], Array]
"""Heights (N,) in mm of (N, 2) points of a card's frame."""


@dataclass(frozen=True)
class RandomScene:
    """A scene, what was seen of it, and the truth.

    Attributes:
        span_mm: Length of the template; its width is three quarters of that.
        thickness_mm: Of the template.
        photos: Without content; only their size and EXIF facts count.
        sightings: With noise.
        views: The true views.
        placements: The true placement of each card by name.
        bumps: The true heights of each card's points by name.
        lens: What the lens does to (N, 2) pixels beyond the camera model.
    """

    span_mm: float
    thickness_mm: float
    photos: tuple[Photo, ...]
    sightings: tuple[Sighting, ...]
    views: tuple[PhotoView, ...]
    placements: dict[str, Placement]
    bumps: dict[str, Bump]
    lens: Callable[[Array], Array]

    def px(self, photo: int, points: Array) -> Array:
        """(N, 2) pixels that show (N, 3) points in a photograph."""
        return self.lens(self.views[photo].px_from_mm(points))

    def card_px(self, photo: int, card: str, mm: Array, placement: Placement) -> Array:
        """(N, 2) pixels of points of a card, wherever it lies."""
        plane = placement.points_to_plane(mm)
        return self.px(photo, np.column_stack([plane, self.bumps[card](mm)]))

    def inside(self) -> Array:
        """(42, 3) points of the template's face."""
        x, y = np.meshgrid(np.linspace(-0.5, 0.5, 7), np.linspace(-0.375, 0.375, 6))
        flat = np.column_stack([x.ravel(), y.ravel()]) * self.span_mm
        return np.column_stack([flat, np.full(len(flat), self.thickness_mm)])


def random_scene(
    seed: int,
    cards: tuple[Card, ...],
    *,
    photos: int,
    largest_tilt_deg: float = 50.0,
    noise_px: float = 0.05,
    uneven_mm: float = 0.0,
    curl_mm: float = 0.0,
    k3: float = 0.0,
    k4: float = 0.0,
    wave_px: float = 0.0,
    print_scale: float = 1.0,
) -> RandomScene:
    """A template of 0.6 to 2.4 m and 0 to 8 mm, with cards round it, photographed from all sides.

    The camera is of a phone, k1 from -0.25 to 0.10; each photograph is tilted by 0 to 50 degrees
    and just holds all cards.

    Args:
        seed: Of everything random.
        cards: What lies there.
        photos: How many photographs, from as many sides.
        largest_tilt_deg: Of any photograph from straight above.
        noise_px: Standard deviation of each corner per axis, as the sightings state.
        uneven_mm: Standard deviation of each card's height about the plane.
        curl_mm: Greatest height of the middle or the ends of a curled card above its lowest line.
        k3: Of the lens.
        k4: Of the lens, which the survey's camera does not have.
        wave_px: Amplitude of a wave over the picture that the survey's camera does not have.
        print_scale: True over stated size of what is printed.
    """
    rng = np.random.default_rng(seed)
    span = float(rng.uniform(600, 2400))
    thickness = float(rng.uniform(0, 8))
    placements = _laid_round(rng, cards, span)
    bumps = {card.name: _bump(rng, uneven_mm, curl_mm) for card in cards}
    camera = _phone(rng)
    reach = np.concatenate(
        [
            placements[card.name].points_to_plane(np.array(mark.corners_mm))
            for card in cards
            for mark in card.marks
        ]
    )
    views = tuple(_look(rng, camera, k, photos, reach, largest_tilt_deg) for k in range(photos))
    scene = RandomScene(
        span, thickness, _photos(camera, photos), (), views, placements, bumps,
        _lens(rng, camera, (k3, k4), wave_px),
    )  # fmt: skip
    sightings = []
    for index in range(photos):
        for card in cards:
            for mark in card.marks:
                mm = np.array(mark.corners_mm)
                seen = scene.card_px(index, card.name, mm * print_scale, placements[card.name])
                noisy = seen + rng.normal(0, noise_px, seen.shape)
                sightings.append(Sighting(index, card.name, mark.number, noisy, mm, noise_px))
    return RandomScene(
        span, thickness, scene.photos, tuple(sightings), views, placements, bumps, scene.lens
    )


def _laid_round(
    rng: np.random.Generator, cards: tuple[Card, ...], span: float
) -> dict[str, Placement]:
    """Cards evenly along a rectangle outside the template, turned every way."""
    width, height = span + 2 * CARD_REACH_MM, 0.75 * span + 2 * CARD_REACH_MM
    places = (np.arange(len(cards)) + rng.uniform(-0.15, 0.15, len(cards))) / len(cards)
    walks = (places + rng.uniform()) % 1.0 * 2 * (width + height)
    return {
        card.name: Placement(_on_rectangle(walk, width, height), float(rng.uniform(-3.14, 3.14)))
        for card, walk in zip(cards, walks, strict=True)
    }


def _on_rectangle(walk: float, width: float, height: float) -> tuple[float, float]:
    """The point after a walk along a rectangle about the origin."""
    for side, (x, y, u, v) in zip(
        (width, height, width, height),
        ((-1, -1, 1, 0), (1, -1, 0, 1), (1, 1, -1, 0), (-1, 1, 0, -1)),
        strict=True,
    ):
        if walk <= side:
            return (float(x * width / 2 + u * walk), float(y * height / 2 + v * walk))
        walk -= side
    return (-width / 2, -height / 2)


def _bump(rng: np.random.Generator, uneven_mm: float, curl_mm: float) -> Bump:
    height = rng.normal(0, uneven_mm)
    turn, up = rng.uniform(0, math.pi), rng.choice([-1, 1])
    across = np.array([math.cos(turn), math.sin(turn)])

    def bump(mm: Array) -> Array:
        bent = (mm @ across / CARD_HALF_MM) ** 2 * curl_mm
        return np.asarray(height + (bent if up > 0 else curl_mm - bent))

    return bump


def _phone(rng: np.random.Generator) -> Camera:
    off, tangential = rng.normal(0, 12, 2), rng.normal(0, 2e-4, 2)
    centre = ((SIZE[0] - 1) / 2 + off[0], (SIZE[1] - 1) / 2 + off[1])
    distortion = (rng.uniform(-0.25, 0.10), rng.normal(0, 0.02), *tangential, 0.0)
    return Camera(SIZE, rng.uniform(0.7, 0.8) * SIZE[0], centre, distortion)


def _photos(camera: Camera, count: int) -> tuple[Photo, ...]:
    blank = np.broadcast_to(np.uint8(0), (SIZE[1], SIZE[0], 3))
    focal_35mm = float(round(camera.focal_px / math.hypot(*SIZE) * math.hypot(36, 24)))
    return tuple(Photo(f"photo_{k + 1}.jpg", blank, "one", focal_35mm) for k in range(count))


def _look(
    rng: np.random.Generator,
    camera: Camera,
    index: int,
    photos: int,
    reach: Array,
    largest_tilt_deg: float,
) -> PhotoView:
    """A view tilted at random that just holds all points, the picture's long side well turned."""
    tilt = math.radians(rng.uniform(0, largest_tilt_deg))
    side = rng.uniform(-0.5, 0.5) + math.tau * index / photos
    slope = np.array(
        [math.sin(tilt) * math.cos(side), math.sin(tilt) * math.sin(side), math.cos(tilt)]
    )

    def held(far: float, roll: float) -> tuple[PhotoView, bool]:
        x, y, z = far * slope
        view = look_at(camera, (x, y, z), photo=index, roll_rad=roll)
        seen = reach @ view.rotation[:, :2].T + view.translation
        rays = np.abs(seen[:, :2] / seen[:, 2:]) * camera.focal_px
        inside = (seen[:, 2] > 0).all() and (rays < FILLED * np.array(SIZE) / 2).all()
        return view, bool(inside)

    best = None
    wobble = rng.normal(0, 0.05)
    for roll in (wobble, math.pi / 2 + wobble):
        near, far = 300.0, 20_000.0
        for _ in range(25):
            middle = (near + far) / 2
            near, far = (near, middle) if held(middle, roll)[1] else (middle, far)
        if best is None or far < best[0]:
            best = (far, held(far, roll)[0])
    assert best is not None
    return best[1]


def _lens(
    rng: np.random.Generator, camera: Camera, radial: tuple[float, float], wave_px: float
) -> Callable[[Array], Array]:
    phases = rng.uniform(0, math.tau, 2)
    lengths = rng.uniform(0.4, 0.8, 2) * SIZE[0]

    def lens(px: Array) -> Array:
        off = px - np.array(camera.centre_px)
        radius2 = np.sum((off / camera.focal_px) ** 2, axis=1)
        bent = radius2**3 * (radial[0] + radius2 * radial[1])
        wave = wave_px * np.sin(off[:, ::-1] / lengths * math.tau + phases)
        return np.asarray(px + off * bent[:, None] + wave)

    return lens
