"""Codes that make a member once, and what stewards did with reports.

Revision 0005, made 2026-11-28.
"""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import AutoString, UTCDateTime

revision: str = "0005"
down_revision: str | None = "0004"
branch_labels: str | None = None
depends_on: str | None = None


def upgrade() -> None:
    """Make the two tables, empty."""
    op.create_table(
        "invitation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", AutoString(length=60), nullable=False),
        sa.Column("code_prefix", AutoString(length=32), nullable=False),
        sa.Column("code_sha256", AutoString(length=64), nullable=False),
        sa.Column("vouched", sa.Boolean(), nullable=False),
        sa.Column("token_days", sa.Integer(), nullable=True),
        sa.Column("made_at", UTCDateTime(), nullable=False),
        sa.Column("expires_at", UTCDateTime(), nullable=False),
        sa.Column("used_at", UTCDateTime(), nullable=True),
        sa.Column("used_by", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_invitation")),
        sa.UniqueConstraint("code_prefix", name=op.f("uq_invitation_code_prefix")),
        sa.ForeignKeyConstraint(
            ["used_by"], ["member.id"], name=op.f("fk_invitation_used_by_member")
        ),
        sa.CheckConstraint(
            "length(name) BETWEEN 1 AND 60", name=op.f("ck_invitation_name_length")
        ),
        sa.CheckConstraint(
            "length(code_prefix) BETWEEN 1 AND 32",
            name=op.f("ck_invitation_code_prefix_length"),
        ),
        sa.CheckConstraint(
            "length(code_sha256) BETWEEN 64 AND 64",
            name=op.f("ck_invitation_code_sha256_length"),
        ),
        sa.CheckConstraint(
            "token_days IS NULL OR token_days > 0",
            name=op.f("ck_invitation_token_days_positive"),
        ),
    )
    op.create_table(
        "judgement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", UTCDateTime(), nullable=False),
        sa.Column("member_id", sa.Integer(), nullable=False),
        sa.Column("report_id", sa.Uuid(), nullable=False),
        sa.Column("came", AutoString(length=9), nullable=False),
        sa.Column("reason", AutoString(length=500), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_judgement")),
        sa.ForeignKeyConstraint(
            ["member_id"], ["member.id"], name=op.f("fk_judgement_member_id_member")
        ),
        sa.CheckConstraint(
            "came IN ('withdrawn', 'kept')", name=op.f("ck_judgement_came_known")
        ),
        sa.CheckConstraint(
            "length(reason) BETWEEN 1 AND 500", name=op.f("ck_judgement_reason_length")
        ),
    )
    op.create_index(op.f("ix_judgement_report_id"), "judgement", ["report_id"])


def downgrade() -> None:
    """Drop them; a restore is what is promised, not this."""
    op.drop_table("judgement")
    op.drop_table("invitation")
