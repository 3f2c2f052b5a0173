"""The reference engine, in a process of its own that can be stopped: works a workbook out as it stands and changed.

Reads a pickled job from standard input: the path, the cells to read, and a list of changes, each a cell and a number;
writes the values of the cells as they stand and after each change. IronCalc is independent of the engine under test and
was itself tried against Excel; it knows none of our functions.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import sys
from typing import Any


def _values(model: Any, cells: list[tuple[int, int, int]]) -> list[Any]:
    return [model.get_cell_value(*cell) for cell in cells]


def main() -> None:
    import ironcalc

    with contextlib.suppress(ImportError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (3 << 30, 3 << 30))
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # the engine prints what it doesn't know to standard output
    path, cells, changes = pickle.load(sys.stdin.buffer)
    model = ironcalc.load_from_xlsx(path, "en", "UTC", "en")
    sheets = {sheet["name"]: index for index, sheet in enumerate(model.get_worksheets_properties())}
    places = [(sheets[sheet], row, column) for sheet, row, column in cells]
    model.evaluate()
    pickle.dump(_values(model, places), answers)
    answers.flush()
    for (sheet, row, column), old, new in changes:
        model.update_cell_with_number(sheets[sheet], row, column, new)
        model.evaluate()
        pickle.dump(_values(model, places), answers)
        answers.flush()
        model.update_cell_with_number(sheets[sheet], row, column, old)
    answers.close()


main()
