"""Making a batch workbook."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from brewfuncs.cli.main import main
from brewfuncs.cli.said import EXISTING, TYPED, refuse_output, write_output

if TYPE_CHECKING:
    from brewfuncs.batch.plan import Plan


@main.command()
@click.argument("files", type=EXISTING, nargs=-1, metavar="[PLAN]")
@click.option("-o", "--output", type=click.Path(path_type=Path), required=True, help="The workbook to write.")
@click.option(
    "--units",
    type=click.Choice(["metric", "us", "imperial"]),
    help="The units the input cells start with (else the plan's own); each can be changed in the workbook.",
)
@click.option(
    "--like",
    type=EXISTING,
    help="An earlier batch workbook: its plan and equipment, with what was measured in place of what was planned. More "
    "workbooks behind it, as --like a.xlsx b.xlsx c.xlsx, tell mean and spread.",
)
@click.option(
    "--as-brewed",
    is_flag=True,
    help="With --like: make the shorter boil, where it was brewed, the recipe's own, with its hops.",
)
@click.option("--volume", type=TYPED, help="Scale the recipe to so much wort after the boil, such as '40 L'.")
@click.option(
    "--equipment",
    type=EXISTING,
    help="With --volume: a plan or batch workbook whose kettle, mash tun and chiller it is scaled for.",
)
@click.option("--name", type=TYPED, help="Name of the batch.")
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="Brew day, as 2026-03-14.")
@click.option(
    "--macro", is_flag=True, help="Write an .xlsm with the Excel functions inside (for Windows; needs xlwings)."
)
@click.option(
    "--embed",
    is_flag=True,
    help="With the functions as names within it: for Excel without an add-in, on the web, a tablet, a phone.",
)
@click.option("--force", is_flag=True, help="Overwrite an existing file.")
def new(
    files: tuple[Path, ...],
    output: Path,
    units: str | None,
    like: Path | None,
    as_brewed: bool,
    volume: str | None,
    equipment: Path | None,
    name: str | None,
    date: Any,
    macro: bool,
    embed: bool,
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
    refuse_output(output, (".xlsm" if macro else ".xlsx",), force, hint="'-o'")
    if like is None and len(files) > 1:
        raise click.UsageError("give one PLAN; several batch workbooks go behind --like")
    plan = files[0] if files and like is None else None
    if like is not None and any(file.suffix.lower() == ".toml" for file in files):
        raise click.UsageError("give a PLAN or --like, not both: each is a whole plan")
    if equipment is not None and volume is None:
        raise click.UsageError("--equipment goes with --volume")
    if macro and embed:
        raise click.UsageError("--macro brings an add-in, --embed does without: choose one")
    if as_brewed and like is None:
        raise click.UsageError("--as-brewed goes with --like")
    from brewfuncs.batch import generate
    from brewfuncs.batch.plan import load

    data = generate.new(
        load(plan) if plan is not None else None,
        units=units,
        like=[like, *files] if like is not None else None,
        as_brewed=as_brewed,
        volume=volume,
        equipment=_equipment(equipment) if equipment is not None else None,
        name=name,
        date=date.date() if date is not None else None,
        embed=embed,
    )
    if macro:
        from brewfuncs.hosts.excel_build import add_macro

        data = add_macro(data)
    write_output(output, data)
    if volume is not None:
        from brewfuncs.batch.scale import said_of_scaling

        for sentence in said_of_scaling(equipment is not None):
            click.echo(sentence)


def _equipment(path: Path) -> Plan:
    from brewfuncs.batch.like import carried_over
    from brewfuncs.batch.plan import load

    return load(path) if path.suffix.lower() == ".toml" else carried_over(path)
