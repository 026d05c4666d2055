"""The field records, holds and crossings against the state on 2026-05-15."""

from __future__ import annotations

import csv
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

Rows = list[dict[str, str]]
Key = dict[str, Rows]

PER_POLE = {"spotted", "dug", "set"}
ORDER = ("staked", "spotted", "dug", "framed", "set", "grounded", "inspected")


def table(path: Path) -> Rows:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def records(demo_files: Path) -> Rows:
    return table(demo_files / "framing_records.csv")


@pytest.fixture(scope="module")
def done_at(records: Rows, key: Key) -> dict[tuple[str, str], datetime]:
    """When a step of a structure was completed: the last pole's last result, by time of the work."""
    poles: dict[str, set[str]] = {}
    for row in key["poles"]:
        poles.setdefault(row["structure"], set()).add(row["pole"])
    latest: dict[tuple[str, str], dict[str, tuple[datetime, str]]] = {}
    for row in sorted(records, key=lambda row: datetime.fromisoformat(row["happened at"])):
        moment = datetime.fromisoformat(row["happened at"])
        latest.setdefault((row["structure"], row["step"]), {})[row["pole"]] = (moment, row["result"])
    return {
        (structure, step): max(moment for moment, _ in found.values())
        for (structure, step), found in latest.items()
        if set(found) == (poles[structure] if step in PER_POLE else {""})
        and all(result == "done" for _, result in found.values())
    }


def test_records_fold_to_the_state_of_every_structure(
    done_at: dict[tuple[str, str], datetime], key: Key
) -> None:
    steps = [name for name in key["status"][0] if name not in ("structure", "surveyed")]
    for row in key["status"]:
        for step in steps:
            assert ((row["structure"], step) in done_at) == (row[step] == "1"), (row["structure"], step)


def test_counts(done_at: dict[tuple[str, str], datetime], key: Key) -> None:
    wanted = {
        "staked": 121, "spotted": 88, "dug": 71, "framed": 66, "set": 59,
        "guyed": 5, "grounded": 54, "blocks hung": 52, "inspected": 38,
    }  # fmt: skip
    assert {step: sum(found == step for _, found in done_at) for step in wanted} == wanted
    counts = {row["step"]: int(row["structures_done"]) for row in key["counts"]}
    assert counts == {**wanted, "surveyed": 54}
    assert counts["blocks hung"] * 5 == 260


def test_weekly_set(done_at: dict[tuple[str, str], datetime], key: Key) -> None:
    days = [moment.date() for (_, step), moment in done_at.items() if step == "set"]
    weeks = [date.fromisoformat(row["week_of"]) for row in key["weekly_set"][:8]]
    cumulative = [sum(day < week + timedelta(days=7) for day in days) for week in weeks]
    assert cumulative == [2, 7, 15, 24, 33, 43, 51, 59]
    assert cumulative == [int(row["actual_cumulative"]) for row in key["weekly_set"][:8]]
    assert sum(day <= date(2026, 5, 12) for day in days) == 58


def test_steps_follow_one_another(records: Rows) -> None:
    first: dict[tuple[str, str], datetime] = {}
    for row in records:
        moment = datetime.fromisoformat(row["happened at"])
        if row["device"] == "badger-2":
            moment -= timedelta(hours=2)
        place = (row["structure"], row["step"])
        first[place] = min(first.get(place, moment), moment)
    for structure in {name for name, _ in first}:
        moments = [first[structure, step] for step in ORDER if (structure, step) in first]
        assert moments == sorted(moments), structure


def test_work_is_done_on_working_days_before_the_data_date(records: Rows) -> None:
    for row in records:
        moment = datetime.fromisoformat(row["happened at"])
        assert moment.isoweekday() <= 4
        assert date(2026, 3, 9) <= moment.date() <= date(2026, 5, 14)
        assert moment.utcoffset() == timedelta(hours=-6)
        if row["step"] == "staked":
            assert moment.date() <= date(2026, 3, 27)


def test_identifiers_and_crews(records: Rows) -> None:
    assert len({row["id"] for row in records}) == len(records)
    crews = {row["crew"] for row in records}
    assert crews == {"Lark", "Badger", "Heron", "Raven", "Otter", "Mole", "Four Tines"}


def test_rows_stand_as_received(records: Rows) -> None:
    received = [datetime.fromisoformat(row["received at"]) for row in records]
    assert received == sorted(received)


def test_framed_by_two_crews(records: Rows) -> None:
    twice = [row for row in records if (row["structure"], row["step"]) == ("13/4", "framed")]
    assert {row["crew"] for row in twice} == {"Heron", "Raven"}
    moments = sorted(datetime.fromisoformat(row["happened at"]) for row in twice)
    assert moments[1] - moments[0] == timedelta(hours=1, minutes=50)
    assert all(
        datetime.fromisoformat(row["received at"]) - datetime.fromisoformat(row["happened at"])
        > timedelta(hours=5)
        for row in twice
    )


def test_late_resend_arrives_after_set(records: Rows) -> None:
    own = [row for row in records if row["structure"] == "12/3"]
    assert own[-1]["step"] == "framed"
    assert own[-1]["received at"].startswith("2026-05-14")
    work = [row["step"] for row in sorted(own, key=lambda row: row["happened at"])]
    assert work[-1] == "set"


def test_reframing(records: Rows) -> None:
    own = [row for row in records if (row["structure"], row["step"]) == ("5/2", "framed")]
    assert [(row["happened at"][:10], row["result"]) for row in own] == [
        ("2026-04-06", "done"),
        ("2026-04-08", "rejected"),
        ("2026-04-09", "done"),
    ]


def test_one_clock_is_two_hours_fast(records: Rows) -> None:
    early = {
        row["device"]
        for row in records
        if datetime.fromisoformat(row["received at"]) < datetime.fromisoformat(row["happened at"])
    }
    assert early == {"badger-2"}
    gaps = [
        datetime.fromisoformat(row["happened at"]) - datetime.fromisoformat(row["received at"])
        for row in records
        if row["device"] == "badger-2"
    ]
    assert timedelta(hours=1, minutes=55) < min(gaps) <= max(gaps) < timedelta(hours=2)


def test_grounded_without_ohms(records: Rows) -> None:
    missing = [row["structure"] for row in records if row["step"] == "grounded" and not row["ohms"]]
    assert sorted(missing) == ["3/1", "6/2", "9/5"]


def test_holds(demo_files: Path) -> None:
    holds = {row["id"]: row for row in table(demo_files / "holds.csv")}
    assert set(holds) == {
        "HW-1", "HE-1", "HL-1", "HM-1", "HN-1", "HN-2", "HX-1", "HC-1", "HQ-1", "HT-1",
    }  # fmt: skip
    assert [name for name, row in holds.items() if row["released on"]] == ["HT-1"]
    assert [name for name, row in holds.items() if row["restricted"] == "yes"] == ["HN-1", "HN-2", "HC-1"]
    assert [name for name, row in holds.items() if row["condition"]] == ["HN-2", "HC-1"]
    assert holds["HW-1"]["structures"] == "7/3; 7/4"
    assert (holds["HX-1"]["from structure"], holds["HX-1"]["to structure"]) == ("17/2", "17/3")


def test_held_structures_have_no_barred_work_while_held(demo_files: Path, records: Rows) -> None:
    barred = 0
    for hold in table(demo_files / "holds.csv"):
        end = hold["released on"] or hold["to date"] or "9999"
        for row in records:
            stops = hold["activities"] == "all" or row["step"] in hold["activities"].split("; ")
            during = hold["from date"] <= row["happened at"][:10] <= end
            if stops and not hold["condition"] and row["structure"] in hold["structures"].split("; "):
                barred += 1
                assert not during, (hold["id"], row["structure"], row["step"])
    assert barred > 10


def test_crossings(demo_files: Path) -> None:
    rows = table(demo_files / "crossings.csv")
    spans = [(row["span back structure"], row["span ahead structure"], row["station"]) for row in rows]
    assert spans == [
        ("4/5", "4/6", "204+40.00"),
        ("4/5", "4/6", "205+10.00"),
        ("9/2", "9/3", "434+20.00"),
        ("11/6", "12/1", "580+84.50"),
        ("17/2", "17/3", "871+84.50"),
        ("20/3", "20/4", "1030+23.75"),
    ]
    energized = [row["voltage (kV)"] for row in rows if row["treat as energized"] == "yes"]
    assert energized == ["12.47", "230"]
