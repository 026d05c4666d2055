"""Work on many rows at once, in batches that stay in the processor's cache, on every core.

One numpy operation on a million rows fetches them from memory and writes them back, and the next one does so
again: most of the time goes there. On some ten thousand rows the intermediate columns stay in the cache. As
numpy and PROJ let go of the interpreter while they work, two batches run side by side. What comes out does
not depend on the cut: batches are independent, and each writes its own rows.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

BATCH_ROWS = 32_768
"""A column of so many numbers takes 256 kB: a handful of them fits the cache of one core."""
_MOST_THREADS = 4
"""More share the same memory and gain little."""

T = TypeVar("T")


def batches(groups: NDArray[np.int64], *, rows: int = BATCH_ROWS) -> list[slice]:
    """Cut rows into batches of about `rows`, never within a group; one empty slice when there is no row.

    `groups` says where each group begins, and the number of rows at the end. A group with more rows is a
    batch of its own.

    >>> batches(np.array([0, 2, 3, 9, 10]), rows=4)
    [slice(0, 3, None), slice(3, 9, None), slice(9, 10, None)]
    """
    edges = [0]
    for begin, end in pairwise(groups.tolist()):
        if end - edges[-1] > rows and begin > edges[-1]:
            edges.append(begin)
    return [slice(begin, end) for begin, end in pairwise([*edges, int(groups[-1])])]


def even_batches(size: int, *, rows: int = BATCH_ROWS) -> list[slice]:
    """Cut rows that do not belong together into batches of `rows`, the last one of what is left.

    >>> even_batches(5, rows=2)
    [slice(0, 2, None), slice(2, 4, None), slice(4, 5, None)]
    """
    return batches(np.append(np.arange(0, size, rows), size), rows=rows)


def in_batches(work: Callable[[slice], T], parts: Sequence[slice]) -> list[T]:
    """Do `work` on every part, side by side when there are several; the answers in the order of the parts.

    What `work` raises is raised: of several, the one of the first part.

    >>> in_batches(lambda part: part.stop - part.start, [slice(0, 3), slice(3, 9)])
    [3, 6]
    """
    threads = min(len(parts), os.cpu_count() or 1, _MOST_THREADS)
    if threads < 2:
        return [work(part) for part in parts]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(work, parts))


def in_place(rows: NDArray[np.int64]) -> NDArray[np.int64] | slice:
    """Row numbers as a slice when they count up one by one, so that taking them copies nothing.

    >>> in_place(np.array([4, 5, 6])), in_place(np.array([4, 6, 5, 7]))
    (slice(4, 7, None), array([4, 6, 5, 7]))
    """
    if not rows.size or rows[-1] - rows[0] != rows.size - 1 or np.any(rows[1:] - rows[:-1] != 1):
        return rows
    return slice(int(rows[0]), int(rows[-1]) + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Columns of all rows, written batch by batch, from several threads if need be."""

    #: Number of rows.
    size: int
    #: The columns by name; whole once every batch has been put.
    whole: dict[str, NDArray[Any]] = field(default_factory=dict)

    def put(self, part: slice, columns: Mapping[str, NDArray[Any]]) -> None:
        """Write the rows `part`; of a single batch the columns are taken as they are."""
        if part == slice(0, self.size):
            self.whole.update(columns)
            return
        for name, column in columns.items():
            if name not in self.whole:
                empty = np.empty((self.size, *column.shape[1:]), dtype=column.dtype)
                self.whole.setdefault(name, empty)  # the first of two threads, in one step
            self.whole[name][part] = column
