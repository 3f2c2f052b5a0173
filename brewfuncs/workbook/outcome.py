"""What differs from what is stored, and which of it may be written."""

from __future__ import annotations

from dataclasses import dataclass

from brewfuncs.errors import CellError
from brewfuncs.workbook.book import Book
from brewfuncs.workbook.places import Place, shown, within
from brewfuncs.xlsx.address import Box
from brewfuncs.xlsx.values import Value, error_value, same_value


@dataclass
class Outcome:
    """The values of a workbook as they come out, against those its file holds."""

    changes: dict[Place, tuple[Value, Value]]  # old and new
    extents: dict[Place, Box]  # of arrays that grew or shrank
    errors: dict[Place, str]  # cells that show an error, with its code
    blocked: dict[Place, str]  # formulas left alone since they depend on one without a value


def outcome(book: Book) -> Outcome:
    """Compare what came out with what is stored, and believe the file where the engine is less to be trusted.

    A formula of one of the rarer built-in functions that comes out differently although nothing it reads has changed
    was worked out by another program, most likely rightly: its stored value stays.
    """
    while True:
        result = _compare(book)
        doubtful = [
            place for place in book.less_trusted if place in result.changes and result.changes[place][0] is not None
        ]
        if not doubtful:
            return result
        changed = {*result.changes, *book.inputs}
        # not the engine's list of dependents: it doesn't see through names
        roots = [
            place
            for place in doubtful
            if not any(within(changed, sheet, box) for sheet, box in book.engine.precedents(*place))
        ]
        if not roots:
            return result
        for place in roots:
            book.give_in(
                place, f"the engine makes {shown(result.changes[place][1])} of it, though nothing it reads has changed"
            )
        book.calculate()


def _agree(old: Value, new: Value) -> bool:
    # LibreOffice stores TRUE as 1
    return same_value(old, float(new) if new.__class__ is bool and old.__class__ is float else new)


def _compare(book: Book) -> Outcome:
    changes: dict[Place, tuple[Value, Value]] = {}
    errors: dict[Place, str] = {}
    value_of = book.engine.value
    blocked = {
        place: "it depends on a formula without a value"
        for place in book.uncertain()
        if place not in book.kept and book.cell(place) is not None
    }
    for sheet in book.package.sheets:
        name, stored = sheet.name, sheet.stored
        for (row, column), cell in sheet.formulas.items():
            place = (name, row, column)
            if place in book.kept or place in blocked:
                value = stored(cell)
                if value.__class__ is CellError:
                    errors[place] = value.code
                continue
            new = value_of(name, row, column)
            if new.__class__ is CellError:
                errors[place] = new.code
                new = error_value(new.code)
            elif new is None:
                new = 0.0  # a formula that gives a blank cell shows 0
            old = stored(cell)
            if not _agree(old, new):
                changes[place] = (old, new)
    extents: dict[Place, Box] = {}
    for sheet in book.package.sheets:
        wanted: dict[tuple[int, int], Value] = {}
        for place, before, after in book.blocks():
            if place[0] != sheet.name or place in blocked:
                continue
            wanted.update((spot, None) for spot in before.cells())
            if after != before:
                extents[place] = after
            rows = book.engine.values(sheet.name, after) if place not in book.fixed else book.fixed[place]
            for row, column in after.cells():
                new = rows[row - after.top][column - after.left]
                wanted[row, column] = 0.0 if new is None else new
        stored_values = sheet.values(wanted.keys() - sheet.formulas.keys())
        for spot, new in wanted.items():
            if spot in sheet.formulas:
                continue
            old = stored_values.get(spot)
            if isinstance(new, CellError):
                errors[sheet.name, *spot] = new.code
                new = error_value(new.code)
            if not _agree(old, new):
                changes[sheet.name, *spot] = (old, new)
    return Outcome(changes, extents, errors, blocked)
