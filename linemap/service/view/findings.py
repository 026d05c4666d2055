"""Findings as answers of pages and commands carry them: the code first, the sentence last."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from linemap.answers.findings import FindingEntry
from linemap.domain.finding.finding import Finding


def entry_of(finding: Finding) -> FindingEntry:
    """Return a finding as an answer carries it."""
    return FindingEntry(
        id=finding.id,
        code=finding.code,
        part=finding.part,
        severity=finding.severity.label,
        asks=finding.asks,
        closes=finding.closes,
        since=None if finding.since is None else finding.since.isoformat(),
        values={name: _plain(value) for name, value in finding.values.items()},
        words=finding.words,
    )


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dt.date):
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else value
