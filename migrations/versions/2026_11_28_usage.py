"""How often members asked of late, so that several processes keep one limit.

Revision 0004, made 2026-11-28.
"""

import sqlalchemy as sa
from alembic import op

revision: str = "0004"
down_revision: str | None = "0003"
branch_labels: str | None = None
depends_on: str | None = None


def upgrade() -> None:
    """Make the table; it is empty at first and small always."""
    op.create_table(
        "usage",
        sa.Column("member_id", sa.Integer(), nullable=False),
        sa.Column("slot", sa.BigInteger(), nullable=False),
        sa.Column("requests", sa.Integer(), nullable=False),
        sa.CheckConstraint("requests > 0", name=op.f("ck_usage_requests_positive")),
        sa.ForeignKeyConstraint(
            ["member_id"], ["member.id"], name=op.f("fk_usage_member_id_member")
        ),
        sa.PrimaryKeyConstraint("member_id", "slot", name=op.f("pk_usage")),
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    """Drop it."""
    op.drop_table("usage")
