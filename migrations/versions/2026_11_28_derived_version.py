"""An index by which cases of another version are told to be there, or not.

Revision 0003, made 2026-11-28. Without it every start of the service reads the whole table
to find that nothing has to be derived again.
"""

from alembic import op

revision: str = "0003"
down_revision: str | None = "0002"
branch_labels: str | None = None
depends_on: str | None = None

_NAME, _TABLE = "ix_report_derived_version", "report"


def upgrade() -> None:
    """Make the index."""
    op.create_index(_NAME, _TABLE, ["derived_version"])


def downgrade() -> None:
    """Drop it."""
    op.drop_index(_NAME, _TABLE)
