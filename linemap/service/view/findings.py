"""Findings as answers of pages and commands carry them: the code first, the sentence last."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np

from linemap.answers.findings import FindingEntry
from linemap.domain.crew.refusal import stop_words, stopped_steps
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.record.status import Key
from linemap.domain.record.workflow import Workflow
from linemap.service.view.view import JobView


def stops_of(view: JobView) -> dict[Key, tuple[Finding, ...]]:
    """Return the findings that stop work, by (line, number) of the structures that have any."""
    rows = np.flatnonzero(view.ledger.worst("top") >= Severity.STOPS).tolist()
    return {
        view.key(row): tuple(each for each in view.ledger.on("top", row) if each.stop is not None)
        for row in rows
    }


def entry_of(finding: Finding, workflow: Workflow) -> FindingEntry:
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
        stops=stopped_steps(finding, workflow),
        in_the_way=stop_words(finding),
    )


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dt.date):
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else value
