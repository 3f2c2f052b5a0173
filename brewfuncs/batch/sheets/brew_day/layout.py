"""The layout of the brew day: on the left plan, reading, unit and difference, on the right what follows from them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from brewfuncs.batch.formats import number_format
from brewfuncs.batch.inputs import quantity
from brewfuncs.batch.names import suffix
from brewfuncs.batch.page import Page
from brewfuncs.batch.sections import INPUTS

__all__ = ["Day"]

_HEADS = (("C", "plan"), ("D", "read"), ("F", "apart"))  # over the columns on the left


class Day:
    """The sheet while it is filled: on the left plan, reading, unit and difference; on the right what follows."""

    def __init__(self, page: Page) -> None:
        self.page, self.book = page, page.book
        self.bases: dict[str, tuple[str, str]] = {}  # for Workings: name -> formula, number format
        self.left, self.right = page.columns()

    def start(self, title: str, right: str, heads: Sequence[tuple[str, str]] = _HEADS) -> None:
        """Two blocks under those before them, each with its band."""
        self.end()
        row = self.left.row
        self.left.section(title)
        for letter, head in heads:
            self.page.put(f"{letter}{row}", head, "section right")
        if right:
            self.right.section(right)

    def end(self) -> None:
        """Go on under both blocks."""
        if max(self.left.row, self.right.row) > self.page.row:
            self.page.skip_to(self.left, self.right)
        self.left, self.right = self.page.columns()

    # ------------------------------------------------------------ rows on the left
    def plan(self, name: str, label: str, formula: str, what: Any, follows: str = "") -> None:
        """A figure of the plan, to do rather than to read. `follows` is the cell whose unit it is shown in."""
        row, base = self.left.row, quantity(what).symbol
        self.page.put(f"B{row}", label, "label")
        self._figure("C", name, formula, base, follows, "result")
        self.left.row += 1

    def _figure(self, letter: str, name: str, formula: str, base: str, follows: str, look: str) -> None:
        """A figure in the unit of another cell; the same in the formulas' unit goes to Workings."""
        row, inner, shown = self.left.row, f"{name}_{suffix(base)}", number_format(base)
        self.bases[inner] = ("=" + formula, shown)
        value = f'UNIT_CONVERT({inner},"{base}",{follows})' if follows else inner
        self.page.put(f"{letter}{row}", f'=IF({inner}="","",{value})', look, shown)
        self.page.put(f"E{row}", f"={follows}" if follows else base, "unit")
        self.book.define(name, self.page, f"{letter}{row}")
        if base == "SG":
            self.page.as_gravity(f"{letter}{row}", f"E{row}")

    def reading(self, key: str, plan: str = "", used: str = "") -> None:
        """A reading to take. `plan` gives what stands in for it, in the formulas' unit; then `{key}_used` is either."""
        row = self.left.row
        item = INPUTS[f"day.{key}"].item
        base = item.quantity.symbol if item.is_number else ""
        self.page.put(f"B{row}", item.label, "label")
        symbol = self.page.enter(f"D{row}", key, item)
        read = key
        if item.unit_choices:
            self.page.unit(f"E{row}", item, symbol)
            self.book.define(f"{key}_unit", self.page, f"E{row}")
            read = f'UNIT_CONVERT({key},{key}_unit,"{base}")'
            if base == "SG":
                self.page.as_gravity(f"C{row}:D{row}", f"E{row}")
        elif symbol:
            self.page.put(f"E{row}", symbol, "unit")
        if plan:
            shown = number_format(symbol)
            self.bases[f"{key}_expected"] = ("=" + plan, number_format(base))
            self.bases[f"{key}_used"] = (f'=IF({key}="",{key}_expected,{used or read})', number_format(base))
            to = f'UNIT_CONVERT({{}},"{base}",{key}_unit)' if item.unit_choices else "{}"
            self.page.put(f"C{row}", f"={to.format(f'{key}_expected')}", "value", shown)
            apart = f"{to.format(f'{key}_used')}-{to.format(f'{key}_expected')}"
            self.page.put(f"F{row}", f'=IF({key}="","",{apart})', "value", _signed(shown))
        self.left.row += 1

    def compare(self, name: str, label: str, planned: str, read: str, what: Any, follows: str, unknown: str) -> None:
        """Plan and reading as cold wort, in one unit: `{name}_expected`, `{name}_read`, and `{name}_used` for formulas.
        `read` is "" where there is no reading that can be used; `unknown` isn't "" where the plan has nothing."""
        row, base = self.left.row, quantity(what).symbol
        shown = number_format(base)
        page, book = self.page, self.book
        self.bases[f"{name}_expected"] = ("=" + planned, shown)
        self.bases[f"{name}_read"] = ("=" + read, shown)
        self.bases[f"{name}_used"] = (f'=IF({name}_read="",{name}_expected,{name}_read)', shown)
        page.put(f"B{row}", label, "label")

        def to(cell_name: str) -> str:
            return f'UNIT_CONVERT({cell_name},"{base}",{follows})'

        page.put(f"C{row}", f'=IF({unknown}<>"","",{to(f"{name}_expected")})', "value", shown)
        page.put(f"D{row}", f'=IF({name}_read="","",{to(f"{name}_read")})', "result", shown)
        page.put(f"E{row}", f"={follows}", "unit")
        apart = f"{to(f'{name}_read')}-{to(f'{name}_expected')}"
        page.put(f"F{row}", f'=IF(OR({name}_read="",{unknown}<>""),"",{apart})', "value", _signed(shown))
        book.define(f"{name}_plan", page, f"C{row}")
        book.define(f"{name}_cold", page, f"D{row}")
        if base == "SG":
            page.as_gravity(f"C{row}:D{row}", f"E{row}")
            page.as_gravity(f"F{row}", f"E{row}")
        self.left.row += 1

    def ask(self, name: str, formula: str) -> None:
        """A line that asks for what is missing; empty where nothing is."""
        self.page.put(f"B{self.left.row}", formula, "state")
        self.page.look_here(f"B{self.left.row}:F{self.left.row}")
        self.page.merge("B", "F", self.left.row)
        self.book.define(name, self.page, f"B{self.left.row}")
        self.left.row += 1

    # ------------------------------------------------------------ rows on the right
    def advice(self, name: str, formula: str, lines: int = 3) -> None:
        """What to do, over the block's width and some rows."""
        block, page = self.right, self.page
        page.put(f"{block.label}{block.row}", "=" + formula, "answer")
        page.merge(block.label, block.base, block.row, lines)
        page.book.define(name, page, f"{block.label}{block.row}")
        block.row += lines


def _signed(shown: str) -> str:
    """A number format with the sign written out."""
    plain = shown.split(";")[-1] if shown.startswith("[") else shown
    plain = "0.0" if plain == "General" else plain
    return f"+{plain};-{plain};{plain}"
