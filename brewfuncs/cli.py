"""The command line. It only asks and prints: whatever it does stands in the modules it calls, imported when needed."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

from brewfuncs import __version__
from brewfuncs.errors import BrewError, CellError, WorkbookError

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from brewfuncs.catalogue import Function
    from brewfuncs.workbook.check import CheckReport, Finding
    from brewfuncs.workbook.recalculate import Change, Failing, Report, Revision

_Found = TypeVar("_Found", "Failing", "Finding")

FOUND, MISUSED, REFUSED = 1, 2, 3  # exit codes; 0 is all well

_EXIT_CODES = """\b
Exit codes:
  0  done, nothing to report
  1  the answer is an error, or a check found something
  2  the command was not understood
  3  a file or plan can't be used; nothing was changed
"""


def _stop(code: int, sentence: str) -> NoReturn:
    click.echo(f"brewfuncs: {sentence}", err=True)
    raise SystemExit(code)


def _print_json(value: Any) -> None:
    click.echo(json.dumps(value, ensure_ascii=False, indent=2, default=_error_as_json))


def _error_as_json(error: BrewError) -> dict[str, str]:
    return {"error": error.code, "sentence": str(error)}


class _Commands(click.Group):
    """A group whose commands end in one sentence, never in a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except WorkbookError as error:
            _stop(REFUSED, str(error))
        except BrewError as error:
            _stop(FOUND, str(error))
        except BrokenPipeError:  # the reader of a pipe has seen enough
            sys.stderr.close()
            raise SystemExit(0) from None
        except OSError as error:
            name = f"{error.filename}: " if error.filename else ""
            _stop(REFUSED, f"{name}{(error.strerror or str(error)).lower()}; nothing was changed")


@click.group(
    cls=_Commands,
    epilog=_EXIT_CODES,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, message="brewfuncs %(version)s")
def main() -> None:
    """Brewing formulas for spreadsheets, and workbooks that plan a batch with them.

    \b
    A first session:
      brewfuncs new -o batch.xlsx                      a workbook with an invented batch in it
      brewfuncs record batch.xlsx preboil_gravity=1.046
      brewfuncs call '=HOP_BITTERNESS("1 oz",5.5%,60,"5 gal",1.050)'
      brewfuncs functions HOP_SWAP_MASS                what a function wants and where it comes from

    Add --help to any command for its own page.
    """


_EXISTING = click.Path(path_type=Path)


# -- new -------------------------------------------------------------------------------------------------------------


@main.command()
@click.argument("plan", type=_EXISTING, required=False)
@click.option("-o", "--output", type=click.Path(path_type=Path), required=True, help="The workbook to write.")
@click.option(
    "--units",
    type=click.Choice(["metric", "us", "imperial"]),
    help="The units the input cells start with (else the plan's own); each can be changed in the workbook.",
)
@click.option(
    "--like",
    type=_EXISTING,
    help="An earlier batch workbook: its plan, equipment, measured efficiency and evaporation are carried over.",
)
@click.option("--name", help="Name of the batch.")
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="Brew day, as 2026-03-14.")
@click.option(
    "--macro", is_flag=True, help="Write an .xlsm with the Excel functions inside (for Windows; needs xlwings)."
)
@click.option("--force", is_flag=True, help="Overwrite an existing file.")
def new(
    plan: Path | None,
    output: Path,
    units: str | None,
    like: Path | None,
    name: str | None,
    date: Any,
    macro: bool,
    force: bool,
) -> None:
    """Write a batch workbook, from a PLAN file or for an invented demo batch.

    Every cell holds its formula and its computed value, so any spreadsheet program or viewer shows the numbers.

    \b
    A plan file is TOML, with quantities as text:
      [batch]
      name = "Lantern Pale"
      volume = "21 L"
    docs/plan-file.md lists every key.
    """
    wanted = ".xlsm" if macro else ".xlsx"
    if output.suffix.lower() != wanted:
        raise click.BadParameter(f"{output.name} should end in {wanted}", param_hint="'-o'")
    if output.exists() and not force:
        _stop(REFUSED, f"{output} exists already; --force overwrites it")
    if plan is not None and like is not None:
        raise click.UsageError("give a PLAN or --like, not both: each is a whole plan")
    from brewfuncs.workbook import generate
    from brewfuncs.workbook.plan import load

    data = generate.new(
        load(plan) if plan is not None else None,
        units=units,
        like=like,
        name=name,
        date=date.date() if date is not None else None,
    )
    if macro:
        from brewfuncs.hosts.excel_build import add_macro

        data = add_macro(data)
    from brewfuncs.workbook.files import write_new

    write_new(output, data)
    click.echo(f"{output} written")


# -- record, recalc, check -------------------------------------------------------------------------------------------


@main.command()
@click.argument("workbook", type=_EXISTING)
@click.argument("measurements", nargs=-1, required=True, metavar="NAME=VALUE...")
@click.option("--json", "as_json", is_flag=True, help="Print the changes as JSON.")
def record(workbook: Path, measurements: tuple[str, ...], as_json: bool) -> None:
    """Put measurements into a workbook by their names, and recompute what depends on them.

    A value is a number in the unit of its cell, or a quantity that is converted to it. NAME= alone clears a cell.
    Formula cells can't be set. The file is replaced in one step, and nothing else in it changes.

    \b
    Example:
      brewfuncs record batch.xlsx preboil_gravity=1.046 preboil_volume="25.5 L"
    """
    values: dict[str, str] = {}
    for text in measurements:
        name, equals, value = text.partition("=")
        if not equals or not name.strip():
            raise click.UsageError(f'"{text}" is not NAME=VALUE')
        if name.strip() in values:
            raise click.UsageError(f"{name.strip()} is given twice")
        values[name.strip()] = value.strip()
    from brewfuncs.workbook.recalculate import record as record_file

    _print_reports([record_file(workbook, values)], as_json, everything=False)


@main.command()
@click.argument("workbooks", type=_EXISTING, nargs=-1, required=True)
@click.option("--all", "everything", is_flag=True, help="Print every change, however many.")
@click.option("--json", "as_json", is_flag=True, help="Print the changes as JSON.")
def recalc(workbooks: tuple[Path, ...], everything: bool, as_json: bool) -> None:
    """Recompute workbooks that call these functions, without a spreadsheet program.

    Only stored values that really change are written; a workbook with nothing to change keeps its time stamp.
    """
    from brewfuncs.workbook.recalculate import recalculate

    reports, refused = [], False
    for workbook in workbooks:
        try:
            reports.append(recalculate(workbook))
        except WorkbookError as error:
            click.echo(f"brewfuncs: {error}", err=True)
            refused = True
    if reports:
        _print_reports(reports, as_json, everything, REFUSED if refused else 0)
    raise SystemExit(REFUSED if refused else 0)


def _print_reports(reports: list[Report], as_json: bool, everything: bool, code: int = 0) -> None:
    if as_json:
        from dataclasses import asdict

        _print_json([asdict(report) for report in reports])
    else:
        for report in reports:
            for line in _report_lines(report, everything):
                click.echo(line)
    if any(report.failing for report in reports):
        raise SystemExit(code or FOUND)


_SHOWN = 40  # changes, where not all are asked for


def _report_lines(report: Report, everything: bool) -> Iterator[str]:
    """What a run did, old value and new, cells with a name first."""
    for change in report.inputs:
        yield f"{change.name} = {_cell(change.new)} (was {_cell(change.old)})"
    told = set() if everything else {(failing.sheet, failing.cell) for failing in report.failing}  # further down
    changes = [change for change in report.changes if (change.sheet, change.cell) not in told]
    changes.sort(key=lambda change: change.name is None)
    shown = changes if everything else _without_twins(changes)[:_SHOWN]
    width = max((len(_place(c)) for c in shown), default=0)
    for change in shown:
        doubt = "  (rests on a formula that was not computed)" if change.rests_on_kept else ""
        yield f"  {_place(change):{width}}  {_cell(change.old)} -> {_cell(change.new)}{doubt}"
    if len(shown) < len(changes):
        yield f"  and {len(changes) - len(shown)} more; --all or --json shows them"
    for kept in report.kept:
        stored = f"its value {_cell(kept.value)} stays"
        yield f"not computed: {kept.sheet}!{kept.cell} {kept.formula}: {kept.reason}; {stored}"
    for cells in _by_cause(report.failing, lambda failing: (failing.code, failing.sentence or failing.origin)):
        first = cells[0]
        where = f"{first.sheet}!{first.cell}"
        begun = f", from {first.origin}" if _unquoted(first.origin) != where else ""
        yield (
            f"in error: {first.name or where} {first.code}{begun}"
            + (f": {first.sentence}" if first.sentence else "")
            + _others(cells)
        )
    for revision in report.revisions:
        yield _revision_line(revision)
    if report.made_by and report.made_by != report.installed:
        yield f"made by brewfuncs {report.made_by}, computed by {report.installed}"
    yield from report.notes
    name = Path(report.path).name
    done = len(report.changes) + len(report.inputs)
    yield (
        f"{name}: {done} of {report.formulas + len(report.inputs)} cells changed"
        if report.written
        else f"{name}: nothing to change"
    )


def _by_cause(cells: list[_Found], cause: Callable[[_Found], Any]) -> Collection[list[_Found]]:
    """Cells with the same cause together, the one where it starts before those that rest on it."""
    groups: dict[Any, list[_Found]] = {}
    for cell in cells:
        groups.setdefault(cause(cell), []).append(cell)
    for group in groups.values():
        group.sort(key=lambda cell: _unquoted(cell.origin) != f"{cell.sheet}!{cell.cell}")
    return groups.values()


def _unquoted(place: str | None) -> str:
    """'Brew day'!E9 as Brew day!E9."""
    return re.sub(r"^'(.*)'!", lambda match: match[1].replace("''", "'") + "!", place or "")


def _others(cells: list[_Found]) -> str:
    """That the first of these isn't alone, with the names of some."""
    if len(cells) == 1:
        return ""
    names = [cell.name for cell in cells[1:] if cell.name][:3]
    among = f", {', '.join(names)} among them" if names and len(names) < len(cells) - 1 else ""
    alone = f" ({names[0]})" if len(cells) == 2 and names else ""
    return f"; {len(cells) - 1} more with it{among}{alone}"


def _without_twins(changes: list[Change]) -> list[Change]:
    """Without the same value in the unit that formulas use: x_in_L beside x."""
    named = {change.name for change in changes}
    return [c for c in changes if not (c.name and "_in_" in c.name and c.name.rpartition("_in_")[0] in named)]


def _revision_line(revision: Revision) -> str:
    if revision.installed is None:
        return (
            f"{revision.function}: revision {revision.stored} made this workbook, and the function isn't here any more"
        )
    cells = f"; changed for it: {', '.join(revision.changed)}" if revision.changed else ""
    return (
        f"{revision.function}: revision {revision.stored} made this workbook, {revision.installed} is installed{cells}"
    )


def _place(change: Change) -> str:
    return change.name or f"{change.sheet}!{change.cell}"


def _cell(value: Any) -> str:
    """A stored value as a line shows it."""
    if value is None:
        return "blank"
    if isinstance(value, CellError):
        return value.code
    return f'"{value}"' if isinstance(value, str) else _shown(value, "")


@main.command()
@click.argument("workbook", type=_EXISTING)
@click.option("--fix", is_flag=True, help="Repair formulas that carry another computer's add-in path.")
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def check(workbook: Path, fix: bool, as_json: bool) -> None:
    """Look a workbook over: cells in error and why, text a SUM skips, shares typed as 5.5, unknown names, stale values.

    Changes nothing unless --fix is given. Exit code 1 when something was found.
    """
    from brewfuncs.workbook.check import check as check_file

    report = check_file(workbook, fix=fix)
    if as_json:
        _print_json(report.as_dict())
    else:
        for line in _check_lines(report):
            click.echo(line)
    raise SystemExit(FOUND if report.findings else 0)


def _check_lines(report: CheckReport) -> Iterator[str]:
    width = max((len(finding.kind) for finding in report.findings), default=0)
    for cells in _by_cause(report.findings, lambda f: (f.kind, f.message) if f.kind == "error" else id(f)):
        finding = cells[0]
        place = f"{finding.sheet}!{finding.cell}"
        where = place + (f" ({finding.name})" if finding.name else "")
        begun = f" [starts at {finding.origin}]" if _unquoted(finding.origin) not in ("", place) else ""
        repair = f" [repair: {finding.repair}]" if finding.repair else ""
        yield f"{finding.kind:{width}}  {where}: {finding.message}{begun}{repair}{_others(cells)}"
    for kept in report.kept:
        yield f"not checked: {kept.sheet}!{kept.cell} {kept.formula}: {kept.reason}"
    if report.repaired:
        yield f"{report.repaired} formula{'s' if report.repaired > 1 else ''} repaired"
    found = len(report.findings)
    yield f"{Path(report.path).name}: {report.formulas} formulas, {found or 'nothing'} found"


# -- call, functions -------------------------------------------------------------------------------------------------


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
        _print_json({"formula": formula, "value": value, "unit": unit})
    else:
        for row in rows:
            click.echo("\t".join(_shown(cell, unit) for cell in row))
    if any(isinstance(cell, BrewError) for row in rows for cell in row):
        raise SystemExit(FOUND)


def _shown(value: Any, unit: str) -> str:
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, BrewError):
        return f"{value.code} ({value})"
    if not isinstance(value, (int, float)):
        return str(value)
    digits = f"{value:.6g}" if 1e-4 <= abs(value) < 1e6 or value == 0 else f"{value:.7g}"
    return f"{digits} {unit}".rstrip()


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
        _print_json(_as_json(function))
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
        _print_json([_as_json(f) for f in found])
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


# -- hosts -----------------------------------------------------------------------------------------------------------


@main.command("calc-addin")
@click.argument("output", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Overwrite an existing file.")
def calc_addin(output: Path, force: bool) -> None:
    """Build the extension for LibreOffice Calc, an .oxt file."""
    from brewfuncs.hosts.calc import build

    _write_built(output, ".oxt", force, build)


@main.command("excel-addin")
@click.argument("output", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Overwrite an existing file.")
def excel_addin(output: Path, force: bool) -> None:
    """Build the add-in for Microsoft Excel on Windows, an .xlam file (needs xlwings)."""
    from brewfuncs.hosts.excel_build import build

    _write_built(output, ".xlam", force, build)


def _write_built(output: Path, ending: str, force: bool, build: Any) -> None:
    if output.suffix.lower() != ending:
        raise click.BadParameter(f"{output.name} should end in {ending}", param_hint="'OUTPUT'")
    if output.exists() and not force:
        _stop(REFUSED, f"{output} exists already; --force overwrites it")
    from brewfuncs.workbook.files import write_new

    write_new(output, build())
    click.echo(f"{output} written")


@main.group()
def calc() -> None:
    """Put the functions into LibreOffice Calc, or take them out."""


@calc.command("install")
def calc_install() -> None:
    """Put the extension into your LibreOffice profile."""
    from brewfuncs.hosts.calc_install import install

    click.echo(install())


@calc.command("uninstall")
def calc_uninstall() -> None:
    """Take the extension out of your LibreOffice profile."""
    from brewfuncs.hosts.calc_install import uninstall

    click.echo(uninstall())


@main.group()
def excel() -> None:
    """Put the functions into Microsoft Excel on Windows, or take them out."""


@excel.command("install")
def excel_install() -> None:
    """Write the configuration, place the add-in, and say what is left to click."""
    from brewfuncs.hosts.excel_install import install

    click.echo(install())


@excel.command("uninstall")
def excel_uninstall() -> None:
    """Take the add-in and its configuration away."""
    from brewfuncs.hosts.excel_install import uninstall

    click.echo(uninstall())


@main.command()
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def doctor(as_json: bool) -> None:
    """Look whether each host is there, which version, and whether known answers come out right in it."""
    from brewfuncs.hosts.doctor import examine

    findings = examine()
    if as_json:
        _print_json([f._asdict() for f in findings])
    else:
        width = max(len(f.subject) for f in findings)
        for finding in findings:
            click.echo(f"{finding.subject:{width}}  {finding.state:8}  {finding.sentence}")
    if any(f.state == "broken" for f in findings):
        raise SystemExit(FOUND)


@main.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion(shell: str) -> None:
    """Print the script that completes commands in a SHELL.

    \b
    For bash:  brewfuncs completion bash >> ~/.bashrc
    """
    from click.shell_completion import get_completion_class

    completer = get_completion_class(shell)
    assert completer is not None
    click.echo(completer(main, {}, "brewfuncs", "_BREWFUNCS_COMPLETE").source())
