"""The generated JavaScript as a host, in V8: cells in, cells out, every call counted."""

import json
from collections import Counter
from collections.abc import Sequence
from typing import Any

from brewfuncs import cells
from brewfuncs.errors import BrewError
from tests import needs

MiniRacer = needs.library("py_mini_racer").MiniRacer

_SHIM = """
const put = (v) => (v && v.omitted ? undefined : v && v.error ? new BrewError(v.error, `the formula gives ${v.error}`) :
  Array.isArray(v) ? v.map(put) : v);
const got = (v) => (v instanceof BrewError ? { code: v.code, sentence: v.message } : Array.isArray(v) ? v.map(got) : v);
const counted = {};
const called = (given) => JSON.stringify(JSON.parse(given).map(([name, values]) => {
  counted[name] = (counted[name] ?? 0) + 1;
  return got(apply(name, values.map(put)));
}));
"""


class Answer(BrewError):
    """An error value, its code and its sentence."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code


# a blank cell is "" there, an error value a text, and what is thrown is all that a cell learns of an error
_SHEETS_SHIM = """
const put = (v) => (v && v.omitted ? undefined : v && v.error ? v.error : v === null ? "" :
  Array.isArray(v) ? v.map(put) : v);
const counted = {};
const called = (given) => JSON.stringify(JSON.parse(given).map(([name, values]) => {
  counted[name] = (counted[name] ?? 0) + 1;
  try {
    return globalThis[name](...values.map(put));
  } catch (error) {
    return { code: "#ERROR!", sentence: error.message };
  }
}));
"""


class JavaScript:
    def __init__(self, script: str, *, sheets: bool = False) -> None:
        self.engine = MiniRacer()
        self.engine.eval(script + (_SHEETS_SHIM if sheets else _SHIM))

    def counted(self) -> Counter[str]:
        """How often each function has been called so far."""
        return Counter(json.loads(str(self.engine.eval("JSON.stringify(counted)"))))

    def call(self, name: str, arguments: list[Any]) -> Any:
        return self.calls([(name, arguments)])[0]

    def calls(self, given: Sequence[tuple[str, list[Any]]]) -> list[Any]:
        text = json.dumps([[name, [_put(a) for a in arguments]] for name, arguments in given])
        return [_got(answer) for answer in json.loads(str(self.engine.call("called", text)))]


def _put(cell: Any) -> Any:
    if cell is cells.OMITTED:
        return {"omitted": True}
    if cell is cells.BLANK:
        return None
    if isinstance(cell, BrewError):
        return {"error": cell.code}
    return [_put(c) for c in cell] if isinstance(cell, list) else cell


def _got(value: Any) -> Any:
    if isinstance(value, dict):
        return Answer(value["code"], value["sentence"])
    if isinstance(value, list):
        return [_got(v) for v in value]
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value
