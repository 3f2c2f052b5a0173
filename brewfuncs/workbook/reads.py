"""Which cells each formula reads, and so which formulas rest on a cell.

Read from the formulas' text: the engine's own list of dependents doesn't see through names, nor through whole rows.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from brewfuncs.errors import BrewError
from brewfuncs.hosts.rewrite import Rewriter
from brewfuncs.workbook.places import Place
from brewfuncs.xlsx.address import MAX_COLUMN, MAX_ROW, Box
from brewfuncs.xlsx.formula import is_external, plain_name, sheet_name, shift, tokenize, whole_range, words

#: read cells that stand nowhere in the formula
_ELSEWHERE = words("INDIRECT OFFSET ANCHORARRAY")
#: read as many cells of their last range as their first one has
_RESIZING = words("SUMIF AVERAGEIF")
_MAX_DEPTH = 20
_MAX_WAVES = 300


class Reading(NamedTuple):
    """The cells that a formula reads."""

    boxes: tuple[tuple[str, Box], ...]
    anywhere: bool  # and perhaps others, which its text doesn't tell


@dataclass
class Reader:
    """Finds what formulas of one workbook read."""

    rewriter: Rewriter
    sheets: Collection[str]

    def __post_init__(self) -> None:
        self._order = list(self.sheets)
        self._by_fold = {sheet.casefold(): sheet for sheet in self.sheets}

    def reading(self, formula: str, place: Place) -> Reading:
        boxes: list[tuple[str, Box]] = []
        anywhere = self._collect(formula, place, boxes, 0)
        return Reading(tuple(boxes), anywhere)

    def _collect(self, formula: str, place: Place, boxes: list[tuple[str, Box]], depth: int) -> bool:
        anywhere = resizing = False
        first = len(boxes)
        prefix = ""
        for kind, text in tokenize(formula):
            if kind == "sheet":
                prefix = text
                continue
            if kind == "ref":
                try:
                    box = whole_range(text)
                except BrewError:
                    continue
                boxes += [(sheet, box) for sheet in self._meant(prefix, place[0])]
            elif kind == "func":
                name = plain_name(text)
                anywhere |= name in _ELSEWHERE
                resizing |= name in _RESIZING
            elif kind == "op" and text in ":#":
                anywhere = True
            elif kind == "table":
                anywhere |= not self._table(text.partition("[")[0], place, boxes)
            elif kind == "name":
                anywhere |= self._name(text, prefix, place, boxes, depth)
            if kind != "space":
                prefix = ""
        if resizing:
            height = max((box.bottom - box.top for _, box in boxes[first:]), default=0)
            width = max((box.right - box.left for _, box in boxes[first:]), default=0)
            for sheet, box in boxes[first:]:
                bottom, right = min(box.top + height, MAX_ROW), min(box.left + width, MAX_COLUMN)
                boxes.append((sheet, Box(box.top, box.left, bottom, right)))
        return anywhere

    def _meant(self, prefix: str, own: str) -> list[str]:
        if not prefix:
            return [own]
        if is_external(prefix):
            return []
        name = sheet_name(prefix).casefold()
        if name in self._by_fold:
            return [self._by_fold[name]]
        ends = [self._by_fold.get(end) for end in name.split(":")]
        if len(ends) == 2 and ends[0] is not None and ends[1] is not None:
            first, last = sorted((self._order.index(ends[0]), self._order.index(ends[1])))
            return self._order[first : last + 1]
        return []

    def _table(self, name: str, place: Place, boxes: list[tuple[str, Box]]) -> bool:
        """All of a table: which of its cells a formula means makes little difference to what has to be left."""
        found = self.rewriter.table(name) if name else self.rewriter.table_around(*place)
        if found is not None:
            boxes.append((found.sheet, found.box))
        return found is not None

    def _name(self, text: str, prefix: str, place: Place, boxes: list[tuple[str, Box]], depth: int) -> bool:
        if is_external(prefix):
            return False
        name = self.rewriter.name(text, sheet_name(prefix) or place[0])
        if name is None:
            self._table(text, place, boxes)
            return False
        if depth >= _MAX_DEPTH:
            return True
        return self._collect(shift(name.text, place[1] - 1, place[2] - 1, wrap=True), place, boxes, depth + 1)


class Readers:
    """All formulas of a workbook by what they read, to follow a change from cell to cell."""

    def __init__(self, readings: Iterable[tuple[Place, Reading]]) -> None:
        self._of_cell: dict[Place, list[Place]] = {}
        self._of_range: dict[str, list[tuple[Box, Place]]] = {}
        self._anywhere: list[Place] = []
        for place, (boxes, anywhere) in readings:
            if anywhere:
                self._anywhere.append(place)
            for sheet, box in boxes:
                if box.size == 1:
                    self._of_cell.setdefault((sheet, box.top, box.left), []).append(place)
                else:
                    self._of_range.setdefault(sheet, []).append((box, place))

    def resting_on(self, starts: Mapping[Place, Place], filled: Mapping[Place, list[Place]]) -> dict[Place, Place]:
        """All formulas that rest on these cells, each with the start it was reached from.

        `filled` are the cells that an array formula fills besides its own.
        """
        reached = dict(starts)
        ranges = {sheet: list(found) for sheet, found in self._of_range.items()}
        fresh = list(starts)
        if starts:
            begin = next(iter(starts.values()))
            for place in self._anywhere:
                if place not in reached:
                    reached[place] = begin
                    fresh.append(place)
        for _ in range(_MAX_WAVES):
            wave: list[Place] = []
            while fresh:
                place = fresh.pop()
                for cell in (place, *filled.get(place, ())):
                    wave.append(cell)
                    if cell not in reached:
                        reached[cell] = reached[place]
                    for reader in self._of_cell.get(cell, ()):
                        if reader not in reached:
                            reached[reader] = reached[place]
                            fresh.append(reader)
            if not wave:
                return reached
            columns = by_column(wave)
            for sheet, waiting in ranges.items():
                if sheet not in columns:
                    continue
                left = []
                for box, reader in waiting:
                    if reader in reached:
                        continue
                    hit = _hit(columns[sheet], box)
                    if hit is None:
                        left.append((box, reader))
                    else:
                        reached[reader] = reached[sheet, hit[0], hit[1]]
                        fresh.append(reader)
                ranges[sheet] = left
        begin = next(iter(starts.values()))  # too long a chain to follow: all that might rest on it does
        for readers in (*self._of_cell.values(), [place for found in ranges.values() for _, place in found]):
            for place in readers:
                reached.setdefault(place, begin)
        return reached


def by_column(places: Iterable[Place]) -> dict[str, dict[int, list[int]]]:
    """The rows of cells, sorted, by sheet and column."""
    found: dict[str, dict[int, list[int]]] = {}
    for sheet, row, column in places:
        found.setdefault(sheet, {}).setdefault(column, []).append(row)
    for columns in found.values():
        for rows in columns.values():
            rows.sort()
    return found


def _hit(columns: dict[int, list[int]], box: Box) -> tuple[int, int] | None:
    """One of these cells that stands in a box."""
    wanted: Iterator[int] | Iterable[int] = (
        (column for column in columns if box.left <= column <= box.right)
        if box.right - box.left >= len(columns)
        else range(box.left, box.right + 1)
    )
    for column in wanted:
        rows = columns.get(column)
        if rows:
            at = bisect_left(rows, box.top)
            if at < len(rows) and rows[at] <= box.bottom:
                return rows[at], column
    return None


def touched(boxes: Iterable[tuple[str, Box]], columns: dict[str, dict[int, list[int]]]) -> bool:
    """Whether any of some cells, as `by_column` has them, stands in these boxes."""
    return any(sheet in columns and _hit(columns[sheet], box) is not None for sheet, box in boxes)
