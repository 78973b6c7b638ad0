"""Reading pictures: the same scene in any format, the facts of the camera, refusals."""

import contextlib
import io
import os
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from shapecut.capture.photo import MAX_PIXELS, read_photo
from shapecut.errors import CaptureError

tifffile = pytest.importorskip("tifffile")
pillow_heif = pytest.importorskip("pillow_heif")


@cache
def scene() -> np.ndarray:
    """A smooth (320, 440, 3) picture without any symmetry: each corner has its own colour."""
    y, x = np.mgrid[0:1:320j, 0:1:440j]
    return np.stack([200 * x + 20, 180 * y + 40, 220 - 90 * x - 60 * y], axis=2).astype(np.uint8)


def grey_scene() -> np.ndarray:
    return scene()[:, :, 0]


def as_grey(pixels: np.ndarray) -> np.ndarray:
    assert (pixels == pixels[:, :, :1]).all()
    return pixels[:, :, 0]


def sixteen(picture: np.ndarray) -> np.ndarray:
    """The picture in 16 bits: v becomes 257 v, so 255 becomes 65535."""
    return picture.astype(np.uint16) * 257


def worst(a: np.ndarray, b: np.ndarray) -> int:
    assert a.shape == b.shape
    return int(np.abs(a.astype(int) - b.astype(int)).max())


@pytest.fixture
def saved(tmp_path):
    def save(picture, name, **options):
        path = tmp_path / name
        if isinstance(picture, np.ndarray):
            picture = Image.fromarray(picture)
        picture.save(path, **options)
        return path

    return save


@pytest.mark.parametrize(
    ("name", "options", "tolerance"),
    [
        ("a.png", {}, 0),
        ("a.tif", {}, 0),
        ("a.tif", {"compression": "tiff_lzw"}, 0),
        ("a.tif", {"compression": "jpeg", "quality": 95}, 8),
        ("a.jpg", {"quality": 95}, 8),
        ("a.jpg", {"quality": 95, "progressive": True}, 8),
    ],
)
def test_a_colour_picture_is_read_from_any_format(saved, name, options, tolerance):
    photo = read_photo(saved(scene(), name, **options))
    assert photo.pixels.dtype == np.uint8
    assert worst(photo.pixels, scene()) <= tolerance
    assert photo.size == (440, 320)
    assert photo.name == name


def test_heic_is_read_whatever_its_name(tmp_path):
    path = tmp_path / "phone.jpg"
    pillow_heif.from_pillow(Image.fromarray(scene())).save(path, quality=95)
    assert worst(read_photo(path).pixels, scene()) <= 10


def test_the_first_bytes_tell_the_format_not_the_name(saved):
    assert worst(read_photo(saved(scene(), "a.jpg", format="PNG")).pixels, scene()) == 0


def test_the_first_picture_of_several_is_read(saved, tmp_path):
    rest = [Image.fromarray(255 - scene())]
    tiff = saved(scene(), "pages.tif", save_all=True, append_images=rest)
    assert worst(read_photo(tiff).pixels, scene()) == 0
    phone = saved(scene(), "phone.jpg", format="MPO", save_all=True, append_images=rest, quality=95)
    assert worst(read_photo(phone).pixels, scene()) <= 8


@pytest.mark.parametrize("name", ["a.png", "a.tif"])
def test_sixteen_bit_grey_keeps_its_full_range(saved, name):
    photo = read_photo(saved(Image.fromarray(sixteen(grey_scene())), name))
    assert worst(as_grey(photo.pixels), grey_scene()) == 0


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("compression", [None, "zlib"])
def test_sixteen_bit_tiffs_keep_their_full_range(tmp_path, order, compression):
    path = tmp_path / "scan.tif"
    options = {"byteorder": order, "compression": compression}
    tifffile.imwrite(path, sixteen(scene()), photometric="rgb", **options)
    assert worst(read_photo(path).pixels, scene()) == 0
    tifffile.imwrite(path, sixteen(grey_scene()), photometric="minisblack", **options)
    assert worst(as_grey(read_photo(path).pixels), grey_scene()) == 0


def test_sixteen_bit_colour_png_keeps_its_full_range(tmp_path):
    cv2 = pytest.importorskip("cv2")
    path = tmp_path / "a.png"
    cv2.imwrite(str(path), np.ascontiguousarray(sixteen(scene())[:, :, ::-1]))
    assert worst(read_photo(path).pixels, scene()) == 0


@pytest.mark.parametrize("name", ["a.png", "a.tif", "a.jpg"])
def test_eight_bit_grey_becomes_colour(saved, name):
    assert worst(as_grey(read_photo(saved(grey_scene(), name)).pixels), grey_scene()) <= 3


def test_black_and_white_becomes_colour(saved):
    photo = read_photo(saved(Image.fromarray(grey_scene() > 128), "fax.tif"))
    assert worst(as_grey(photo.pixels), np.where(grey_scene() > 128, 255, 0)) == 0


def test_a_palette_becomes_colour(saved):
    palette = Image.fromarray(scene()).quantize(64)
    photo = read_photo(saved(palette, "a.png"))
    assert worst(photo.pixels, np.asarray(palette.convert("RGB"))) == 0


@pytest.mark.parametrize("name", ["a.tif", "a.jpg"])
def test_cmyk_becomes_colour(saved, name):
    inks = Image.fromarray(scene()).convert("CMYK")
    assert worst(read_photo(saved(inks, name)).pixels, scene()) <= 12


@pytest.mark.parametrize("name", ["a.png", "a.tif"])
def test_transparency_is_laid_over_white(saved, name):
    alpha = np.full(scene().shape[:2], 255, np.uint8)
    alpha[:100], alpha[100:200] = 0, 51
    photo = read_photo(saved(np.dstack([scene(), alpha]), name))
    assert (photo.pixels[:100] == 255).all()
    assert worst(photo.pixels[100:200], (0.2 * scene() + 0.8 * 255)[100:200]) <= 1
    assert worst(photo.pixels[200:], scene()[200:]) == 0


def test_a_transparent_palette_colour_is_laid_over_white(saved):
    palette = Image.fromarray((grey_scene() // 64).astype(np.uint8), mode="P")
    palette.putpalette([10, 20, 30] * 4)
    pixels = read_photo(saved(palette, "a.png", transparency=1)).pixels
    white = grey_scene() // 64 == 1
    assert (pixels[white] == 255).all()
    assert (pixels[~white] == [10, 20, 30]).all()


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.heic"])
@pytest.mark.parametrize(
    ("orientation", "stored"),
    [
        (1, lambda upright: upright),
        (2, lambda upright: upright[:, ::-1]),
        (3, lambda upright: upright[::-1, ::-1]),
        (4, lambda upright: upright[::-1]),
        (5, lambda upright: upright.transpose(1, 0, 2)),
        (6, lambda upright: np.rot90(upright, 1)),
        (7, lambda upright: upright[::-1, ::-1].transpose(1, 0, 2)),
        (8, lambda upright: np.rot90(upright, -1)),
    ],
)
def test_a_picture_is_turned_upright(tmp_path, name, orientation, stored):
    """Orientation by Exif 2.3, tag 274: where the upright top-left corner is in the file."""
    path = tmp_path / name
    exif = Image.Exif()
    exif[274] = orientation
    picture = Image.fromarray(np.ascontiguousarray(stored(scene())))
    if name == "a.heic":  # as phones do: the turn is written as a HEIF property and in EXIF
        heif = pillow_heif.from_pillow(picture)
        heif.info["exif"] = exif.tobytes()
        heif.save(path, quality=95)
    else:
        picture.save(path, exif=exif, quality=95)
    assert worst(read_photo(path).pixels, scene()) <= 10


def test_the_facts_of_the_camera_are_read(saved):
    exif = Image.Exif()
    exif[271], exif[272] = "Oakleaf\0", "Oakleaf 5"
    exif.get_ifd(0x8769)[0xA405] = 27
    photo = read_photo(saved(scene(), "a.jpg", exif=exif, dpi=(300, 200)))
    assert (photo.camera, photo.focal_35mm, photo.dpi) == ("Oakleaf 5", 27.0, (300.0, 200.0))
    exif[272] = "Five"
    exif.get_ifd(0x8769)[0xA405] = 0
    photo = read_photo(saved(scene(), "a.jpg", exif=exif))
    assert (photo.camera, photo.focal_35mm) == ("Oakleaf Five", None)


def test_a_file_that_says_nothing_of_its_camera_states_nothing(saved):
    photo = read_photo(saved(scene(), "a.png"))
    assert (photo.camera, photo.focal_35mm, photo.dpi) == (None, None, None)


@pytest.mark.parametrize("name", ["scan.tif", "scan.png", "scan.jpg"])
def test_a_scan_states_its_resolution(saved, name):
    assert read_photo(saved(scene(), name, dpi=(300, 300))).dpi == pytest.approx((300, 300), 1e-4)


def test_resolution_turns_with_the_picture(saved):
    exif = Image.Exif()
    exif[274] = 6
    stored = np.ascontiguousarray(np.rot90(scene()))
    assert read_photo(saved(stored, "a.jpg", exif=exif, dpi=(300, 200))).dpi == (200.0, 300.0)


@cache
def encoded(name: str) -> bytes:
    """The scene with some texture, so that the data fill most of the file."""
    texture = np.random.default_rng(5).integers(-20, 20, scene().shape)
    picture = Image.fromarray(np.clip(scene() + texture, 0, 255).astype(np.uint8))
    data = io.BytesIO()
    if name == "heic":
        pillow_heif.from_pillow(picture).save(data, quality=80)
    elif name == "progressive":
        picture.save(data, "JPEG", progressive=True)
    elif name == "lzw":
        picture.save(data, "TIFF", compression="tiff_lzw")
    else:
        picture.save(data, name)
    return data.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "progressive", "PNG", "TIFF", "lzw", "heic"])
@pytest.mark.parametrize("kept", [0.0005, 0.02, 0.3, 0.5, 0.9, 0.99])
def test_a_cut_file_is_refused(tmp_path, kind, kept):
    data = encoded(kind)
    path = tmp_path / "cut"
    path.write_bytes(data[: max(13, int(kept * len(data)))])
    with pytest.raises(CaptureError, match=r"cut.*(cut short|rare kind).*save it anew"):
        read_photo(path)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "lzw", "heic"])
@settings(max_examples=25, derandomize=True, deadline=None)
@given(spots=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), min_size=1, max_size=8))
def test_damaged_bytes_give_a_picture_or_a_sentence(tmp_path_factory, kind, spots):
    data = bytearray(encoded(kind))
    for place, value in spots:
        data[int(place**3 * (len(data) - 1))] = value
    path = tmp_path_factory.getbasetemp() / "damaged"
    path.write_bytes(data)
    with contextlib.suppress(CaptureError):
        assert min(read_photo(path).size) >= 300


@pytest.mark.parametrize("content", [b"", b"II", b"hello", b"%PDF-1.7\n" + bytes(500), bytes(900)])
def test_what_is_not_a_picture_is_refused(tmp_path, content):
    path = tmp_path / "note.jpg"
    path.write_bytes(content)
    with pytest.raises(CaptureError, match=r"note.jpg is not a JPEG, PNG, TIFF or HEIC picture"):
        read_photo(path)


def test_other_picture_formats_are_refused(saved):
    with pytest.raises(CaptureError, match="is not a JPEG, PNG, TIFF or HEIC picture"):
        read_photo(saved(scene(), "a.gif"))


def test_a_missing_photograph_is_named(tmp_path):
    with pytest.raises(CaptureError, match=r"There is no photograph .*gone\.jpg: check"):
        read_photo(tmp_path / "gone.jpg")


def test_a_folder_is_not_a_photograph(tmp_path):
    with pytest.raises(CaptureError, match="is a folder: name the photograph itself"):
        read_photo(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_pipe_is_not_a_photograph(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(CaptureError, match="is not a file"):
        read_photo(tmp_path / "pipe")


def test_a_photograph_without_the_right_to_read_is_named(saved, monkeypatch):
    path = saved(scene(), "a.jpg")

    def refuse(*_args, **_options):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "open", refuse)
    with pytest.raises(CaptureError, match=r"a\.jpg may not be read"):
        read_photo(path)


def test_a_picture_too_small_to_measure_is_refused(saved):
    with pytest.raises(CaptureError, match=r"only 440 x 299 pixels, too few to measure"):
        read_photo(saved(scene()[:299], "a.jpg"))


def test_a_decompression_bomb_is_refused_before_decoding(saved):
    """One bit a pixel keeps the test small; the header alone must be enough to refuse."""
    side = int(MAX_PIXELS**0.5) + 1
    bomb = saved(Image.new("1", (side, side)), "bomb.png")
    bomb.write_bytes(bomb.read_bytes()[:200])
    with pytest.raises(
        CaptureError, match=rf"claims {side} x {side} pixels, more than the 200 mill"
    ):
        read_photo(bomb)


@pytest.mark.parametrize("dtype", [np.float32, np.int32])
def test_thirty_two_bit_samples_are_refused(tmp_path, dtype):
    path = tmp_path / "depth.tif"
    tifffile.imwrite(path, grey_scene().astype(dtype))
    with pytest.raises(CaptureError, match=r"depth.tif stores its colours .* 8 or 16 bits"):
        read_photo(path)
