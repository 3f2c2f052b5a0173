"""The workbooks that come with the project: an empty template, a filled batch, one about a shorter boil, and one whose
water is treated.

python -m brewfuncs.batch.examples workbooks            write them into that folder
python -m brewfuncs.batch.examples workbooks --check    say which differ, and write nothing
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

from brewfuncs.batch import demo
from brewfuncs.batch.generate import new
from brewfuncs.batch.plan import Plan

__all__ = ["EXAMPLES"]

#: file name -> its bytes, the same whenever they are made
EXAMPLES: dict[str, Callable[[], bytes]] = {
    "empty.xlsx": lambda: new(Plan.empty()),
    "lantern-pale.xlsx": lambda: new(Plan.of(demo.LANTERN_PALE | demo.LANTERN_PALE_MEASURED, measured=True)),
    "hard-water.xlsx": lambda: new(Plan.of(demo.HARD_WATER)),
    "shorter-boil.xlsx": lambda: new(Plan.of(demo.SLATE_PILSNER)),
}


def main(folder: str, *options: str) -> int:
    outdated = []
    for name, make in EXAMPLES.items():
        path, content = Path(folder) / name, make()
        if path.is_file() and path.read_bytes() == content:
            continue
        outdated.append(name)
        if "--check" not in options:
            path.write_bytes(content)
    print(f"{len(outdated)} of {len(EXAMPLES)} differ" + (f": {', '.join(outdated)}" if outdated else ""))
    return 1 if outdated and "--check" in options else 0


if __name__ == "__main__":
    raise SystemExit(main(*sys.argv[1:]))
