"""Sightings of cards computed through exact cameras, with noise: surveys without pictures."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.cards import Card, our_cards, single_mark_cards
from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.shape.placement import Placement
from shapecut.survey.view import Camera, PhotoView
from tests.scenes import look_at

__all__ = ["SINGLE", "Sighted", "four_mark_cards", "sighted"]

SIZE = (4000, 3000)
SINGLE = single_mark_cards("AprilTag 36h11", 100.0).cards


def four_mark_cards() -> tuple[Card, ...]:
    """Our own half-sheet cards."""
    return tuple(card for card in our_cards().cards if int(card.name.split()[1]) <= 50)


@dataclass(frozen=True)
class Sighted:
    """A scene of cards as photographs show it, and the truth.

    Attributes:
        photos: Without content; only their size and EXIF facts count.
        sightings: With noise.
        views: The true views.
        placements: The true placement of each card by name.
    """

    photos: tuple[Photo, ...]
    sightings: tuple[Sighting, ...]
    views: tuple[PhotoView, ...]
    placements: dict[str, Placement]

    def projected(self, seen: Sighting, placement: Placement) -> NDArray[np.float64]:
        """Where a sighting's corners would be if its card lay elsewhere, (4, 2) pixels."""
        return self.views[seen.photo].px_from_mm(placement.points_to_plane(seen.corners_mm))


def sighted(
    seed: int,
    *,
    cards: tuple[Card, ...] = SINGLE[:6],
    photos: int = 1,
    noise_px: float = 0.05,
    k1: float = -0.06,
    corrected: bool = False,
    tells_focal: bool = True,
    largest_tilt_deg: float = 40.0,
    uneven_mm: float = 0.0,
    print_scale: float | tuple[float, float] = 1.0,
) -> Sighted:
    """Cards in a ring about 1.2 m long, photographed from all sides with one camera.

    Args:
        seed: Of places, poses, camera and noise.
        cards: What lies there.
        photos: How many photographs.
        noise_px: Standard deviation of each corner per axis.
        k1: Radial distortion of the lens.
        corrected: Whether the pictures were freed of all distortion before.
        tells_focal: Whether the photographs state their focal length.
        largest_tilt_deg: Of any photograph from straight above.
        uneven_mm: Standard deviation of each card's height about the plane.
        print_scale: True over stated size of what is printed, or the same across and along.
    """
    rng = np.random.default_rng(seed)
    angles = np.arange(len(cards)) * math.tau / len(cards) + rng.uniform(0, math.tau)
    placements = {
        card.name: Placement(
            (620 * math.cos(a) * rng.uniform(0.9, 1.05), 480 * math.sin(a)),
            float(rng.uniform(-math.pi, math.pi)),
        )
        for card, a in zip(cards, angles, strict=True)
    }
    focal = rng.uniform(0.7, 0.8) * SIZE[0]
    off = rng.normal(0, 12, 2)
    tangential = rng.normal(0, 2e-4, 2)
    lens = (0.0,) * 5 if corrected else (k1, rng.normal(0, 0.02), *tangential, 0.0)
    camera = Camera(
        SIZE,
        focal,
        ((SIZE[0] - 1) / 2 + off[0], (SIZE[1] - 1) / 2 + off[1]),
        lens,
    )
    heights = dict(zip(placements, rng.normal(0, uneven_mm, len(cards)), strict=True))
    views = tuple(_view(rng, camera, k, photos, largest_tilt_deg) for k in range(photos))
    sightings = []
    for index, view in enumerate(views):
        for card in cards:
            for mark in card.marks:
                mm = np.array(mark.corners_mm)
                flat = placements[card.name].points_to_plane(mm * print_scale)
                px = view.px_from_mm(np.column_stack([flat, np.full(4, heights[card.name])]))
                noisy = px + rng.normal(0, noise_px, (4, 2))
                sightings.append(Sighting(index, card.name, mark.number, noisy, mm, noise_px))
    focal_35mm = round(focal / math.hypot(*SIZE) * math.hypot(36, 24))
    blank = np.broadcast_to(np.uint8(0), (SIZE[1], SIZE[0], 3))
    shown = tuple(
        Photo(f"photo_{k + 1}.jpg", blank, "one camera", float(focal_35mm) if tells_focal else None)
        for k in range(photos)
    )
    return Sighted(shown, tuple(sightings), views, placements)


def _view(
    rng: np.random.Generator, camera: Camera, index: int, photos: int, largest_tilt_deg: float
) -> PhotoView:
    tilt = math.radians(rng.uniform(0, largest_tilt_deg))
    side = rng.uniform(-0.5, 0.5) + math.tau * index / photos
    far = rng.uniform(1700, 2100)
    place = (
        far * math.sin(tilt) * math.cos(side),
        far * math.sin(tilt) * math.sin(side),
        far * math.cos(tilt),
    )
    return look_at(camera, place, photo=index, roll_rad=float(rng.uniform(-math.pi, math.pi)))
