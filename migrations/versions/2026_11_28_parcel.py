"""Lines of other pools.

Revision 0002, made 2026-11-28. A parcel's lines are kept word for word, so that they can go
on to a third pool as they came.
"""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import AutoString

revision: str = "0002"
down_revision: str | None = "0001"
branch_labels: str | None = None
depends_on: str | None = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "parcel",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kind", AutoString(length=10), nullable=False),
        sa.Column("origin", AutoString(length=36), nullable=False),
        sa.Column("report_id", sa.Uuid(), nullable=False),
        sa.Column("sha256", AutoString(length=64), nullable=False),
        sa.Column("line", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_parcel")),
        sa.CheckConstraint(
            "kind IN ('report', 'followup', 'withdrawal')", name=op.f("ck_parcel_kind_known")
        ),
        sa.CheckConstraint(
            "length(line) BETWEEN 2 AND 1048576", name=op.f("ck_parcel_line_length")
        ),
        sa.CheckConstraint(
            "length(origin) BETWEEN 36 AND 36", name=op.f("ck_parcel_origin_length")
        ),
        sa.CheckConstraint(
            "length(sha256) BETWEEN 64 AND 64", name=op.f("ck_parcel_sha256_length")
        ),
    )
    op.create_index(op.f("ix_parcel_report_id"), "parcel", ["report_id"])


def downgrade() -> None:
    """Drop the table; a restore is what is promised, not this."""
    op.drop_table("parcel")
