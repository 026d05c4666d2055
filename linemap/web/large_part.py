"""Answers with a large part that seldom changes and a small one that changes often.

The large part is written and compressed once. Compressed streams can be cut at a full flush and continued
by another piece (RFC 1951, section 3.2.4; zlib's Z_FULL_FLUSH), so a new small part costs only itself.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import orjson

#: Member header of RFC 1952: deflate, no name, no time, unknown system.
_HEADER = b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff"
_RAW_DEFLATE = -15
_OPTIONS = orjson.OPT_SERIALIZE_NUMPY


@dataclass(frozen=True, slots=True, kw_only=True)
class LargePart:
    """The large part, as bytes and compressed, ready to be continued."""

    #: JSON object without its closing brace.
    raw: bytes
    #: The same as a cut deflate stream.
    packed: bytes
    #: CRC-32 of `raw`.
    check: int

    @classmethod
    def of(cls, body: object) -> LargePart:
        """Write and compress the large part: a dataclass or mapping of at least one name."""
        raw = orjson.dumps(body, option=_OPTIONS)[:-1]
        packer = zlib.compressobj(6, zlib.DEFLATED, _RAW_DEFLATE)
        packed = packer.compress(raw) + packer.flush(zlib.Z_FULL_FLUSH)
        return cls(raw=raw, packed=packed, check=zlib.crc32(raw))

    def joined(self, rest: object) -> tuple[bytes, bytes]:
        """Return the whole object with the names of `rest` at its end: as JSON, and as gzip.

        >>> raw, packed = LargePart.of({"a": 1}).joined({"b": 2})
        >>> raw, zlib.decompress(packed, 31)
        (b'{"a":1,"b":2}', b'{"a":1,"b":2}')
        """
        tail = b"," + orjson.dumps(rest, option=_OPTIONS)[1:]
        raw = self.raw + tail
        packer = zlib.compressobj(6, zlib.DEFLATED, _RAW_DEFLATE)
        ends = zlib.crc32(tail, self.check).to_bytes(4, "little") + len(raw).to_bytes(4, "little")
        return raw, _HEADER + self.packed + packer.compress(tail) + packer.flush() + ends
