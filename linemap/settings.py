"""Settings of one running server: given by the command line, or read from LINEMAP_ variables."""

from __future__ import annotations

import datetime as dt

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """What a server needs to know. Never built at import; passed down from the command line or a test."""

    model_config = SettingsConfigDict(env_prefix="LINEMAP_", frozen=True)

    #: Path of the job file, or a postgresql:// URL.
    job: str
    #: Show the job as of the end of this day; empty = the job's data date, or today.
    as_of: dt.date | None = None
    #: Background tile address with {z}/{x}/{y}; empty = none. Its origin is then allowed for images.
    tile_url: str = ""
    #: Credit the tile source asks for, shown on the map.
    tile_attribution: str = ""
    #: A phone warns in red when what it took along is older than this.
    stale_after_hours: float = Field(default=24.0, gt=0)
    #: True when others than this machine can reach the server: then nobody is anybody without signing in.
    network: bool = False
    #: True when pages reach browsers by HTTPS only: then the session cookie never travels without it.
    https: bool = False
