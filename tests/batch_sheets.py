"""The sheets of a batch at work: one generated workbook, into which plan after plan is typed.

Generating a workbook takes seconds, typing a plan into one that the engine has loaded a twentieth of one: so many plans
can be tried. A cell is known by its name, and by its place where it has none.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from typing import Any

from brewfuncs.batch.draft import Draft
from brewfuncs.batch.generate import new
from brewfuncs.batch.names import suffix
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.sections import SECTIONS
from brewfuncs.workbook.book import Book
from brewfuncs.workbook.places import Place, named_place
from brewfuncs.xlsx.address import address, parse_address
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.values import Value

_DAY_0 = datetime.date(1899, 12, 30)


def places_of(package: Package) -> dict[str, Place]:
    """Every named cell of a workbook; every other cell with a formula by its address; titles of tables on Workings."""
    named = {name.name: named_place(package, name.text) for name in package.names}
    places = {name: place for name, place in named.items() if place is not None and not name.startswith("_xlnm")}
    for sheet in package.sheets:
        if sheet.name not in ("Functions", "Known answers"):
            places |= {f"{sheet.name}!{address(*at)}": (sheet.name, *at) for at in sheet.formulas}
    workings = package.sheet("Workings")
    for row in range(1, workings.used[0] + 1):
        title = workings.value(row, 2)
        if isinstance(title, str) and title.startswith(("Chart", "Mark")):
            places[title] = ("Workings", row, 2)
    return places


def cells_of(package: Package) -> dict[str, Any]:
    """What stands in each of them, as it is stored."""
    found = {name: package.sheet(sheet).value(*at) for name, (sheet, *at) in places_of(package).items()}
    return {name: "" if value is None else value for name, value in found.items()}


def typed(plan: Plan, places: Mapping[str, Place], system: str | None = None) -> dict[str, Any]:
    """What a plan's inputs hold, by the names of their cells, units as well; None is a blank. `system` is whose units
    they start in."""
    draft = Draft(plan, system)
    found: dict[str, Any] = {}
    for section in SECTIONS:
        for item in section.inputs:
            names = [section.name(item.key, n) for n in section.numbers]
            unit = draft.unit(names, item) if item.is_number else ""
            if section.rows and unit and f"{names[0]}_{suffix(item.quantity.symbol)}" not in places:
                unit = item.quantity.symbol  # a column without room for the converted value
            if unit and item.unit_choices:
                found[f"{section.name(item.key)}_unit"] = unit
            found |= {name: _as_number(draft.start(name, unit)) for name in names}
    return found


def _as_number(value: Any) -> Any:
    if isinstance(value, datetime.date):
        return float((value - _DAY_0).days)
    if isinstance(value, datetime.time):
        return (value.hour * 60 + value.minute) / 1440
    return None if value == "" else value


class Sheets:
    """A workbook that is generated with nothing in it and loaded by the engine, with the sheet Water or without."""

    def __init__(self, has_water: bool = False) -> None:
        self.package = Package("batch.xlsx", data=new(Plan.empty(with_optional=has_water)))
        self.places = places_of(self.package)
        self._distinct = set(self.places.values())  # a formula has its address and may have a name
        self._book = Book(self.package)
        self._filled: dict[Place, Value] = {}

    def type(self, plan: Plan) -> None:
        """Put a plan into the inputs, in place of what was there."""
        self.fill(self.inputs(plan))

    def inputs(self, plan: Plan, system: str | None = None) -> dict[Place, Value]:
        """What a plan's inputs hold, by their places."""
        return {
            self.places[name]: value for name, value in typed(plan, self.places, system).items() if name in self.places
        }

    def fill(self, inputs: Mapping[Place, Value]) -> None:
        """Put values into the cells one types into; any other that was filled before holds what it held at first."""
        for place in dict.fromkeys((*self._filled, *inputs)):
            value = inputs[place] if place in inputs else self.stored(place)
            if value != (self._filled[place] if place in self._filled else self.stored(place)):
                self._book.engine.set_value(*place, value)
        self._filled = dict(inputs)
        self._book.engine.calculate()

    def stored(self, place: Place) -> Value:
        """What the workbook's file holds, with nothing typed into it."""
        return self.package.sheet(place[0]).value(*place[1:])

    @property
    def formulas(self) -> list[Place]:
        """Every cell that holds one."""
        return [(sheet.name, *at) for sheet in self.package.sheets for at in sheet.formulas]

    def value(self, place: Place) -> Value:
        """What stands in a cell."""
        return self._book.engine.value(*place)

    @property
    def kept(self) -> Mapping[Place, str]:
        """Formulas that the engine can't work out, and why."""
        return self._book.kept

    def cells(self) -> dict[str, Any]:
        """What stands in every cell."""
        found = {place: self.value(place) for place in self._distinct}
        return {name: "" if found[place] is None else found[place] for name, place in self.places.items()}

    def put(self, formulas: Iterable[tuple[str, str, str]], before: list[tuple[Place, str]]) -> None:
        """Put formulas into cells, as (sheet, address, formula); `before` gets what `put_back` wants."""
        engine = self._book.engine
        for sheet, at, formula in formulas:
            place = (sheet, *parse_address(at))
            ready = self._book.rewriter.rewrite(formula.removeprefix("="), *place, True)
            before.append((place, engine.formula(*place) or ""))
            engine.set_formula(*place, f"={ready}")
        engine.calculate()

    def put_back(self, before: Iterable[tuple[Place, str]]) -> None:
        for place, formula in before:
            self._book.engine.set_formula(*place, formula)
