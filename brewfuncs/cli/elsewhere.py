"""The functions where no Python runs: as names in a workbook, in Google Sheets, in a web page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from brewfuncs.cli.main import main
from brewfuncs.cli.said import EXISTING, refuse_output, write_output

if TYPE_CHECKING:
    from brewfuncs.workbook.embed import EmbedReport


@main.command()
@click.argument("workbook", type=EXISTING)
@click.option("--all", "everything", is_flag=True, help="Every function, not only those the workbook calls.")
@click.option("--remove", is_flag=True, help="Take the names out again.")
def embed(workbook: Path, everything: bool, remove: bool) -> None:
    """Write the functions that a workbook calls into it, as names that need no add-in.

    For Excel 365 and 2024, on the web, a Mac, a tablet or a phone. Done again, it renews them; nothing else in the file
    changes. Text with a unit ("5 gal") isn't understood there: numbers only.
    """
    if everything and remove:
        raise click.UsageError("--all and --remove: choose one")
    from brewfuncs.workbook.embed import embed as embed_file

    for line in _embed_lines(embed_file(workbook, everything=everything, remove=remove)):
        click.echo(line)


def _embed_lines(report: EmbedReport) -> list[str]:
    lines = [
        f"{what}: {', '.join(names) if len(names) <= 12 else f'{len(names)} names'}"
        for what, names in (("added", report.added), ("renewed", report.renewed), ("taken out", report.removed))
        if names
    ]
    if report.missing:
        lines.append(f"not to be had as a name: {', '.join(report.missing)}; its cells need an add-in")
    lines += report.notes
    name = Path(report.path).name
    if not lines:
        return [f"{name} calls none of the functions; --all writes every one into it"]
    cells = f", {report.cells} formulas written as today's Excel writes them" if report.cells else ""
    return [*lines, f"{name}: saved{cells}" if report.written else f"{name}: nothing to change"]


@main.command("sheets-script")
@click.argument("output", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Overwrite an existing file.")
def sheets_script(output: Path, force: bool) -> None:
    """Write the functions as a script for Google Sheets, a .gs file to paste."""
    refuse_output(output, (".gs",), force)
    from brewfuncs.translate.sheets_script import script

    write_output(output, script())


@main.command()
@click.argument("output", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Overwrite existing files.")
def javascript(output: Path, force: bool) -> None:
    """Write the functions as a JavaScript module, a .js or .mjs file, with its types beside it."""
    refuse_output(output, (".js", ".mjs"), force)
    types = output.with_suffix(".d.ts" if output.suffix == ".js" else ".d.mts")
    refuse_output(types, (types.suffix,), force)
    from brewfuncs.translate.javascript import module
    from brewfuncs.translate.javascript import types as module_types

    write_output(output, module())
    write_output(types, module_types())
