"""What differs from what is stored, and which of it may be written.

A value is written only where it is known to be right. A formula that reads nothing changed keeps what is stored. A
formula that should change is written if the engine, with the workbook as it stands, makes of it what is stored, or if
nothing is stored, or if it calls a function of ours; and if the same holds for all it rests on. The rest is left.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from brewfuncs.errors import CellError
from brewfuncs.workbook.book import Book
from brewfuncs.workbook.places import Place, shown, written_place
from brewfuncs.workbook.reads import Readers, by_column, touched
from brewfuncs.xlsx.address import Box
from brewfuncs.xlsx.values import Value, error_value, same_value

_CLOSE = 1e-9  # relative; what two programs differ by that sum in another order
_MAX_JUDGED = 50_000  # cells looked at one by one
_MAX_ROUNDS = 20


@dataclass
class Left:
    """A formula that should change, or may have to, and can't be vouched for."""

    reason: str
    origin: Place | None = None  # the cell it rests on, whose reason it is


@dataclass
class Outcome:
    """The values of a workbook as they come out, against those its file holds."""

    changes: dict[Place, tuple[Value, Value]]  # old and new
    extents: dict[Place, Box]  # of arrays that grew or shrank
    errors: dict[Place, str]  # cells that show an error, with its code
    left: dict[Place, Left] = field(default_factory=dict)
    volatile: set[Place] = field(default_factory=set)  # changes that come with every calculation


# ---------------------------------------------------------------- before anything is changed
def distrust(book: Book) -> None:
    """Let the stored value stand in for each formula that the engine works out otherwise, from what is stored.

    Judged is each formula by itself: a value that is wrong, or of another program, doesn't condemn what rests on it.
    """
    book.distrusting = True
    known = {
        place: f"{function} agrees here with spreadsheet programs for some numbers only"
        for place, function in book.differing.items()
        if place not in book.kept and book.stored(place) is not None
    }
    if known:
        book.distrust(known)
    suspects = _suspects(book, compare(book))
    if not suspects:
        return
    blanks = {
        place: book.engine.value(*place)
        for place in book.places()
        if book.stored(place) is None and not book.stands(place)
    }
    if blanks:  # what was stored beside cells that had no value then proves nothing
        columns = by_column(blanks)
        unproven = [place for place in suspects if touched(book.reading(place).boxes, columns)]
        book.unproven.update(unproven)
        suspects = _suspects(book, compare(book))
    wrong = _misjudged(book, suspects, blanks)
    for _ in range(_MAX_ROUNDS):
        if wrong:
            book.distrust(wrong)
        # what differs now rests on a formula of ours or one without a value; else rounding has grown on the way
        result = compare(book)
        changes, suspects = result.changes, _suspects(book, result)
        columns = by_column(changes)
        readings = {place: book.reading(place) for place in suspects}
        wrong = {
            place: _made(changes, place)
            for place, (boxes, anywhere) in readings.items()
            if not anywhere and not touched(boxes, columns)
        }
        if not wrong:
            return
    book.distrust({place: _made(changes, place) for place in suspects})


def _suspects(book: Book, result: Outcome) -> list[Place]:
    """Formulas that come out otherwise than stored, though they should not."""
    anchors = {cell: place for place, cells in _filled(book, result).items() for cell in cells if cell != place}
    found = dict.fromkeys(anchors.get(place, place) for place in result.changes)
    return [place for place in found if place not in book.unproven and book.stored(place) is not None]


def _made(changes: Mapping[Place, tuple[Value, Value]], place: Place) -> str:
    if place not in changes:
        return "the engine makes something else of its array than what is stored"
    return _otherwise(*changes[place])


def _otherwise(stored: Value, made: Value) -> str:
    return f"as it stood, the engine makes {shown(made)} of it where {shown(stored)} is stored"


def _misjudged(book: Book, suspects: list[Place], blanks: Mapping[Place, Value]) -> dict[Place, str]:
    """Those of some formulas that come out otherwise than stored even if all they read is as stored."""
    if len(suspects) > _MAX_JUDGED:
        return dict.fromkeys(suspects, "the engine differs from what is stored in too many cells to look at each")
    found: dict[Place, str] = {}
    engine = book.without_formulas()
    for place, value in blanks.items():
        engine.set_value(*place, value)
    for place in suspects:
        sheet = book.package.sheet(place[0])
        old = {place[1:]: book.stored(place), **dict.fromkeys(book.filled(place))}
        old.update(sheet.values(book.filled(place)))
        for spot in book.filled(place):
            engine.set_value(place[0], *spot, None)
        new = engine.trial(*place, "=" + book.given_text(place), old.keys())
        if new is None:
            found[place] = "the engine can't work it out by itself"
        else:
            for spot, value in old.items():
                result = _result(new[spot])
                if not _agree(value, result, _CLOSE):
                    found[place] = _otherwise(value, result)
                    break
        for spot, value in old.items():
            engine.set_value(place[0], *spot, value)
    return found


# ---------------------------------------------------------------- after it
def outcome(book: Book) -> Outcome:
    """Compare what came out with what is stored, and find what has to be left."""
    result = compare(book)
    inputs = {
        place: value
        for place, value in book.inputs.items()
        if not same_value(book.package.sheet(place[0]).value(*place[1:]), value)
    }
    readers: Readers | None = None

    def resting(starts: Mapping[Place, Place]) -> dict[Place, Place]:
        nonlocal readers
        if readers is None:
            readers = Readers((place, book.reading(place)) for place in book.places())
        return readers.resting_on(starts, _filled(book, result))

    if book.volatile:
        moving = resting({place: place for place in book.volatile})
        result.volatile = moving.keys() & result.changes.keys()
        if not inputs and result.volatile == result.changes.keys():
            result.changes.clear()  # NOW and RAND alone would make every run write
            result.extents.clear()
    roots = _stale(book, {**inputs, **dict.fromkeys(result.changes)})
    if book.distrusting:
        roots |= _unproven_errors(book, result)
    if roots:
        starts = {place: place for place in roots}
        for place, start in resting(starts).items():
            result.changes.pop(place, None)
            result.extents.pop(place, None)
            if place in roots:
                result.left[place] = Left(roots[place])
            elif book.cell(place) is not None:
                result.left[place] = Left(f"it rests on {written_place(start)}", start)
            if place in result.left:
                _error_stays(book, result, place)
    return result


def _unproven_errors(book: Book, result: Outcome) -> dict[Place, str]:
    """Formulas of less common functions that turn into an error of their own, or out of one: where an argument stops
    being one, programs differ, and a stored value proves nothing of the other side."""
    by_code: dict[str, list[Place]] = {}
    for place, code in result.errors.items():
        by_code.setdefault(code, []).append(place)
    columns = {code: by_column(places) for code, places in by_code.items()}
    found = {}
    for place in book.rare & result.changes.keys():
        old, new = result.changes[place]
        if old is None or not (isinstance(old, CellError) or isinstance(new, CellError)):
            continue
        boxes = book.reading(place).boxes
        handed_on = isinstance(new, CellError) and touched(boxes, columns.get(new.code, {}))
        if not handed_on:
            found[place] = (
                f"the engine makes {shown(new)} of it where {shown(old)} is stored, and what is right is not known"
            )
    return found


def _error_stays(book: Book, result: Outcome, place: Place) -> None:
    stored = book.stored(place)
    if isinstance(stored, CellError):
        result.errors[place] = stored.code
    else:
        result.errors.pop(place, None)


def _stale(book: Book, changed: Mapping[Place, object]) -> dict[Place, str]:
    """The formulas that aren't worked out and read something that changes, each with why it isn't."""
    columns = by_column(changed)
    found = {}
    for place, reason in (*book.kept.items(), *book.distrusted.items()):
        if book.stored(place) is None:
            found[place] = reason
        elif changed:
            boxes, anywhere = book.reading(place)
            if anywhere or touched(boxes, columns):
                found[place] = reason
    return found


def _filled(book: Book, result: Outcome) -> dict[Place, list[Place]]:
    """The cells that arrays fill besides their own, before or now."""
    found = {}
    for place in book.arrays:
        spots = set(book.filled(place))
        if place in result.extents:
            spots.update(result.extents[place].cells())
        found[place] = [(place[0], *spot) for spot in spots]
    return found


# ---------------------------------------------------------------- comparing
def _agree(old: Value, new: Value, tolerance: float = 1e-12) -> bool:
    # LibreOffice stores TRUE as 1
    if new.__class__ is bool and old.__class__ is float:
        new = float(new)
    return same_value(old, new, tolerance)


def _result(new: Value) -> Value:
    """What a cell shows of what the engine makes of its formula."""
    if new.__class__ is CellError:
        return error_value(new.code)
    return 0.0 if new is None else new  # a formula that gives a blank cell shows 0


def compare(book: Book) -> Outcome:
    """What the engine makes otherwise than is stored, whatever is to be thought of it."""
    changes: dict[Place, tuple[Value, Value]] = {}
    errors: dict[Place, str] = {}
    value_of, close, members = book.engine.value, book.close, book.members
    first = not book.inputs
    for sheet in book.package.sheets:
        name, stored = sheet.name, sheet.stored
        for (row, column), cell in sheet.formulas.items():
            place = (name, row, column)
            if place in members:
                continue
            old = stored(cell)
            if book.stands(place):
                if old.__class__ is CellError:
                    errors[place] = old.code
                continue
            new = value_of(name, row, column)
            if new.__class__ is CellError:
                errors[place] = new.code
                new = error_value(new.code)
            elif new is None:
                new = 0.0
            if _agree(old, new):
                continue
            if first and old.__class__ is float and place not in book.unproven and _agree(old, new, _CLOSE):
                close[place] = new
            elif place not in close or not same_value(close[place], new):
                changes[place] = (old, new)
    extents: dict[Place, Box] = {}
    for sheet in book.package.sheets:
        wanted: dict[tuple[int, int], Value] = {}
        for place, before, after in book.blocks():
            if place[0] != sheet.name:
                continue
            wanted.update((spot, None) for spot in before.cells())
            if after != before:
                extents[place] = after
            rows = book.engine.values(sheet.name, after) if place not in book.fixed else book.fixed[place]
            for row, column in after.cells():
                new = rows[row - after.top][column - after.left]
                wanted[row, column] = 0.0 if new is None else new
        for spot in sheet.formulas.keys() & wanted.keys():
            if (sheet.name, *spot) not in members:
                del wanted[spot]
        stored_values = sheet.values(wanted)
        for spot, new in wanted.items():
            old = stored_values.get(spot)
            if isinstance(new, CellError):
                errors[sheet.name, *spot] = new.code
                new = error_value(new.code)
            if not _agree(old, new):
                changes[sheet.name, *spot] = (old, new)
    return Outcome(changes, extents, errors)
