"""All declared kinds of lists by their code."""

from __future__ import annotations

from typing import Any

from linemap.domain.kind.kind import Code, Kind
from linemap.kinds.crew import HOLDS, RECEIPTS, TICKETS
from linemap.kinds.design import CONTEXT, CROSSINGS, FRAMING, GUYS, POLES, TYPES
from linemap.kinds.record import FACTS, PLANS, PUNCH

__all__ = ["KINDS"]

_ALL = (TYPES, FRAMING, POLES, GUYS, HOLDS, CROSSINGS, TICKETS, RECEIPTS, PUNCH, FACTS, CONTEXT, PLANS)
#: Code -> kind, in the order in which files of several kinds are stored.
KINDS: dict[Code, Kind[Any]] = {kind.code: kind for kind in _ALL}
