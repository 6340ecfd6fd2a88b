"""Photographs of reports.

Revision 0006, made 2026-11-28. In the database rather than in a folder beside it, so that
backup, move and withdrawal take them along.
"""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import AutoString, UTCDateTime

revision: str = "0006"
down_revision: str | None = "0005"
branch_labels: str | None = None
depends_on: str | None = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "photo",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("report_id", sa.Uuid(), nullable=False),
        sa.Column("member_id", sa.Integer(), nullable=False),
        sa.Column("received_at", UTCDateTime(), nullable=False),
        sa.Column("sameness", AutoString(length=128), nullable=False),
        sa.Column("sha256", AutoString(length=64), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint("width > 0 AND height > 0", name=op.f("ck_photo_sides_positive")),
        sa.CheckConstraint(
            "size = length(body) AND size BETWEEN 1 AND 400000",
            name=op.f("ck_photo_size_right"),
        ),
        sa.CheckConstraint(
            "length(sameness) BETWEEN 1 AND 128", name=op.f("ck_photo_sameness_length")
        ),
        sa.CheckConstraint(
            "length(sha256) BETWEEN 64 AND 64", name=op.f("ck_photo_sha256_length")
        ),
        sa.ForeignKeyConstraint(
            ["report_id"],
            ["report.id"],
            name=op.f("fk_photo_report_id_report"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["member_id"], ["member.id"], name=op.f("fk_photo_member_id_member")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
    )
    op.create_index(
        op.f("ix_photo_report_id_sha256"), "photo", ["report_id", "sha256"], unique=True
    )
    op.create_index(
        op.f("ix_photo_member_id_received_at"), "photo", ["member_id", "received_at"]
    )


def downgrade() -> None:
    """Drop the table and every photograph."""
    op.drop_table("photo")
