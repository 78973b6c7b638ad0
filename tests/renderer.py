"""Photographs of a template among cards on a floor, rendered plainly and exactly.

The world is flat but for the template: the floor is z = 0, cards lie flat on it or on the template,
and the template is a prism with a top face and vertical cut faces.  Every edge is projected through
the very camera of the `PhotoView` and painted with exact area coverage in linear light, so where an
edge appears in the picture is known to far below a hundredth of a pixel.  Blur, noise, the sRGB
curve, sharpening and JPEG follow in the order of a real camera.  Light is even unless the scene's
lighting says otherwise; then shadows lie across everything, the template's own among them.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from shapecut.capture.cards import Card, Mark
from shapecut.capture.patterns import mark_cells
from shapecut.capture.photo import Photo
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement
from shapecut.survey.view import PhotoView
from tests.area_coverage import Boundary, Patch, painted
from tests.lighting import EVEN, Lighting

__all__ = [
    "INK",
    "PAPER",
    "Colour",
    "Floor",
    "LaidCard",
    "Mottle",
    "Paint",
    "Scene",
    "Shot",
    "Thing",
    "exposed_light",
    "linear_light",
    "photographed",
]

Array = NDArray[np.float64]
Light = NDArray[np.float32]
Colour = tuple[float, float, float]
"""Reflectance in linear red, green, blue, 0 to 1."""

PAPER: Colour = (0.82, 0.82, 0.80)
INK: Colour = (0.04, 0.04, 0.045)

CHORD_PX = 6.0
"""Longest stretch of a projected line taken as straight; the lens bends it by < 0.003 px."""

FLATTENING_PX = 0.001
"""How far the chords of a flattened arc may stay from it in the picture."""


@dataclass(frozen=True)
class Mottle:
    """Random texture of one size and direction.

    Attributes:
        deviation: Standard deviation of its brightness, fraction.
        size_mm: Of its grains, along and across their direction.
        tint: How strongly red, green and blue follow it.
        turn_rad: Of the grains' length from that of the tiles.
    """

    deviation: float
    size_mm: tuple[float, float]
    tint: Colour = (1.0, 1.0, 1.0)
    turn_rad: float = 0.0


@dataclass(frozen=True)
class Floor:
    """What the template lies on.

    Attributes:
        colour: Its mean reflectance.
        tile_mm: Length and width of a plank or tile, seam included; None for a floor of one piece.
        seam_mm: Width of the seams.
        seam_tone: Brightness of the seams as a fraction of the floor's.
        bond: How far each course is shifted against the one before it, fraction of the length.
        variation: Standard deviation of brightness from tile to tile, fraction.
        grain: Standard deviation of the grain's brightness, fraction.
        grain_mm: Size of the grain along and across the tiles.
        turn_rad: Counter-clockwise turn of the tiles' length from the plane's x axis.
        tile_colours: Colours that tiles take at random in place of the floor's; none for that.
        mottles: More texture, such as speckles and blades.
    """

    colour: Colour = (0.20, 0.16, 0.12)
    tile_mm: tuple[float, float] | None = None
    seam_mm: float = 3.0
    seam_tone: float = 0.25
    bond: float = 0.0
    variation: float = 0.0
    grain: float = 0.0
    grain_mm: tuple[float, float] = (2.0, 2.0)
    turn_rad: float = 0.0
    tile_colours: tuple[Colour, ...] = ()
    mottles: tuple[Mottle, ...] = ()


@dataclass(frozen=True)
class LaidCard:
    """A card lying flat, printed side up.

    Attributes:
        card: Its marks as they are really printed.
        placement: Of the card's frame in the plane.
        height_mm: 0 on the floor, the template's thickness on the template.
        margin: White paper round the marks' bounding box, as a fraction of a mark's side.
    """

    card: Card
    placement: Placement
    height_mm: float = 0.0
    margin: float = 0.13

    def paper_mm(self) -> Array:
        """Corners (4, 2) of its paper in the card's frame, counter-clockwise."""
        marks = np.array([mark.corners_mm for mark in self.card.marks])
        margin = self.margin * float(np.linalg.norm(marks[0, 1] - marks[0, 0]))
        (x0, y0), (x1, y1) = marks.min(axis=(0, 1)) - margin, marks.max(axis=(0, 1)) + margin
        return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


@dataclass(frozen=True)
class Paint:
    """Print, tape or a crease on the template's face; what lies beyond its edge is cut off.

    Attributes:
        polygon_mm: Corners (x, y) in the plane.
        colour: Of it.
    """

    polygon_mm: tuple[tuple[float, float], ...]
    colour: Colour


@dataclass(frozen=True)
class Thing:
    """An upright prism that lies on the floor, clear of the template.

    Attributes:
        outline: Of its top.
        height_mm: Of it.
        top: Colour of its top.
        side: Colour of its sides.
    """

    outline: Outline
    height_mm: float
    top: Colour
    side: Colour


@dataclass(frozen=True)
class Scene:
    """What is photographed.

    Attributes:
        outline: Of the template, in the plane; None for a bare floor.
        thickness_mm: Of the template; 0 for paper.
        template: Colour of its top face.
        cut_face: Colour of its vertical faces.
        floor: What it lies on.
        cards: What lies round and on it; none may reach under the template.
        seed: Of the floor's variation and grain.
        paints: What is on the template's face, later ones over the ones before.
        face: Texture of the template's face.
        things: What else lies on the floor, farther ones first.
        lighting: What shines on it all.
    """

    outline: Outline | None
    thickness_mm: float = 4.0
    template: Colour = (0.52, 0.38, 0.24)
    cut_face: Colour = (0.40, 0.29, 0.18)
    floor: Floor = Floor()
    cards: tuple[LaidCard, ...] = ()
    seed: int = 1
    paints: tuple[Paint, ...] = ()
    face: tuple[Mottle, ...] = ()
    things: tuple[Thing, ...] = ()
    lighting: Lighting = EVEN


@dataclass(frozen=True)
class Shot:
    """How it is photographed.

    Attributes:
        view: The camera and where it stands.
        exposure: Linear light of a perfectly white surface; above 1 it burns out.
        falloff: Light lost in the picture's corners, fraction.
        blur_px: Standard deviation of the optics' blur beyond the pixel's own area.
        oversampling: Rendered pixels per pixel along each axis while blurring.  The blur is sampled
            on them, which lets an edge waver as it crosses the pixels: by 0.018 px at 1 and less
            than 0.003 px at 2 (blur 0.8 px); 1 is three times as fast and serves large pictures.
        noise: Standard deviation of the noise at white, fraction of white in linear light.
        sharpening: Strength of the unsharp mask after the tone curve; 0 for none.
        jpeg_quality: Compress and decompress at this quality; None for none.
        tells_focal: Whether the photograph states its focal length, as EXIF does.
        seed: Of the noise.
    """

    view: PhotoView
    exposure: float = 1.0
    falloff: float = 0.0
    blur_px: float = 0.7
    oversampling: int = 2
    noise: float = 0.006
    sharpening: float = 0.0
    jpeg_quality: int | None = None
    tells_focal: bool = True
    seed: int = 1


def photographed(scene: Scene, shot: Shot, name: str | None = None) -> Photo:
    """Render a scene and pass its light through the camera.

    Args:
        scene: What is photographed.
        shot: How.
        name: The photograph's name; `photo_1.jpg` for the view of index 0 when not given.
    """
    camera = shot.view.camera
    light = exposed_light(scene, shot)
    if shot.noise:
        light += _noise(light, shot)
    pixels = _developed(light, shot.sharpening)
    if shot.jpeg_quality is not None:
        quality = (cv2.IMWRITE_JPEG_QUALITY, shot.jpeg_quality)
        _, file = cv2.imencode(".jpg", pixels[:, :, ::-1], quality)
        pixels = np.ascontiguousarray(cv2.imdecode(file, cv2.IMREAD_COLOR)[:, :, ::-1])
    full_frame_diagonal_mm = float(np.hypot(36, 24))
    focal_35mm = round(camera.focal_px / float(np.hypot(*camera.size)) * full_frame_diagonal_mm)
    return Photo(
        name=name or f"photo_{shot.view.photo + 1}.jpg",
        pixels=pixels,
        focal_35mm=float(focal_35mm) if shot.tells_focal else None,
    )


def exposed_light(scene: Scene, shot: Shot) -> Light:
    """The light that the sensor gets, before noise: (height, width, 3), 1 is white."""
    size, fine = shot.view.camera.size, shot.oversampling
    light = linear_light(scene, _oversampled(shot.view, fine)) * np.float32(shot.exposure)
    if shot.blur_px:
        deviation = shot.blur_px * fine
        light = cv2.GaussianBlur(light, (0, 0), deviation, borderType=cv2.BORDER_REFLECT)
    if fine > 1:
        light = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    if shot.falloff:
        light *= _falloff(size, shot.falloff)[:, :, None]
    return np.asarray(light)


def linear_light(scene: Scene, view: PhotoView) -> Light:
    """The light of each pixel's own area before any blur: (height, width, 3), a white surface 1."""
    # The fourth channel is the part of each pixel that lies as high as the template.
    light = np.zeros((*view.camera.size[::-1], 4), np.float32)
    light[:, :, :3] = _floor_light(scene, view)
    for laid in scene.cards:
        if laid.height_mm == 0:
            _lay_card(light, laid, view)
    for thing in scene.things:
        _lay_prism(light, thing, view, level=0.0)
    low = light[:, :, :3].copy() if scene.lighting != EVEN else None
    if scene.outline is not None:
        top = Thing(scene.outline, scene.thickness_mm, scene.template, scene.cut_face)
        covered = _lay_prism(light, top, view, level=1.0)
        _lay_face(light, scene, scene.outline, covered, view)
    for laid in scene.cards:
        if laid.height_mm > 0:
            _lay_card(light, laid, view, level=1.0)
    if low is not None:
        return _lit(low, light, scene, view)
    return np.ascontiguousarray(light[:, :, :3])


# --- layers, each painted over the ones before it ----------------------------------------------


def _floor_light(scene: Scene, view: PhotoView) -> Light:
    """The bare floor: tiles of one tone each with seams between them, times its texture."""
    floor, (width, height) = scene.floor, view.camera.size
    rng = np.random.default_rng(scene.seed)
    light = np.ones((height, width, 3), np.float32) * np.array(floor.colour, np.float32)
    if floor.tile_mm is not None:
        light *= np.float32(floor.seam_tone)
        tiles, tones = _tiles(floor, _visible_floor(view), rng)
        chosen = _tile_colours(floor, len(tiles), rng)
        seam = np.float32(floor.seam_tone) * np.array(floor.colour)
        for k in range(3):
            values = tones * chosen[:, k] - seam[k]
            patch = painted(_seen_polygons(view, tiles, values), view.camera.size)
            light[patch.window][:, :, k] += patch.values
    if floor.grain:
        grain = _grain(floor.grain_mm, floor.turn_rad, view, rng)
        light *= np.maximum(1 + np.float32(floor.grain) * grain, 0)[:, :, None]
    if floor.mottles:
        light *= np.maximum(1 + _mottled(floor.mottles, view, rng, turn_rad=floor.turn_rad), 0)
    return light


def _tile_colours(floor: Floor, count: int, rng: np.random.Generator) -> Array:
    """(count, 3)."""
    if not floor.tile_colours:
        return np.tile(floor.colour, (count, 1))
    return np.array(floor.tile_colours)[rng.integers(0, len(floor.tile_colours), count)]


def _mottled(
    mottles: tuple[Mottle, ...],
    view: PhotoView,
    rng: np.random.Generator,
    *,
    turn_rad: float = 0.0,
    height_mm: float = 0.0,
) -> Light:
    """Sum (height, width, 3) of textures, as fractions of the brightness."""
    return np.asarray(
        sum(
            _grain(m.size_mm, turn_rad + m.turn_rad, view, rng, height_mm)[:, :, None]
            * (np.float32(m.deviation) * np.array(m.tint, np.float32))
            for m in mottles
        )
    )


def _lay_card(light: Light, laid: LaidCard, view: PhotoView, *, level: float = 0.0) -> None:
    """White paper with the marks' black cells on it."""
    cells = np.concatenate([_black_cells(mark) for mark in laid.card.marks])
    for polygons, colour in ((laid.paper_mm()[None], PAPER), (cells, INK)):
        corners = laid.placement.points_to_plane(polygons.reshape(-1, 2))
        raised = _raised(corners, laid.height_mm).reshape(-1, 4, 3)
        patch = painted(_seen_polygons(view, raised), view.camera.size)
        _cover(light, patch, np.clip(patch.values, 0, 1), colour, level)


def _lay_prism(light: Light, prism: Thing, view: PhotoView, *, level: float) -> Patch:
    """The side faces turned to the camera, and the top face in front of them.

    Along an edge that both share, a pixel is divided between them in exact proportion.

    Returns:
        The part of each pixel that the top covers.
    """
    size, t = view.camera.size, prism.height_mm
    starts, ends = _chords(prism.outline, t, view)
    top = painted(_seen(view, _raised(starts, t), _raised(ends, t), np.ones(len(starts))), size)
    top_cover = np.clip(top.values, 0, 1)
    if t > 0:
        faces = painted(_seen_polygons(view, _faces_in_sight(starts, ends, t, view)), size)
        beside_top = np.ones(light.shape[:2], np.float32)
        beside_top[top.window] -= top_cover
        room = beside_top[faces.window]
        cover = np.clip(faces.values, 0, room)
        # The top is painted over this and leaves `room` of each pixel: scale the face's part up.
        part = np.divide(cover, room, out=np.zeros_like(cover), where=room > 0)
        _cover(light, faces, part, prism.side, level)
    _cover(light, top, top_cover, prism.top, level)
    return replace(top, values=top_cover)


def _lay_face(light: Light, scene: Scene, outline: Outline, top: Patch, view: PhotoView) -> None:
    """Texture and paint on the template's face, changing just the part of a pixel it covers."""
    under = light[top.window]
    if scene.face:
        rng = np.random.default_rng(scene.seed + 1)
        texture = _mottled(scene.face, view, rng, height_mm=scene.thickness_mm)[top.window]
        under[:, :, :3] += top.values[:, :, None] * np.array(scene.template, np.float32) * texture
    for polygons, colour in _uncovered(scene.paints, outline):
        starts, ends = (_raised(points, scene.thickness_mm) for points in polygons)
        patch = painted(_seen(view, starts, ends, np.ones(len(starts))), view.camera.size)
        part = np.clip(patch.values, 0, 1)[:, :, None]
        change = np.array(colour, np.float32) - np.array(scene.template, np.float32)
        light[patch.window][:, :, :3] += part * change


def _uncovered(
    paints: tuple[Paint, ...], outline: Outline
) -> list[tuple[tuple[Array, Array], Colour]]:
    """What is in sight of each paint: starts and ends (N, 2) of the sides, and the colour."""
    rings = [
        np.concatenate([edge.curve.flattened(0.01)[:-1] for edge in ring.edges])
        for ring in outline.rings
    ]
    bare, seen = shapely.Polygon(rings[0], rings[1:]), []
    for paint in reversed(paints):
        polygon = shapely.Polygon(paint.polygon_mm)
        parts = shapely.get_parts(shapely.intersection(bare, polygon))
        bare = shapely.difference(bare, polygon)
        areas = [shapely.orient_polygons(part) for part in parts if part.area > 0]
        loops = [shapely.get_coordinates(ring) for ring in shapely.get_rings(areas)]
        if loops:
            starts, ends = np.concatenate([a[:-1] for a in loops]), [a[1:] for a in loops]
            seen.append(((starts, np.concatenate(ends)), paint.colour))
    return seen


def _cover(light: Light, patch: Patch, part: Light, colour: Colour, level: float) -> None:
    """Paint a colour at a level over a window, by parts of each pixel."""
    under = light[patch.window]
    under += part[:, :, None] * (np.array((*colour, level), np.float32) - under)


def _lit(low: Light, painted_over: Light, scene: Scene, view: PhotoView) -> Light:
    """Light on the floor's colours and on those of the template, whose parts add up.

    Args:
        low: (height, width, 3) colours of all that lies on the floor.
        painted_over: (height, width, 4) the same with the template and its part of each pixel.
        scene: Its lighting.
        view: Of it.
    """
    lighting, cover = scene.lighting, painted_over[:, :, 3:]
    high = painted_over[:, :, :3] - (1 - cover) * low
    x, y = _plane_points(view, 0.0)
    own = _own_shadow(scene, view) if lighting.sun and scene.outline is not None else None
    light = (1 - cover) * low * lighting.light(x, y, 0.0, own)
    light += high * lighting.light(*_plane_points(view, scene.thickness_mm), scene.thickness_mm)
    if lighting.glares:
        light += lighting.glare(x, y)[:, :, None]
    return np.asarray(light, np.float32)


def _own_shadow(scene: Scene, view: PhotoView) -> Light:
    """Part (height, width) of each pixel's floor that the template keeps the sun from."""
    assert scene.outline is not None
    throw = scene.thickness_mm * np.array(scene.lighting.lean)
    shaded = np.zeros(view.camera.size[::-1], np.float32)
    rings = [
        np.concatenate([edge.curve.flattened(0.05)[:-1] for edge in ring.edges])
        for ring in scene.outline.rings
    ]
    swept = [shapely.Polygon(rings[0], rings[1:])]
    for ring in rings:
        sides = np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)
        corners = np.concatenate([sides, sides + throw], axis=1)
        swept += list(shapely.convex_hull(shapely.multipoints(corners)))
    for part in shapely.get_parts(shapely.union_all(swept)):
        loops = [
            shapely.get_coordinates(a) for a in shapely.get_rings(shapely.orient_polygons(part))
        ]
        starts, ends = (np.concatenate([a[k] for a in loops]) for k in (slice(-1), slice(1, None)))
        seen = _seen(view, _raised(starts, 0), _raised(ends, 0), np.ones(len(starts)))
        patch = painted(seen, view.camera.size)
        shaded[patch.window] += np.clip(patch.values, 0, 1)
    return shaded


# --- what the layers consist of, in the plane ----------------------------------------------------


def _black_cells(mark: Mark) -> Array:
    """Corners (N, 4, 2) of a mark's black cells in the card's frame, counter-clockwise."""
    cells = mark_cells(mark.dictionary, mark.number)
    top_left, top_right, _, bottom_left = np.array(mark.corners_mm)
    right, down = (top_right - top_left) / len(cells), (bottom_left - top_left) / len(cells)
    rows, columns = np.nonzero(cells)
    corners = [
        top_left + (columns + c)[:, None] * right + (rows + r)[:, None] * down
        for c, r in ((0, 0), (0, 1), (1, 1), (1, 0))
    ]
    return np.stack(corners, axis=1)


def _chords(outline: Outline, height_mm: float, view: PhotoView) -> tuple[Array, Array]:
    """Starts and ends (N, 2) of short chords along all rings."""
    camera_height = float(view.position[2]) - height_mm
    tolerance_mm = FLATTENING_PX * camera_height / view.camera.focal_px
    curves = [edge.curve.flattened(tolerance_mm) for edge in outline.edges]
    starts = np.concatenate([curve[:-1] for curve in curves])
    return starts, np.concatenate([curve[1:] for curve in curves])


def _faces_in_sight(starts: Array, ends: Array, thickness_mm: float, view: PhotoView) -> Array:
    """Corners (N, 4, 3) of the cut faces whose outer side is turned to the camera."""
    walk, camera = ends - starts, view.position[:2] - starts
    # Material lies on the left of the walk, so the outer side is seen from its right.
    seen = walk[:, 0] * camera[:, 1] - walk[:, 1] * camera[:, 0] < 0
    a, b = starts[seen], ends[seen]
    low, high = 0.0, thickness_mm
    corners = [_raised(a, low), _raised(b, low), _raised(b, high), _raised(a, high)]
    return np.stack(corners, axis=1)


def _tiles(floor: Floor, visible: Array, rng: np.random.Generator) -> tuple[Array, Array]:
    """Corners (N, 4, 3) and tones (N,) of the tiles that reach into the visible floor (M, 2)."""
    assert floor.tile_mm is not None
    frame = Placement(turn_rad=floor.turn_rad)
    local = frame.inverse().points_to_plane(visible)
    length, width = floor.tile_mm
    first = np.floor(local.min(axis=0) / (length, width)).astype(int) - 1
    last = np.ceil(local.max(axis=0) / (length, width)).astype(int) + 1
    number, course = (grid.ravel() for grid in np.mgrid[first[0] : last[0], first[1] : last[1]])
    x, y = (number + (course * floor.bond) % 1.0) * length, course * width
    gap = floor.seam_mm / 2
    corners = [
        np.column_stack([x + dx, y + dy])
        for dx, dy in (
            (gap, gap), (length - gap, gap), (length - gap, width - gap), (gap, width - gap)
        )
    ]  # fmt: skip
    placed = frame.points_to_plane(np.stack(corners, axis=1).reshape(-1, 2))
    tones = np.maximum(rng.normal(1.0, floor.variation, len(x)), 0.0)
    return _raised(placed, 0.0).reshape(-1, 4, 3), tones


def _raised(points: Array, height_mm: float) -> Array:
    """Plane points (N, 2) at a height: (N, 3)."""
    return np.column_stack([points, np.full(len(points), height_mm)])


# --- the way into the picture --------------------------------------------------------------------


def _oversampled(view: PhotoView, times: int) -> PhotoView:
    """The same view in pixels that are `times` smaller."""
    (width, height), (x, y) = view.camera.size, view.camera.centre_px
    shift = (times - 1) / 2
    camera = replace(
        view.camera,
        size=(times * width, times * height),
        focal_px=times * view.camera.focal_px,
        centre_px=(times * x + shift, times * y + shift),
    )
    return replace(view, camera=camera)


def _seen_polygons(view: PhotoView, corners: Array, values: Array | None = None) -> Boundary:
    """Polygons of equally many corners (N, K, 3) in the picture, painting a value (N,) each."""
    count, sides = corners.shape[:2]
    following = np.roll(corners, -1, axis=1)
    each = np.ones(count) if values is None else values
    return _seen(view, corners.reshape(-1, 3), following.reshape(-1, 3), np.repeat(each, sides))


def _seen(view: PhotoView, starts: Array, ends: Array, values: Array) -> Boundary:
    """Straight stretches (N, 3) to (N, 3) as the lens bends them, in chords of about CHORD_PX."""
    span = np.linalg.norm(_projected(view, ends) - _projected(view, starts), axis=1)
    counts = np.maximum(np.ceil(span / CHORD_PX), 1).astype(int)
    number = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    first, step = np.repeat(starts, counts, axis=0), np.repeat(ends - starts, counts, axis=0)
    of = np.repeat(counts, counts)
    return Boundary(
        _projected(view, first + (number / of)[:, None] * step),
        _projected(view, first + ((number + 1) / of)[:, None] * step),
        np.repeat(values, counts),
    )


def _projected(view: PhotoView, points: Array) -> Array:
    """Points (N, 3) in pixels; those far outside the picture move to a circle round it.

    Far off the axis Brown's polynomial folds back into the picture, and behind the camera there is
    no image.  Drawing such points in to a circle that encloses the frame leaves every polygon as
    it is within the frame.
    """
    border = view.camera.rays_from_px(_frame(view))
    reach = 1.15 * float(np.linalg.norm(border, axis=1).max())
    x, y, depth = (points @ view.rotation.T + view.translation).T
    off_axis = np.hypot(x, y)
    inside = off_axis < reach * depth
    scale = np.where(inside, 1 / np.where(inside, depth, 1.0), reach / np.maximum(off_axis, 1e-9))
    return view.camera.px_from_rays(np.column_stack([x * scale, y * scale]))


def _frame(view: PhotoView, per_side: int = 16) -> Array:
    """Points (N, 2) along the picture's outer border."""
    width, height = view.camera.size
    along = np.linspace(0, 1, per_side, endpoint=False)
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)]) - 0.5
    ends = np.roll(corners, -1, axis=0)
    sides = [a + along[:, None] * (b - a) for a, b in zip(corners, ends, strict=True)]
    return np.concatenate(sides)


def _visible_floor(view: PhotoView) -> Array:
    """Plane points (N, 2) on the border of the floor in sight."""
    border = _frame(view)
    rays = np.column_stack([view.camera.rays_from_px(border), np.ones(len(border))])
    if float((rays @ view.rotation)[:, 2].max()) > -0.05:
        raise ValueError("The picture shows the horizon: a tiled floor would have no end.")
    return view.mm_from_px(border)


def _grain(
    size_mm: tuple[float, float],
    turn_rad: float,
    view: PhotoView,
    rng: np.random.Generator,
    height_mm: float = 0.0,
) -> Light:
    """Random texture (height, width) that lies on the plane, its cells of unit deviation.

    It must look alike from every side but carries no measure.
    """
    cells = 1024
    texture = rng.standard_normal((cells, cells)).astype(np.float32)
    x, y = _plane_points(view, height_mm)
    c, s = np.float32(np.cos(turn_rad)), np.float32(np.sin(turn_rad))
    along, across = (
        (x * c + y * s) / np.float32(size_mm[0]),
        (y * c - x * s) / np.float32(size_mm[1]),
    )
    return cv2.remap(
        texture, along % cells, across % cells, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP
    )


def _plane_points(view: PhotoView, height_mm: float) -> tuple[Light, Light]:
    """x and y (height, width) of what each pixel shows at a height.

    Exact on a coarse grid of pixels and interpolated between them.
    """
    step, (width, height) = 8, view.camera.size
    columns, rows = np.arange(0, width + step, step), np.arange(0, height + step, step)
    grid = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2).astype(float)
    points = view.mm_from_px(grid, height_mm).reshape(len(rows), len(columns), 2).astype(np.float32)
    enlarge = np.array([[step, 0, 0], [0, step, 0]], np.float32)
    x, y = (
        cv2.warpAffine(np.ascontiguousarray(points[:, :, k]), enlarge, (width, height))
        for k in (0, 1)
    )
    return x, y


# --- the camera behind the lens ------------------------------------------------------------------


def _falloff(size: tuple[int, int], lost: float) -> Light:
    """Brightness factor (height, width), 1 in the middle and 1 − lost in the corners."""
    x, y = (np.linspace(-1, 1, n, dtype=np.float32) for n in size)
    return 1 - np.float32(lost / 2) * (x[None, :] ** 2 + y[:, None] ** 2)


def _noise(light: Light, shot: Shot) -> Light:
    """Photon noise, growing with the root of the light, over a small floor of read-out noise."""
    rng = np.random.default_rng(shot.seed)
    deviation = np.float32(shot.noise) * np.sqrt(np.maximum(light, 0) + np.float32(0.02))
    return deviation * rng.standard_normal(light.shape, np.float32)


def _developed(light: Light, sharpening: float) -> NDArray[np.uint8]:
    """Clip linear light, bring it on the sRGB curve (IEC 61966-2-1) and sharpen it: uint8."""
    levels = np.arange(65536) / 65535
    curve = np.where(levels <= 0.0031308, 12.92 * levels, 1.055 * levels ** (1 / 2.4) - 0.055)
    encoded = (255 * curve).astype(np.float32)[(np.clip(light, 0, 1) * 65535).astype(np.uint16)]
    if sharpening:
        smooth = cv2.GaussianBlur(encoded, (0, 0), 1.2, borderType=cv2.BORDER_REFLECT)
        encoded += np.float32(sharpening) * (encoded - smooth)
    return np.clip(np.rint(encoded), 0, 255).astype(np.uint8)
