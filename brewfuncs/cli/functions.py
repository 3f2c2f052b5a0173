"""One formula evaluated; the functions listed and shown."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import click

from brewfuncs.cli.main import main
from brewfuncs.cli.said import FOUND, print_json, shown
from brewfuncs.errors import BrewError

if TYPE_CHECKING:
    from brewfuncs.catalogue import Function


@main.command()
@click.argument("formula")
@click.option("--json", "as_json", is_flag=True, help="Print the value in full precision as JSON.")
def call(formula: str, as_json: bool) -> None:
    """Evaluate any FORMULA and print its value with its unit.

    \b
    Examples:
      brewfuncs call '=WORT_PLATO(1.050)'
      brewfuncs call '=SUM(HOP_BITTERNESS({20;30},5.5%,{60;10},"5 gal"))'
    """
    from brewfuncs.hosts.engine import evaluate

    value = evaluate(formula)
    unit = _unit_of(formula)
    rows = value if isinstance(value, list) else [[value]]
    if as_json:
        print_json({"formula": formula, "value": value, "unit": unit})
    else:
        for row in rows:
            click.echo("\t".join(shown(cell, unit) for cell in row))
    if any(isinstance(cell, BrewError) for row in rows for cell in row):
        raise SystemExit(FOUND)


def _unit_of(formula: str) -> str:
    """The unit of a formula that is one call of ours; "" for any other formula."""
    match = re.fullmatch(r"\s*=\s*(?:BREW\.)?(\w+)\s*\((.*)\)\s*", formula, re.IGNORECASE | re.DOTALL)
    if match is None:
        return ""
    from brewfuncs.hosts.engine import catalogue

    function = catalogue().get(match[1].upper())
    depth, text = 1, False
    for character in match[2]:
        text ^= character == '"'
        depth += 0 if text else (character == "(") - (character == ")")
        if depth == 0:
            return ""  # the bracket that closes the call isn't the last one: there is more to the formula
    if function is None:
        return ""
    if function.name == "UNIT_CONVERT":
        target = re.search(r'"([^"]*)"\s*$', match[2])
        return target[1] if target else ""
    return str(function.result.symbol)


def _names_beginning(_context: click.Context, _parameter: click.Parameter, typed: str) -> list[str]:
    """For the Tab key: the functions whose names begin so, in the case that was typed."""
    from brewfuncs.hosts.engine import catalogue

    names = (name.lower() if typed.islower() else name for name in sorted(catalogue()))
    return [name for name in names if name.upper().startswith(typed.upper())]


@main.command()
@click.argument("name", required=False, shell_complete=_names_beginning)
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def functions(name: str | None, as_json: bool) -> None:
    """List the worksheet functions, or show one: arguments, units, ranges, source, example.

    Part of a NAME lists the functions that have it.
    """
    from brewfuncs.catalogue import find
    from brewfuncs.hosts.engine import catalogue

    part = (name or "").strip().upper()
    if part not in catalogue():
        matching = [function for function in catalogue().values() if part in function.name]
        if matching:
            _list_functions(matching, as_json)
            return
    function = find(name or "")
    if as_json:
        print_json(_as_json(function))
    else:
        _show_function(function)


def _as_json(function: Function) -> dict[str, Any]:
    return {
        "name": function.name,
        "summary": function.summary,
        "arguments": [
            {
                "name": p.name,
                "unit": p.symbol,
                "range": function.range_words(p),
                "default": p.shown_default or None,
                "required": p.required,
                "whole_range": p.whole is not None,
                "help": p.help,
            }
            for p in function.params
        ],
        "result_unit": function.result.symbol,
        "equation": function.equation,
        "source": function.source,
        "revision": function.revision,
        "example": function.example,
    }


def _list_functions(found: list[Function], as_json: bool) -> None:
    if as_json:
        print_json([_as_json(f) for f in found])
        return
    width = max(len(f.name) for f in found)
    group = ""
    for function in sorted(found, key=lambda f: (f.group, f.name)):
        if group and function.group != group:
            click.echo()
        group = function.group
        click.echo(f"{function.name:{width}}  {function.summary}")


def _show_function(function: Function) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False, soft_wrap=False)
    result = function.result.symbol
    console.print(f"[bold]{function.signature}[/bold]" + (f"  gives {result}" if result else ""), markup=True)
    console.print()
    console.print(function.description, markup=False)
    console.print()
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for column in ("argument", "unit", "answered", "left out", "what it is"):
        table.add_column(column, overflow="fold")
    for p in function.params:
        words = function.answered(p)
        kind = "a range: " if p.whole else ""
        table.add_row(p.name, p.symbol or "-", words, p.shown_default or "-", kind + p.help)
    console.print(table)
    console.print()
    foot = Table.grid(padding=(0, 2, 0, 0))
    foot.add_row("Equation", Text("\n".join(function.equation_parts)))
    foot.add_row("Source", Text(f"{function.source} (revision {function.revision})"))
    foot.add_row("Example", Text(function.example))
    console.print(foot)
