"""A picture as it was taken: pixels the right way up, and what the file says about the camera.

A file's format is told by its first bytes, never by its name's ending.
"""

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, ImageOps
from PIL.Image import Exif, Image, alpha_composite, new
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.TiffImagePlugin import TiffImageFile

from shapecut.errors import CaptureError

__all__ = [
    "MAX_PIXELS",
    "MIN_SIDE_PX",
    "Photo",
    "photo_from",
    "photo_size",
    "picture_suffix",
    "read_photo",
]

MAX_PIXELS = 200_000_000
"""Greatest width x height that is decoded; the largest phone sensors have just under this."""

MIN_SIDE_PX = 300
"""Least shorter side in which marks and a boundary can be measured at all."""

SAME_SHAPE = 0.01
"""Pictures whose sides are in proportion to within this fraction were reduced, not cropped."""

STRIP_ROWS = 4
"""Rows of a picture that are copied at once: so few that each strip is given the memory of the one
before, where larger blocks (128 KB by default) go back to the system and are fetched anew."""

_READABLE = "JPEG, PNG, TIFF or HEIC"

_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
"""Major brands of still pictures and sequences coded with HEVC, ISO/IEC 23008-12 annex B."""


@dataclass(frozen=True)
class Photo:
    """One picture, EXIF orientation already applied.

    Attributes:
        name: The file's name, as a person would point at it.
        pixels: (height, width, 3) uint8, sRGB in the order red, green, blue.
        camera: Maker and model from EXIF, or None.
        focal_35mm: 35 mm equivalent focal length from EXIF in mm, or None.
        dpi: Resolution along x and y stated by the file, or None; only a scan's is believed.
        orientation: EXIF's, 1 to 8, as it was applied; 1 when the picture is as the sensor saw it.
        taken_size: (width, height) that the camera noted in EXIF, in pixels, or None; another size
            now means that the picture was cropped or reduced since.
    """

    name: str
    pixels: NDArray[np.uint8]
    camera: str | None = None
    focal_35mm: float | None = None
    dpi: tuple[float, float] | None = None
    orientation: int = 1
    taken_size: tuple[int, int] | None = None

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) in pixels."""
        return (self.pixels.shape[1], self.pixels.shape[0])

    @property
    def cropped(self) -> bool:
        """Whether it has other proportions than the camera noted."""
        if self.taken_size is None:
            return False
        (short, long), (was_short, was_long) = sorted(self.size), sorted(self.taken_size)
        return abs(short / long * was_long / was_short - 1) > SAME_SHAPE


def read_photo(path: Path) -> Photo:
    """Read a JPEG, PNG, TIFF or HEIC picture; of a file with several, the first.

    16-bit samples are cut to 8 bits, transparency is laid over white, grey, palette and CMYK
    pictures become RGB.  Embedded colour profiles are not applied.

    Raises:
        CaptureError: If the path cannot be opened, is not such a picture, is damaged or cut short,
            or has too many or too few pixels.
    """
    with _opened(path) as file:
        return photo_from(file, path)


def photo_from(file: IO[bytes], path: Path) -> Photo:
    """Read the same from an open file, under the path that sentences name.

    Raises:
        CaptureError: As `read_photo`.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the decoders', about EXIF; what matters is raised
        picture = _recognised(file, path)
        _check_size(picture.size, path)
        _check_samples(picture.mode, path)
        try:
            orientation = _orientation(picture)
            picture.load()
            exif = picture.getexif()
            ImageOps.exif_transpose(picture, in_place=True)
            pixels = _rgb(picture)
        except Exception as error:  # damaged bytes make the decoders raise nearly anything
            raise CaptureError(
                f"{path} cannot be read to its end, it is damaged or was cut short: "
                f"copy it from the camera again, or save it anew as {_READABLE}."
            ) from error
    dpi = _dpi(picture, swapped=orientation >= 5)
    return Photo(
        path.name,
        pixels,
        _camera(exif),
        _focal_35mm(exif),
        dpi,
        orientation,
        _taken_size(exif),
    )


def photo_size(path: Path) -> tuple[int, int]:
    """(width, height) in pixels of the picture the right way up; its data is not decoded.

    Raises:
        CaptureError: If there is no such picture, or its header is damaged.
    """
    with _opened(path) as file, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # as in photo_from
        picture = _recognised(file, path)
        _check_size(picture.size, path)
        width, height = picture.size
        return (height, width) if _orientation(picture) >= 5 else (width, height)


def _opened(path: Path) -> IO[bytes]:
    try:
        if path.exists() and not path.is_file():
            kind = "a folder" if path.is_dir() else "not a file"
            raise CaptureError(f"{path} is {kind}: name the photograph itself.")
        return path.open("rb")
    except FileNotFoundError:
        raise CaptureError(f"There is no photograph {path}: check its name and folder.") from None
    except PermissionError:
        raise CaptureError(f"{path} may not be read: give yourself the right to read it.") from None
    except OSError as error:
        raise CaptureError(f"{path} cannot be opened ({error.strerror}): copy it again.") from error


def picture_suffix(file: IO[bytes]) -> str | None:
    """The usual ending of a picture's kind (".jpg"), or None for what is no such picture."""
    start = file.read(12)
    file.seek(0)
    if start.startswith(b"\xff\xd8\xff"):
        return ".jpg"
    if start.startswith(b"\x89PNG\r\n\x1a\n"):
        return ".png"
    if start.startswith((b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")):
        return ".tif"
    if start[4:8] == b"ftyp" and start[8:12] in _HEIF_BRANDS:
        return ".heic"
    return None


def _recognised(file: IO[bytes], path: Path) -> Image:
    """Read the header; the picture's data is not decoded yet."""
    suffix = picture_suffix(file)
    try:
        match suffix:
            case ".jpg":
                return JpegImageFile(file)
            case ".png":
                return PngImageFile(file)
            case ".tif":
                return TiffImageFile(file)
            case ".heic":
                from pillow_heif import HeifImageFile

                heif: Image = HeifImageFile(file)  # type: ignore[no-untyped-call]
                return heif
    except Exception as error:  # as in photo_from
        raise CaptureError(
            f"{path} is damaged, cut short, or of a rare kind that shapecut cannot read: "
            f"save it anew as {_READABLE}."
        ) from error
    raise CaptureError(f"{path} is not a {_READABLE} picture: choose a photograph or scan.")


def _check_size(size: tuple[int, int], path: Path) -> None:
    width, height = size
    if width * height > MAX_PIXELS:
        raise CaptureError(
            f"{path} claims {width} x {height} pixels, more than the {MAX_PIXELS // 1_000_000} "
            "million that are read: save it smaller."
        )
    if min(size) < MIN_SIDE_PX:
        raise CaptureError(
            f"{path} has only {width} x {height} pixels, too few to measure in: "
            "take the photograph's original, not a preview of it."
        )


def _check_samples(mode: str, path: Path) -> None:
    if mode in ("I", "F", "LAB", "HSV"):
        raise CaptureError(
            f"{path} stores its colours in a way that is not for photographs (32-bit or Lab): "
            f"save it anew as {_READABLE} with 8 or 16 bits."
        )


def _orientation(picture: Image) -> int:
    """EXIF orientation, 1 to 8; 5 and up change width with height."""
    value = picture.getexif().get(ExifTags.Base.Orientation, 1)
    return value if value in range(1, 9) else 1


def _rgb(picture: Image) -> NDArray[np.uint8]:
    """(height, width, 3) uint8 of any picture."""
    if picture.mode.startswith("I;16"):
        grey = (np.asarray(picture) >> 8).astype(np.uint8)
        return np.repeat(grey[:, :, None], 3, axis=2)
    if picture.has_transparency_data:
        white = new("RGBA", picture.size, "white")
        picture = alpha_composite(white, picture.convert("RGBA"))
    return _copied(picture if picture.mode == "RGB" else picture.convert("RGB"))


def _copied(picture: Image) -> NDArray[np.uint8]:
    """(height, width, 3) uint8 of an RGB picture, strip by strip.

    Pillow hands pixels out as one string, joined from pieces: of a whole photograph that fills
    twice its memory once more, which takes over half as long as decoding it.
    """
    width, height = picture.size
    pixels = np.empty((height, width, 3), np.uint8)
    for top in range(0, height, STRIP_ROWS):
        bottom = min(top + STRIP_ROWS, height)
        pixels[top:bottom] = np.asarray(picture.crop((0, top, width, bottom)))
    pixels.setflags(write=False)
    return pixels


def _camera(exif: Exif) -> str | None:
    make, model = (
        str(exif.get(tag, "")).strip("\0 ") for tag in (ExifTags.Base.Make, ExifTags.Base.Model)
    )
    both = model if model.lower().startswith(make.lower()) else f"{make} {model}"
    return both.strip() or None


def _focal_35mm(exif: Exif) -> float | None:
    value = exif.get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.FocalLengthIn35mmFilm)
    return float(value) if isinstance(value, int) and value > 0 else None


def _taken_size(exif: Exif) -> tuple[int, int] | None:
    noted = exif.get_ifd(ExifTags.IFD.Exif)
    width = noted.get(ExifTags.Base.ExifImageWidth)
    height = noted.get(ExifTags.Base.ExifImageHeight)
    if isinstance(width, int) and isinstance(height, int) and min(width, height) > 0:
        return (width, height)
    return None


def _dpi(picture: Image, *, swapped: bool) -> tuple[float, float] | None:
    try:
        x, y = (float(value) for value in picture.info["dpi"])
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None
    if not (0 < x < np.inf and 0 < y < np.inf):
        return None
    return (y, x) if swapped else (x, y)
