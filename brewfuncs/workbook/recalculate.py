"""Recompute existing workbooks and set their input cells; what can't be computed stays as it was, and is said.

The file is scanned, its formulas are put into words the engine understands (in memory only), the engine works them
out, and the values that differ are spliced into the worksheet parts.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

from brewfuncs.workbook.book import Book
from brewfuncs.workbook.explain import Explainer
from brewfuncs.workbook.outcome import Outcome, distrust, outcome
from brewfuncs.workbook.places import Place, cell_names, written_place
from brewfuncs.workbook.report import Change, Kept, Report, Revision
from brewfuncs.workbook.setting import Rules, Settings, input_values
from brewfuncs.workbook.versions import VERSION_PROPERTY, revisions
from brewfuncs.xlsx.address import Box, address
from brewfuncs.xlsx.formula import functions_in
from brewfuncs.xlsx.package import Package
from brewfuncs.xlsx.values import Value, same_value

__all__ = ["recalculate", "recalculated", "record"]


def _no_rules(_: Package) -> Rules:
    return Rules()


def recalculate(path: str | os.PathLike[str], *, everything: bool = False, on_open: bool = False) -> Report:
    """Work out what isn't up to date in a workbook and store what differs.

    That are the formulas that call us, those without a stored value, and what rests on them. `everything` works all
    formulas out, whatever another program stored for them. With `on_open` a file in which something had to be left is
    marked to be worked out whole by the next spreadsheet program that opens it.
    """
    return _run(path, {}, _no_rules, everything, on_open)


def recalculated(data: bytes) -> bytes:
    """A workbook in memory with its formulas worked out."""
    with _without_collector(), Package("workbook", data=data) as package:
        _, parts = _worked_out(package, {}, everything=True)
        return package.with_parts(parts)


def record(
    path: str | os.PathLike[str],
    settings: Settings,
    rules: Callable[[Package], Rules] = _no_rules,
    *,
    on_open: bool = False,
) -> Report:
    """Set input cells by their names, and work out what depends on them.

    A value is a number in the unit that the cell states, or a quantity such as "6.7 gal", which is converted to it;
    None or "" clears the cell. `rules` says what is known of the inputs of this very workbook. What depends on them
    and can't be vouched for keeps its value and is listed; `on_open` as with `recalculate`.
    """
    return _run(path, settings, rules, False, on_open)


def _run(
    path: str | os.PathLike[str],
    settings: Settings,
    rules: Callable[[Package], Rules],
    everything: bool,
    on_open: bool,
) -> Report:
    with _without_collector(), Package(path, write=True) as package:
        inputs = input_values(package, settings, rules(package)) if settings else {}
        report, parts = _worked_out(package, inputs, everything)
        if on_open and report.stale:
            parts.update(package.recalculating_on_open())
            report.on_open = True
        if parts:
            package.save(parts)
            report.written = True
            report.notes += package.rewritten(parts)
        return report


@contextmanager
def _without_collector() -> Iterator[None]:
    """Hundreds of thousands of small objects and no cycles: the garbage collector would only go through them."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


def _worked_out(package: Package, inputs: dict[Place, Value], everything: bool) -> tuple[Report, dict[str, bytes]]:
    """What there is to say, and the worksheet parts with their new values."""
    report = Report(package.name)
    book = Book(package)
    if not everything and VERSION_PROPERTY not in package.properties:  # the formulas of ours are proven by tests
        distrust(book)
    if inputs:
        book.set(inputs)
    result = outcome(book)
    names = cell_names(package)
    for place, value in inputs.items():
        old = package.sheet(place[0]).value(*place[1:])
        if not same_value(old, value):
            report.inputs.append(Change(place[0], address(*place[1:]), names.get(place), old, value))
    _fill(report, book, result, names)
    if not inputs:
        report.notes += _believed(book, result)
    return report, _new_parts(book, result, inputs if report.inputs else {})


def _fill(report: Report, book: Book, result: Outcome, names: Mapping[Place, str]) -> None:
    """Say what happened."""
    package = book.package
    report.formulas = sum(len(sheet.formulas) for sheet in package.sheets)
    report.notes = book.notes
    report.volatile = len(result.volatile)
    report.changes = [
        Change(place[0], address(*place[1:]), names.get(place), old, new)
        for place, (old, new) in result.changes.items()
    ]
    report.kept = kept(book, result, names)
    report.failing = Explainer(book, result.errors).failing(names)
    report.made_by, stored_revisions = revisions(package)
    for function, revision in sorted(stored_revisions.items()):
        known = book.functions.get(function)
        if known is not None and known.revision == revision:
            continue
        changed = tuple(
            written_place(place)
            for place in result.changes
            if place in book.ours and function in functions_in(book.text(place))
        )
        report.revisions.append(Revision(function, revision, known.revision if known else None, changed))


def _believed(book: Book, result: Outcome) -> list[str]:
    """That there are stored values of which nothing is known: a run that left them as they were isn't remembered."""
    count = len(book.distrusted.keys() - result.left.keys())
    formulas, their = ("1 formula keeps", "its") if count == 1 else (f"{count} formulas keep", "their")
    sentence = (
        f"{formulas} {their} stored value, since spreadsheet programs may work it out otherwise than it is done here: "
        "whether it is up to date only they can tell (`brewfuncs check` says more)"
    )
    return [sentence] if count else []


def kept(book: Book, result: Outcome, names: Mapping[Place, str], believed: Mapping[Place, str] = {}) -> list[Kept]:
    """The formulas that can't be worked out, and those that rest on what should have changed and didn't.

    believed: others whose stored value stands in for them, and why.
    """
    reasons = {**book.kept, **believed}
    return [
        Kept(
            place[0],
            address(*place[1:]),
            names.get(place),
            "=" + book.text(place),
            left.reason if left else reasons[place],
            book.stored(place),
            left is not None,
            written_place(left.origin) if left and left.origin else None,
        )
        for place in dict.fromkeys((*reasons, *result.left))
        for left in (result.left.get(place),)
    ]


def _new_parts(book: Book, result: Outcome, inputs: Mapping[Place, Value]) -> dict[str, bytes]:
    """The worksheet parts with their new values; none where there is nothing to change."""
    sheets = {sheet.name: sheet for sheet in book.package.sheets}
    values: dict[str, dict[tuple[int, int], Value]] = {name: {} for name in sheets}
    extents: dict[str, dict[tuple[int, int], Box]] = {name: {} for name in sheets}
    settings: dict[str, dict[tuple[int, int], Value]] = {name: {} for name in sheets}
    for (name, row, column), (_, new) in result.changes.items():
        values[name][row, column] = new
    for (name, row, column), box in result.extents.items():
        extents[name][row, column] = box
        # an array's cell gets its new range even where its own value is the same
        values[name].setdefault((row, column), book.engine.value(name, row, column))
    for (name, row, column), value in inputs.items():
        settings[name][row, column] = value
    del book.engine  # all is read from it, and the parts of a large file want the room
    return {
        sheet.part: sheet.patched(values[name], settings[name], extents[name])
        for name, sheet in sheets.items()
        if values[name] or settings[name]
    }
