"""The zip around the parts: its directory read with suspicion, and written again record by record."""

from __future__ import annotations

import struct
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import IO

from brewfuncs.errors import WorkbookError

__all__ = ["MAX_FILE", "Archive"]

MAX_FILE = 1 << 30
_MAX_PART, _MAX_MEMBERS = 400 << 20, 20_000
#: deflate can reach 1030 to 1; a worksheet of one repeated row about 60 to 1
_MAX_RATIO, _RATIO_MATTERS_FROM = 250, 8 << 20
_LARGE = 8 << 20


@dataclass
class _Member:
    """One file in the zip, by its record in the central directory."""

    info: zipfile.ZipInfo
    record: bytes  # the central directory's record, verbatim
    end: int = 0  # where the next member, or the central directory, starts


class Archive:
    """A zip file, open for reading: its parts, and a copy of it with other content in some of them."""

    def __init__(self, file: IO[bytes], name: str) -> None:
        """Read the directory. `name` is what messages call the file."""
        self._file, self._name = file, name
        self._members = self._directory()
        # part names are the same whatever their case
        self.names = {member.info.filename.lower(): member.info for member in self._members}

    def _fail(self, what: str) -> WorkbookError:
        return WorkbookError(f"{self._name} {what}")

    def _directory(self) -> list[_Member]:
        try:
            self._zip = zipfile.ZipFile(self._file)
            infos = self._zip.infolist()
        except (zipfile.BadZipFile, struct.error, OSError, ValueError, NotImplementedError, IndexError) as error:
            raise self._fail(f"is damaged: {error}") from None
        if len(infos) > _MAX_MEMBERS:
            raise self._fail(f"has more than {_MAX_MEMBERS} parts")
        if not infos:
            raise self._fail("is not a workbook: there is nothing in it")
        seen: set[str] = set()
        for info in infos:
            if info.filename.lower() in seen:
                raise self._fail(f"has two parts named {info.filename!r}, and programs differ in which one they read")
            seen.add(info.filename.lower())
            if info.flag_bits & 1:
                raise self._fail("has parts that are encrypted")
        members, position = [], self._zip.start_dir
        self._file.seek(position)
        directory = self._file.read()
        at = 0
        for info in infos:
            if directory[at : at + 4] != b"PK\1\2":
                raise self._fail("is damaged: its directory is broken")
            lengths = struct.unpack_from("<3H", directory, at + 28)
            end = at + 46 + sum(lengths)
            members.append(_Member(info, directory[at:end]))
            at = end
        ordered = sorted(members, key=lambda member: member.info.header_offset)
        for member, following in zip(ordered, [*ordered[1:], None], strict=True):
            member.end = following.info.header_offset if following else position
            if member.info.header_offset + 30 + member.info.compress_size > member.end:
                raise self._fail("is damaged: its parts overlap")
        return members

    def read(self, name: str) -> bytes:
        """The content of a part."""
        info = self.names.get(name.lower())
        if info is None:
            raise self._fail(f"is damaged: it has no part {name!r}")
        if info.file_size > _MAX_PART or (
            info.file_size > _RATIO_MATTERS_FROM and info.file_size > _MAX_RATIO * max(info.compress_size, 1)
        ):
            raise self._fail(f"has a part of {info.file_size >> 20} MB ({name}), more than is safe to unpack")
        try:
            return self._zip.read(info)
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError, ValueError) as e:
            raise self._fail(f"is damaged: {name} can't be unpacked ({e})") from None
        except MemoryError:
            raise self._fail(f"is too large: {name} doesn't fit into memory") from None
        except Exception as error:  # bz2 and lzma have errors of their own
            if type(error).__module__ in ("_lzma", "bz2"):
                raise self._fail(f"is damaged: {name} can't be unpacked ({error})") from None
            raise

    def write(self, out: IO[bytes], parts: Mapping[str, bytes]) -> None:
        """Copy the zip, record by record, with other content in some of them; what wasn't there comes last."""
        new = {name.lower(): content for name, content in parts.items()}
        added = [_new_member(name, self._members[0]) for name in parts if name.lower() not in self.names]
        records: dict[int, bytes] = {}
        position = 0
        for member in [*sorted(self._members, key=lambda member: member.info.header_offset), *added]:
            record = bytearray(_without_zip64(member))
            struct.pack_into("<L", record, 42, position)
            content = new.get(member.info.filename.lower())
            if content is not None:
                local, size, checksum, flags, method = _pack(member, content)
                struct.pack_into("<2H", record, 8, flags, method)
                struct.pack_into("<3L", record, 16, checksum, size, len(content))
                out.write(local)
                position += len(local)
            else:
                self._copy(member, out)
                position += member.end - member.info.header_offset
            records[id(member)] = bytes(record)
        members = [*self._members, *added]
        directory = b"".join(records[id(member)] for member in members)
        comment = self._zip.comment
        count = len(members)
        end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, count, count, len(directory), position, len(comment))
        if position + len(directory) >= 0xFFFFFFFF:
            raise self._fail("would become too large")
        out.write(directory + end + comment)

    def _copy(self, member: _Member, out: IO[bytes]) -> None:
        self._file.seek(member.info.header_offset)
        left = member.end - member.info.header_offset
        while left:
            chunk = self._file.read(min(left, 1 << 20))
            if not chunk:
                raise self._fail("is damaged: it ends too early")
            out.write(chunk)
            left -= len(chunk)


def _without_zip64(member: _Member) -> bytes:
    """The directory record with plain sizes: files of 4 GB are refused, so none is needed."""
    record = member.record
    name_length, extra_length, _ = struct.unpack_from("<3H", record, 28)
    start = 46 + name_length
    extra, kept = record[start : start + extra_length], b""
    at = 0
    while at + 4 <= len(extra):
        tag, length = struct.unpack_from("<2H", extra, at)
        if tag != 1:
            kept += extra[at : at + 4 + length]
        at += 4 + length
    if at == 0 or len(kept) == len(extra) or at != len(extra):
        return record
    plain = bytearray(record[:start] + kept + record[start + extra_length :])
    struct.pack_into("<2L", plain, 20, member.info.compress_size, member.info.file_size)
    struct.pack_into("<H", plain, 30, len(kept))
    return bytes(plain)


def _new_member(name: str, like: _Member) -> _Member:
    """A member that wasn't there, with the time and permissions of another."""
    info = zipfile.ZipInfo(name, like.info.date_time)
    info.compress_type = zipfile.ZIP_DEFLATED
    encoded = name.encode("utf-8")
    version, moment, rights = like.record[4:6], like.record[12:16], like.record[38:42]
    sizes = struct.pack("<3L2H3H", 0, 0, 0, len(encoded), 0, 0, 0, 0)
    head = b"PK\1\2" + version + struct.pack("<3H", 20, 0, zipfile.ZIP_DEFLATED) + moment
    return _Member(info, head + sizes + rights + bytes(4) + encoded)


def _pack(member: _Member, content: bytes) -> tuple[bytes, int, int, int, int]:
    """A member with new content: its record, packed size, checksum, flags and method."""
    info = member.info
    stored = info.compress_type == zipfile.ZIP_STORED
    packed = content
    if not stored:
        level = 6 if len(content) < _LARGE else 3  # twice as fast, and a tenth larger
        deflate = zlib.compressobj(level, zlib.DEFLATED, -15)
        packed = deflate.compress(content) + deflate.flush()
    method = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
    flags = info.flag_bits & ~0x0008  # sizes stand in front, not behind
    name_length = struct.unpack_from("<H", member.record, 28)[0]
    name = member.record[46 : 46 + name_length]
    checksum = zlib.crc32(content)
    moment = struct.unpack_from("<2H", member.record, 12)
    header = struct.pack(
        "<4s5H3L2H", b"PK\3\4", 20, flags, method, *moment, checksum, len(packed), len(content), name_length, 0
    )
    return header + name + packed, len(packed), checksum, flags, method
