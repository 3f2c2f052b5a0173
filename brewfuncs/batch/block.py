"""Half the width of a sheet, filled row by row: inputs, results, readings, states and lines of text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from brewfuncs.batch.formats import number_format
from brewfuncs.batch.inputs import Input, quantity
from brewfuncs.batch.names import suffix
from brewfuncs.batch.sections import INPUTS, find_section

if TYPE_CHECKING:
    from brewfuncs.batch.page import Page

__all__ = ["Block"]


class Block:
    """Rows of label, value, unit and converted value; `columns` are the letters of label, value, unit, converted
    value and its unit."""

    def __init__(self, page: Page, columns: str, row: int) -> None:
        self.page, self.book, self.row = page, page.book, row
        self.label, self.value, self.unit, self.converted, self.base = tuple(columns)

    def _at(self, letter: str) -> str:
        return f"{letter}{self.row}"

    def section(self, title: str) -> None:
        self.page.band(self.row, title, self.label, self.base)
        self.row += 1

    def gap(self) -> None:
        self.row += 1

    def _labelled(self, label: str) -> None:
        self.page.put(self._at(self.label), label, "label")

    def input(self, key: str, label: str = "") -> None:
        """An input of the plan: label, value, unit, and the value in the unit formulas use."""
        section, item = INPUTS[key]
        name = section.name(item.key)
        self._labelled(label or item.label)
        symbol = self.page.enter(self._at(self.value), name, item)
        if not item.is_number:
            wide = (self.unit,) if item.words else (self.unit, self.converted, self.base)  # names need more room
            for letter in wide:
                self.page.put(self._at(letter), None, "input text")
            self.page.merge(self.value, wide[-1], self.row)
        elif item.unit_choices:
            self._unit_and_converted(name, item, symbol)
        elif symbol:
            self.page.put(self._at(self.unit), symbol, "unit")
        self.row += 1

    def inputs(self, section_key: str) -> None:
        """All inputs of a section, under its band."""
        section = find_section(section_key)
        self.section(section.title)
        for item in section.inputs:
            self.input(f"{section.key}.{item.key}")

    def _unit_and_converted(self, name: str, item: Input, symbol: str) -> None:
        base = item.quantity.symbol
        self.page.unit(self._at(self.unit), item, symbol)
        self.book.define(f"{name}_unit", self.page, self._at(self.unit))
        formula = f'UNIT_CONVERT({name},{name}_unit,"{base}")'
        if item.default is None and item.quantity.dimension.name == "temperature":
            formula = f'IF({name}="","",{formula})'  # a blank is no temperature: 0 °F would be -18 °C
        self.book.base([f"{name}_{suffix(base)}"], [f"={formula}"], base)
        if base == "SG":
            self.page.as_gravity(self._at(self.value), self._at(self.unit), entered=True)

    def result(
        self,
        name: str,
        label: str,
        formula: str,
        what: Any = None,
        unit: str = "",
        note: str = "",
        number: str = "",
        look: str = "result",
        blank: bool = False,
    ) -> None:
        """A result. `formula` gives it in the unit of `what`; `unit` names the cell whose unit it is shown in. With
        `blank` it may be "" while there is nothing to tell."""
        self._labelled(label)
        base = quantity(what).symbol if what is not None else ""
        share = what is not None and quantity(what).dimension.name.startswith("share")
        shown = number or number_format(base, share)
        if unit:
            inner = f"{name}_{suffix(base)}"
            self.book.base([inner], [formula], base)
            value = f'UNIT_CONVERT({inner},"{base}",{name}_unit)'
            self.page.put(self._at(self.value), f'=IF({inner}="","",{value})' if blank else f"={value}", look, shown)
            self.page.put(self._at(self.unit), f"={unit}", "unit")
            self.book.define(f"{name}_unit", self.page, self._at(self.unit))
            if base == "SG":
                self.page.as_gravity(self._at(self.value), self._at(self.unit))
        else:
            self.page.put(self._at(self.value), formula, look, shown)
            if not share:
                self.page.put(self._at(self.unit), base, "unit")
        self.book.define(name, self.page, self._at(self.value))
        self.page.note(self._at(self.value), note)
        self.row += 1

    def measurement(self, key: str, used: str = "") -> None:
        """A reading still to be taken. `used` is what formulas read as x_used: the reading in the formulas' unit
        (written {x}) or, while it is blank, something else, such as the plan's value. Without it, a reading that only
        serves others."""
        section, item = INPUTS[key]
        name, base = section.name(item.key), item.quantity.symbol
        self._labelled(item.label)
        symbol = self.page.enter(self._at(self.value), name, item)
        if item.unit_choices:
            self.page.unit(self._at(self.unit), item, symbol)
            self.book.define(f"{name}_unit", self.page, self._at(self.unit))
            if base == "SG":
                self.page.as_gravity(self._at(self.value), self._at(self.unit), entered=True)
        else:
            self.page.put(self._at(self.unit), symbol, "unit")
        if used:
            self._used(name, item, used)
        self.row += 1

    def _used(self, name: str, item: Input, used: str) -> None:
        """What formulas read, on Workings; beside a blank reading, what is used in its place, in the reading's unit."""
        base = item.quantity.symbol
        reading, beside, unit = name, f"{name}_used", f'"{base}"'
        if item.unit_choices:
            unit = f"{name}_unit"
            reading, beside = (f'UNIT_CONVERT({name},{unit},"{base}")', f'UNIT_CONVERT({name}_used,"{base}",{unit})')
        self.book.base([f"{name}_used"], [used.replace("{x}", reading)], base)
        # a number, since programs without the functions keep it, while they work an empty text out anew
        self.book.base([f"{name}_beside"], [f'=IF(OR({name}_used="",{name}<>""),0,1)'], "")
        at = self._at(self.converted)
        self.page.put(at, f'=IF({name}_beside=0,"",{beside})', "quiet", number_format(base))
        self.page.put(self._at(self.base), f'=IF({name}_beside=0,"",{unit})', "unit")
        if base == "SG":
            self.page.as_gravity(at, self._at(self.base))

    def state(self, name: str, label: str, formula: str, note: str = "") -> None:
        """A state in words; one that begins with "Look" is marked."""
        self._labelled(label)
        self.page.put(self._at(self.value), formula, "state")
        self.page.merge(self.value, self.base, self.row)
        self.page.look_here(f"{self._at(self.value)}:{self._at(self.base)}")
        self.book.define(name, self.page, self._at(self.value))
        self.page.note(self._at(self.value), note)
        self.row += 1

    def line(self, formula: str, look: str = "state", name: str = "") -> None:
        """A line of text over the block's width."""
        self.page.put(self._at(self.label), formula, look)
        self.page.merge(self.label, self.base, self.row)
        if name:
            self.book.define(name, self.page, self._at(self.label))
        self.row += 1

    def note(self, text: str, lines: int = 1) -> None:
        """Quiet text over the block's width."""
        self.page.put(self._at(self.label), text, "note")
        self.page.merge(self.label, self.base, self.row)
        self.page.sheet.row_dimensions[self.row].height = 13.5 * lines + 1.5
        self.row += 1
