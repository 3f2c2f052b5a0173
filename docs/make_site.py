"""Builds the documentation site into build/site/: python docs/make_site.py (needs ".[docs]").

A broken link is an error. What the builder reads is a copy of docs/ under build/, with what only the site has put in
first: a plot of each function where one helps, and the changelog. So any builder of Markdown pages will do, and needs
no code of ours.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
sys.path.insert(0, str(DOCS))
sys.path.insert(0, str(ROOT))  # the sources beside this file, whatever is installed

from generate import prose
from plots import PLOTS, caption, draw

from brewfuncs.catalogue import CATALOGUE

BUILD = ROOT / "build"
PAGES = BUILD / "pages"
NOT_SHOWN = ("__pycache__", "generate.py", "plots.py", "make_*.py", "site.yml")


def stage() -> None:
    """The pages as the builder wants them."""
    shutil.rmtree(PAGES, ignore_errors=True)
    shutil.copytree(DOCS, PAGES, ignore=shutil.ignore_patterns(*NOT_SHOWN))
    shutil.copyfile(DOCS / "site.yml", BUILD / "site.yml")
    shutil.copyfile(ROOT / "CHANGELOG.md", PAGES / "changes.md")
    for page in PAGES.rglob("*.md"):
        page.write_text(for_site(page.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
    plots = PAGES / "functions" / "plots"
    plots.mkdir()
    for name in PLOTS:
        (plots / f"{name}.svg").write_bytes(draw(CATALOGUE[name]))


def for_site(markdown: str) -> str:
    """A page with its plots; what lies outside docs/ in the source tree has its place in the site, or is only named."""
    markdown = re.sub(r"<!-- plot (\w+) -->", lambda match: _plot(match[1]), markdown)
    markdown = markdown.replace("](../CHANGELOG.md)", "](changes.md)")
    return re.sub(r"\[([^\]]*)\]\(\.\./(?:LICENSE|brewfuncs/[^)]*|DEVELOPERS\.md|README\.md)\)", r"\1", markdown)


def _plot(name: str) -> str:
    said = caption(CATALOGUE[name])
    return f"![{said}](plots/{name}.svg)\n\n*{prose(said)}*"


def main() -> int:
    stage()
    command = [sys.executable, "-m", "properdocs", "build", "--clean", "--strict", "-f", "site.yml"]
    return subprocess.run(command, cwd=BUILD).returncode


if __name__ == "__main__":
    sys.exit(main())
