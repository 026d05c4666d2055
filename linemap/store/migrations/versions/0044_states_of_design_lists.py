"""What the owner has drawn has states too: types, framing, guys, crossings, and what lies around."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from linemap.store.migrations.states import give_states

revision = "0044"
down_revision = "0043"


def upgrade() -> None:
    """Give these lists states."""
    give_states(
        "types",
        "structure_type",
        [
            *_texts("code", "words"),
            *_counts("pole_count"),
            *_numbers("spacing"),
            *_counts("rule"),
            _flag("section_break"),
            sa.Column("blocks", sa.Integer(), nullable=True),
            sa.Column("weight", sa.Double(), nullable=False),
            sa.Column("guyed", sa.Boolean(create_constraint=False), nullable=True),
        ],
    )
    give_states(
        "framing",
        "framing",
        [
            *_texts("code", "dimension"),
            *_numbers("value"),
            *_texts("choice", "drawing"),
            *_counts("source_row"),
        ],
    )
    give_states(
        "guys",
        "guy",
        [
            *_texts("line", "structure", "name", "kind", "side", "pole"),
            *_numbers("lead", "height", "ratio", "azimuth_deg"),
            *_texts("remarks"),
            *_counts("source_row"),
        ],
        part="line",
    )
    give_states(
        "context",
        "context_feature",
        [
            *_texts("layer", "name"),
            _flag("restricted"),
            *_texts("geometry"),
            sa.Column("properties", sa.JSON(), nullable=False),
        ],
        part="layer",
    )
    give_states(
        "crossings",
        "crossing",
        [
            *_texts("line", "what", "owner", "station"),
            *_numbers("true_distance"),
            *_texts("back_structure", "ahead_structure"),
            *_numbers("voltage_kv"),
            *_texts("rule"),
            _flag("energized"),
            *_counts("row"),
        ],
    )


def _texts(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Text(), nullable=False) for name in names]


def _counts(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Integer(), nullable=False) for name in names]


def _numbers(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Double(), nullable=True) for name in names]


def _flag(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Boolean(create_constraint=False), nullable=False)
