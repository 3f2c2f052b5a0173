"""What xlwings' COM server loads: the whole catalogue as worksheet functions of Microsoft Excel on Windows.

VBA of our own (`excel_vba`) stands between Excel and this module, and the two speak a small language. Going in, a range
has become its values, and what Python could not tell apart is a marker: Chr(1) and a number, which is Excel's number
of an error value, or 448 for an argument left out. Coming out, a marker is an error value. Nothing here ever raises:
xlwings' way of telling of an exception is text in the cell, which SUM() passes over.

xlwings' "raw" converter hands values through untouched; its ordinary ones take a hundred times as long for a column,
and turn blank cells and errors into None.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable
from typing import Any

import xlwings

import brewfuncs.formulas  # noqa: F401  (fills the catalogue)
from brewfuncs import __version__, cells
from brewfuncs.catalogue import CATALOGUE, Function
from brewfuncs.errors import BrewError, CellError
from brewfuncs.hosts.excel_vba import MARK, NUMBERS, OMITTED

_FAULT = f"{MARK}{NUMBERS['#VALUE!']}"
_MEANING: dict[str, Any] = {
    OMITTED: cells.OMITTED,
    **{f"{MARK}{number}": CellError(code) for code, number in NUMBERS.items()},
}

_fault = ""  # the last mistake of this package's own, for BREW_STATUS


# -- values across the border ----------------------------------------------------------------------------------------


def _argument(value: Any) -> Any:
    """What VBA hands over for one argument, as `cells.apply` takes it."""
    if not isinstance(value, tuple):
        return value if value.__class__ is float else _cell(value)
    if value and not isinstance(value[0], tuple):  # {1,2,3} comes without its second dimension
        value = (value,)
    return [[cell if cell.__class__ is float else _cell(cell) for cell in row] for row in value]


def _cell(value: Any) -> Any:
    if value is None:
        return cells.BLANK
    if value.__class__ is str and value[:1] == MARK:
        return _MEANING.get(value, _MEANING[_FAULT])
    return value


def _answer(result: Any) -> Any:
    if result.__class__ is float or result.__class__ is str or result.__class__ is bool:
        return result
    if isinstance(result, BrewError):
        return f"{MARK}{NUMBERS.get(result.code, NUMBERS['#VALUE!'])}"
    return 0.0  # a blank cell handed through


def _rows(result: Any) -> list[list[Any]]:
    """Always rows: xlwings takes the brackets off what is a single cell."""
    if isinstance(result, list):
        return [[cell if cell.__class__ is float else _answer(cell) for cell in row] for row in result]
    return [[_answer(result)]]


# -- the functions ---------------------------------------------------------------------------------------------------


def _exposed(call: Callable[..., Any], name: str, doc: str, parameters: list[inspect.Parameter]) -> Callable[..., Any]:
    """A function as xlwings registers it. No annotations: type hints such as Optional make every call fail there."""

    def exposed(*arguments):  # type: ignore[no-untyped-def]
        global _fault
        try:
            return _rows(call(*arguments))
        except Exception as error:
            _fault = f"{name}: {type(error).__name__}: {error}"
            return [[_FAULT]]

    exposed.__name__ = exposed.__qualname__ = name
    exposed.__doc__ = doc
    exposed.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    for parameter in parameters:
        exposed = xlwings.arg(parameter.name, "raw")(exposed)
    return xlwings.func(xlwings.ret("raw")(exposed))


def _worksheet_function(function: Function) -> Callable[..., Any]:
    def call(*arguments: Any) -> Any:
        return cells.apply(function, [_argument(a) for a in arguments])

    kinds = {True: inspect.Parameter.VAR_POSITIONAL, False: inspect.Parameter.POSITIONAL_OR_KEYWORD}
    parameters = [inspect.Parameter(p.name, kinds[p.variable]) for p in function.params]
    return _exposed(call, function.name, function.summary, parameters)


def _status(built_with: str) -> str:
    """What BREW_STATUS says where everything can be reached."""
    said = f"brewfuncs {__version__}, Python {sys.version.split()[0]} ({sys.executable})"
    if built_with != __version__:
        said += (
            f"; this file was built with brewfuncs {built_with}: "
            "run  brewfuncs excel install  (or make the workbook anew) to get the same on both sides"
        )
    return said + (f"; a mistake in brewfuncs: {_fault}" if _fault else "")


_built_with = inspect.Parameter("built_with", inspect.Parameter.POSITIONAL_OR_KEYWORD)
BREW_STATUS = _exposed(_status, "BREW_STATUS", "Whether brewfuncs can be reached, and if not why.", [_built_with])
globals().update((function.name, _worksheet_function(function)) for function in CATALOGUE.values())
