"""Photographs that were solved alone, brought into one frame by the cards they share."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.errors import SurveyError
from shapecut.shape.placement import Placement
from shapecut.survey.network import Network
from shapecut.survey.start import rigid_fit

__all__ = ["LEAST_SHARED", "Alone", "joined"]

Array = NDArray[np.float64]

LEAST_SHARED = 2
"""Cards that a photograph must share with the others: one alone could lie in any other scene,
unless it was pointed at in both (it stands alone)."""

SAME_ARRANGEMENT = 0.03
"""Shared cards lie alike in two photographs when their places agree to within this fraction of
their greatest distance; photographs solved alone are good to about 1 %."""


@dataclass(frozen=True)
class Alone:
    """A photograph solved by itself.

    Attributes:
        photo: Its index among the job's.
        name: As a person would point at it.
        network: Of this photograph only.
        cards: Names of the network's cards, in its order.
        standing_alone: Those of them that place the photograph by themselves (see `Sighting`).
    """

    photo: int
    name: str
    network: Network
    cards: tuple[str, ...]
    standing_alone: frozenset[str] = frozenset()

    @property
    def places(self) -> dict[str, Placement]:
        """Each card's placement in this photograph's own frame."""
        return {name: self.network.placement(k) for k, name in enumerate(self.cards)}


@dataclass(frozen=True)
class _Fit:
    """How one photograph's frame lies in the common one, by the shared cards that agree."""

    alone: Alone
    shared: int
    agreeing: int
    frame: Placement


def joined(photographs: Sequence[Alone], camera_of: Sequence[int], cards: Sequence[str]) -> Network:
    """Chain photographs through shared cards into one network.

    Args:
        photographs: In the job's order.
        camera_of: For each photograph the index of its camera.
        cards: Names of all cards, in the network's order.

    Raises:
        SurveyError: If a photograph shares too few cards with the others, or shows them in another
            arrangement.
    """
    first = max(photographs, key=lambda alone: len(alone.cards))
    frames = {first.photo: Placement()}
    places = first.places
    reached = [first]
    waiting = [alone for alone in photographs if alone is not first]
    while waiting:
        fit = max(
            (_fitted(alone, places) for alone in waiting),
            key=lambda fit: (fit.agreeing, -fit.shared),
        )
        if fit.shared < LEAST_SHARED:
            raise SurveyError(_too_few_shared(fit.alone, places))
        if fit.agreeing < LEAST_SHARED or 2 * fit.agreeing <= fit.shared:
            raise SurveyError(
                f"The cards in {fit.alone.name} do not lie as they do in {reached[0].name}: it "
                "shows another scene, or cards were moved in between; leave it out, or photograph "
                "everything again with the cards untouched."
            )
        frames[fit.alone.photo] = fit.frame
        for name, place in fit.alone.places.items():
            places.setdefault(name, _chained(fit.frame, place))
        reached.append(fit.alone)
        waiting.remove(fit.alone)
    return _network(photographs, frames, camera_of, [places[name] for name in cards])


def _fitted(alone: Alone, places: Mapping[str, Placement]) -> _Fit:
    """The frame on which most of the shared cards agree, tried from each pair of them."""
    own = alone.places
    shared = [name for name in own if name in places]
    if len(shared) == 1 and shared[0] in alone.standing_alone:
        frame = _chained(places[shared[0]], own[shared[0]].inverse())
        return _Fit(alone, LEAST_SHARED, LEAST_SHARED, frame)
    if len(shared) < LEAST_SHARED:
        return _Fit(alone, len(shared), 0, Placement())
    there = np.array([own[name].origin for name in shared])
    here = np.array([places[name].origin for name in shared])
    best = _most_agreeing(there, here)
    frame = rigid_fit(there[best], here[best])[0] if best.sum() >= LEAST_SHARED else Placement()
    return _Fit(alone, len(shared), int(best.sum()), frame)


def _most_agreeing(there: Array, here: Array) -> NDArray[np.bool_]:
    """Which of (N, 2) places agree when laid on each other by the best pair of them.

    Places are taken as complex numbers x + iy, so that a turn is a product.
    """
    a, b = there @ [1, 1j], here @ [1, 1j]
    one, other = np.triu_indices(len(a), 1)
    apart = a[other] - a[one]
    turns = np.exp(1j * np.angle(apart.conj() * (b[other] - b[one])))
    shifts = (b[one] + b[other] - turns * (a[one] + a[other])) / 2
    off = np.abs(turns[:, None] * a + shifts[:, None] - b)
    agreeing = off < SAME_ARRANGEMENT * np.abs(apart).max()
    return np.asarray(agreeing[agreeing.sum(axis=1).argmax()])


def _too_few_shared(alone: Alone, places: Mapping[str, Placement]) -> str:
    shared = [name for name in alone.cards if name in places]
    which = f"only {shared[0]}" if shared else "no card"
    return (
        f"{alone.name} shares {which} with the other photographs, and at least {LEAST_SHARED} "
        "shared cards are needed: leave it out, or photograph again with more of the cards in "
        "every picture."
    )


def _chained(frame: Placement, place: Placement) -> Placement:
    """A placement in a photograph's own frame, brought to the frame that frame lies in."""
    return Placement(frame.to_plane(place.origin), frame.turn_rad + place.turn_rad)


def _network(
    photographs: Sequence[Alone],
    frames: Mapping[int, Placement],
    camera_of: Sequence[int],
    places: Sequence[Placement],
) -> Network:
    """All photographs over one set of placements; each camera as its first photograph has it."""
    alone = [one.network.reframed(frames[one.photo].inverse()) for one in photographs]
    return Network(
        cameras=tuple(
            photographs[camera_of.index(camera)].network.cameras[0]
            for camera in range(max(camera_of) + 1)
        ),
        camera_of=tuple(camera_of),
        rotations=np.concatenate([one.rotations for one in alone]),
        translations=np.concatenate([one.translations for one in alone]),
        placements=np.array([[*place.origin, place.turn_rad] for place in places]),
        heights=np.zeros(len(places)),
    )
