"""The record's tables. A change here needs a new migration in `migrations/versions`, and its number below.

A tick's key is (firing, n), and the table is stored in that order (WITHOUT ROWID): a firing's ticks lie
side by side on the disk, and the key is the index. `n` rises within a firing, also across a restart.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    Text,
)

# Every migration, oldest first. A record that carries another number is from a newer version.
REVISIONS = ("0001", "0002", "0003")

metadata = MetaData()

# The number of the record's tables, where and as the migrations' library keeps it.
revision = Table(
    "alembic_version",
    MetaData(),
    Column("version_num", String(32), nullable=False),
    PrimaryKeyConstraint("version_num", name="alembic_version_pkc"),
)

firing = Table(
    "firing",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("started_utc_s", Float, nullable=False),
    Column("started_mono_s", Float, nullable=False),
    Column("title", Text, nullable=False),
    Column("schedule_text", Text, nullable=False),
    Column("schedule_name", Text, nullable=False),
    Column("kiln_name", Text, nullable=False),
    Column("kiln_text", Text, nullable=False),
    Column("software_version", Text, nullable=False),
    Column("speed", Float, nullable=False),
    Column("simulated", Boolean, nullable=False),
    Column("ended_utc_s", Float),
    Column("ended_mono_s", Float),
    Column("end_state", Text),
)

tick = Table(
    "tick",
    metadata,
    Column("firing", Integer, ForeignKey("firing.id"), primary_key=True, autoincrement=False),
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("mono_s", Float, nullable=False),
    Column("utc_s", Float, nullable=False),
    Column("state", Text, nullable=False),
    Column("stage", Integer),
    Column("setpoint_c", Float),
    Column("air_c", Float),
    Column("load_c", Float),
    Column("limit_c", Float),
    Column("faults", Text, nullable=False),
    Column("contacts", Text, nullable=False),
    Column("duty", Float, nullable=False),
    Column("heat_on", Boolean, nullable=False),
    Column("lease_s", Float, nullable=False),
    Column("main_on", Boolean),
    Column("reasons", Text, nullable=False),
    Column("late", Boolean, nullable=False),
    Column("progress", Text, nullable=False, server_default=""),
    Column("seen", Text, nullable=False, server_default=""),
    sqlite_with_rowid=False,
)

leg = Table(
    "leg",
    metadata,
    Column("firing", Integer, ForeignKey("firing.id"), primary_key=True, autoincrement=False),
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("boot", Text, nullable=False),
    Column("speed", Float, nullable=False),
    Column("carried", Text, nullable=False),
    sqlite_with_rowid=False,
)

event = Table(
    "event",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("firing", Integer, ForeignKey("firing.id")),
    Column("utc_s", Float, nullable=False),
    Column("mono_s", Float, nullable=False),
    Column("kind", Text, nullable=False),
    Column("fields", Text, nullable=False),
    Column("severity", Text, nullable=False),
    Index("event_firing", "firing"),
)

request = Table(
    "request",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("firing", Integer, ForeignKey("firing.id")),
    Column("utc_s", Float, nullable=False),
    Column("mono_s", Float, nullable=False),
    Column("by", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("args", Text, nullable=False),
    Column("accepted", Boolean, nullable=False),
    Column("says", Text, nullable=False),
    Column("n", Integer),
    Index("request_firing", "firing"),
)

note = Table(
    "note",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("firing", Integer, ForeignKey("firing.id"), nullable=False),
    Column("utc_s", Float, nullable=False),
    Column("by", Text, nullable=False),
    Column("text", Text, nullable=False),
    Index("note_firing", "firing"),
)

# The job sheet that a firing carries, as its file's text. The newest of a firing counts; none is changed.
job = Table(
    "job",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("firing", Integer, ForeignKey("firing.id"), nullable=False),
    Column("utc_s", Float, nullable=False),
    Column("by", Text, nullable=False),
    Column("text", Text, nullable=False),
    Index("job_firing", "firing"),
)

# What a person saw or did: cracks, plastic drained, a checklist, how a casting turned out. `fields`: JSON.
observation = Table(
    "observation",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("firing", Integer, ForeignKey("firing.id"), nullable=False),
    Column("utc_s", Float, nullable=False),
    Column("by", Text, nullable=False),
    Column("stage", Integer),
    Column("kind", Text, nullable=False),
    Column("fields", Text, nullable=False),
    Index("observation_firing", "firing"),
)

photo = Table(
    "photo",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("firing", Integer, ForeignKey("firing.id"), nullable=False),
    Column("utc_s", Float, nullable=False),
    Column("by", Text, nullable=False),
    Column("stage", Integer),
    Column("of", Text, nullable=False),  # "crack", "shell", "casting"
    Column("caption", Text, nullable=False),
    Column("media_type", Text, nullable=False),
    Column("width_px", Integer, nullable=False),
    Column("height_px", Integer, nullable=False),
    Column("image", LargeBinary, nullable=False),
    Index("photo_firing", "firing"),
)

# A kiln as it was fitted, and what it was fitted on. `text`: JSON.
kiln_model = Table(
    "kiln_model",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("firing", Integer, ForeignKey("firing.id"), nullable=False),
    Column("utc_s", Float, nullable=False),
    Column("refused", Text, nullable=False),
    Column("text", Text, nullable=False),
    Index("kiln_model_firing", "firing"),
)

# A paired phone. Only the hash of what it holds is kept.
device = Table(
    "device",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("token_hash", Text, nullable=False, unique=True),
    Column("paired_utc_s", Float, nullable=False),
    Column("seen_utc_s", Float),
    Column("revoked_utc_s", Float),
)
