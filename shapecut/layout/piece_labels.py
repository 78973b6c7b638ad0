"""Labels of pieces: the number of their row and a letter along it."""

__all__ = ["piece_letters"]


def piece_letters(place: int) -> str:
    """Letters for the place of a piece along its row: a to z, then aa, ab and so on."""
    letters = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters
