"""The functions as one JavaScript file without dependencies: an ES module, and the core of the Google Sheets script.

Kernels are printed from their terms, declarations as JSON; `front.js` reads cells and text by them, `numeric.js` is
exp, log and loops.
"""

import json
import math
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from .. import __version__
from ..catalogue import CATALOGUE, Function, Parameter
from ..units import DIMENSIONS, SLIPS, Dimension, Quantity, Unit
from .terms import Term, Value, term_of, translated, uses_of, words_of

__all__ = ["core", "module", "parameter_help", "takes_free_text", "types"]

_HERE = Path(__file__).parent


def module() -> str:
    """brewfuncs.js: an ES module that exports `apply`, `BrewError`, `functions` and `version`."""
    return f"{core()}\n{(_HERE / 'exports.js').read_text(encoding='utf-8')}"


def core() -> str:
    """Everything but the exports: a script that defines `apply` and `BrewError`."""
    kernels = "".join(f"  {f.name}{_kernel(f)},\n" for f in CATALOGUE.values() if not takes_free_text(f))
    curves = "".join(
        f"  {json.dumps(unit.symbol, ensure_ascii=False)}: [{', '.join(map(_curve, unit.curve))}],\n"
        for dimension in _dimensions()
        for unit in dimension.units
        if unit.curve
    )
    return "\n".join(
        [
            f'// brewfuncs {__version__}, made from the functions\' declarations. MIT licence.\n"use strict";\n',
            f"const VERSION = {json.dumps(__version__)};\n",
            (_HERE / "numeric.js").read_text(encoding="utf-8"),
            f"const KERNELS = {{\n{kernels}}};\n",
            f"const CURVES = {{\n{curves}}};\n",
            f"const DIMENSIONS = [\n{_lines(map(_dimension, _dimensions()))}];\n",
            f"const SLIPS = [\n{_lines(_json([*kinds, way]) for kinds, way in SLIPS.items())}];\n",
            f"const FUNCTIONS = {{\n{_lines(map(_function, CATALOGUE.values()))}}};\n",
            (_HERE / "front.js").read_text(encoding="utf-8"),
        ]
    )


def takes_free_text(function: Function) -> bool:
    """Such a function speaks of units or functions by name: it is a look-up in the declarations, not a formula."""
    return any(p.variable or (p.is_text and not p.names) for p in function.params)


# -- declarations ----------------------------------------------------------------------------------------------------


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def _lines(items: Any) -> str:
    return "".join(f"  {item},\n" for item in items)


def _dimensions() -> list[Dimension]:
    """Those that units can be named in, then those that only have a unit for messages."""
    quantities = [q for f in CATALOGUE.values() for q in (*(p.quantity for p in f.params), f.result)]
    return list(dict.fromkeys([*DIMENSIONS, *(q.dimension for q in quantities if isinstance(q, Quantity))]))


def _dimension(dimension: Dimension) -> str:
    said: dict[str, Any] = {"name": dimension.name}
    if dimension in DIMENSIONS:
        said["listed"] = True
    said["units"] = [_unit(unit) for unit in dimension.units]
    said["spellings"] = {text: dimension.units.index(unit) for text, unit in dimension.spellings.items()}
    if dimension.reach:
        said["reach"] = dimension.reach
    return _json(said)


def _unit(unit: Unit) -> dict[str, Any]:
    return (
        {"symbol": unit.symbol} if unit.curve else {"symbol": unit.symbol, "factor": unit.factor, "offset": unit.offset}
    )


def _function(function: Function) -> str:
    said: dict[str, Any] = {
        "parameters": [_parameter(function, p) for p in function.params],
        "source": f"{function.source}; revision {function.revision}",
    }
    if isinstance(function.result, Quantity):
        said["unit"] = function.result.symbol
    if function.gives_text:
        said["text"] = True
    if function.relations:
        said["relations"] = [[function.index[r.low], function.index[r.high], r.strict] for r in function.relations]
    if function.zero_when:
        said["zeroWhen"] = function.index[function.zero_when]
    if function.no_answer:
        said["noAnswer"] = function.no_answer
    return f"{function.name}: {_json(said)}"


def _parameter(function: Function, p: Parameter) -> dict[str, Any]:
    said: dict[str, Any] = {"name": p.name}
    if isinstance(p.quantity, Quantity):
        dimension = p.quantity.dimension
        said |= {"dimension": _dimensions().index(dimension), "unit": dimension.units.index(p.quantity.unit)}
        said |= {"low": p.limits.low, "high": p.limits.high}
    if p.limits.above:
        said["above"] = True
    if p.is_text:
        said["text"] = True
    if p.names:
        said["words"] = words_of(function)[p.name]
        said |= {name: dict(words) for name, words in (("also", p.also), ("was", p.was)) if words}
    if p.table:
        said["table"] = p.table
    if p.whole:
        said["whole"] = "one for all" if p.whole.one_for_all else "rows"
    if p.same_as:
        said["sameAs"] = function.index[p.same_as]
    if p.required:
        said["required"] = True
    elif p.default is not None:
        said["initial"] = words_of(function)[p.name].index(p.default) if p.names else p.default
    return said


# -- kernels ---------------------------------------------------------------------------------------------------------


def _kernel(function: Function) -> str:
    return _written([p.name for p in function.params], translated(function))


def _curve(function: Callable[[Any], Any]) -> str:
    return "function " + _written(["x"], term_of(function, "x"))


def _written(parameters: list[str], value: Value) -> str:
    """A method's parameters and body."""
    block = _Block(uses_of(value), None, frozenset(), "    ")
    answer = block.text(value)
    return f"({', '.join(f'{name}_' for name in parameters)}) {{\n{block.body(answer)}  }}"


class _Block:
    """Statements of a function's body, of a loop's, or of one alternative of a choice.

    Python works everything out that it comes to, and so does this: a term stands in the outermost block that knows its
    variables, but never outside of the alternative that it belongs to.
    """

    def __init__(self, uses: Counter[Term], outer: "_Block | None", loop: frozenset[Any], indent: str) -> None:
        self.uses, self.outer, self.loop, self.indent = uses, outer, loop, indent
        self.lines: list[str] = []
        self.names: dict[Term, str] = {}
        self.loops: dict[Any, str] = {}
        self.count: list[int] = outer.count if outer else [0]

    def body(self, answer: str) -> str:
        return "".join(f"{self.indent}{line}\n" for line in [*self.lines, f"return {answer};"])

    def text(self, value: Value, level: float = 0) -> str:
        """The value as an expression, in parentheses where it binds less than `level`."""
        if not isinstance(value, Term):
            return _constant(value, level)
        if value.op in ("argument", "each", "variable"):
            return _leaf(value)
        name = self._known(value)
        if name:
            return name
        home = self._home(value)
        written, binds = home._operation(value)
        if self.uses[value] == 1 and home is self:
            return written if binds >= level else f"({written})"
        home.names[value] = home._named(written)
        return home.names[value]

    def _named(self, written: str) -> str:
        self.count[0] += 1
        self.lines.append(f"const v{self.count[0]} = {written};")
        return f"v{self.count[0]}"

    def _known(self, value: Term) -> str:
        block: _Block | None = self
        while block is not None:
            if value in block.names:
                return block.names[value]
            block = block.outer
        return ""

    def _home(self, value: Term) -> "_Block":
        block = self
        while block.outer is not None and block.loop and not block.loop & value.free:
            block = block.outer
        return block

    def _arrow(self, parameters: str, loop: frozenset[Any], *results: Value, as_state: bool = False) -> str:
        inner = _Block(self.uses, self, loop, self.indent + "  ")
        texts = [inner.text(result) for result in results]
        answer = f"[{', '.join(texts)}]" if as_state else texts[0]
        if not inner.lines:
            return f"({parameters}) => {answer}"
        return f"({parameters}) => {{\n{inner.body(answer)}{self.indent}}}"

    def _operation(self, term: Term) -> tuple[str, float]:
        """The expression, and how closely it binds."""
        op, args = term.op, term.args
        if op == "neg":
            return f"-{self.text(args[0], _CALL)}", _NEGATIVE
        if op in _BINDS and not (op == "/" and (isinstance(args[1], Term) or args[1] == 0)):
            binds = _BINDS[op]
            return f"{self.text(args[0], binds)} {_SIGNS.get(op, op)} {self.text(args[1], binds + 0.1)}", binds
        return self._call(term), _CALL

    def _call(self, term: Term) -> str:
        op, data, args = term.op, term.data, term.args
        if op in ("bisect", "repeated"):
            return self._loop(term)
        if op == "sum":
            column = next(t for t in uses_of(term) if t.op == "each").data[0]
            return f"total({column}_.length, {self._arrow('i', frozenset(['each']), args[0])})"
        if op == "choice":
            return self._choice(term)
        if op == "error":
            return f"fail({_json(data[0])}, {_json(data[1])})"
        texts = [self.text(a) for a in args]
        if op == "filled":
            parts = ", ".join(f"{n}: {text}" for n, text in zip(data, texts[1:], strict=True))
            return f"filled({texts[0]}, {{ {parts} }})"
        return f"{_CALLS.get(op, op)}({', '.join(texts)})"

    def _loop(self, term: Term) -> str:
        depth = term.data[0]
        variable, loop = f"x{depth}_", frozenset([depth])
        if term.op == "bisect":
            body, *rest = term.args
            function = self._arrow(f"{variable}0", loop, body)
            return f"bisect({function}, {', '.join(map(self.text, rest))})"
        _, times, which = term.data
        count, known = len(term.args) // 2, (depth, times, term.args)
        if known not in self.loops:  # of whose state several parts may be wanted
            state = ", ".join(self.text(a) for a in term.args[:count])
            counted = ", ".join(f"{variable}{i}" for i in range(count + 1))
            step = self._arrow(counted, loop, *term.args[count:], as_state=True)
            self.loops[known] = self._named(f"repeated({times}, {step}, [{state}])")
        return f"{self.loops[known]}[{which}]"

    def _choice(self, term: Term) -> str:
        (words, sizes, table), at = term.data, ""
        for word, size in zip(words, sizes, strict=True):
            at = f"({at}) * {size} + {word}_" if at else f"{word}_"
        if table != tuple(range(len(table))):
            digits = "".join(_DIGITS[k] for k in table) if max(table) < len(_DIGITS) else ""
            at = f'parseInt("{digits}"[{at}], 36)' if digits else f"[{', '.join(map(str, table))}][{at}]"
        if not any(isinstance(a, Term) for a in term.args):
            return f"[{', '.join(map(self.text, term.args))}][{at}]"
        return f"[{', '.join(self._arrow('', frozenset(), a) for a in term.args)}][{at}]()"


_CALL, _NEGATIVE = 9.0, 3.5
_BINDS = {"*": 4, "/": 4, "+": 3, "-": 3, "<": 2, "<=": 2, ">": 2, ">=": 2, "=": 2, "<>": 2, "&": 1, "|": 0.5}
_SIGNS = {"=": "===", "<>": "!=="}
_CALLS = {"/": "div", "^": "pow"}
_DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"


def _leaf(term: Term) -> str:
    if term.op == "variable":
        return f"x{term.data[0]}_{term.data[1]}"
    return f"{term.data[0]}_" + ("[i]" if term.op == "each" else "")


def _constant(value: Any, level: float = 0) -> str:
    if isinstance(value, float) and not math.isfinite(value):
        text = "NaN" if math.isnan(value) else f"{'-' * (value < 0)}Infinity"
    else:
        text = _json(value)
    return f"({text})" if text.startswith("-") and level > _NEGATIVE else text


# -- types -----------------------------------------------------------------------------------------------------------


def types() -> str:
    """brewfuncs.d.ts: what an editor shows beside `apply`."""
    overloads = "".join(_overload(f) for f in CATALOGUE.values())
    return (_HERE / "types.d.ts").read_text(encoding="utf-8").replace("  // one for each function\n", overloads)


def _overload(function: Function) -> str:
    lines = [function.summary, "", *(f"{p.name}: {parameter_help(function, p)}" for p in function.params)]
    names = [
        f"...{p.name}: Argument[]" if p.variable else f"{p.name}{'' if p.required else '?'}: Argument"
        for p in function.params
    ]
    comment = "".join(f"   * {line}".rstrip() + "\n" for line in lines)
    return f'  /**\n{comment}   */\n  (name: "{function.name}", values: [{", ".join(names)}]): Result;\n'


def parameter_help(function: Function, p: Parameter) -> str:
    """What it is, its unit and its range, on one line."""
    symbol, words = p.symbol, function.range_words(p)
    return p.help + (f", {symbol}" if symbol else "") + (f" ({words})" if words else "")
