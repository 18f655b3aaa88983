"""The first record: firings, ticks, events, requests and notes."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make every table."""
    op.create_table(
        "firing",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("started_utc_s", sa.Float, nullable=False),
        sa.Column("started_mono_s", sa.Float, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("schedule_text", sa.Text, nullable=False),
        sa.Column("schedule_name", sa.Text, nullable=False),
        sa.Column("kiln_name", sa.Text, nullable=False),
        sa.Column("kiln_text", sa.Text, nullable=False),
        sa.Column("software_version", sa.Text, nullable=False),
        sa.Column("speed", sa.Float, nullable=False),
        sa.Column("simulated", sa.Boolean, nullable=False),
        sa.Column("ended_utc_s", sa.Float),
        sa.Column("ended_mono_s", sa.Float),
        sa.Column("end_state", sa.Text),
    )
    op.create_table(
        "tick",
        sa.Column("firing", sa.Integer, sa.ForeignKey("firing.id"), primary_key=True, autoincrement=False),
        sa.Column("n", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("mono_s", sa.Float, nullable=False),
        sa.Column("utc_s", sa.Float, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("stage", sa.Integer),
        sa.Column("setpoint_c", sa.Float),
        sa.Column("air_c", sa.Float),
        sa.Column("load_c", sa.Float),
        sa.Column("limit_c", sa.Float),
        sa.Column("faults", sa.Text, nullable=False),
        sa.Column("contacts", sa.Text, nullable=False),
        sa.Column("duty", sa.Float, nullable=False),
        sa.Column("heat_on", sa.Boolean, nullable=False),
        sa.Column("lease_s", sa.Float, nullable=False),
        sa.Column("main_on", sa.Boolean),
        sa.Column("reasons", sa.Text, nullable=False),
        sa.Column("late", sa.Boolean, nullable=False),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "event",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("firing", sa.Integer, sa.ForeignKey("firing.id")),
        sa.Column("utc_s", sa.Float, nullable=False),
        sa.Column("mono_s", sa.Float, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("fields", sa.Text, nullable=False),
        sa.Column("severity", sa.Text, nullable=False),
    )
    op.create_table(
        "request",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("firing", sa.Integer, sa.ForeignKey("firing.id")),
        sa.Column("utc_s", sa.Float, nullable=False),
        sa.Column("mono_s", sa.Float, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("args", sa.Text, nullable=False),
        sa.Column("accepted", sa.Boolean, nullable=False),
        sa.Column("says", sa.Text, nullable=False),
    )
    op.create_table(
        "note",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("firing", sa.Integer, sa.ForeignKey("firing.id"), nullable=False),
        sa.Column("utc_s", sa.Float, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )
    for table in ("event", "request", "note"):
        op.create_index(f"{table}_firing", table, ["firing"])


def downgrade() -> None:
    """A record is never made older."""
    raise NotImplementedError("a record is never made older")
