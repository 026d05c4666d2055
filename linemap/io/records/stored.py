"""A file kept as bytes, put on the disk for as long as a reader needs it there."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory


@contextmanager
def laid_out(name: str, content: bytes) -> Iterator[Path]:
    """Give a path at which the bytes lie under the file's own name, in a folder that goes away after.

    Parameters
    ----------
    name : str
        As the file was loaded; only its last part is used, so it cannot point out of the folder.
    content : bytes
    """
    with TemporaryDirectory(prefix="linemap-") as folder:
        path = Path(folder) / (Path(name).name or "file")
        path.write_bytes(content)
        yield path
