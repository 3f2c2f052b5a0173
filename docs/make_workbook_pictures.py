"""Takes the pictures of the batch workbook: python docs/make_workbook_pictures.py (needs LibreOffice and poppler).

Each sheet of workbooks/lantern-pale.xlsx is printed and becomes a PNG named after it; of one that takes several pages
the first is shown.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

DOCS = Path(__file__).resolve().parent
WORKBOOK = DOCS.parent / "workbooks" / "lantern-pale.xlsx"
PICTURES = DOCS / "pictures"
LEFT_OUT = ("workings",)
DOTS_PER_INCH = 110


def main() -> int:
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        profile = f"-env:UserInstallation={Path(folder, 'profile').as_uri()}"
        subprocess.run(
            ["soffice", profile, "--headless", "--convert-to", "pdf", "--outdir", folder, str(WORKBOOK)],
            check=True,
            capture_output=True,
        )
        pdf = Path(folder) / "lantern-pale.pdf"
        taken: set[str] = set()
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
    return 0


def _pages(pdf: Path) -> list[str]:
    """The text of each page."""
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], check=True, capture_output=True, text=True).stdout
    return text.rstrip("\f").split("\f")


if __name__ == "__main__":
    sys.exit(main())
