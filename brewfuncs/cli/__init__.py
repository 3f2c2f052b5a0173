"""The command line. It only asks and prints: whatever it does stands in the modules it calls, imported when needed."""

from brewfuncs.cli import batch, elsewhere, functions, hosts, workbook  # noqa: F401  (each adds its commands)
from brewfuncs.cli.main import main
from brewfuncs.cli.said import FOUND, MISUSED, REFUSED

__all__ = ["FOUND", "MISUSED", "REFUSED", "main"]
