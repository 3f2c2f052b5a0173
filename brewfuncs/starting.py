"""Ctrl-C while the program is still being loaded: a sentence, and no traceback.

The package imports this before all else, as nothing can catch an exception before the command line is there.
"""

import os.path
import sys
from types import TracebackType
from typing import Optional


def _hook(kind: type[BaseException], error: BaseException, trace: Optional[TracebackType]) -> None:
    if issubclass(kind, KeyboardInterrupt):
        sys.stderr.write("brewfuncs: interrupted; nothing was changed\n")
    else:
        sys.__excepthook__(kind, error, trace)


_started = getattr(sys, "argv", [""])[0]  # "-m" while a module to be run is still being looked for
if _started == "-m" or os.path.basename(_started).startswith("brewfuncs"):  # and not imported by another program
    sys.excepthook = _hook
