"""What is to stand in an input cell: read in the unit stated beside it, refused where it can't be meant."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from brewfuncs import units
from brewfuncs.errors import BadInput, BrewError, WorkbookError
from brewfuncs.workbook.places import Place, find_cell, named_place, written_place
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.values import Value

#: what cells are to hold, by their names
Settings = Mapping[str, str | float | bool | None]

_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
_ISO_DATE = re.compile(r"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d)?)?")


#: digits, vulgar fractions and what stands between them: meant as a number, whether it can be read as one or not
_NUMERAL = re.compile(
    r"[-+]?[\d½⅓⅔¼¾⅛⅜⅝⅞.,'/_\s]*[\d½⅓⅔¼¾⅛⅜⅝⅞][\d½⅓⅔¼¾⅛⅜⅝⅞.,'/_\s]*%?|[-+]?(?:nan|inf|infinity)", re.IGNORECASE
)


def input_values(package: Package, settings: Settings, rules: Rules) -> dict[Place, Value]:
    """The input cells to set and what is to stand in them."""
    inputs: dict[Place, Value] = {}
    for name in sorted(settings, key=lambda name: not name.endswith("_unit")):  # units first: the rest is read in them
        place = find_cell(package, name, rules.labels)
        if place in inputs:
            raise WorkbookError(f"{name} is set twice")
        _refuse_formulas(package, name, place)
        unit = _unit_of(package, rules.unit_cell(name), inputs)
        inputs[place] = value = _input_value(
            package, name, place, settings[name], unit, wants_text=rules.wants_text(name)
        )
        rules.refuse(name, value, unit)
    return inputs


def _input_value(
    package: Package,
    name: str,
    place: Place,
    given: str | float | bool | None,
    unit: str | None,
    *,
    wants_text: bool = False,
) -> Value:
    """What is to stand in an input cell, in the unit that the cell beside it states."""
    sheet = package.sheet(place[0])
    old = sheet.value(*place[1:])
    if given is None or (isinstance(given, str) and not given.strip()):
        return None
    typed = isinstance(given, str)
    if isinstance(given, (bool, int, float)):
        given = ("TRUE" if given else "FALSE") if isinstance(given, bool) else repr(float(given))
    text, style = given.strip(), sheet.style(*place[1:])
    if wants_text or (unit is None and package.formats.shows_text(style)):
        return text
    if text.startswith("=") and not isinstance(old, str):
        raise BadInput(f"{name}: a value is wanted, and a formula can't be put in")
    if unit is None and (moment := _moment(package, name, style, text)) is not None:
        return moment
    if isinstance(old, str) and unit is None and not _NUMERAL.fullmatch(text):
        if _PLAIN.fullmatch(text):
            return _number(name, text)
        if _kind(text) in ("", _kind(old)):
            return text
    if isinstance(old, bool) or (old is None and unit is None and text.upper() in ("TRUE", "FALSE")):
        if text.upper() not in ("TRUE", "FALSE"):
            raise BadInput(f'{name} is TRUE or FALSE, not "{text}"')
        return text.upper() == "TRUE"
    if unit is None and (kind := _kind(text)) in ("date", "time of day"):
        raise BadInput(f'{name} has no format that shows a {kind}, so "{text}" can\'t be put in')
    try:
        number, symbol = units.parse(text)
    except BrewError as error:
        if old is None and unit is None and not _NUMERAL.fullmatch(text):
            return text  # a blank cell without a unit may well take a note
        if moment_wanted := _moment_wanted(package, style, unit):
            raise BadInput(f'{name} wants {moment_wanted}, and "{text}" is none') from None
        raise BadInput(f"{name} wants a number: {error}") from None
    _finite(name, text, number)
    percent = package.formats.shows_percent(style)
    if not symbol:
        if unit is None and percent and (abs(number) > 1 or (typed and abs(number) == 1)):  # 1 is 1 % to some
            other = f"{number / 100:.12g}" if abs(number) > 1 else f"{100 * number:g} %"
            raise BadInput(f"{name} is shown in percent: write {text} % or {other}")
        return number
    if unit is None:
        if symbol == "%":
            return number / 100
        if (moment_wanted := _moment_wanted(package, style, unit)) or _NUMERAL.fullmatch(text):
            raise BadInput(f'{name} wants {moment_wanted or "a number"}, and "{text}" is none')
        if old is None and not _kind(text):
            return text
        raise BadInput(f'{name} has no unit cell, so "{text}" is to be written as a bare number')
    if symbol == "%" and unit in ("", "%") and percent:
        return number / 100
    try:
        return _finite(name, text, float(units.convert(number, symbol, unit)))
    except BrewError as error:
        raise BadInput(f"{name}: {error}") from None


def _moment(package: Package, name: str, style: int, text: str) -> float | None:
    """The number that stands for a date or a time of day, in a cell that shows one."""
    if _ISO_DATE.fullmatch(text) and package.formats.shows_dates(style):
        serial = package.serial(text)
        if serial is None:
            raise BadInput(f'{name}: "{text}" is not a date')
        return serial
    clock = _CLOCK.fullmatch(text)
    return (60 * int(clock[1]) + int(clock[2])) / 1440 if clock and package.formats.shows_times(style) else None


def _moment_wanted(package: Package, style: int, unit: str | None) -> str:
    """What a cell that shows a date or a time of day wants, as one writes it; "" for any other."""
    if unit is not None:
        return ""
    if package.formats.shows_dates(style):
        return "a date, as 2026-03-14"
    return "a time of day, as 14:05" if package.formats.shows_times(style) else ""


def _kind(text: str) -> str:
    """What a text is meant as that spreadsheets hold as a number."""
    if _ISO_DATE.fullmatch(text):
        return "date"
    if _CLOCK.fullmatch(text):
        return "time of day"
    try:
        number, symbol = units.parse(text)
        units.convert(number, symbol, symbol)
    except BrewError:
        return ""
    return "quantity" if symbol else ""


_PLAIN = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


def _number(name: str, text: str) -> float:
    return _finite(name, text, float(text))


def _finite(name: str, text: str, number: float) -> float:
    if not math.isfinite(number):
        raise BadInput(f"{name}: {text} is more than a cell can hold")
    return number


class Rules:
    """What the maker of a workbook knows of its input cells. Of anyone's workbook nothing is known but the custom that
    the cell named `x_unit` states the unit of `x`."""

    @property
    def labels(self) -> Mapping[str, str]:
        """The words beside inputs, with the names of their cells."""
        return {}

    def unit_cell(self, name: str) -> str:
        """The name of the cell that states an input's unit."""
        return f"{name}_unit"

    def wants_text(self, name: str) -> bool:
        """Whether an input is text even where it looks like a number."""
        return False

    def refuse(self, name: str, value: Value, unit: str | None) -> None:
        """Raise BrewError where an input can't hold the value."""


def _unit_of(package: Package, cell_name: str, inputs: Mapping[Place, Value]) -> str | None:
    """The unit stated in the cell of that name, or to be put there; None where there is no such cell."""
    known = package.names_called(cell_name)
    place = named_place(package, known[0].text) if known else None
    if place is None:
        return None
    value = inputs[place] if place in inputs else package.sheet(place[0]).value(*place[1:])
    return value.strip() if isinstance(value, str) else ""


def _refuse_formulas(package: Package, name: str, place: Place) -> None:
    sheet = package.sheet(place[0])
    if place[1:] in sheet.formulas:
        raise WorkbookError(f"{name} ({written_place(place)}) holds a formula, and a formula can't be set")
    for cell in sheet.formulas.values():
        if cell.kind in ("array", "dataTable") and cell.ref and cell.box.holds(*place[1:]):
            raise WorkbookError(f"{name} ({written_place(place)}) is filled by the formula in {cell.address}")
