"""What the tables are made of: columns of the kinds that come up again and again."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import Boolean, CheckConstraint, Column, Double, ForeignKey, Integer, MetaData, Text

from linemap.store.columns import Moment

#: All tables of a job; those of each module beside this one add themselves.
metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)


def text(name: str) -> Column[str]:
    """Return a column of words; "" where nothing is said."""
    return Column(name, Text, nullable=False)


def texts(*names: str) -> list[Column[str]]:
    """Return columns of words, in this order."""
    return [text(name) for name in names]


def flag(name: str) -> Column[bool]:
    """Return a column of yes or no."""
    return Column(name, Boolean(create_constraint=False), nullable=False)


def moments(*names: str) -> list[Column[dt.datetime]]:
    """Return columns of moments in time that are always known."""
    return [Column(name, Moment, nullable=False) for name in names]


def number(name: str) -> Column[float]:
    """Return a column of numbers that are always given."""
    return Column(name, Double, nullable=False)


def optional_numbers(*names: str) -> list[Column[float]]:
    """Return columns of numbers; NULL where none was given."""
    return [Column(name, Double) for name in names]


def whole(name: str) -> Column[int]:
    """Return a column of whole numbers that are always given."""
    return Column(name, Integer, nullable=False)


def of_file() -> Column[int]:
    """Return the column that names the file a row came from; NULL = entered by hand."""
    return Column("file_id", ForeignKey("file.id"))


def of_revision() -> Column[int]:
    """Return the first half of the key of rows that belong to one state of a list."""
    return Column("revision_id", ForeignKey("revision.id"), primary_key=True)


def position() -> Column[int]:
    """Return the key of rows of a list that is replaced whole: their place in it, from 0."""
    return Column("seq", Integer, primary_key=True, autoincrement=False)


def receipt_order() -> Column[int]:
    """Return the key of rows that are only ever added: the order of receipt, from 1, never given again."""
    check = CheckConstraint("seq > 0", name="seq")
    return Column("seq", Integer, check, primary_key=True, autoincrement=True)
