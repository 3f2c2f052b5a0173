"""The functions for Google Sheets: one script to paste, each function with the help that Sheets shows."""

import textwrap
from pathlib import Path

from .. import __version__
from ..catalogue import CATALOGUE, Function
from .javascript import core, parameter_help

__all__ = ["script"]


def script() -> str:
    """The .gs file: every name but the functions' own ends in _, which keeps it out of the spreadsheet's list."""
    hand = (Path(__file__).parent / "sheets.js").read_text(encoding="utf-8")
    return "\n".join(
        [
            f"// brewfuncs {__version__} for Google Sheets: paste all of it into Extensions > Apps Script and save.",
            "const brewfuncs_ = (() => {",
            f"{core()}return {{ apply, BrewError }};\n}})();\n",
            hand,
            *map(_wrapper, CATALOGUE.values()),
        ]
    )


def _wrapper(function: Function) -> str:
    """A custom function; the first line of its comment, its parameters' and the example are what Sheets shows."""
    parameters = [
        f"@param {{any}} {p.name if p.required or p.variable else f'[{p.name}]'} {parameter_help(function, p)}"
        for p in function.params
    ]
    lines = [
        *textwrap.wrap(function.summary, 110),
        "",
        *parameters,
        f"@return {{any}} {_answer(function)}",
        "@customfunction",
    ]
    comment = "".join(f" * {line}".rstrip() + "\n" for line in (line.replace("*/", "* /") for line in lines))
    given = ", ".join(f"...{p.name}" if p.variable else p.name for p in function.params)
    body = f'  return sheets_("{function.name}", [{given}]);'
    return f"/**\n{comment} */\nfunction {function.name}({given}) {{\n{body}\n}}\n"


def _answer(function: Function) -> str:
    return "a sentence" if function.gives_text else function.result.symbol or function.result.dimension.name
