"""Formulas worked out in this process, without any spreadsheet program: formualizer with our functions in it.

The engine waits for ever when a second thread touches a workbook while it is calculating, so one lock stands around
everything, and calculation stays on the calling thread. Its version is pinned; tests hold down what is relied on here.
"""

from __future__ import annotations

import datetime
import re
import signal
import threading
import weakref
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

from brewfuncs import cells
from brewfuncs.catalogue import Function, catalogue
from brewfuncs.errors import BadInput, BrewError, CellError
from brewfuncs.hosts.rewrite import Rewriter, engine_name
from brewfuncs.hosts.standard import BUILTINS
from brewfuncs.hosts.standard.dates import DATED
from brewfuncs.hosts.standard.declare import MOST, OMITTED_TEXT, UNKNOWN, Unknown, element, error
from brewfuncs.hosts.standard.operators import EACH, slot
from brewfuncs.xlsx.address import Box, address, parse_range
from brewfuncs.xlsx.formula import Untranslatable, plain_name, quoted, sheet_name, tokenize
from brewfuncs.xlsx.package import Iteration
from brewfuncs.xlsx.values import Value, error_value

__all__ = ["Calculation", "evaluate", "knows", "nearest_function", "unknown_function"]

_lock = threading.RLock()
_KIND_OF_CODE = {
    "#NULL!": "Null",
    "#DIV/0!": "Div",
    "#VALUE!": "Value",
    "#REF!": "Ref",
    "#NAME?": "Name",
    "#NUM!": "Num",
    "#N/A": "Na",
    "#SPILL!": "Spill",
    "#CALC!": "Calc",
}
_CODE_OF_KIND = {kind: code for code, kind in _KIND_OF_CODE.items()}
#: the engine's own complaints, which no spreadsheet shows in a cell
CANNOT = {
    "Error": "the engine can't read it",
    "NImpl": "the engine can't do a part of it",
    "Circ": "it is part of a circular reference, or fed by one",
    "Cancelled": "the calculation was stopped",
}
_errors_in = {kind: CellError(code) for kind, code in _CODE_OF_KIND.items()}
#: enough to explain one formula; where a whole workbook is in error, each cell is asked again
_FAILURES_KEPT = 1_000
_HUGE = 1.7976931348623157e308


# ---------------------------------------------------------------- values across the border
def _argument(value: Any) -> Any:
    """What the engine hands to a function, as `cells.apply` takes it."""
    kind = value.__class__
    if kind is float or kind is bool:
        return value
    if kind is str:
        return cells.OMITTED if value == OMITTED_TEXT else value
    if value is None:
        return cells.BLANK
    if kind is list:
        return [[_argument(cell) for cell in row] for row in value]
    if kind is dict:
        return _errors_in.get(value.get("kind"), _errors_in["Value"])
    if kind is int:
        return float(value)
    return cells.BLANK


def _result(value: Any) -> Any:
    """What a function answers, as the engine takes it."""
    kind = value.__class__
    if kind is float:
        # the engine would hand on what isn't a number
        return value if -_HUGE <= value <= _HUGE else {"type": "Error", "kind": "Num"}
    if kind is str or kind is bool:
        return value
    if kind is list:
        return [[_result(cell) for cell in row] for row in value]
    if isinstance(value, BrewError):
        return {"type": "Error", "kind": _KIND_OF_CODE.get(value.code, "Value")}
    return 0.0  # a blank cell handed through


def _value(value: Any) -> Value:
    """What the engine has for a cell."""
    kind = value.__class__
    if kind is float:
        return value if -_HUGE <= value <= _HUGE else error_value("#NUM!")
    if kind is dict:
        return _engine_error(str(value.get("kind")))
    if kind is int:
        return float(value)
    if kind is list:  # an array in one cell shows its first element
        return _value(value[0][0] if value and value[0] else None)
    return value  # type: ignore[no-any-return]


_own_errors: dict[str, CellError] = {}


def _engine_error(kind: str) -> CellError:
    """One object for each kind; those no sheet shows keep the engine's name as their code."""
    if kind in _CODE_OF_KIND:
        return _errors_in[kind]
    return _own_errors.setdefault(kind, CellError(kind, CANNOT.get(kind, f"the engine stopped with {kind}")))


def _unknown(*_: Any) -> dict[str, str]:
    return error(UNKNOWN)


# ---------------------------------------------------------------- arrays, element by element
class _Each:
    """Calls a function of the engine for each element of the arrays it is given, in a workbook of its own."""

    def __init__(self, config: Any) -> None:
        self._config = config
        self._workbook: Any = None
        self._sheets: dict[object, tuple[Any, int]] = {}  # by the function and its arguments' shapes; rows of formulas

    def __call__(self, name: str, *arguments: Any) -> Any:
        single = [slot(name, place) != "w" for place in range(len(arguments))]
        blocks = [given for given, each in zip(arguments, single, strict=True) if each and isinstance(given, list)]
        height = max((len(block) for block in blocks), default=1)
        width = max((len(block[0]) for block in blocks), default=1)
        whole = [
            given if isinstance(given, list) else [[given]]
            for given, each in zip(arguments, single, strict=True)
            if not each
        ]
        if height * width > MOST or sum(len(block) * len(block[0]) for block in whole) > MOST:
            return error(UNKNOWN)
        if name in ("SUMIF", "AVERAGEIF") and len({(len(block), len(block[0])) for block in whole}) > 1:
            return error(UNKNOWN)  # the sum range takes the size of the other
        elements = [
            [element(given, row, column) for given, each in zip(arguments, single, strict=True) if each]
            for row in range(height)
            for column in range(width)
        ]
        found = self._worked_out(name, single, whole, elements)
        rows = [found[start : start + width] for start in range(0, len(found), width)]
        return rows if blocks else rows[0][0]

    def _worked_out(self, name: str, single: list[bool], whole: list[Any], elements: list[list[Any]]) -> list[Any]:
        import formualizer

        if self._workbook is None:
            self._workbook = formualizer.Workbook(config=self._config)
            self._workbook.set_temporal_egress("serial")
        shapes = tuple((len(block), len(block[0])) for block in whole)
        key = (name, tuple(single), shapes)
        sheet, ready = self._sheets.get(key, (None, 0))
        if sheet is None:
            title = f"S{len(self._sheets)}"
            self._workbook.add_sheet(title)
            sheet = self._workbook.sheet(title)
        count = sum(single)
        left = 1 + count + 1  # the elements, what comes of them, the ranges
        texts, names = [], [address(1, column).rstrip("1") for column in range(1, count + 1)]
        for (rows, columns), block in zip(shapes, whole, strict=True):
            sheet.set_values_batch(1, left, rows, columns, [[_given(cell) for cell in row] for row in block])
            box = Box(1, left, rows, left + columns - 1)
            texts.append(str(box))
            left += columns
        waiting, ranges = iter(names), iter(texts)
        call = ",".join(next(waiting) + "#" if each else next(ranges) for each in single)
        height = len(elements)
        sheet.set_values_batch(1, 1, height, count, [[_given(cell) for cell in row] for row in elements])
        if height > ready:
            formulas = [[f"={name}({call.replace('#', str(row))})"] for row in range(ready + 1, height + 1)]
            sheet.set_formulas_batch(ready + 1, count + 1, height - ready, 1, formulas)
        self._sheets[key] = sheet, max(ready, height)
        self._workbook.evaluate_all()
        column = sheet.get_values(formualizer.RangeAddress(sheet.name, 1, count + 1, height, count + 1))
        return [0.0 if row[0] is None else row[0] for row in column]


def _given(value: Any) -> Any:
    """A value that came from the engine, to be put into a cell."""
    import formualizer

    if value is None:
        return formualizer.LiteralValue.empty()
    if isinstance(value, dict):
        return formualizer.LiteralValue.error(str(value.get("kind")), None)
    return value


# ---------------------------------------------------------------- a workbook in the engine
class Calculation:
    """A workbook loaded into the engine: calculate it, change it, ask why."""

    def __init__(
        self,
        data: bytes | None = None,
        *,
        sheets: Iterable[str] = (),
        date1904: bool = False,
        iteration: Iteration | None = None,
    ) -> None:
        """Load an .xlsx file that was prepared for the engine, or start with nothing."""
        import formualizer

        settings = formualizer.EvaluationConfig()
        settings.enable_parallel = False  # three times faster with functions in Python, and on this thread
        settings.cycle_detection = "runtime"  # a reference that is never followed is no circle
        settings.date_system = "1904" if date1904 else "1900"
        if iteration is not None:
            settings.cycle_policy = "iterate"
            settings.iterate_max_iterations = iteration.count
            settings.iterate_max_change = iteration.delta
        config = formualizer.WorkbookConfig(eval_config=settings)
        self._named = {sheet: engine_name(sheet) for sheet in sheets}
        self._meant = {name: sheet for sheet, name in self._named.items()}
        self.failures: list[BrewError] = []
        self.unknown = False  # whether a function didn't know what is right, in the last calculation
        self._interrupt: BaseException | None = None
        with self._engine():
            if data is None:
                self._workbook = formualizer.Workbook(config=config)
            else:
                limits = {"max_input_bytes": 1 << 31, "max_expanded_bytes": 1 << 31, "max_part_bytes": 1 << 30}
                load = partial(formualizer.Workbook.from_bytes, backend="native", config=config, load_limits=limits)
                self._workbook = self._work_out(load, data)
            self._range = formualizer.RangeAddress
            self._workbook.set_temporal_egress("serial")
            now = datetime.datetime.now(datetime.UTC)
            offset = datetime.datetime.now().astimezone().utcoffset() or datetime.timedelta()
            self._workbook.set_deterministic_clock(now, int(offset.total_seconds()))
            # the engine's own objects are beyond the collector: a circle through them would never be freed
            call = partial(type(self)._call, weakref.proxy(self))
            for function in catalogue().values():
                self._workbook.register_function(function.name, partial(call, function))
            for name, builtin in BUILTINS.items():
                known = builtin if not (date1904 and name in DATED) else _unknown
                self._workbook.register_function(name, known, allow_override_builtin=True)
            self._workbook.register_function(EACH, _Each(config))

    @contextmanager
    def _engine(self) -> Iterator[None]:
        """Hold the lock; hand on what interrupted a function, which the engine would swallow."""
        with _lock:
            self._interrupt = None
            try:
                yield
            finally:
                if self._interrupt is not None:
                    if hasattr(self, "_workbook"):
                        self._workbook.reset_cancel()
                    raise self._interrupt

    def _call(self, function: Function, *arguments: Any) -> Any:
        try:
            given = [value if value.__class__ is float else _argument(value) for value in arguments]
            answer = cells.apply(function, given)
            if answer.__class__ is float:
                return _result(answer)
            self._note(answer)
            return _result(answer)
        except BaseException as error:
            self._interrupt = self._interrupt or error
            self._workbook.cancel()
            return {"type": "Error", "kind": "Value"}

    def _note(self, answer: Any) -> None:
        """Remember the errors that begin here; an error handed through has begun elsewhere."""
        if len(self.failures) >= _FAILURES_KEPT:
            return
        if isinstance(answer, BrewError):
            if not isinstance(answer, CellError):
                self.failures.append(answer)
        elif answer.__class__ is list:
            for row in answer:
                for cell in row:
                    if isinstance(cell, BrewError) and not isinstance(cell, CellError):
                        self.failures.append(cell)
                        return

    # ------------------------------------------------------------ use
    def calculate(self) -> None:
        """Work out all that isn't up to date."""
        with self._engine():
            self.failures.clear()
            before = Unknown.count
            self._work_out(self._workbook.evaluate_all)
            self.unknown = Unknown.count > before

    def _run(self, action: Callable[..., Any], *arguments: Any) -> Any:
        """Call the engine; its own exceptions become ours."""
        try:
            return action(*arguments)
        except Exception as error:
            if self._interrupt is None:
                raise BadInput(f"the engine can't do this: {' '.join(str(error).split())}") from None
        except BaseException as error:  # a panic of the engine
            if type(error).__name__ != "PanicException":
                raise
            raise BadInput("the engine failed on this workbook") from None
        return None

    def _work_out(self, action: Callable[..., Any], *arguments: Any) -> Any:
        """Call what has the engine call functions.

        Ctrl-C waits until it is back: raised on the way into a function it would be a #VALUE! in a cell.
        """
        ours = threading.current_thread() is threading.main_thread()
        if not ours or signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
            return self._run(action, *arguments)
        signal.signal(signal.SIGINT, self._interrupted)
        try:
            return self._run(action, *arguments)
        finally:
            signal.signal(signal.SIGINT, signal.default_int_handler)

    def _interrupted(self, *_: object) -> None:
        self._interrupt = self._interrupt or KeyboardInterrupt()
        if hasattr(self, "_workbook"):  # else it is being loaded
            self._workbook.cancel()

    def add_sheet(self, name: str) -> None:
        with self._engine():
            self._workbook.add_sheet(name)

    def value(self, sheet: str, row: int, column: int) -> Value:
        return _value(self._workbook.get_value(self._named.get(sheet, sheet), row, column))

    def values(self, sheet: str, box: Box) -> list[list[Value]]:
        """The values of a block, read at once."""
        with self._engine():
            name = self._named.get(sheet, sheet)
            rows = self._workbook[name].get_values(self._range(name, *box))
        return [[_value(cell) for cell in row] for row in rows]

    def set_value(self, sheet: str, row: int, column: int, value: Value) -> None:
        import formualizer

        with self._engine():
            given: Any = value
            if isinstance(value, CellError):
                given = formualizer.LiteralValue.error(_KIND_OF_CODE.get(value.code, "Value"), None)
            elif value is None:
                given = formualizer.LiteralValue.empty()
            self._run(self._workbook.set_value, self._named.get(sheet, sheet), row, column, given)

    def formula(self, sheet: str, row: int, column: int) -> str | None:
        """The formula as the engine has it, with its equals sign."""
        with self._engine():
            text = self._workbook.get_formula(self._named.get(sheet, sheet), row, column)
        return text if not text or text.startswith("=") else "=" + text

    def set_formula(self, sheet: str, row: int, column: int, formula: str) -> None:
        with self._engine():
            self._run(self._workbook.set_formula, self._named.get(sheet, sheet), row, column, formula)

    def trial(
        self, sheet: str, row: int, column: int, formula: str, spots: Iterable[tuple[int, int]]
    ) -> dict[tuple[int, int], Value] | None:
        """What a formula gives in a cell and those beside it, when it alone is worked out; None where it can't be."""
        with self._engine():
            try:
                self._run(self._workbook.set_formula, self._named.get(sheet, sheet), row, column, formula)
                first = self._work_out(self._workbook.evaluate_cell, self._named.get(sheet, sheet), row, column)
            except BadInput:
                return None
        return {spot: _value(first) if spot == (row, column) else self.value(sheet, *spot) for spot in spots}

    def is_unknown(self, sheet: str, row: int, column: int) -> bool:
        """Whether a formula hides from itself that it rests on what isn't known, as IFERROR does: it is worked out."""
        formula = self.formula(sheet, row, column)
        before = Unknown.count
        if formula:
            self.trial(sheet, row, column, formula, ())
        return Unknown.count > before

    def extent(self, sheet: str, row: int, column: int) -> Box | None:
        """The cells that a formula's array fills, where it fills more than its own."""
        with self._engine():
            spill = self._workbook.inspect_cell(self._place(sheet, row, column), include_values=False).cell.spill
        if spill is None or not spill.extent or ":" not in spill.extent:
            return None
        return parse_range(spill.extent.rpartition("!")[2])

    def precedents(self, sheet: str, row: int, column: int) -> list[tuple[str, Box]]:
        """The places a formula reads, in the order it names them."""
        with self._engine():
            report = self._workbook.precedents(self._place(sheet, row, column), max_links=10_000, max_work=1_000_000)
        found = []
        for precedent in report.precedents:
            reference = precedent.reference
            resolution = reference.resolution
            where = reference.resolved or reference.address
            if where is None and resolution is not None:
                where = resolution.resolved or resolution.address
            if where and "!" in where:
                place, _, cell = where.rpartition("!")
                try:
                    found.append((self._sheet(place), parse_range(cell)))
                except BrewError:  # a whole column that isn't used
                    continue
        return found

    def sentence(self, sheet: str, row: int, column: int, code: str) -> str | None:
        """Why a formula shows an error, if a function of ours began it: the formula is worked out once more."""
        formula = self.formula(sheet, row, column)
        if not formula:
            return None
        with self._engine():
            self.failures.clear()
            try:
                self._run(self._workbook.set_formula, self._named.get(sheet, sheet), row, column, formula)
                self._work_out(self._workbook.evaluate_cell, self._named.get(sheet, sheet), row, column)
            except BadInput:
                return None
            failures, self.failures = self.failures, []
        return next((str(failure) for failure in failures if failure.code == code), None)

    def _place(self, sheet: str, row: int, column: int) -> str:
        return quoted(self._named.get(sheet, sheet)) + address(row, column)

    def _sheet(self, written: str) -> str:
        name = sheet_name(written)
        return self._meant.get(name, name)


# ---------------------------------------------------------------- what the engine knows
_known: dict[str, bool] = {}


def knows(function: str) -> bool:
    """Whether the engine, or the catalogue, has a function of this name."""
    name = plain_name(function)
    if name in catalogue():
        return True
    if name in ("SINGLE", "ANCHORARRAY"):  # not functions but operators, written out
        return True
    if name not in _known:
        with _lock:
            scratch = _scratch()._workbook
            # a name is all the engine can complain about that isn't a matter of arguments
            try:
                scratch.set_formula("S", 1, 1, f"={name}()")
                outcome = scratch.evaluate_cell("S", 1, 1)
                _known[name] = not (isinstance(outcome, dict) and outcome.get("kind") == "Name")
            except Exception:
                _known[name] = False
    return _known[name]


def nearest_function(name: str) -> list[str]:
    """Our functions whose names are nearest to a name that isn't known."""
    import difflib

    return difflib.get_close_matches(plain_name(name), list(catalogue()), n=3, cutoff=0.75)


_scratch_workbook: Calculation | None = None


def _scratch() -> Calculation:
    global _scratch_workbook
    if _scratch_workbook is None:
        _scratch_workbook = Calculation()
        _scratch_workbook.add_sheet("S")
    return _scratch_workbook


def evaluate(formula: str) -> float | str | bool | list[list[float | str | bool | BrewError]]:
    """The value of a formula: a number, a text, TRUE or FALSE, or the rows of an array.

    Raises the BrewError of ours that caused an error, with its sentence; CellError for any other error value. An array
    is returned even if elements of it are in error; those are BrewErrors.

    >>> evaluate("=ROUND(BOIL_OFF(4.5, 30), 3) + 1")
    3.25
    """
    import formualizer

    text = formula.strip().removeprefix("=").strip()
    if not text:
        raise BadInput("there is no formula")
    if quantity := _bare_quantity(text):
        raise BadInput(f'the formula can\'t be read: a number with its unit stands in quotation marks: "{quantity}"')
    try:
        ready = Rewriter(catalogue(), (), (), ()).rewrite(text, "", 1, 1, ordinary=False)
        formualizer.parse("=" + ready)
    except Untranslatable as error:
        raise BadInput(f"the formula can't be worked out: {error}") from None
    except formualizer.ParserError as error:
        said = _SEMICOLONS if ("sep", ";") in tokenize(text) else parser_message(error, "=" + ready)
        raise BadInput(f"the formula can't be read: {said}") from None
    names = []
    for kind, piece in tokenize(ready):
        if kind == "name":
            names.append(piece)
        if kind == "func" and not knows(piece):
            raise CellError("#NAME?", unknown_function(piece))
        if kind in ("ref", "table", "sheet"):
            raise BadInput(f"the formula refers to {piece}, and on its own it has no sheet to look there")
    with _lock:
        scratch = Calculation()
        scratch.add_sheet("S")
        scratch.set_formula("S", 1, 1, "=" + ready)
        scratch.calculate()
        extent = scratch.extent("S", 1, 1)
        if extent is not None:
            return [[_explained(cell, scratch.failures) for cell in row] for row in scratch.values("S", extent)]
        value = _explained(scratch.value("S", 1, 1), scratch.failures)
    if isinstance(value, CellError) and value.code == "#NAME?" and names:
        raise CellError("#NAME?", f'{names[0]} is not a name known here; text stands in quotation marks: "{names[0]}"')
    if isinstance(value, BrewError):
        raise value
    return value


_SEMICOLONS = "arguments are separated by commas here, not by semicolons"


def unknown_function(name: str) -> str:
    """What to say about a function that isn't there."""
    near = nearest_function(name)
    hint = f"; did you mean {' or '.join(near)}?" if near else ""
    return f"{name.rstrip('(')} is not a function known here{hint}"


def _explained(value: Value, failures: list[BrewError]) -> float | str | bool | BrewError:
    if value is None:
        return 0.0
    if isinstance(value, CellError):
        if not value.code.startswith("#"):
            return BadInput(f"the formula can't be worked out: {value}")
        return next((failure for failure in failures if failure.code == value.code), CellError(value.code))
    return value


def _bare_quantity(formula: str) -> str:
    """The first number with a unit behind it and no quotation marks around both; "" where there is none."""
    number = ""
    for kind, piece in tokenize(formula):
        if kind == "name" and number:
            return f"{number} {piece}"
        if kind != "space":
            number = piece if kind == "number" else ""
    return ""


def parser_message(error: Exception, formula: str) -> str:
    """The parser's complaint about a formula as part of a sentence."""
    message = str(error).strip()
    if place := re.search(r"TokenSpan .*start: (\d+), end: (\d+)", message):  # counted in bytes
        piece = formula.encode()[int(place[1]) : int(place[2])].decode()
        if "Unexpected token:" in message:  # an operator or a separator where a value should begin
            return f'before "{piece}" a value is missing'
        return _SEMICOLONS if piece == ";" else f'before "{piece}" an operator or a comma is missing'
    text = message.rpartition(": ")[2] or "it isn't complete"
    return text[0].lower() + text[1:]
