"""Existing workbooks: measurements put in, recomputed, looked over."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from brewfuncs.cli.main import main
from brewfuncs.cli.said import EXISTING, FOUND, REFUSED, print_json, shown
from brewfuncs.errors import CellError, WorkbookError

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from brewfuncs.workbook.check import CheckReport, Finding
    from brewfuncs.workbook.report import Change, Failing, Report, Revision

_Found = TypeVar("_Found", "Failing", "Finding")


@main.command()
@click.argument("workbook", type=EXISTING)
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
    from brewfuncs.batch.record import record as record_file

    _print_reports([record_file(workbook, values)], as_json, everything=False)


@main.command()
@click.argument("workbooks", type=EXISTING, nargs=-1, required=True)
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

        print_json([asdict(report) for report in reports])
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
