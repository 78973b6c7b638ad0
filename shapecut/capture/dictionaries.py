"""Names of the mark dictionaries that OpenCV draws and reads.

Glossary:
    dictionary: an agreed set of square black-and-white patterns; each has a number.
    mark: one such pattern, printed with a border of one black cell round it.
    plain name: how a person writes the dictionary, e.g. `AprilTag 36h11` or `ArUco 4x4 50`.
"""

import difflib
import re
from dataclasses import dataclass

from shapecut.errors import CaptureError

__all__ = ["DICTIONARIES", "MarkDictionary", "find_dictionary"]


@dataclass(frozen=True)
class MarkDictionary:
    """One of OpenCV's predefined dictionaries.

    Attributes:
        name: Its plain name.
        opencv: Name of its constant in `cv2.aruco`.
        count: How many marks it has; they are numbered from 0.
    """

    name: str
    opencv: str
    count: int


DICTIONARIES = (
    *(
        MarkDictionary(f"ArUco {bits}x{bits} {count}", f"DICT_{bits}X{bits}_{count}", count)
        for bits in (4, 5, 6, 7)
        for count in (50, 100, 250, 1000)
    ),
    MarkDictionary("ArUco original", "DICT_ARUCO_ORIGINAL", 1024),
    MarkDictionary("ArUco MIP 36h12", "DICT_ARUCO_MIP_36h12", 250),
    MarkDictionary("AprilTag 16h5", "DICT_APRILTAG_16h5", 30),
    MarkDictionary("AprilTag 25h9", "DICT_APRILTAG_25h9", 35),
    MarkDictionary("AprilTag 36h10", "DICT_APRILTAG_36h10", 2320),
    MarkDictionary("AprilTag 36h11", "DICT_APRILTAG_36h11", 587),
)
"""All of OpenCV's predefined dictionaries."""


def find_dictionary(text: str) -> MarkDictionary:
    """Look up a dictionary by its plain name or OpenCV's.

    Args:
        text: E.g. `AprilTag 36h11`, `tag36h11`, `ArUco 4x4 50`, `4x4_50` or `DICT_4X4_50`; case,
            spaces and punctuation do not matter.

    Raises:
        CaptureError: If there is none of that name; the sentence offers the nearest.
    """
    key = _key(text)
    if key in _BY_KEY:
        return _BY_KEY[key]
    nearest = _BY_KEY[difflib.get_close_matches(key, _BY_KEY, n=1, cutoff=0.0)[0]]
    raise CaptureError(
        f'There is no mark dictionary "{text}": the nearest known one is "{nearest.name}".'
    )


def _key(text: str) -> str:
    """What tells dictionaries apart in any spelling: `36h11`, `4x450`, `original`."""
    letters = re.sub(r"[\W_]", "", text).lower()
    return re.sub(r"^(dict)?(apriltag|aruco|tag)?", "", letters)


_BY_KEY = {_key(dictionary.name): dictionary for dictionary in DICTIONARIES}
