"""Existing workbooks: measurements put in, recomputed, looked over."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from brewfuncs.cli.main import main
from brewfuncs.cli.said import EXISTING, FOUND, REFUSED, STALE, TYPED, print_json, shown
from brewfuncs.errors import BrewError, CellError, WorkbookError

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from brewfuncs.batch.told import Told
    from brewfuncs.workbook.check import CheckReport, Finding
    from brewfuncs.workbook.report import Change, Failing, Kept, Report, Revision

_Found = TypeVar("_Found", "Failing", "Finding")


def _names_to_set(context: click.Context, _parameter: click.Parameter, typed: str) -> list[str]:
    """For the Tab key: the names that the workbook on the line lets one set."""
    from brewfuncs.batch.told import settings

    path = context.params.get("workbook")
    if path is None or "=" in typed:
        return []
    try:
        return [f"{one.name}=" for one in settings(path) if one.name.startswith(typed)]
    except (BrewError, OSError):
        return []


_ON_OPEN = click.option(
    "--recalc-on-open",
    "on_open",
    is_flag=True,
    help="Where cells are left as they were, let Excel or LibreOffice work the whole file out when it opens.",
)


@main.command()
@click.argument("workbook", type=EXISTING)
@click.argument("measurements", type=TYPED, nargs=-1, metavar="NAME=VALUE...", shell_complete=_names_to_set)
@click.option("--list", "listing", is_flag=True, help="Show the names that can be set, with unit and present value.")
@click.option("--all", "everything", is_flag=True, help="Print every cell that changed, by its name.")
@_ON_OPEN
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def record(
    workbook: Path, measurements: tuple[str, ...], listing: bool, everything: bool, on_open: bool, as_json: bool
) -> None:
    """Put measurements into a workbook by their names, and recompute what depends on them.

    A value is a number in the unit of its cell, or a quantity that is converted to it. NAME= alone clears a cell.
    Formula cells can't be set. The file is replaced in one step, and nothing else in it changes. A cell whose formula
    can't be vouched for here keeps its value and is listed; the exit code is 4 then.

    \b
    Examples:
      brewfuncs record batch.xlsx --list
      brewfuncs record batch.xlsx preboil_volume="26.4 L" preboil_volume_temp="96 °C"
    """
    if listing:
        if measurements:
            raise click.UsageError("--list sets nothing: leave the measurements out")
        _print_settings(workbook, as_json)
        return
    if not measurements:
        raise click.UsageError("give NAME=VALUE, or --list to see the names")
    values: dict[str, str] = {}
    for text in measurements:
        name, equals, value = text.partition("=")
        if not equals or not name.strip():
            raise click.UsageError(f'"{text}" is not NAME=VALUE')
        if name.strip() in values:
            raise click.UsageError(f"{name.strip()} is given twice")
        values[name.strip()] = value.strip()
    from brewfuncs.batch.record import record as record_file
    from brewfuncs.batch.told import told

    report = record_file(workbook, values, on_open=on_open)
    lines = None if as_json or everything else told(report)
    if lines is None:
        _print_reports([report], as_json, everything)
    else:
        _echo(_brewers_lines(report, lines))
        _end([report])


def _print_settings(workbook: Path, as_json: bool) -> None:
    from dataclasses import asdict

    from brewfuncs.batch.told import settings

    found = settings(str(workbook))
    if as_json:
        print_json([asdict(one) for one in found])
        return
    width = max((len(one.name) for one in found), default=0)
    across = max((len(one.value + one.unit) for one in found), default=0) + 1
    sheet = ""
    for one in found:
        if one.sheet != sheet:
            click.echo(f"{'' if not sheet else chr(10)}{one.sheet}")
            sheet = one.sheet
        value = f"{one.value} {one.unit}".strip() if one.value else f"– {one.unit}".rstrip()
        click.echo(f"  {one.name:{width}}  {value:{across}}  {one.label}".rstrip())


def _brewers_lines(report: Report, lines: list[Told]) -> Iterator[str]:
    """What was entered, then by sheet what to do about it and what has changed."""
    for line in lines:
        if line.is_input:
            yield f"{line.label}: {line.new} {line.unit}".rstrip() + f" (was {line.old})"
    groups: dict[str, list[Told]] = {}
    for line in lines:
        if not line.is_input:
            groups.setdefault(line.sheet, []).append(line)
    for sheet, found in groups.items():
        yield ""
        yield sheet
        for line in found:
            if line.is_sentence:
                yield f"  {line.new}"
        width = max((len(line.label) for line in found), default=0)
        for line in found:
            if not line.is_sentence:
                yield f"  {line.label:{width}}  {line.old} -> {line.new} {line.unit}".rstrip()
    if lines:
        yield ""
    yield from _report_lines(report, everything=False, changes=[])


@main.command()
@click.argument("workbooks", type=EXISTING, nargs=-1, required=True)
@click.option("--everything", "believed", is_flag=True, help="Work out every formula, whatever is stored for it.")
@click.option("--all", "everything", is_flag=True, help="Print every change, however many.")
@_ON_OPEN
@click.option("--json", "as_json", is_flag=True, help="Print the changes as JSON.")
def recalc(workbooks: tuple[Path, ...], believed: bool, everything: bool, on_open: bool, as_json: bool) -> None:
    """Recompute workbooks that call these functions, without a spreadsheet program.

    Worked out are the formulas that call these functions, those without a stored value, and what rests on them.
    Other stored values stay, as the program that stored them knows its own functions best; --everything works them out
    too. A workbook with nothing to change keeps its time stamp.
    """
    from brewfuncs.workbook.recalculate import recalculate

    reports, refused = [], False
    for workbook in workbooks:
        try:
            reports.append(recalculate(workbook, everything=believed, on_open=on_open))
        except WorkbookError as error:
            click.echo(f"brewfuncs: {error}", err=True)
            refused = True
    if reports:
        _print_reports(reports, as_json, everything, REFUSED if refused else 0)
    raise SystemExit(REFUSED if refused else 0)


def _print_reports(reports: list[Report], as_json: bool, everything: bool, code: int = 0) -> None:
    if as_json:
        from dataclasses import asdict

        print_json([asdict(report) for report in reports])
    else:
        for report in reports:
            _echo(_report_lines(report, everything))
    _end(reports, code)


def _end(reports: list[Report], code: int = 0) -> None:
    """The exit code, where it isn't 0."""
    if any(report.stale for report in reports):
        raise SystemExit(code or STALE)
    if any(report.failing for report in reports):
        raise SystemExit(code or FOUND)


def _echo(lines: Iterator[str]) -> None:
    for line in lines:
        click.echo(line)


_SHOWN = 40  # changes, where not all are asked for


def _report_lines(report: Report, everything: bool, changes: list[Change] | None = None) -> Iterator[str]:
    """What a run did: the changes, old value and new, cells with a name first; then whatever is in doubt."""
    if changes is None:
        for change in report.inputs:
            yield f"{change.name} = {_cell(change.new)} (was {_cell(change.old)})"
        told = set() if everything else {(failing.sheet, failing.cell) for failing in report.failing}  # further down
        changes = [change for change in report.changes if (change.sheet, change.cell) not in told]
    changes.sort(key=lambda change: change.name is None)
    shown = changes if everything else changes[:_SHOWN]
    width = max((len(_place(c)) for c in shown), default=0)
    for change in shown:
        yield f"  {_place(change):{width}}  {_cell(change.old)} -> {_cell(change.new)}"
    if len(shown) < len(changes):
        yield f"  and {len(changes) - len(shown)} more; --all or --json shows them"
    yield from _kept_lines(report.kept, everything)
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
    if report.stale:
        yield _stale_line(report)
    name = Path(report.path).name
    done = len(report.changes) + len(report.inputs)
    yield (
        f"{name}: {done} of {report.formulas + len(report.inputs)} cells changed"
        if report.written
        else f"{name}: nothing to change"
    )


def _kept_lines(found: list[Kept], everything: bool) -> Iterator[str]:
    """Formulas whose value stayed, those that should have changed first, each with what rests on it."""
    resting: dict[str, list[Kept]] = {}
    for kept in found:
        if kept.origin:
            resting.setdefault(_unquoted(kept.origin), []).append(kept)
    roots = sorted((kept for kept in found if not kept.origin), key=lambda kept: not kept.stale)
    for kept in roots if everything else roots[:_SHOWN]:
        place = f"{kept.sheet}!{kept.cell}"
        others = resting.get(place, [])
        names = [one.name for one in others if one.name][:3]
        leads = f"; {len(others)} more rest{'s' if len(others) == 1 else ''} on it" if others else ""
        leads += f", {', '.join(names)} among them" if names else ""
        what = "left as it was" if kept.stale else "not computed"
        formula = _formula(kept.formula)
        yield f"{what}: {kept.name or place} {formula}: {kept.reason}; its value {_cell(kept.value)} stays{leads}"
    if not everything and len(roots) > _SHOWN:
        yield f"and {len(roots) - _SHOWN} more that stay; --all or --json shows them"


def _formula(text: str) -> str:
    """A formula on a line; one can be thousands of characters long."""
    return text if len(text) <= 200 else text[:190] + " ..."


def _stale_line(report: Report) -> str:
    count = len(report.stale)
    cells = (
        "1 cell should have changed and keeps its old value"
        if count == 1
        else (f"{count} cells should have changed and keep their old values")
    )
    if report.on_open:
        return f"{cells}: the file is marked to be worked out when Excel or LibreOffice opens it"
    return f"{cells}: open and save the file in Excel or LibreOffice, or see --recalc-on-open"


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
    return f'"{value}"' if isinstance(value, str) else shown(value, "")


@main.command()
@click.argument("workbook", type=EXISTING)
@click.option("--fix", is_flag=True, help="Repair formulas that carry another computer's add-in path.")
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def check(workbook: Path, fix: bool, as_json: bool) -> None:
    """Look a workbook over: cells in error and why, text a SUM skips, shares typed as 5.5, unknown names, stale values.

    Changes nothing unless --fix is given. Exit code 1 when something was found.
    """
    from brewfuncs.workbook.check import check as check_file

    report = check_file(workbook, fix=fix)
    if as_json:
        print_json(report.as_dict())
    else:
        for line in _check_lines(report):
            click.echo(line)
    raise SystemExit(FOUND if report.findings else 0)


def _check_lines(report: CheckReport) -> Iterator[str]:
    width = max((len(finding.kind) for finding in report.findings), default=0)
    for cells in _by_cause(report.findings, lambda f: (f.kind, f.message) if f.kind == "error" else id(f)):
        finding = cells[0]
        place = f"{finding.sheet}!{finding.cell}" if finding.sheet else "names of the workbook"
        where = place + (f" ({finding.name})" if finding.name and finding.sheet else "")
        begun = f" [starts at {finding.origin}]" if _unquoted(finding.origin) not in ("", place) else ""
        repair = f" [repair: {finding.repair}]" if finding.repair else ""
        yield f"{finding.kind:{width}}  {where}: {finding.message}{begun}{repair}{_others(cells)}"
    for kept in report.kept[:_SHOWN]:
        yield f"not checked: {kept.sheet}!{kept.cell} {_formula(kept.formula)}: {kept.reason}"
    if len(report.kept) > _SHOWN:
        yield f"and {len(report.kept) - _SHOWN} more not checked; --json shows them"
    yield from report.notes
    if report.repaired:
        yield f"{report.repaired} formula{'s' if report.repaired > 1 else ''} repaired"
    found = len(report.findings)
    yield f"{Path(report.path).name}: {report.formulas} formulas, {found or 'nothing'} found"
