"""Words that members put back after the scrubber took them.

Revision 0009, made 2026-11-28.
"""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import AutoString

revision: str = "0009"
down_revision: str | None = "0008"
branch_labels: str | None = None
depends_on: str | None = None


def upgrade() -> None:
    """Make the table, empty."""
    op.create_table(
        "correction",
        sa.Column("member_id", sa.Integer(), nullable=False),
        sa.Column("word", AutoString(length=40), nullable=False),
        sa.Column("kind", AutoString(length=8), nullable=False),
        sa.CheckConstraint(
            "length(word) BETWEEN 2 AND 40", name=op.f("ck_correction_word_length")
        ),
        sa.CheckConstraint(
            "kind IN ('address', 'day', 'email', 'handle', 'link', 'name', 'number', 'phone',"
            " 'position')",
            name=op.f("ck_correction_kind_known"),
        ),
        sa.ForeignKeyConstraint(
            ["member_id"], ["member.id"], name=op.f("fk_correction_member_id_member")
        ),
        sa.PrimaryKeyConstraint("member_id", "word", "kind", name=op.f("pk_correction")),
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    """Drop the table and every word."""
    op.drop_table("correction")
