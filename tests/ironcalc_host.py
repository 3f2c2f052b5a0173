"""An engine that knows nothing of ours opens a workbook with the functions as names, and works formulas out."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.workbook.defined_name import DefinedName

from brewfuncs.translate.names import lambda_name, named
from tests import needs, parity

ironcalc = needs.library("ironcalc")


class Ironcalc:
    """Counts the formulas that call a function of ours."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.counted = 0

    def compute(self, formulas: Sequence[str]) -> list[Any]:
        path, book = self.folder / "names.xlsx", openpyxl.Workbook()
        for name in named():
            book.defined_names[name] = DefinedName(name, attr_text=lambda_name(name).text)
        for row, formula in enumerate(formulas, 1):
            book.active.cell(row, 1, formula)
        book.save(path)
        model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")
        model.evaluate()
        self.counted += sum(model.get_cell_formula(0, row, 1) is not None for row in range(1, len(formulas) + 1))
        return [_cell(model, row) for row in range(1, len(formulas) + 1)]


def _cell(model: Any, row: int) -> Any:
    value = model.get_cell_value(0, row, 1)
    return parity.Code(value) if isinstance(value, str) and value.startswith("#") else value
