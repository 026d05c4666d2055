"""Who asks, and whether the server is up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from linemap.domain.record.person import Role


@dataclass(frozen=True, kw_only=True)
class Health:
    """Answer of the monitor's question."""

    status: Literal["up"]
    #: Data version of the job; it grows by one with every change.
    data_version: int


@dataclass(frozen=True, kw_only=True)
class Session:
    """Who asks. `name`, `role` and `device` are "" or null when nobody is signed in."""

    signed_in: bool
    name: str
    role: Role | None
    device: str
    #: True at the machine of a job that has no people yet.
    local: bool
