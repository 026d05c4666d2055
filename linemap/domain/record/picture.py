"""Is this a photo? Told from the bytes, never from a name or from what the sender says."""

from __future__ import annotations

_PNG = b"\x89PNG\r\n\x1a\n"
_PNG_END = b"\x00\x00\x00\x00IEND\xaeB`\x82"
#: Markers of a JPEG frame header, which holds height and width (ITU-T T.81, table B.1).
_FRAMES = frozenset({0xC0, 0xC1, 0xC2, 0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF})
_SCAN = 0xDA


def picture_type(head: bytes) -> str:
    r"""Return the media type of a picture by its first bytes; "" when it is none that is taken.

    >>> picture_type(b"\xff\xd8\xff\xe1...."), picture_type(b"GIF89a")
    ('image/jpeg', '')
    """
    if head.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if head.startswith(_PNG):
        return "image/png"
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return "image/webp"
    return ""


def is_whole_picture(content: bytes) -> bool:
    """Say whether the bytes are a picture from its first to its last byte.

    Only the frame of the format is looked at, the picture itself is not decoded: JPEG segments up to the
    scan and its end mark (ITU-T T.81), PNG header and end chunk (RFC 2083), WebP length (RFC 9649).
    """
    looks = {"image/jpeg": _whole_jpeg, "image/png": _whole_png, "image/webp": _whole_webp}
    look = looks.get(picture_type(content))
    return look is not None and look(content)


def _whole_jpeg(content: bytes) -> bool:
    at, sized = 2, False
    while at + 4 <= len(content) and content[at] == 0xFF:
        marker = content[at + 1]
        if marker == 0xFF:  # a fill byte
            at += 1
            continue
        if marker == _SCAN:
            # phones append their own data after the end mark
            return sized and b"\xff\xd9" in content[at:]
        if marker in _FRAMES:
            height, width = content[at + 5 : at + 7], content[at + 7 : at + 9]
            sized = any(height) and any(width)
        length = int.from_bytes(content[at + 2 : at + 4], "big")
        at += 2 + max(length, 2)
    return False


def _whole_png(content: bytes) -> bool:
    sized = content[12:16] == b"IHDR" and any(content[16:20]) and any(content[20:24])
    return sized and content.endswith(_PNG_END)


def _whole_webp(content: bytes) -> bool:
    length = int.from_bytes(content[4:8], "little")
    return length + 8 in (len(content), len(content) - 1) and content[12:15] == b"VP8"
