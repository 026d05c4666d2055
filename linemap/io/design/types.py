"""Type tables: what an owner's structure type codes mean."""

from __future__ import annotations

from linemap.domain.design.structure import StructureType, is_section_break
from linemap.geometry.frame import ArmRule
from linemap.io.cells.numbers import parse_yes
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.structure_details import read_details
from linemap.units import LengthUnit


def read_types(table: RawTable, *, unit: LengthUnit) -> Loaded[tuple[StructureType, ...]]:
    """Read a type table.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    unit : LengthUnit
        Ground unit of the line, for pole spacings without a unit of their own.

    Returns
    -------
    Loaded of tuple of StructureType
        In file order. Without a section-break column, dead-ends are known by their code or words.

    Raises
    ------
    InputRefused
        With every code that stands twice, and every arm rule, pole count, weight or block count that
        cannot be used.
    """
    ledger = Ledger(sheet_of(table, "types"))
    sheet = ledger.sheet
    codes, words = sheet.texts("code"), sheet.texts("words")
    for index, code in enumerate(codes):
        if ledger.is_heading(index) or ledger.is_total(index) or not code:
            ledger.leave_out_idle(index)
    _refuse_repeats(ledger, codes)
    ledger.check_some_left("code")
    details = read_details(ledger, unit=unit, pole_a="left")
    blocks, weights = _counts(ledger, "blocks"), _counts(ledger, "weight")
    breaks_known = "section_break" in sheet.matches
    guyed = _guyed(ledger)
    types = tuple(
        StructureType(
            code=codes[index],
            words=words[index],
            pole_count=details.pole_count[index],
            spacing=_known(float(details.spacing[index])),
            rule=ArmRule(details.rule[index]),
            section_break=details.section_break[index]
            if breaks_known
            else is_section_break(f"{codes[index]} {words[index]}"),
            blocks=None if index not in blocks else round(blocks[index]),
            weight=weights.get(index, 1.0),
            guyed=guyed.get(index),
        )
        for index in ledger.kept()
    )
    return ledger.finish(types)


def _known(value: float) -> float | None:
    return value if value == value else None


def _refuse_repeats(ledger: Ledger, codes: list[str]) -> None:
    first: dict[str, int] = {}
    rows = ledger.sheet.table.row_numbers
    for index in ledger.kept():
        earlier = first.setdefault(codes[index], index)
        if earlier != index:
            reason = f"type {codes[index]} stands twice, in rows {rows[earlier]} and {rows[index]}"
            ledger.refuse(index, "code", reason, "keep one of them")


def _guyed(ledger: Ledger) -> dict[int, bool]:
    """Return which types have guys, by row; nothing when the table does not say."""
    if "guyed" not in ledger.sheet.matches:
        return {}
    found: dict[int, bool] = {}
    for index in ledger.kept():
        answer = parse_yes(ledger.sheet.cells("guyed")[index])
        if answer is None:
            ledger.note(index, "guyed", "neither yes nor no; taken as not given", "write yes or no")
        else:
            found[index] = answer
    return found


def _counts(ledger: Ledger, name: str) -> dict[int, float]:
    numbers = ledger.sheet.numbers(name)
    for index, reason in numbers.faults.items():
        ledger.refuse(index, name, reason, "write a number, or leave the cell blank")
    found: dict[int, float] = {}
    for index, value in enumerate(numbers.values.tolist()):
        if value == value and index not in numbers.faults:
            found[index] = value
            if value < 0.0 or (name == "weight" and value == 0.0):
                ledger.refuse(index, name, f"a {name} is above 0", "correct the cell")
    return found
