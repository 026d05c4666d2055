"""How the line is surveyed: instrument, crew and method, of all shot files or of one by its name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from linemap.domain.staking.stakeout import StakePlan
from linemap.errors import InputRefused
from linemap.service.job.setting import Known, Setting


def _read_stakes(text: str, _known: Known) -> str:
    """Read distances along the line and beyond the arm, as a job keeps them."""
    along, parted, arm = text.partition(";")
    if not parted:
        remedy = 'write both, parted by ";": "25; 25", or "25;" without stakes beyond the arm'
        raise InputRefused.at("--stakes-set-out", text, "names no stakes along and beyond the arm", remedy)
    StakePlan.read(along, arm)
    return f"{along.strip()}; {arm.strip()}"


_SHOWS = "the package to be signed"
_OF_FILES = 'of all shot files, or "FILE: ..." of one, several parted by ";"'

SURVEYING = (
    Setting(
        "survey_instrument",
        "instrument",
        "survey",
        means=f"instrument with its serial number, {_OF_FILES}",
        example="GNSS receiver 12, serial 4411; shots_2026-04-29.csv: total station 3",
        shows=_SHOWS,
        when_made=False,
    ),
    Setting(
        "survey_crew",
        "survey crew",
        "survey",
        means=f"who measured, {_OF_FILES}",
        example="party chief and rod, crew Osprey",
        shows=_SHOWS,
        when_made=False,
    ),
    Setting(
        "survey_method",
        "survey method",
        "survey",
        means=f"how it was measured, {_OF_FILES}",
        example="real-time kinematic from a base on CP-3, two epochs of 30 s",
        shows=_SHOWS,
        when_made=False,
    ),
    Setting(
        "stakes_set_out",
        "offset stakes set out",
        "survey",
        means="how far back and ahead of each pole, and beyond the outer ones, offset stakes are really set; "
        "a frame is taped from them before it is tamped",
        example="10,25; 25",
        read=_read_stakes,
        shows="stakeout, check by tape on phones",
        when_made=False,
    ),
)


def stake_plan(settings: Mapping[str, Any], unit: str) -> StakePlan:
    """Return the offset stakes declared for a job, "ft" or "m"; 25 ft each way where none are.

    >>> stake_plan({"stakes_set_out": "10,25; 30"}, "ft").pole_arm, stake_plan({}, "m").pole_along
    ((30.0,), (7.62,))
    """
    along, parted, arm = str(settings.get("stakes_set_out") or "").partition(";")
    return StakePlan.read(along, arm) if parted else StakePlan.usual(unit)


def of_file(text: str, file: str) -> str:
    """Return what is declared of one file of shots: what names it, else what names none; "" = nothing.

    >>> declared = "receiver 12; may.csv: total station 3: new"
    >>> of_file(declared, "may.csv"), of_file(declared, "june.csv"), of_file("may.csv: x", "june.csv")
    ('total station 3: new', 'receiver 12', '')
    """
    parts = [part.strip() for part in text.split(";")]
    own = [part.partition(":")[2].strip() for part in parts if _names(part).casefold() == file.casefold()]
    return "; ".join(own or [part for part in parts if part and not _names(part)])


def _names(part: str) -> str:
    """Return the file a part of a declaration names; "" = it is of all."""
    before, colon, _ = part.partition(":")
    before = before.strip()
    return before if colon and "." in before and " " not in before else ""
