"""Would the Python inside LibreOffice find LibreOffice's modules, started in this environment?

`probe.py PROGRAM ANSWER`: the folder of LibreOffice's programs, and a file to write "yes" or "no" to. Python finds its
library by the name it was started by: "python3", looked for on the PATH, as LibreOffice starts it.
"""

import os
import subprocess
import sys

program, answer = sys.argv[1:]
tried = subprocess.run(
    ["python3", "-c", "import unohelper"],
    executable=sys.executable,
    cwd=os.sep,
    env={**os.environ, "PYTHONPATH": os.pathsep.join([program, *filter(None, [os.environ.get("PYTHONPATH")])])},
    stdin=subprocess.DEVNULL,
    stdout=subprocess.DEVNULL,
    stderr=subprocess.DEVNULL,
)
with open(answer, "w", encoding="ascii") as file:
    file.write("no\n" if tried.returncode else "yes\n")
