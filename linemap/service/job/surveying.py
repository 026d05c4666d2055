"""How the line is surveyed: instrument, crew and method, of all shot files or of one by its name."""

from __future__ import annotations

from linemap.service.job.setting import Setting

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
)


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
