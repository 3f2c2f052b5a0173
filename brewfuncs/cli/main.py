"""The command itself; its commands stand in modules by what they are about."""

from __future__ import annotations

import click

from brewfuncs import __version__
from brewfuncs.cli.said import Commands

_EXIT_CODES = """\b
Exit codes:
  0  done, nothing to report
  1  the answer is an error, or a check found something
  2  the command was not understood
  3  a file or plan can't be used; nothing was changed
  4  done, but cells are listed that should have changed and couldn't be vouched for
  130  interrupted; whether a file was changed is said
"""


@click.group(
    cls=Commands,
    epilog=_EXIT_CODES,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, message="brewfuncs %(version)s")
def main() -> None:
    """Brewing formulas for spreadsheets, and workbooks that plan a batch with them.

    \b
    A first session:
      brewfuncs new -o batch.xlsx                      a workbook with an invented batch in it
      brewfuncs record batch.xlsx boil_time='30 min'
      brewfuncs call '=HOP_BITTERNESS("1 oz",5.5%,60,"5 gal",1.050)'
      brewfuncs functions HOP_SWAP_MASS                what a function wants and where it comes from

    Add --help to any command for its own page.
    """
