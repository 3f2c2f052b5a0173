"""Add-ins built, put in and taken out; the doctor; completion."""

from __future__ import annotations

from pathlib import Path

import click

from brewfuncs.cli.main import main
from brewfuncs.cli.said import FOUND, print_json, refuse_output, write_output


@main.command("calc-addin")
@click.argument("output", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Overwrite an existing file.")
def calc_addin(output: Path, force: bool) -> None:
    """Build the extension for LibreOffice Calc, an .oxt file."""
    refuse_output(output, (".oxt",), force)
    from brewfuncs.hosts.calc import build

    write_output(output, build())


@main.command("excel-addin")
@click.argument("output", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Overwrite an existing file.")
def excel_addin(output: Path, force: bool) -> None:
    """Build the add-in for Microsoft Excel on Windows, an .xlam file (needs xlwings)."""
    refuse_output(output, (".xlam",), force)
    from brewfuncs.hosts.excel_build import build

    write_output(output, build())


@main.group()
def calc() -> None:
    """Put the functions into LibreOffice Calc, or take them out."""


@calc.command("install")
def calc_install() -> None:
    """Put the extension into LibreOffice: into your profile, or as root for everybody on the machine."""
    from brewfuncs.hosts.calc_install import install

    click.echo(install())


@calc.command("uninstall")
def calc_uninstall() -> None:
    """Take the extension out of LibreOffice, from where install put it."""
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
        print_json([f._asdict() for f in findings])
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
