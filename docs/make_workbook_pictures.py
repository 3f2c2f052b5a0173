"""Takes the pictures of the batch workbook: python docs/make_workbook_pictures.py (needs LibreOffice and poppler).

Each sheet of workbooks/lantern-pale.xlsx is printed and becomes a PNG named after it, and the sheet Water of
workbooks/hard-water.xlsx; of one that takes several pages the first is shown.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

DOCS = Path(__file__).resolve().parent
WORKBOOKS = ("lantern-pale", "hard-water")  # of the second, what the first doesn't have
PICTURES = DOCS / "pictures"
LEFT_OUT = ("workings",)
DOTS_PER_INCH = 110


def main() -> int:
    PICTURES.mkdir(exist_ok=True)
    taken: set[str] = set()
    for workbook in WORKBOOKS:
        with tempfile.TemporaryDirectory() as folder:
            _pictures(workbook, folder, taken)
    return 0


def _pictures(workbook: str, folder: str, taken: set[str]) -> None:
    """Of the sheets whose pictures aren't taken yet."""
    profile = f"-env:UserInstallation={Path(folder, 'profile').as_uri()}"
    path = DOCS.parent / "workbooks" / f"{workbook}.xlsx"
    subprocess.run(
        ["soffice", profile, "--headless", "--convert-to", "pdf", "--outdir", folder, str(path)],
        check=True,
        capture_output=True,
    )
    pdf = Path(folder) / f"{workbook}.pdf"
    for number, page in enumerate(_pages(pdf), 1):
        footer = page.rstrip().splitlines()[-1]  # the sheet's name, the batch's, and "2 of 9"
        name = footer.partition(" – ")[0].strip().casefold().replace(" ", "-")
        if name in taken or name in LEFT_OUT:
            continue
        taken.add(name)
        subprocess.run(
            ["pdftoppm", "-png", "-singlefile", "-r", str(DOTS_PER_INCH), "-f", str(number), "-l", str(number),
             str(pdf), str(PICTURES / name)],
            check=True,
        )  # fmt: skip
        print(f"docs/pictures/{name}.png")


def _pages(pdf: Path) -> list[str]:
    """The text of each page."""
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], check=True, capture_output=True, text=True).stdout
    return text.rstrip("\f").split("\f")


if __name__ == "__main__":
    sys.exit(main())
