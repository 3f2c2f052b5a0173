"""The zip around the parts: its directory read with suspicion, and written again record by record."""

from __future__ import annotations

import struct
import zipfile
import zlib
from dataclasses import dataclass

MAX_FILE, MAX_PART, MAX_MEMBERS = 1 << 30, 400 << 20, 20_000
#: deflate can reach 1030 to 1; a worksheet of one repeated row about 60 to 1
MAX_RATIO, RATIO_MATTERS_FROM = 250, 8 << 20
_LARGE = 8 << 20


@dataclass
class Member:
    """One file in the zip, by its record in the central directory."""

    info: zipfile.ZipInfo
    record: bytes  # the central directory's record, verbatim
    end: int = 0  # where the next member, or the central directory, starts


def without_zip64(member: Member) -> bytes:
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


def new_member(name: str, like: Member) -> Member:
    """A member that wasn't there, with the time and permissions of another."""
    info = zipfile.ZipInfo(name, like.info.date_time)
    info.compress_type = zipfile.ZIP_DEFLATED
    encoded = name.encode("utf-8")
    version, moment, rights = like.record[4:6], like.record[12:16], like.record[38:42]
    sizes = struct.pack("<3L2H3H", 0, 0, 0, len(encoded), 0, 0, 0, 0)
    head = b"PK\1\2" + version + struct.pack("<3H", 20, 0, zipfile.ZIP_DEFLATED) + moment
    return Member(info, head + sizes + rights + bytes(4) + encoded)


def pack(member: Member, content: bytes) -> tuple[bytes, int, int, int, int]:
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
