"""How far the building has come on the data date: which structures have each step.

Rules are by sequence number, because the line is built from its back end with a few structures passed by.
"""

from __future__ import annotations

from structures import Structure

__all__ = ["DATA_DATE", "STEPS", "done", "done_sequences"]

DATA_DATE = "2026-05-15"
STEPS = (
    "staked",
    "spotted",
    "dug",
    "framed",
    "set",
    "guyed",
    "grounded",
    "blocks hung",
    "surveyed",
    "inspected",
)

#: Passed by on holds: 7/3, 7/4, 9/2, 11/4, 11/5, 11/6; and 13/2, which waits for its poles.
_PASSED = frozenset({35, 36, 45, 58, 59, 60})
_PASSED_AND_13_2 = _PASSED | {67}

_DONE: dict[str, frozenset[int]] = {
    "staked": frozenset(range(1, 122)),
    "spotted": frozenset(range(1, 89)),
    "dug": frozenset(range(1, 73)) - _PASSED_AND_13_2 | {113, 114, 115, 116, 117, 118},
    "framed": frozenset(range(1, 70)) - _PASSED_AND_13_2 | {115, 116, 117, 118},
    "set": frozenset(range(1, 64)) - _PASSED | {116, 118},
    "guyed": frozenset({1, 13, 27, 37, 54}),
    "grounded": frozenset(range(1, 59)) - _PASSED,
    "blocks hung": frozenset(range(1, 56)) - _PASSED,
    "surveyed": frozenset(range(1, 59)) - _PASSED,
    "inspected": frozenset(range(1, 41)) - _PASSED,
}


def done_sequences(step: str) -> frozenset[int]:
    """Return the sequence numbers of the structures that have a step.

    >>> {step: len(done_sequences(step)) for step in ("dug", "framed", "set")}
    {'dug': 71, 'framed': 66, 'set': 59}
    """
    return _DONE[step]


def done(structures: list[Structure], step: str) -> list[Structure]:
    """Return the structures that have a step, in line order."""
    return [structure for structure in structures if structure.sequence in _DONE[step]]
