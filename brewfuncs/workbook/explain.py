"""Why a cell is in error: where the error starts, and the sentence."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import chain

from brewfuncs.errors import CellError
from brewfuncs.workbook.book import Book
from brewfuncs.workbook.places import Place, within, written_place
from brewfuncs.workbook.report import Failing
from brewfuncs.xlsx.address import address

_MAX_SEARCHED = 200_000  # cells of a range looked through for the one where an error starts
_MAX_EXPLAINED = 2_000  # cells in error whose sentence is worked out


class Explainer:
    """Finds where an error starts, and the sentence that says why."""

    def __init__(self, book: Book, errors: Mapping[Place, str]) -> None:
        self.book, self.errors = book, errors
        self._sentences: dict[Place, str | None] = {}
        self._origins: dict[Place, Place] = {}

    def sentence(self, place: Place) -> str | None:
        if place not in self._sentences:
            code = self.errors.get(place, "")
            known = place in self.book.ours and not self.book.stands(place)
            self._sentences[place] = self.book.engine.sentence(*place, code) if known else None
        return self._sentences[place]

    def origin(self, place: Place) -> Place:
        """The cell where the error of a cell starts."""
        code = self.errors[place]
        seen = {place}
        while place not in self._origins and self.sentence(place) is None:
            following = self._cause(place, code, seen)
            if following is None:
                break
            place = following
            seen.add(place)
        origin = self._origins.get(place, place)
        self._origins.update(dict.fromkeys(seen, origin))  # thousands of cells can stand behind one
        return origin

    def _cause(self, place: Place, code: str, seen: set[Place]) -> Place | None:
        """A cell that a formula reads and that shows the same error."""
        if self.book.stands(place) or self.book.cell(place) is None:
            return None
        for sheet, box in self.book.engine.precedents(*place):
            size = box.size
            if size == 1 or size > len(self.errors):
                for candidate in within(self.errors, sheet, box):
                    if self.errors[candidate] == code and candidate not in seen:
                        return candidate
            if size <= _MAX_SEARCHED and sheet in self.book.package.sheet_parts:
                for spot, value in zip(box.cells(), chain(*self.book.engine.values(sheet, box)), strict=False):
                    candidate = (sheet, *spot)
                    if isinstance(value, CellError) and value.code == code and candidate not in seen:
                        return candidate
        return None

    def failing(self, names: Mapping[Place, str]) -> list[Failing]:
        """The cells in error that have to do with our functions."""
        found = []
        for place, code in list(self.errors.items())[:_MAX_EXPLAINED]:
            origin = self.origin(place)
            if place not in self.book.ours and origin not in self.book.ours:
                continue
            found.append(
                Failing(
                    place[0],
                    address(*place[1:]),
                    names.get(place),
                    code,
                    self._why(place, origin),
                    written_place(origin),
                )
            )
        return found

    def _why(self, place: Place, origin: Place) -> str | None:
        sentence = self.sentence(origin)
        if sentence is None and self.book.cell(origin) is None and origin != place:
            return f"{written_place(origin)} holds {self.errors[place]} itself"
        return sentence
