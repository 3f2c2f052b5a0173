"""Cells by their names."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from brewfuncs.errors import CellError, WorkbookError
from brewfuncs.xlsx.address import Box, address, parse_address
from brewfuncs.xlsx.formula import quoted
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.values import Value

#: a cell: the sheet's name, the row, the column
Place = tuple[str, int, int]


def within(places: Iterable[Place], sheet: str, box: Box) -> list[Place]:
    if box.top == box.bottom and box.left == box.right:
        place = (sheet, box.top, box.left)
        return [place] if place in places else []
    return [place for place in places if place[0] == sheet and box.holds(*place[1:])]


def shown(value: Value) -> str:
    """A value as a sentence has it."""
    if value is None:
        return "blank"
    if isinstance(value, CellError):
        return value.code
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    return f"{value:.10g}" if isinstance(value, float) else f'"{value}"'


def written_place(place: Place) -> str:
    """A cell as formulas write it, such as Plan!B4."""
    sheet = f"{place[0]}!" if re.fullmatch(r"\w+", place[0]) else quoted(place[0])
    return sheet + address(*place[1:])


def cell_names(package: Package) -> dict[Place, str]:
    """The names of single cells."""
    found: dict[Place, str] = {}
    for name in package.names:
        place = named_place(package, name.text)
        if place is not None and not name.name.startswith("_xlnm.") and (name.sheet is None or place not in found):
            found[place] = name.name
    return found


_CELL_NAME = re.compile(r"(?:'((?:[^']|'')+)'|([^'!]+))!\$?([A-Za-z]{1,3})\$?(\d{1,7})")


def named_place(package: Package, text: str) -> Place | None:
    match = _CELL_NAME.fullmatch(text)
    if match is None:
        return None
    sheet = package.find_sheet(match[1].replace("''", "'") if match[1] else match[2])
    try:
        return (sheet, *parse_address(match[3] + match[4])) if sheet else None
    except WorkbookError:
        return None


def find_cell(package: Package, name: str, labels: Mapping[str, str] = MappingProxyType({})) -> Place:
    """The cell a name, or an address such as Plan!B4, stands for. `labels` are words that stand beside cells, with
    their names, of which one is told where somebody wrote those words."""
    wanted = name.strip()
    for known in sorted(package.names_called(wanted), key=lambda known: known.sheet is not None):
        place = named_place(package, known.text)
        if place is None:
            raise WorkbookError(f"{wanted} is not the name of one cell but stands for {known.text}")
        return place
    place = named_place(package, wanted)
    if place is not None:
        return place
    if re.fullmatch(r"\$?[A-Za-z]{1,3}\$?\d+", wanted):
        first = package.sheets[0].name if package.sheets else "Sheet1"
        raise WorkbookError(f'{wanted} needs its sheet, as in "{first}!{wanted}"; better still, give the cell a name')
    names = {known.casefold(): known for known in cell_names(package).values()}
    known_words = {label.casefold(): named for label, named in labels.items() if named.casefold() in names} | names
    near = difflib.get_close_matches(wanted.casefold(), known_words, n=3, cutoff=0.6)
    hint = list(dict.fromkeys(known_words[words] for words in near))
    raise WorkbookError(
        f'{package.name} has no cell named "{wanted}"' + (f"; did you mean {' or '.join(hint)}?" if hint else "")
    )
