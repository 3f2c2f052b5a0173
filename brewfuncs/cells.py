"""One cell, a block of cells or an inline array -> a function -> the same shape back.

Every host speaks this language and translates only its own values into it. A cell is a float, a str, a bool, BLANK or,
where it is in error, a BrewError; an argument is a cell, OMITTED, or a list of rows of cells. `apply` never raises:
errors come back as BrewErrors, element by element, each with the sentence that Python would raise and its `code`.

>>> from brewfuncs.catalogue import find
>>> apply(find("BOIL_OFF"), [4.5, [[30.0], [60.0], [-1.0]]])
[[2.25], [4.5], [OutOfRange('minutes -1 min is outside 0 to 600 min')]]
"""

from collections.abc import Sequence
from math import isfinite
from typing import Any, Callable, Optional, Union

from .catalogue import Function, find
from .errors import BadInput, BrewError

__all__ = ["BLANK", "OMITTED", "Argument", "Cell", "apply", "reason"]


class _Marker:
    __slots__ = ("_name",)

    def __init__(self, name: str) -> None:
        self._name = name

    def __repr__(self) -> str:
        return self._name


BLANK = _Marker("BLANK")  # a blank cell: 0 where a number is wanted, the default where text is
OMITTED = _Marker("OMITTED")  # an argument left out, as in F(1,,3): its default

Cell = Union[float, str, bool, _Marker, BrewError]
Argument = Union[Cell, list[list[Cell]]]
Result = Union[Cell, list[list[Cell]]]


def apply(function: Function, arguments: Sequence[Argument]) -> Result:
    """Call a function the way a sheet does."""
    if function.name == "BREW_REASON":
        return _reasons(arguments)
    if _plain(arguments) and function.required <= len(arguments) <= len(function.params):
        return _outcome(function.call, *arguments)
    problem = _first_error(arguments, function)
    if problem is not None:
        return problem
    try:
        values = _all_values(function, arguments)
    except BrewError as error:
        return error
    lifted = [i for i, p in enumerate(function.params) if p.whole is None and isinstance(values[i], list)]
    values = [
        v if i in lifted else _whole(v) if p.whole is not None else _as_python(p, v)
        for i, (p, v) in enumerate(zip(function.params, values))
    ]
    if not lifted:
        return _outcome(function.scalar, values)
    try:
        size = _broadcast([_size(values[i]) for i in lifted])
    except BadInput as error:
        return error
    spread = {i: _spread(values[i], size) for i in lifted}
    answers = _quickly(function, values, spread) or _each(function, values, spread, size[0] * size[1])
    return [[*row] for row in zip(*[iter(answers)] * size[1])]


def reason(function: Function, arguments: Sequence[Any]) -> str:
    """The sentence that a call from Python raises, "" where it is fine."""
    if len(arguments) > len(function.params) and not function.variable:
        return str(_too_many(function, arguments))
    try:
        function.checked([*arguments, *([None] * (len(function.params) - len(arguments)))])
    except BrewError as error:
        return str(error)
    return ""


def _reasons(arguments: Sequence[Argument]) -> Result:
    """BREW_REASON: the sentences of another function's answers, in their shape; errors given to it pass through."""
    name, *rest = arguments or [OMITTED]
    if isinstance(name, list):
        answers: Any = [[_reasons([cell, *rest]) for cell in row] for row in name]
        if len(answers) == 1 and len(answers[0]) == 1:
            return answers[0][0]  # type: ignore[no-any-return]
        if any(isinstance(answer, list) for row in answers for answer in row):
            return BadInput("function_name is a range and so are arguments: ask for one function at a time")
        return answers  # type: ignore[no-any-return]
    if isinstance(name, BrewError):
        return name
    parameter = find("BREW_REASON").params[0]
    try:
        function = find(parameter.read(_as_python(parameter, name)))
    except BrewError as error:
        return error
    problem = _first_error(rest, None)
    if problem is not None:
        return problem
    result = apply(function, rest)
    if isinstance(result, list):
        return [[_sentence(cell) for cell in row] for row in result]
    return _sentence(result)


def _sentence(cell: Cell) -> str:
    return str(cell) if isinstance(cell, BrewError) else ""


def _first_error(arguments: Sequence[Argument], function: Optional[Function]) -> Optional[BrewError]:
    """The error an argument brings along: a single cell's, or one anywhere in a range that is taken whole."""
    for i, argument in enumerate(arguments):
        if isinstance(argument, BrewError):
            return argument
        if (
            isinstance(argument, list)
            and function is not None
            and i < len(function.params)
            and function.params[i].whole
        ):
            for row in argument:
                for cell in row:
                    if isinstance(cell, BrewError):
                        return cell
    return None


def _all_values(function: Function, arguments: Sequence[Argument]) -> list[Any]:
    params = function.params
    if len(arguments) > len(params):
        raise _too_many(function, arguments)
    return [*arguments, *([OMITTED] * (len(params) - len(arguments)))]


def _too_many(function: Function, arguments: Sequence[Any]) -> BadInput:
    return BadInput(f"{function.name} takes at most {len(function.params)} arguments, not {len(arguments)}")


def _as_python(parameter: Any, cell: Any) -> Any:
    """One cell as Function.scalar takes it: None is left out, a blank cell is 0 where a number is wanted."""
    if cell is OMITTED:
        return None
    if cell is BLANK or (cell.__class__ is str and not cell.strip()):
        return None if parameter.is_text else 0.0
    return cell


def _whole(argument: Any) -> Any:
    """A range taken whole: blank cells are None, rows blank on all sides are left out later.

    A single blank cell is 0 as elsewhere: hosts don't tell a range of one cell from a cell.
    """
    if argument is OMITTED:
        return None
    if isinstance(argument, list) and _size(argument) == (1, 1):
        argument = argument[0][0]
    if not isinstance(argument, list):
        return [[0.0 if argument is BLANK or (argument.__class__ is str and not argument.strip()) else argument]]
    return [[None if cell is BLANK else cell for cell in row] for row in argument]


def _plain(arguments: Sequence[Argument]) -> bool:
    """Whether all are numbers and texts, as most cells are: those mean the same in Python, where calls are fast."""
    kinds = {*map(type, arguments)}
    return kinds == {float} or (kinds <= {float, str} and all(a.strip() for a in arguments if isinstance(a, str)))


def _outcome(compute: Callable[..., Cell], *values: Any) -> Cell:
    """What a cell shows: the answer, or the error."""
    try:
        return compute(*values)
    except BrewError as error:
        return error.with_traceback(None)


def _size(rows: list[list[Cell]]) -> tuple[int, int]:
    return len(rows), len(rows[0]) if rows else 0


def _broadcast(sizes: list[tuple[int, int]]) -> tuple[int, int]:
    height, width = max(s[0] for s in sizes), max(s[1] for s in sizes)
    if any(h not in (1, height) or w not in (1, width) for h, w in sizes) or not height or not width:
        raise BadInput("ranges of different size: " + ", ".join(f"{h} x {w}" for h, w in sizes))
    return height, width


def _spread(rows: list[list[Cell]], size: tuple[int, int]) -> list[Cell]:
    """A block as one flat list of the full size."""
    height, width = size
    if len(rows[0]) == 1 < width:
        rows = [row * width for row in rows]
    if len(rows) == 1 < height:
        rows = rows * height
    return [cell for row in rows for cell in row]


def _quickly(function: Function, values: Sequence[Any], spread: Any) -> Optional[list[Any]]:
    """A long column of plain numbers, all within range: checked as a whole, then the bare kernel for each row.

    None where anything at all is unusual; the careful way then finds out what.
    """
    if function.gives_text or function.relations:
        return None
    columns: list[Any] = []
    for i, parameter in enumerate(function.params):
        if i not in spread:
            if parameter.whole is not None:
                return None
            if parameter.same_as and values[i] is None:
                columns.append(columns[function.index[parameter.same_as]])
                continue
            try:
                value = parameter.read(values[i])
            except BrewError:
                return None
            columns.append([value] * len(next(iter(spread.values()))))
            continue
        column = spread[i]
        if parameter.is_text or set(map(type, column)) != {float} or not all(map(isfinite, column)):
            return None
        low, high = parameter.limits.ends
        if not (low <= min(column) and max(column) <= high):
            return None
        columns.append(column)
    try:
        answers = list(map(function.kernel, *columns))
        if set(map(type, answers)) == {float} and all(map(isfinite, answers)):
            return answers
    except Exception:  # one element without an answer: the careful way names it
        pass
    return None


def _each(function: Function, values: Sequence[Any], spread: Any, count: int) -> list[Any]:
    answers: list[Any] = []
    one = list(values)
    for k in range(count):
        problem = None
        for i, cells in spread.items():
            cell = cells[k]
            if isinstance(cell, BrewError):
                problem = problem or cell
            one[i] = _as_python(function.params[i], cell)
        answers.append(problem or _outcome(function.scalar, one))
    return answers
