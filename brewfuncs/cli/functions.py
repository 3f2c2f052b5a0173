"""One formula evaluated; the functions listed and shown."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import click

from brewfuncs.cli.main import main
from brewfuncs.cli.said import FOUND, TYPED, print_json, shown
from brewfuncs.errors import BrewError, NotListed

if TYPE_CHECKING:
    from brewfuncs.catalogue import Function


@main.command()
@click.argument("formula", type=TYPED)
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
    match = re.fullmatch(r"\s*=?\s*(?:BREW\.)?(\w+)\s*\((.*)\)\s*", formula, re.IGNORECASE | re.DOTALL)
    if match is None:
        return ""
    from brewfuncs.catalogue import catalogue

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
    from brewfuncs.catalogue import catalogue

    names = (name.lower() if typed.islower() else name for name in sorted(catalogue()))
    return [name for name in names if name.upper().startswith(typed.upper())]


#: what brewers say, in the words of the functions' names and summaries
_TRADE_WORDS = {
    "abv": "alcohol",
    "acid": "alpha phosphoric",
    "bitter": "bitterness",
    "bottle": "priming",
    "bottling": "priming",
    "calories": "energy",
    "carbonation": "carbonat co2",
    "chill": "cooling",
    "chiller": "cooling",
    "dilute": "water_to_add blend",
    "evaporation": "boil_off boiled",
    "fg": "final",
    "ibu": "bitterness",
    "keg": "co2_pressure co2",
    "lme": "extract",
    "og": "gravity",
    "sanitiser": "sani",
    "sanitizer": "sani",
    "sg": "gravity",
    "sparge": "mash_water",
    "srm": "color",
    "sugar": "sugar priming extract_to_add",
    "time": "minutes",
    "whirlpool": "stand",
    "yeast": "yeast pitch attenuation",
}


def _matching(words: tuple[str, ...]) -> list[Function]:
    """The functions that have to do with all the words: by names and summaries, else by anything on their pages.

    A trade word is looked for as it is and in the words of the functions.
    """
    from brewfuncs.catalogue import catalogue

    def has(text: str, word: str) -> bool:
        return any(re.search(rf"(?<![a-z]){re.escape(w)}", text) for w in (word, *_TRADE_WORDS.get(word, "").split()))

    def title(f: Function) -> str:
        return f"{f.name} {f.name.replace('_', ' ')} {f.summary}".casefold()

    def page(f: Function) -> str:
        return f"{title(f)} {f.description} {' '.join(p.help for p in f.params)} {f.equation} {f.source}".casefold()

    wanted = [word.casefold() for word in words]
    for text in (title, page):
        found = [f for f in catalogue().values() if all(has(text(f), word) for word in wanted)]
        if found:
            return found
    return []


@main.command()
@click.argument("words", nargs=-1, metavar="[NAME or WORDS]", shell_complete=_names_beginning)
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def functions(words: tuple[str, ...], as_json: bool) -> None:
    """List the worksheet functions, or show one: arguments, units, ranges, equation, source, example.

    Part of a name, or a brewer's words, lists the functions that have to do with it:

    \b
      brewfuncs functions HOP_SWAP_MASS
      brewfuncs functions ibu
      brewfuncs functions boil time
    """
    from brewfuncs.catalogue import catalogue, find

    words = tuple(word for text in words for word in text.split())
    if len(words) != 1 or words[0].upper() not in catalogue():
        matching = _matching(words)
        if matching:
            _list_functions(matching, as_json)
            return
        if len(words) > 1:
            raise NotListed(f'no function has to do with "{" ".join(words)}"; brewfuncs functions lists all')
    function = find(words[0])
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
    for paragraph in function.description.split("\n\n"):
        console.print(" ".join(paragraph.split()), markup=False)
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
