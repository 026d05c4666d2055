"""The job's declarations: ends, coordinate reference, factor, data date and tolerances."""

from __future__ import annotations

from pathlib import Path

from route import AHEAD_END, BACK_END, COMBINED_FACTOR, CRS, LINE
from state import DATA_DATE

__all__ = ["write_job_file"]

_TEXT = f"""\
# Everything in this job is invented.
[line]
name = "{LINE}"
back_end = "{BACK_END}"
ahead_end = "{AHEAD_END}"
owner = "Four Tines Power Cooperative"
contractor = "Kettle & Spar Line Construction"
surveyor = "Plumbline Mesa Survey"
# Coordinates are grid, international feet; stations and spans are ground: grid = ground x factor.
crs = "{CRS}"
combined_factor = {COMBINED_FACTOR}
# Not scaled about any point; elevations are NAVD88 without a geoid correction of the factor.
base_point = "none"
vertical_datum = "NAVD88"
source = "survey control sheet of Plumbline Mesa Survey, 2026-02-02"
start_station = "0+00.00"
# Pole A stands on this side, looking ahead.
pole_a = "left"

[job]
data_date = {DATA_DATE}
work_week = "Monday to Thursday"
blocks_owned = 280

[survey]
# Standard deviation of a shot on each horizontal axis; HRMS in the shot files is sqrt(2) times it.
shot_sigma_ft = 0.03

# Common practice, no source: replace by the job's specification.
[tolerances]
rotation_deg = 1.0
along_ft = 1.0
along_at_angle_ft = 0.25
across_ft = 0.25
spacing_ft = 0.20
collinearity_ft = 0.25
"""


def write_job_file(folder: Path) -> None:
    """Write job.toml."""
    (folder / "job.toml").write_text(_TEXT, encoding="utf-8", newline="\n")
