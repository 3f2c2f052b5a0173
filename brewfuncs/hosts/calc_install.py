"""LibreOffice on this machine: putting the extension into it, taking it out, and looking whether it works there."""

import os
import platform
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from brewfuncs import __version__
from brewfuncs.errors import BadInput, BrewError, CellError
from brewfuncs.hosts.calc import IDENTIFIER, build
from brewfuncs.hosts.known_answers import known_answers

__all__ = ["compute", "find_office", "install", "installed_version", "status", "uninstall"]

_SHARED = ("--shared",)
_RESTART = "; restart LibreOffice if it is open"
_PATIENCE = 180  # seconds; the first start of a new profile on a slow disk


# -- finding it ------------------------------------------------------------------------------------------------------


def find_office() -> Path | None:
    """The folder of LibreOffice's programs, or None; BREWFUNCS_LIBREOFFICE names one that is elsewhere."""
    for folder in _places():
        if _program(folder, "soffice") and _program(folder, "unopkg"):
            return folder
    return None


def _places() -> Iterator[Path]:
    if given := os.environ.get("BREWFUNCS_LIBREOFFICE"):
        yield from (Path(given), Path(given) / "program", Path(given) / "Contents" / "MacOS")
        return  # who names one doesn't mean another
    for name in ("soffice", "libreoffice"):
        if found := shutil.which(name):
            yield Path(found).resolve().parent
    system = platform.system()
    if system == "Windows":
        yield from _windows_places()
    elif system == "Darwin":
        for applications in (Path("/Applications"), Path.home() / "Applications"):
            yield applications / "LibreOffice.app" / "Contents" / "MacOS"
    else:
        yield from (Path("/usr/lib/libreoffice/program"), Path("/usr/lib64/libreoffice/program"))
        yield from sorted(Path("/opt").glob("libreoffice*/program"), reverse=True)


def _windows_places() -> Iterator[Path]:
    if sys.platform == "win32":
        import winreg

        for root in (winreg.HKEY_CURRENT_USER, winreg.HKEY_LOCAL_MACHINE):
            try:
                yield Path(winreg.QueryValue(root, r"SOFTWARE\LibreOffice\UNO\InstallPath"))
            except OSError:
                continue
    for variable in ("ProgramFiles", "ProgramW6432", "ProgramFiles(x86)"):
        if folder := os.environ.get(variable):
            yield Path(folder) / "LibreOffice" / "program"


def _program(folder: Path, name: str) -> Path | None:
    """The program as it can be waited for: on Windows the .com is the one that does."""
    for ending in (".com", ".exe") if platform.system() == "Windows" else ("",):
        if (path := folder / (name + ending)).is_file():
            return path
    return None


def _office() -> Path:
    folder = find_office()
    if folder is None:
        raise BadInput(
            "LibreOffice was not found; install it, or name its folder in the variable BREWFUNCS_LIBREOFFICE"
        )
    return folder


def environment() -> dict[str, str]:
    """The environment to start LibreOffice in: without a Python of ours that its own would take for its home.

    The Python inside LibreOffice looks for its library beside the first `python3` of the PATH; started from an active
    virtual environment it finds the wrong one, and the extension takes itself out (calc_addin/guard.bas).
    """
    folders = os.environ.get("PATH", "").split(os.pathsep)
    outside = [folder for folder in folders if not (Path(folder).parent / "pyvenv.cfg").is_file()]
    kept = {k: v for k, v in os.environ.items() if k not in ("PYTHONHOME", "PYTHONPATH", "VIRTUAL_ENV")}
    return {**kept, "PATH": os.pathsep.join(outside)}


def _run(name: str, *arguments: str, within: Mapping[str, str] | None = None) -> str:
    """What one of LibreOffice's programs prints; raises BadInput with its last words where it fails."""
    program = _program(_office(), name)
    assert program is not None  # find_office has looked
    try:
        done = subprocess.run(
            [str(program), *arguments],
            env=environment() if within is None else within,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=_PATIENCE,
            encoding="utf-8",
            errors="replace",
        )
    except subprocess.TimeoutExpired:
        raise BadInput(f"LibreOffice's {name} did not end within {_PATIENCE} s") from None
    if done.returncode:
        said = (done.stderr + done.stdout).strip().splitlines()
        raise BadInput(f"LibreOffice's {name} failed: {said[-1] if said else f'exit status {done.returncode}'}")
    return done.stdout


# -- putting it in and taking it out ---------------------------------------------------------------------------------


def _mine() -> tuple[str, ...]:
    """For the user; LibreOffice lets the superuser install for everybody and nothing else."""
    return _SHARED if hasattr(os, "geteuid") and os.geteuid() == 0 else ()


def _for_whom() -> str:
    return "for every user of this machine" if _mine() else "for you"


def install() -> str:
    """Put the extension, built now, into LibreOffice; the sentence that says so, and for whom."""
    before = _installed(_mine())
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "brewfuncs.oxt"
        path.write_bytes(build())
        _run("unopkg", "add", "--force", "--suppress-license", *_mine(), str(path))
    if _installed(_mine()) != __version__:
        raise BadInput("LibreOffice took the extension but doesn't list it; close LibreOffice and try again")
    was = f", in place of {before}" if before else ""
    return f"brewfuncs {__version__} is installed in LibreOffice Calc {_for_whom()}{was}{_RESTART}"


def uninstall() -> str:
    """Take the extension out of LibreOffice; the sentence that says so."""
    before = _installed(_mine())
    if before is None:
        if installed_version():
            raise BadInput("brewfuncs is installed for every user of this machine: its administrator can remove it")
        return "brewfuncs is not installed in LibreOffice Calc"
    _run("unopkg", "remove", *_mine(), IDENTIFIER)
    if _installed(_mine()):
        raise BadInput("LibreOffice still lists the extension; close LibreOffice and try again")
    return f"brewfuncs {before} is removed from LibreOffice Calc{_RESTART}"


def installed_version() -> str | None:
    """The version of the extension that the user's Calc has, None where it has none."""
    return _installed(_mine()) or _installed(_SHARED)


def _installed(whose: tuple[str, ...]) -> str | None:
    listed = _run("unopkg", "list", *whose)
    match = re.search(rf"^Identifier:\s*{re.escape(IDENTIFIER)}\s*$\s*Version:\s*(\S+)", listed, re.MULTILINE)
    return match.group(1) if match else None


# -- whether it works ------------------------------------------------------------------------------------------------


def _profile() -> Path:
    """Where LibreOffice keeps the user's settings and extensions."""
    system = platform.system()
    if system == "Windows":
        return Path(os.environ.get("APPDATA", Path.home() / "AppData" / "Roaming")) / "LibreOffice" / "4"
    if system == "Darwin":
        return Path.home() / "Library" / "Application Support" / "LibreOffice" / "4"
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "libreoffice" / "4"


def compute(formulas: Sequence[str], within: Mapping[str, str] | None = None) -> list[Any]:
    """What the user's Calc gives for each formula: a number to 15 digits, a text or a CellError.

    Formulas are English, with commas. Works on a copy of the user's extensions, so that an open LibreOffice is neither
    disturbed nor in the way. `within` is the environment it is started in, if not `environment()`.
    """
    from openpyxl import Workbook, load_workbook

    book = Workbook()
    assert book.active is not None  # a new workbook has a sheet
    for row, formula in enumerate(formulas, 1):
        book.active.cell(row, 1).value = formula
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for part in ("uno_packages", "extensions", "basic"):
            if (_profile() / "user" / part).is_dir():
                shutil.copytree(_profile() / "user" / part, folder / "profile" / "user" / part)
        (folder / "out").mkdir()
        book.save(folder / "formulas.xlsx")
        _run(
            "soffice",
            f"-env:UserInstallation={(folder / 'profile').as_uri()}",
            "--headless",
            *("--convert-to", "xlsx", "--outdir", str(folder / "out"), str(folder / "formulas.xlsx")),
            within=within,
        )
        done = folder / "out" / "formulas.xlsx"
        if not done.is_file():
            raise BadInput("LibreOffice could not work out a workbook")
        values = load_workbook(done, data_only=True).active
        assert values is not None
        cells = [values.cell(row, 1) for row in range(1, len(formulas) + 1)]
        return [CellError(str(cell.value)) if cell.data_type == "e" else cell.value for cell in cells]


def status() -> list[tuple[str, str]]:
    """What the doctor says of Calc: "well", "absent", "broken" or, of this shell alone, "off", each with a sentence."""
    try:
        found = [_status()]
        if found[0][0] == "well" and dict(os.environ) != environment() and not _works_from_here():
            found.append(("off", _off()))
        return found
    except BrewError as error:
        return [("broken", str(error))]


def _status() -> tuple[str, str]:
    if find_office() is None:
        return "absent", "LibreOffice was not found"
    office = re.sub(r"^(\S+ [\d.]+).*", r"\1", _run("soffice", "--version").strip(), flags=re.DOTALL)
    version = installed_version()
    if version is None:
        return "absent", f"{office} is here without the functions: brewfuncs calc install"
    there = f"{office} with brewfuncs {version}"
    known = known_answers()
    wrong = [
        f"{answer.formula} gives {value.code if isinstance(value, CellError) else value}"
        for answer, value in zip(known, compute([answer.formula for answer in known]), strict=True)
        if not answer.is_met_by(value)
    ]
    if len(wrong) == len(known):
        return "broken", f"{there}: no function works; does LibreOffice have its Python (on Debian: python3-uno)?"
    if wrong:
        return "broken", f"{there}: {len(wrong)} of {len(known)} known answers are wrong; the first: {wrong[0]}"
    if version != __version__:
        return "broken", f"{there}, but this is {__version__}: brewfuncs calc install"
    return "well", f"{there}, {len(known)} known answers come out right"


def _works_from_here() -> bool:
    """Whether LibreOffice has the functions when it is started from this very shell."""
    answer = known_answers()[0]
    try:
        (value,) = compute([answer.formula], within=os.environ)
    except BadInput:  # not even a file could be opened
        return False
    return answer.is_met_by(value)


def _off() -> str:
    home = os.environ.get("PYTHONHOME")
    culprit = f"PYTHONHOME is {home}" if home else f"{shutil.which('python3')} comes first on the PATH"
    return (
        f"a LibreOffice started from this shell has no brewing functions, since {culprit}: start it from the desktop, "
        "or leave the environment first (deactivate)"
    )
