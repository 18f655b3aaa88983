"""Job sheets, what people saw, photographs, fitted kilns, and paired devices."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add the five tables."""
    _of_a_firing("job", sa.Column("by", sa.Text, nullable=False), sa.Column("text", sa.Text, nullable=False))
    _of_a_firing(
        "observation",
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("stage", sa.Integer),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("fields", sa.Text, nullable=False),
    )
    _of_a_firing(
        "photo",
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("stage", sa.Integer),
        sa.Column("of", sa.Text, nullable=False),
        sa.Column("caption", sa.Text, nullable=False),
        sa.Column("media_type", sa.Text, nullable=False),
        sa.Column("width_px", sa.Integer, nullable=False),
        sa.Column("height_px", sa.Integer, nullable=False),
        sa.Column("image", sa.LargeBinary, nullable=False),
    )
    _of_a_firing(
        "kiln_model",
        sa.Column("refused", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )
    op.create_table(
        "device",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("role", sa.Text, nullable=False),
        sa.Column("token_hash", sa.Text, nullable=False, unique=True),
        sa.Column("paired_utc_s", sa.Float, nullable=False),
        sa.Column("seen_utc_s", sa.Float),
        sa.Column("revoked_utc_s", sa.Float),
    )


def _of_a_firing(name: str, *columns: sa.Column[object]) -> None:
    op.create_table(
        name,
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("firing", sa.Integer, sa.ForeignKey("firing.id"), nullable=False),
        sa.Column("utc_s", sa.Float, nullable=False),
        *columns,
    )
    op.create_index(f"{name}_firing", name, ["firing"])
