"""Runs under Wine, in a Python for Windows, started by test_wine.py: calls of worksheet functions as Excel makes them.

The file named holds calls, [name, arguments] each; the answers go into the other file named. On the way a Python that
can't start, one that ends at once, and one that is killed between calls.
"""

import contextlib
import json
import sys
from pathlib import Path

import pywintypes

from brewfuncs.hosts.excel_call import Server

here = Path(sys.prefix)


def refused(interpreter):
    try:
        Server(here, interpreter)
    except OSError as error:
        return str(error)


calls, answers = map(Path, sys.argv[1:])
told = {
    "not there": refused(here / "no such python.exe"),
    "ends at once": refused(Path("C:/windows/system32/hostname.exe")),
}

server = Server(here, here / "python.exe")
told["answers"] = [server.call(name, *arguments) for name, arguments in json.loads(calls.read_text(encoding="utf-8"))]

end = server._server.GetIDsOfNames("Exec")
with contextlib.suppress(pywintypes.com_error):
    server._server.Invoke(end, 0, 1, True, "import os; os._exit(1)")
try:
    server.call("BOIL_OFF", 4.5, 30.0)
except pywintypes.com_error:
    told["after the end"] = Server(here, here / "python.exe", starts=1).call("BOIL_OFF", 4.5, 30.0)
answers.write_text(json.dumps(told), encoding="utf-8")
