"""An outline from a file of any kind that is read: which reader takes which ending."""

from collections.abc import Callable, Sequence
from pathlib import PurePath

from shapecut.drawings.drawn import Drawn
from shapecut.drawings.drawn_outline import GivenOutline, drawn_outline
from shapecut.drawings.outline_units import UnitName
from shapecut.errors import ShapeError
from shapecut.shape.outline_file import outline_from_text, setting_out_from_text

__all__ = ["imported_outline"]


def imported_outline(
    data: bytes, name: str, *, units: UnitName | None = None, layers: Sequence[str] = ()
) -> GivenOutline:
    """Read an outline, by its file's ending: .json, .dxf, .svg, or .csv.

    Args:
        data: The file.
        name: Its name.
        units: What its numbers are, where the file does not say or is wrong.
        layers: Those that hold the outline; none for the whole file.

    Raises:
        ShapeError: An ending that is not known, or whatever is wrong with the file.
    """
    ending = PurePath(name).suffix.lower()
    if ending == ".json":
        return _from_json(data, name, stated=bool(units or layers))
    drawn = _reader(ending, name)(data, name, units=units, layers=layers)
    return drawn_outline(drawn, name)


def _reader(ending: str, name: str) -> Callable[..., Drawn]:
    """The reader of a drawing, imported only for such a file: ezdxf takes its time."""
    if ending == ".dxf":
        from shapecut.drawings.dxf_outline import read_dxf

        return read_dxf
    if ending == ".svg":
        from shapecut.drawings.svg_outline import read_svg

        return read_svg
    if ending == ".csv":
        from shapecut.drawings.csv_outline import read_csv

        return read_csv
    raise ShapeError(
        f"{name} is no outline that can be read: name a .json, .dxf, .svg or .csv file."
    )


def _from_json(data: bytes, name: str, *, stated: bool) -> GivenOutline:
    if stated:
        raise ShapeError(
            f"{name} says its units itself and has no layers: leave template.outline_units and "
            "template.outline_layers out."
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ShapeError(f"{name} is not UTF-8 text: save it again.") from None
    return GivenOutline(outline_from_text(text, name), marks=setting_out_from_text(text, name))
