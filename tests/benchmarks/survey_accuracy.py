"""How well surveys measure over random scenes, whether their intervals hold, and what is named.

Surveys of simulated sightings (see `tests.survey_scenes`), so no picture is rendered or searched.
Prints a report in Markdown; takes about six minutes of both of two cores.

    OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.survey_accuracy
"""

import math
import os
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import numpy as np

from shapecut.capture.photo import read_photo
from shapecut.errors import SurveyError
from shapecut.shape.placement import Placement
from shapecut.survey.adjust import survey_photos
from shapecut.survey.beforehand import CARD_HEIGHT_U_MM
from shapecut.survey.spread import TAIL
from shapecut.survey.start import rigid_fit
from shapecut.survey.survey import Survey
from shapecut.survey.tapes import TAPE_U_MM, Tape
from shapecut.survey.unmodelled import NO_LENS, SUPPOSED_LENS_PX
from tests.sighted import SINGLE, four_mark_cards
from tests.survey_scenes import RandomScene, random_scene

CARDS = {"single": SINGLE, "four-mark": four_mark_cards()}
SCENES = 200
"""Scenes a line of the accuracy table, and cases of each naming test."""

FEWER = 40
"""Scenes a line of the other tables."""

PRINT_U = 0.001
"""Standard uncertainty of the print's scale where it is not exact."""

EXACT_U = 1e-6
"""The same where it is as good as exact."""

PAIRS = 20
"""Distances across each template whose intervals are looked at."""

COVERAGE = 1.96
"""Half width of a 95 % interval in standard uncertainties."""

GOOD_TILT_DEG = 30.0
"""A good photograph is tilted no more than this."""


@dataclass(frozen=True)
class Case:
    """One kind of scene.

    Attributes:
        kind: Of the cards.
        photos: How many photographs.
        cards: How many cards; None: four to ten, at random.
        print_u: Standard uncertainty of the print's scale, and how far it is really off.
        tapes: How many distances are taped.
        largest_tilt_deg: Of any photograph.
        spoilt: What the survey is not told: further arguments of `random_scene`.
        bad_mark: Whether one corner of one mark is 2 px off.
        supposed: Whether floor and lens are drawn as the survey supposes them.
    """

    kind: str
    photos: int
    cards: int | None = None
    print_u: float = EXACT_U
    tapes: int = 0
    largest_tilt_deg: float = 50.0
    spoilt: tuple[tuple[str, float], ...] = ()
    bad_mark: bool = False
    supposed: bool = False


@dataclass(frozen=True)
class Outcome:
    """What came of one scene; nothing when it was refused.

    Attributes:
        errors: Errors of points inside over the template's length, a rigid motion aside.
        ratios: Of each distance's error to its standard uncertainty.
        findings: Where the survey's findings point.
        refused: Whether there was no survey.
    """

    errors: tuple[float, ...] = ()
    ratios: tuple[float, ...] = ()
    findings: tuple[str, ...] = ()
    refused: bool = False


def scene_of(case: Case, seed: int) -> RandomScene:
    """The scene of a seed; with a print's scale off as far as stated."""
    rng = np.random.default_rng([seed, 7])
    count = case.cards or int(rng.integers(4, 11))
    off = rng.normal(0, case.print_u)
    scene = random_scene(
        seed,
        CARDS[case.kind][:count],
        photos=case.photos,
        print_scale=1 + off,
        largest_tilt_deg=case.largest_tilt_deg,
        **dict(case.spoilt),
        **(_as_supposed(seed) if case.supposed else {}),
    )
    return with_bad_mark(scene, rng) if case.bad_mark else scene


def _as_supposed(seed: int) -> dict[str, float]:
    """An uneven floor and a lens beyond its model, each of the spread that is supposed."""
    rng = np.random.default_rng([seed, 5])
    scale = math.sqrt((TAIL - 2) / TAIL)
    floor, lens = np.abs(rng.standard_t(TAIL, 2)) * scale
    bent = rng.uniform() > NO_LENS
    return {
        "uneven_mm": floor * CARD_HEIGHT_U_MM,
        "wave_px": math.sqrt(2) * lens * SUPPOSED_LENS_PX * bent,
    }


def with_bad_mark(scene: RandomScene, rng: np.random.Generator) -> RandomScene:
    """One corner of one mark 2 px off, as under a thumb."""
    sightings = list(scene.sightings)
    which = int(rng.integers(len(sightings)))
    corners, turn = sightings[which].corners_px.copy(), rng.uniform(0, math.tau)
    corners[int(rng.integers(4))] += 2 * np.array([math.cos(turn), math.sin(turn)])
    sightings[which] = replace(sightings[which], corners_px=corners)
    return replace(scene, sightings=tuple(sightings))


def tapes_of(scene: RandomScene, count: int, seed: int) -> list[Tape]:
    """The longest distances between cards, taped with their usual error."""
    rng = np.random.default_rng([seed, 11])
    lengths = {
        pair: math.dist(*(scene.placements[name].origin for name in pair))
        for pair in combinations(scene.placements, 2)
    }
    longest = sorted(lengths, key=lambda pair: -lengths[pair])[:count]
    return [Tape(*pair, lengths[pair] + rng.normal(0, TAPE_U_MM)) for pair in longest]


def outcome(case: Case, seed: int) -> Outcome:
    """Survey one scene and compare it with the truth."""
    scene = scene_of(case, seed)
    try:
        survey = survey_photos(
            scene.photos,
            scene.sightings,
            relative_u=case.print_u,
            height_mm=scene.thickness_mm,
            tapes=tapes_of(scene, case.tapes, seed),
        )
    except SurveyError:
        return Outcome(refused=True)
    found = tuple(finding.where for finding in survey.findings)
    return Outcome(*compared(scene, survey, seed), findings=found)


def compared(
    scene: RandomScene, survey: Survey, seed: int
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Errors of points inside, each taken as the mean over the photographs, and ratios."""
    true, height = scene.inside(), scene.thickness_mm
    seen = [scene.px(view.photo, true) for view in survey.views]
    views = list(zip(survey.views, seen, strict=True))
    measured = np.mean([view.mm_from_px(px, height) for view, px in views], axis=0)
    factor = np.mean(
        [survey.precision.factor(view.photo, px, height) for view, px in views], axis=0
    )
    frame, _ = rigid_fit(measured, true[:, :2])
    errors = np.linalg.norm(frame.points_to_plane(measured) - true[:, :2], axis=1)
    rng = np.random.default_rng([seed, 13])
    ratios = []
    for _ in range(PAIRS):
        a, b = map(int, rng.choice(len(true), 2, replace=False))
        along = measured[b] - measured[a]
        length = float(np.linalg.norm(along))
        moved = factor[2 * b : 2 * b + 2] - factor[2 * a : 2 * a + 2]
        own = survey.precision.local_u_mm * math.sqrt(2 / len(views))
        u = math.hypot(float(np.linalg.norm(along / length @ moved)), own)
        ratios.append((length - math.dist(true[a], true[b])) / u)
    return tuple(errors / scene.span_mm), tuple(ratios)


def outcomes(case: Case, seeds: Iterable[int], pool: ProcessPoolExecutor) -> list[Outcome]:
    """Many scenes of one kind."""
    return list(
        pool.map(outcome, *zip(*((case, seed) for seed in seeds), strict=True), chunksize=8)
    )


# --- the tables ----------------------------------------------------------------------------------


def fraction(errors: Sequence[float], percentile: float) -> str:
    """A percentile of relative errors as 1/n."""
    return f"1/{1 / np.percentile(errors, percentile):,.0f}"


def row(name: str, case: Case, seeds: Iterable[int], pool: ProcessPoolExecutor) -> str:
    """One line of a table: errors, intervals, findings, refusals."""
    seeds = list(seeds)
    done = outcomes(case, seeds, pool)
    errors = [error for one in done for error in one.errors]
    held = [abs(ratio) <= COVERAGE for one in done for ratio in one.ratios]
    noted = sum(bool(one.findings) for one in done)
    refused = sum(one.refused for one in done)
    if not errors:
        return f"| {name} | all {len(done)} refused | | | | |"
    return (
        f"| {name} | {fraction(errors, 50)} | {fraction(errors, 95)} | {np.mean(held):.1%} | "
        f"{noted} | {refused} |"
    )


HEAD = """
| {} | median error | 95th percentile | 95 % intervals that hold | with findings | refused |
|---|---|---|---|---|---|"""


def accuracy(pool: ProcessPoolExecutor) -> Iterator[str]:
    """Print scale exact, by kind, cards and photographs."""
    yield "\n## Print scale exact\n"
    yield f"{SCENES} scenes a line; errors are fractions of the template's length."
    yield HEAD.format("cards, photographs")
    for kind in CARDS:
        for photos in (1, 2, 3, 5):
            yield row(f"{kind}, 4 to 10 cards, {photos}", Case(kind, photos), range(SCENES), pool)
    yield "\nSix cards, photographs tilted by at most 30 degrees:"
    yield HEAD.format("cards, photographs")
    for kind in CARDS:
        for photos in (1, 4):
            case = Case(kind, photos, cards=6, largest_tilt_deg=GOOD_TILT_DEG)
            yield row(f"{kind}, 6 cards, {photos}", case, range(SCENES), pool)


def as_supposed(pool: ProcessPoolExecutor) -> Iterator[str]:
    """Print scale exact, on floors and through lenses such as the survey supposes."""
    yield "\n## Floors and lenses as supposed\n"
    yield (
        f"{SCENES} scenes a line, print scale exact; each with a floor and a lens of its own:\n"
        f"cards uneven by {CARD_HEIGHT_U_MM} mm and, in half of them, a wave over the picture of "
        f"{SUPPOSED_LENS_PX} px (root\nmean squares of a spread that follows Student's "
        "distribution, as in `survey/spread.py`)."
    )
    yield HEAD.format("cards, photographs")
    for kind in CARDS:
        for photos in (1, 3):
            case = Case(kind, photos, supposed=True)
            yield row(f"{kind}, 4 to 10 cards, {photos}", case, range(SCENES), pool)


def scale(pool: ProcessPoolExecutor) -> Iterator[str]:
    """Print scale uncertain, with and without tapes."""
    yield f"\n## Print scale uncertain by {PRINT_U:.1%}\n"
    yield f"{FEWER} scenes a line; tapes over the longest distances, each ± {TAPE_U_MM:g} mm."
    yield HEAD.format("cards, photographs, tapes")
    for kind in CARDS:
        for photos in (1, 3):
            for tapes in (0, 2):
                case = Case(kind, photos, print_u=PRINT_U, tapes=tapes)
                yield row(f"{kind}, {photos}, {tapes}", case, range(FEWER), pool)


def wrong_models(pool: ProcessPoolExecutor) -> Iterator[str]:
    """What the survey is not told."""
    yield "\n## What the survey is not told\n"
    yield f"{FEWER} scenes a line, print scale exact."
    yield HEAD.format("what, cards, photographs")
    spoilt = {
        "floor uneven by 0.3 mm (standard deviation)": {"spoilt": (("uneven_mm", 0.3),)},
        "every card curled by 3 mm": {"spoilt": (("curl_mm", 3.0),)},
        "k3 = 0.03": {"spoilt": (("k3", 0.03),)},
        "k3 = 0.03 and k4 = 0.03": {"spoilt": (("k3", 0.03), ("k4", 0.03))},
        "a wave of 0.3 px over the picture": {"spoilt": (("wave_px", 0.3),)},
        "one mark's corner 2 px off": {"bad_mark": True},
    }
    for name, changes in spoilt.items():
        for kind in CARDS:
            for photos in (1, 3):
                case = replace(Case(kind, photos), **changes)
                yield row(f"{name}, {kind}, {photos}", case, range(FEWER), pool)


# --- what is named -------------------------------------------------------------------------------


def names_moved_card(seed: int) -> bool:
    """Whether a card moved by 4 to 30 mm between photographs is what the findings name."""
    rng = np.random.default_rng([seed, 17])
    kind = list(CARDS)[seed % 2]
    scene = scene_of(Case(kind, int(rng.integers(2, 5)), cards=int(rng.integers(5, 11))), seed)
    card = str(rng.choice(list(scene.placements)))
    turn, far = rng.uniform(0, math.tau), rng.uniform(4, 30)
    place = scene.placements[card]
    x, y = place.origin
    moved = Placement((x + far * math.cos(turn), y + far * math.sin(turn)), place.turn_rad)
    first = int(rng.integers(1, len(scene.photos)))
    noise = np.random.default_rng([seed, 19])
    sightings = [
        replace(
            seen,
            corners_px=scene.card_px(seen.photo, card, seen.corners_mm, moved)
            + noise.normal(0, seen.u_px, (4, 2)),
        )
        if seen.card == card and seen.photo >= first
        else seen
        for seen in scene.sightings
    ]
    try:
        survey = survey_photos(
            scene.photos, sightings, relative_u=EXACT_U, height_mm=scene.thickness_mm
        )
    except SurveyError as refusal:
        return f"{card} " in str(refusal)
    named = [finding.where for finding in survey.findings]
    return bool(named) and all(where == card or where.startswith(f"{card} in") for where in named)


def names_mistyped_tape(seed: int) -> bool:
    """Whether one of two tapes with two of its digits swapped is named, with what was expected."""
    rng = np.random.default_rng([seed, 23])
    scene = scene_of(Case(list(CARDS)[seed % 2], 1 + seed % 3, print_u=PRINT_U), seed)
    tapes = tapes_of(scene, 2, seed)
    which = int(rng.integers(2))
    right = tapes[which].length_mm
    tapes[which] = replace(tapes[which], length_mm=float(mistyped(round(right), rng)))
    survey = survey_photos(
        scene.photos,
        scene.sightings,
        relative_u=PRINT_U,
        height_mm=scene.thickness_mm,
        tapes=tapes,
    )
    named = [finding for finding in survey.findings if finding.where.startswith("tape")]
    if [finding.where for finding in named] != [str(tapes[which])]:
        return False
    expected = float(named[0].what.split("expect ")[1].split(" ")[0])
    return abs(expected - right) <= 4 * math.hypot(PRINT_U * right, TAPE_U_MM)


def mistyped(length: int, rng: np.random.Generator) -> int:
    """A number with two different neighbouring digits above the last swapped."""
    digits = list(str(length))
    places = [k for k in range(len(digits) - 2) if digits[k] != digits[k + 1]]
    if not places:
        return length + 100
    k = int(rng.choice(places))
    digits[k], digits[k + 1] = digits[k + 1], digits[k]
    return int("".join(digits))


def false_alarm(seed: int) -> bool:
    """Whether a clean scene with two good tapes has a card or a tape named, or is refused."""
    case = Case(list(CARDS)[seed % 2], (1, 2, 3, 5)[seed // 2 % 4], print_u=PRINT_U, tapes=2)
    done = outcome(case, seed)
    return done.refused or any(
        where.startswith(("card ", "mark ", "tape", "cards")) for where in done.findings
    )


def naming(pool: ProcessPoolExecutor) -> Iterator[str]:
    """How often what is wrong is named."""
    yield "\n## What is named\n"
    seeds = range(1000, 1000 + SCENES)
    tests = (
        ("a card moved by 4 to 30 mm between two to four photographs is named, and nothing else",
         names_moved_card),
        ("one of two tapes with two digits swapped is named, with the length expected",
         names_mistyped_tape),
        ("false alarms: a card or tape named in a clean scene", false_alarm),
    )  # fmt: skip
    for name, test in tests:
        hits = sum(pool.map(test, seeds, chunksize=8))
        yield f"- {name}: {hits} of {len(seeds)} ({hits / len(seeds):.1%})"


def times() -> Iterator[str]:
    """Adjusting five photographs of ten cards against decoding one of 12 million pixels."""
    yield "\n## Time\n"
    path = next(Path(__file__).parents[2].joinpath("examples", "boathouse_step").glob("*.jpg"))
    decode = fastest(lambda: read_photo(path))
    for kind in CARDS:
        scene = scene_of(Case(kind, 5, cards=10), 3)
        adjust = fastest(
            lambda scene=scene: survey_photos(
                scene.photos, scene.sightings, relative_u=PRINT_U, height_mm=scene.thickness_mm
            )
        )
        yield (
            f"- adjusting 5 photographs of 10 {kind} cards: {adjust:.3f} s, decoding one "
            f"photograph: {decode:.3f} s, ratio {adjust / decode:.2f}"
        )


def fastest(work) -> float:
    """Seconds of the fastest of seven runs."""
    runs = []
    for _ in range(7):
        start = time.perf_counter()
        work()
        runs.append(time.perf_counter() - start)
    return min(runs)


def main() -> None:
    """Print the report."""
    started = time.perf_counter()
    print("# Accuracy of surveys over random scenes\n")
    print(
        "Made by `OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.survey_accuracy`; simulated\n"
        "sightings, no pictures: templates of 0.6 to 2.4 m on an even floor, 4 to 10 cards,\n"
        "photographs of 12 million pixels tilted by 0 to 50 degrees that just hold all cards, k1\n"
        "from -0.25 to 0.10, thickness 0 to 8 mm, mark corners with 0.05 px of noise as stated.\n"
        "Seeds from 0 and from 1000; the survey's settings were chosen on seeds from 5000."
    )
    for line in times():
        print(line, flush=True)
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        for part in (naming, accuracy, as_supposed, scale, wrong_models):
            for line in part(pool):
                print(line, flush=True)
    print(f"{time.perf_counter() - started:.0f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
