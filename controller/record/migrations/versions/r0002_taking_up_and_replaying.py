"""What a firing needs to be taken up after an outage, and to be run again tick for tick."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add to every tick its progress and the rest of what it saw, to a request its tick, and the legs."""
    op.add_column("tick", sa.Column("progress", sa.Text, nullable=False, server_default=""))
    op.add_column("tick", sa.Column("seen", sa.Text, nullable=False, server_default=""))
    op.add_column("request", sa.Column("n", sa.Integer))
    op.create_table(
        "leg",
        sa.Column("firing", sa.Integer, sa.ForeignKey("firing.id"), primary_key=True, autoincrement=False),
        sa.Column("n", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("boot", sa.Text, nullable=False),
        sa.Column("speed", sa.Float, nullable=False),
        sa.Column("carried", sa.Text, nullable=False),
        sqlite_with_rowid=False,
    )
