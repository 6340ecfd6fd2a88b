"""A member's own reports, newest first, without looking through the pool's.

Revision 0008, made 2026-11-28.
"""

from alembic import op

revision: str = "0008"
down_revision: str | None = "0007"
branch_labels: str | None = None
depends_on: str | None = None

INDEX = "ix_report_member_id_seq"


def upgrade() -> None:
    """Make the index."""
    op.create_index(INDEX, "report", ["member_id", "seq"])


def downgrade() -> None:
    """Drop it."""
    op.drop_index(INDEX, table_name="report")
