"""Read an .xlsx or .xlsm package and change parts of it, and nothing else.

A workbook is a zip of XML parts. Libraries that load and save one lose what they don't know (sparklines, slicers,
pictures in cells, threaded comments, macros). So nothing is loaded and saved here: a changed value is spliced into the
bytes of its worksheet part, every other member of the zip is copied as it is, and the new file replaces the old one
in a single step.

Standard library only.
"""

from __future__ import annotations

import contextlib
import datetime
import io
import os
import posixpath
import re
import stat
import time
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import IO

from brewfuncs.errors import WorkbookError
from brewfuncs.xlsx.address import Box, parse_range
from brewfuncs.xlsx.formats import Formats
from brewfuncs.xlsx.replace import lock_owner, make_like, refuse_unwritable, replace_file
from brewfuncs.xlsx.values import read_number, without_escapes
from brewfuncs.xlsx.worksheet import Sheet
from brewfuncs.xlsx.xml import find_all, integer, is_true, local_name, parse_xml
from brewfuncs.xlsx.zipped import MAX_FILE, Archive

try:
    import fcntl
except ImportError:  # Windows, where an open file can't be replaced anyway
    fcntl = None  # type: ignore[assignment]

__all__ = ["DefinedName", "Iteration", "Package", "Table"]

_WORKBOOK_TYPES = re.compile(
    r"application/vnd\.(?:openxmlformats-officedocument\.spreadsheetml\.(?:sheet|template)|"
    r"ms-excel\.(?:sheet|template|addin)\.macroEnabled)\.main\+xml",
    re.IGNORECASE,
)
_LOCK_WAIT_SECONDS = 10.0


@dataclass(frozen=True)
class DefinedName:
    """A name of the workbook, or of one of its sheets."""

    name: str
    text: str
    sheet: str | None  # the sheet it belongs to; None: the workbook
    hidden: bool = False


@dataclass(frozen=True)
class Table:
    """A table with structured references."""

    name: str
    sheet: str
    box: Box
    columns: tuple[str, ...]
    header_rows: int
    totals_rows: int
    filtered: bool = False


@dataclass(frozen=True)
class Iteration:
    """How the workbook wants circular references worked out."""

    count: int
    delta: float


class Package:
    """A workbook file, open for reading; `save` replaces parts of it in one step."""

    def __init__(self, path: str | os.PathLike[str], *, write: bool = False, data: bytes | None = None) -> None:
        """Open a workbook; with `write`, refuse one that another program has open, and keep others out meanwhile.

        data: the file's content where it is in memory; `path` is then only what messages call it.
        """
        self.name = os.fspath(path)
        self.path = os.path.realpath(path)  # a symbolic link is followed: the file changes, the link stays
        self.write = write
        if write:
            self._check_writable()
        self._file = self._open() if data is None else io.BytesIO(data)
        try:
            self._archive = self._unpack()
            self._read_workbook()
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Package:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._file.close()

    def _fail(self, what: str) -> WorkbookError:
        return WorkbookError(f"{self.name} {what}")

    # ------------------------------------------------------------ opening
    def _check_writable(self) -> None:
        refuse_unwritable(self.path, self.name)
        if os.path.exists(self.path) and not os.access(os.path.dirname(self.path), os.W_OK):
            raise self._fail("is in a folder that can't be written to")

    def _open(self) -> IO[bytes]:
        deadline = time.monotonic() + _LOCK_WAIT_SECONDS
        while True:
            try:
                if not stat.S_ISREG(os.stat(self.path).st_mode):  # a pipe would wait for ever
                    raise self._fail("is a folder" if os.path.isdir(self.path) else "is not a file")
                file = open(self.path, "rb")  # noqa: SIM115  (it stays open as long as the package)
            except FileNotFoundError:
                raise self._fail("does not exist") from None
            except OSError as error:
                raise self._fail(f"can't be read: {(error.strerror or str(error)).lower()}") from None
            self._stat = os.fstat(file.fileno())
            if not self.write or fcntl is None:
                return file
            # another run of ours may be saving: wait for it, then look at the file it left
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                file.close()
                if time.monotonic() > deadline:
                    raise self._fail("is being changed by another run of brewfuncs") from None
                time.sleep(0.05)
                continue
            except OSError:  # a file system without locks
                return file
            with contextlib.suppress(OSError):
                now = os.stat(self.path)
                if (now.st_dev, now.st_ino) == (self._stat.st_dev, self._stat.st_ino):
                    return file
            file.close()

    def _unpack(self) -> Archive:
        """The zip, unless it or its first bytes tell that this is no workbook that can be changed."""
        size = self._file.seek(0, os.SEEK_END)
        self._file.seek(0)
        if size > MAX_FILE:
            raise self._fail(f"is larger than {MAX_FILE >> 20} MB")
        if size == 0:
            raise self._fail("is empty")
        head = self._file.read(8)
        if head == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
            self._file.seek(0)
            if "EncryptedPackage".encode("utf-16-le") in self._file.read(16 << 20):
                raise self._fail("is encrypted: remove its password first")
            raise self._fail("is an old .xls workbook: save it as .xlsx first")
        if not head.startswith(b"PK\3\4"):
            raise self._fail("is not an .xlsx or .xlsm workbook")
        archive = Archive(self._file, self.name)
        if any(name.startswith("_xmlsignatures/") for name in archive.names):
            raise self._fail("is digitally signed, and a change would break the signature")
        if "mimetype" in archive.names:
            raise self._fail("is an OpenDocument file: save it as .xlsx first")
        return archive

    def part(self, name: str) -> bytes:
        """The content of a part."""
        return self._archive.read(name)

    def has(self, name: str) -> bool:
        return name.lower() in self._archive.names

    def relations(self, part: str) -> dict[str, tuple[str, str]]:
        """What a part refers to: id -> (type, part)."""
        folder, base = posixpath.split(part)
        where = posixpath.join(folder, "_rels", base + ".rels")
        if not self.has(where):
            return {}
        found = {}
        for relation in find_all(parse_xml(self.part(where), where), "Relationship"):
            target = relation.get("Target", "")
            if relation.get("TargetMode") == "External":
                continue
            path = target[1:] if target.startswith("/") else posixpath.join(folder, target)
            found[relation.get("Id", "")] = (relation.get("Type", ""), posixpath.normpath(path))
        return found

    def _read_workbook(self) -> None:
        roots = [part for kind, part in self.relations("").values() if kind.endswith("/officeDocument")]
        if not roots or not self.has(roots[0]) or not self.has("[Content_Types].xml"):
            raise self._fail("is not a workbook")
        self.workbook_part = roots[0]
        types = parse_xml(self.part("[Content_Types].xml"), "[Content_Types].xml")
        kinds = {
            element.get("PartName", "").lstrip("/").lower(): element.get("ContentType", "")
            for element in find_all(types, "Override")
        }
        defaults = {
            element.get("Extension", "").lower(): element.get("ContentType", "")
            for element in find_all(types, "Default")
        }
        kind = kinds.get(self.workbook_part.lower()) or defaults.get(self.workbook_part.rpartition(".")[2].lower(), "")
        if not _WORKBOOK_TYPES.fullmatch(kind):
            binary = "binary" in kind
            raise self._fail("is a binary .xlsb workbook: save it as .xlsx first" if binary else "is not a workbook")
        root = parse_xml(self.part(self.workbook_part), self.workbook_part)
        relations = self.relations(self.workbook_part)
        self.sheet_parts: dict[str, str] = {}
        self.hidden_sheets: set[str] = set()
        order: list[str] = []
        for sheet in find_all(root, "sheet"):
            name = sheet.get("name", "")
            order.append(name)
            key = next((text for key, text in sheet.attrib.items() if local_name(key) == "id" and key != "id"), "")
            relation, part = relations.get(key, ("", ""))
            if relation.endswith("/worksheet") and self.has(part):
                self.sheet_parts[name] = part
            if sheet.get("state", "visible") != "visible":
                self.hidden_sheets.add(name)
        self.strings_part = next(
            (part for kind, part in relations.values() if kind.endswith("/sharedStrings") and self.has(part)), None
        )
        self.styles_part = next(
            (part for kind, part in relations.values() if kind.endswith("/styles") and self.has(part)), None
        )
        self.names: list[DefinedName] = []
        self._names_in_lower_case: dict[str, list[DefinedName]] = {}
        for element in find_all(root, "definedName"):
            local = integer(element.get("localSheetId"), -1)
            owner = order[local] if 0 <= local < len(order) else None
            hidden = is_true(element.get("hidden"))
            defined = DefinedName(element.get("name", ""), (element.text or "").strip(), owner, hidden)
            self.names.append(defined)
            self._names_in_lower_case.setdefault(defined.name.casefold(), []).append(defined)
        properties = next(find_all(root, "workbookPr"), None)
        self.date1904 = properties is not None and is_true(properties.get("date1904"))
        calculation = next(find_all(root, "calcPr"), None)
        self.iteration: Iteration | None = None
        if calculation is not None and is_true(calculation.get("iterate")):
            delta = read_number(calculation.get("iterateDelta", "0.001").encode())
            count = min(max(integer(calculation.get("iterateCount"), 100), 1), 32_767)
            self.iteration = Iteration(count, 0.001 if delta is None or delta < 0 else delta)
        self._sheets: dict[str, Sheet] = {}
        self._strings: list[str] | None = None

    # ------------------------------------------------------------ what is in it
    @property
    def shared_strings(self) -> list[str]:
        if self._strings is None:
            self._strings = []
            if self.strings_part:
                data = self.part(self.strings_part)
                for item in find_all(parse_xml(data, self.strings_part), "si"):
                    runs = []
                    for child in item:  # the text, or runs of rich text; what is phonetic doesn't count
                        texts = (
                            [child] if local_name(child.tag) == "t" else [t for t in child if local_name(t.tag) == "t"]
                        )
                        runs += [text.text or "" for text in texts if local_name(child.tag) in ("t", "r")]
                    self._strings.append(without_escapes("".join(runs)))
        return self._strings

    def sheet(self, name: str) -> Sheet:
        if name not in self._sheets:
            part = self.sheet_parts[name]
            self._sheets[name] = Sheet(name, part, self.part(part), self)
        return self._sheets[name]

    @property
    def sheets(self) -> list[Sheet]:
        return [self.sheet(name) for name in self.sheet_parts]

    def names_called(self, name: str) -> list[DefinedName]:
        """The names of the workbook and of its sheets that are written so, whatever the case."""
        return self._names_in_lower_case.get(name.casefold(), [])

    def find_sheet(self, name: str) -> str | None:
        """The name of a sheet as the workbook writes it, whatever the case."""
        return next((sheet for sheet in self.sheet_parts if sheet.casefold() == name.casefold()), None)

    @property
    def tables(self) -> list[Table]:
        found = []
        for sheet, part in self.sheet_parts.items():
            for kind, target in self.relations(part).values():
                if not kind.endswith("/table") or not self.has(target):
                    continue
                root = parse_xml(self.part(target), target)
                columns = tuple(without_escapes(column.get("name", "")) for column in find_all(root, "tableColumn"))
                found.append(
                    Table(
                        root.get("displayName") or root.get("name") or "",
                        sheet,
                        parse_range(root.get("ref", "")),
                        columns,
                        integer(root.get("headerRowCount"), 1),
                        integer(root.get("totalsRowCount"), 0),
                        any(True for _ in find_all(root, "filterColumn")),
                    )
                )
        return found

    @property
    def properties(self) -> dict[str, str]:
        """The custom document properties."""
        found: dict[str, str] = {}
        for kind, part in self.relations("").values():
            if kind.endswith("/custom-properties") and self.has(part):
                for element in find_all(parse_xml(self.part(part), part), "property"):
                    found[element.get("name", "")] = "".join(element.itertext()).strip()
        return found

    @cached_property
    def formats(self) -> Formats:
        """What the cell formats show values as."""
        return Formats(parse_xml(self.part(self.styles_part), self.styles_part) if self.styles_part else None)

    def serial(self, text: str) -> float | None:
        """The number that stands for a date written as 2026-05-01 or 2026-05-01T12:00:00."""
        try:
            moment = datetime.datetime.fromisoformat(text.strip().removesuffix("Z")).replace(tzinfo=None)
        except ValueError:
            return None
        days = (moment - self._day_0) / datetime.timedelta(days=1)
        if not self.date1904 and days < 61:  # spreadsheets count a 29 February 1900 that never was
            days -= 1
        return days if days >= 0 else None

    def date(self, serial: float) -> datetime.date | None:
        """The day that a number stands for; None where there is no such day."""
        try:
            return (self._day_0 + datetime.timedelta(days=serial)).date()
        except OverflowError:
            return None

    @property
    def _day_0(self) -> datetime.datetime:
        return datetime.datetime(1904, 1, 1) if self.date1904 else datetime.datetime(1899, 12, 30)

    def recalculating_on_open(self) -> dict[str, bytes]:
        """The workbook part with the mark that has a spreadsheet program work everything out when it opens the file."""
        data = self.part(self.workbook_part)
        found = re.search(rb"<((?:[\w.-]+:)?)calcPr((?:\s[^<>]*?)?)(/?)>", data)
        if found is not None:
            others = re.sub(rb'\sfullCalcOnLoad=("[^"]*"|\'[^\']*\')', b"", found[2])
            tag = b'<%scalcPr%s fullCalcOnLoad="1"%s>' % (found[1], others, found[3])
            return {self.workbook_part: data[: found.start()] + tag + data[found.end() :]}
        # in the order that the file format wants: after the names, or what else stands before the place
        for name in (b"definedNames", b"externalReferences", b"functionGroups", b"sheets"):
            ends = list(re.finditer(rb"</((?:[\w.-]+:)?)%s\s*>|<((?:[\w.-]+:)?)%s(?:\s[^<>]*)?/>" % (name, name), data))
            if ends:
                at, prefix = ends[-1].end(), ends[-1][1] or ends[-1][2] or b""
                tag = b'<%scalcPr fullCalcOnLoad="1"/>' % prefix
                return {self.workbook_part: data[:at] + tag + data[at:]}
        raise self._fail("has no list of sheets where it is expected")

    # ------------------------------------------------------------ saving
    def rewritten(self, parts: Collection[str]) -> list[str]:
        """What there is to say of the sheets among these parts into which changes can't be spliced."""
        return [
            f"{sheet.name}: the XML of this sheet has an unusual form, so all of it was written anew; its other cells "
            "hold what they held"
            for sheet in self._sheets.values()
            if sheet.rewritten and sheet.part in parts
        ]

    def save(self, parts: Mapping[str, bytes]) -> None:
        """Replace parts of the file, or add some: it is either the old one or the new one at any moment."""
        try:
            replace_file(self.path, lambda out: self._archive.write(out, parts), self._take_the_place)
        except OSError as error:
            raise self._fail(f"can't be saved: {(error.strerror or str(error)).lower()}; it is as it was") from None

    def with_parts(self, parts: Mapping[str, bytes]) -> bytes:
        """The file's content with other content in some of its parts."""
        out = io.BytesIO()
        self._archive.write(out, parts)
        return out.getvalue()

    def _take_the_place(self, temporary: str) -> None:
        """Make the new file like the old one, unless that has changed hands since it was read."""
        make_like(self.path, temporary)
        now, read = os.stat(self.path), self._stat
        if (now.st_mtime_ns, now.st_size, now.st_ino) != (read.st_mtime_ns, read.st_size, read.st_ino):
            raise self._fail("was changed by another program meanwhile; nothing was written")
        owner = lock_owner(self.path)
        if owner:
            raise self._fail(f"was opened in {owner} meanwhile; nothing was written")
        if os.name == "nt":
            self.close()
