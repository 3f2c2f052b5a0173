"""Excel's way to Python, as far as it runs without Excel and Windows.

    worksheet formula -> our VBA -> xlwings' COM server -> brewfuncs.hosts.excel -> and all the way back

Real: the VBA as it stands in the built files, run by pyopenvba's VBA interpreter; `XLPython.CallUDF`, `call_udf` and
the conversion pipeline of xlwings; this package. Not real, and therefore modelled here:

- what Excel hands to a VBA function (`Excel.call`): numbers as Double; cells as a Range whose Value2 is Empty for a
  blank cell, and has neither dates nor currencies; a block with two dimensions from 1; an inline array of one row with
  one dimension; an argument left out as Missing, within a ParamArray too. From Microsoft's documentation of
  Range.Value2 and IsMissing; the one-dimensional inline array from memory.
- how pywin32 turns a VARIANT into Python (`_to_python`) and back (`_to_variant`): PyCom_PyObjectFromVariant and
  PyCom_VariantFromPyObject in its source file oleargs.cpp, from memory. VT_ERROR arrives as a signed 32-bit integer.
- pywin32's modules: `excel_stubs/README.md`.

None of this shows that Excel does the same: docs/excel.md has a checklist for that.
"""

import ctypes
import datetime
import importlib
import re
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Any, ClassVar

from pyopenvba.interpreter import (
    EMPTY,
    MISSING,
    HostBridge,
    Interpreter,
    VBAArray,
    VBAErrorValue,
    VBAObject,
    VBARuntimeError,
    method,
)

from brewfuncs.errors import CellError
from brewfuncs.hosts import engine, excel_vba
from brewfuncs.hosts.rewrite import Rewriter

_STUBS = Path(__file__).parent / "excel_stubs"
_CODES = {number: code for code, number in excel_vba.NUMBERS.items()}


class _Anything:
    """A DLL none of whose functions matters."""

    def __getattr__(self, name: str) -> "_Anything":
        return self

    def __call__(self, *_: Any) -> int:
        return 0


@contextmanager
def _on_windows() -> Iterator[None]:
    """The names that xlwings' Windows modules ask for while they are imported."""
    real, path = ctypes.PyDLL, list(sys.path)
    sys.path.insert(0, str(_STUBS))
    ctypes.windll = ctypes.oledll = _Anything()  # type: ignore[attr-defined]
    ctypes.PyDLL = lambda *_: _Anything()  # type: ignore[assignment, misc]
    try:
        yield
    finally:
        ctypes.PyDLL = real  # type: ignore[misc]
        sys.path[:] = path
        del ctypes.windll, ctypes.oledll  # type: ignore[attr-defined]


def _load() -> tuple[ModuleType, ModuleType]:
    """xlwings' server and our module, as Python on Windows has them."""
    import atexit

    import xlwings

    with _on_windows():
        windows = importlib.import_module("xlwings._xlwindows")
        udfs = importlib.import_module("xlwings.udfs")
        com_server = importlib.import_module("xlwings.com_server")
    atexit.unregister(windows.cleanup)  # it would look for Excel's processes
    xlwings.engines.add(xlwings.Engine(impl=windows.engine))
    xlwings.engines.active = xlwings.engines["excel"]
    xlwings.func, xlwings.arg, xlwings.ret = udfs.xlfunc, udfs.xlarg, udfs.xlret  # as xlwings does on Windows
    module = importlib.import_module("brewfuncs.hosts.excel")
    return com_server, importlib.reload(module)  # it may have been imported before, without the decorators


com_server, functions = _load()


# -- values ----------------------------------------------------------------------------------------------------------


ROWS, COLUMNS = 1_048_576, 16_384  # of a sheet


class Some(VBAObject):
    """An object of Excel, as far as its members are asked for."""

    def __init__(self, **members: Any) -> None:
        self._members = {name.casefold(): value for name, value in members.items()}

    def vba_get(self, name: str, args: Sequence[object] = (), named: dict[str, object] | None = None) -> object:
        return self._members[name.casefold()]


class Range(VBAObject):
    """Cells of a sheet: rows of numbers, texts, booleans, CellErrors, and None for a blank cell.

    A whole column has ROWS rows, of which the sheet uses `used` rows from its `first` on; only their cells are given.
    """

    def __init__(self, rows: Sequence[Sequence[Any]], areas: int = 1, whole: bool = False, first: int = 1) -> None:
        self.rows, self.areas, self.whole, self.first = rows, areas, whole, first

    @method(name="Areas")
    def _areas(self) -> object:
        return Some(Count=self.areas)

    @method(name="Rows")
    def _rows(self) -> object:
        return Some(Count=ROWS if self.whole else len(self.rows))

    @method(name="Columns")
    def _columns(self) -> object:
        return Some(Count=len(self.rows[0]))

    @method(name="Worksheet")
    def _worksheet(self) -> object:
        count = len(self.rows) - self.first + 1
        used = Some(Row=self.first, Column=1, Rows=Some(Count=count), Columns=Some(Count=len(self.rows[0])))
        return Some(Rows=Some(Count=ROWS), Columns=Some(Count=COLUMNS), UsedRange=used)

    @method(name="Resize")
    def _resize(self, rows: int, columns: int) -> object:
        return Range([row[:columns] for row in self.rows[:rows]])

    @method(name="Value2")
    def _value2(self) -> object:
        assert not self.whole, "a million cells"
        return _vba(self.rows[0][0]) if len(self.rows) == len(self.rows[0]) == 1 else _block(self.rows)


def _block(rows: Sequence[Sequence[Any]]) -> VBAArray:
    array = VBAArray([(1, len(rows)), (1, len(rows[0]))])
    for i, row in enumerate(rows, 1):
        for j, cell in enumerate(row, 1):
            array.set([i, j], _vba(cell))
    return array


def _vba(value: Any) -> object:
    """What a VBA function is given for a value in a formula."""
    if isinstance(value, CellError):
        return VBAErrorValue(excel_vba.NUMBERS[value.code])
    if value is None:
        return EMPTY
    if isinstance(value, list):
        if len(value) > 1:
            return _block(value)
        return VBAArray([(1, len(value[0]))], items=[_vba(cell) for cell in value[0]])
    return float(value) if type(value) is int else value


def _cell(value: object) -> Any:
    """What a cell shows for what a VBA function gives."""
    if isinstance(value, VBAErrorValue):
        return CellError(_CODES[value.number])
    if isinstance(value, VBAArray):
        bounds = value.bounds
        if value.dimensions == 1:
            return [[_cell(item) for item in value.items]]
        return [
            [_cell(value.get([i, j])) for j in range(bounds[1][0], bounds[1][1] + 1)]
            for i in range(bounds[0][0], bounds[0][1] + 1)
        ]
    if value is EMPTY:
        return 0.0
    assert isinstance(value, float | str | bool), value
    return value


def _to_python(value: object) -> Any:
    """A VARIANT as pywin32 hands it to a method in Python."""
    if isinstance(value, VBAArray):
        if value.dimensions == 1:
            return tuple(_to_python(item) for item in value.items)
        (first, last), (left, right) = value.bounds
        return tuple(
            tuple(_to_python(value.get([i, j])) for j in range(left, right + 1)) for i in range(first, last + 1)
        )
    if isinstance(value, VBAErrorValue):
        return value.number - 0x80000000 + 0x000A0000  # the signed form of 0x800A0000 + number
    if value is MISSING:
        return -2147352572  # DISP_E_PARAMNOTFOUND
    if value is EMPTY:
        return None
    assert isinstance(value, float | str | bool | int | datetime.datetime), value
    return value


def _to_variant(value: Any) -> object:
    """What a method in Python gives back, as a VARIANT."""
    if isinstance(value, list | tuple):
        if value and isinstance(value[0], list | tuple):
            array = VBAArray([(0, len(value) - 1), (0, len(value[0]) - 1)])
            for i, row in enumerate(value):
                for j, cell in enumerate(row):
                    array.set([i, j], _to_variant(cell))
            return array
        return VBAArray([(0, len(value) - 1)], items=[_to_variant(cell) for cell in value])
    assert type(value) in (float, str, bool), value  # anything else would be a surprise in a cell
    return value


# -- Excel -----------------------------------------------------------------------------------------------------------


class Server(VBAObject):
    """xlwings' COM server as VBA holds it, counting what VBA asks it for."""

    calls: ClassVar[Counter[str]] = Counter()

    def __init__(self) -> None:
        self.python = com_server.XLPython()

    @method(name="CallUDF")
    def _call_udf(self, module: object, name: object, given: VBAArray) -> object:
        self.calls[str(name)] += 1
        return _to_variant(self.python.CallUDF(module, name, tuple(_to_python(item) for item in given.items)))


class _Application(VBAObject):
    @method(name="Volatile")
    def _volatile(self) -> object:
        return EMPTY


class Excel(HostBridge):
    """VBA's surroundings. BrewServer, which needs Windows, is this object's: a test can make it fail."""

    def __init__(self) -> None:
        self.starts = 0
        self.vba = Interpreter(self)
        code = excel_vba.modules()["brew_functions"]
        # descriptions of functions are not code, and the interpreter doesn't know them
        self.vba.add_module("".join(line for line in code.splitlines(True) if not re.match(r"Attribute \w+\.", line)))

    def start_server(self) -> Server:
        return Server()

    def has_global_member(self, name: str) -> bool:
        return name.casefold() == "brewserver"

    def call_global(self, name: str, args: list[object], named: dict[str, object]) -> object:
        self.starts += 1
        return self.start_server()

    def global_object(self, name: str) -> object:
        return _Application() if name.casefold() == "application" else super().global_object(name)

    def call(self, name: str, *arguments: Any) -> Any:
        """A worksheet function's answer. An argument is a value, a Range, rows (an inline array) or MISSING."""
        given = [a if a is MISSING or isinstance(a, VBAObject) else _vba(a) for a in arguments]
        try:
            return _cell(self.vba.run(name, given))
        except VBARuntimeError as error:
            if error.number != 449:  # "Argument not optional": Excel doesn't call the function, and shows #VALUE!
                raise
            return CellError("#VALUE!")


class Calculation(engine.Calculation):
    """The engine for everything but our functions, which go Excel's way."""

    def __init__(self, *, ranges: bool) -> None:
        self.excel = Excel()
        self.ranges = ranges  # whether blocks come from cells or are inline
        super().__init__()

    def _call(self, function: Any, *arguments: Any) -> Any:
        try:
            answer = self.excel.call(function.name, *map(self._given, arguments))
            return engine._result(answer)
        except BaseException as error:
            self._interrupt = self._interrupt or error
            self._workbook.cancel()
            return {"type": "Error", "kind": "Value"}

    def _given(self, value: Any) -> Any:
        from brewfuncs import cells

        value = engine._argument(value)
        if value is cells.OMITTED:
            return MISSING
        if value is cells.BLANK:
            return Range([[None]])
        if isinstance(value, list):
            rows = [[None if cell is cells.BLANK else cell for cell in row] for row in value]
            return Range(rows) if self.ranges else rows
        return value


def compute(formulas: Sequence[str], *, ranges: bool) -> list[Any]:
    """Formulas in a column of a sheet, our functions going Excel's way."""
    calculation = Calculation(ranges=ranges)
    calculation.add_sheet("S")
    rewriter = Rewriter(engine.catalogue(), (), (), ("S",))
    for row, formula in enumerate(formulas, 1):
        ready = rewriter.rewrite(formula.removeprefix("="), "S", row, 1, ordinary=True)
        calculation.set_formula("S", row, 1, "=" + ready)
    calculation.calculate()
    return [calculation.value("S", row, 1) for row in range(1, len(formulas) + 1)]
