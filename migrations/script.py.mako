"""${message}.

Revision ${up_revision}, after ${down_revision or "none"}, made ${create_date.date()}.
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op
${imports if imports else ""}

revision: str = ${repr(up_revision)}
down_revision: str | None = ${repr(down_revision)}
branch_labels: str | None = ${repr(branch_labels)}
depends_on: str | None = ${repr(depends_on)}


def upgrade() -> None:
    """Change the tables."""
    ${upgrades if upgrades else "pass"}


def downgrade() -> None:
    """Undo it: promised by a restore, not by this."""
    ${downgrades if downgrades else "pass"}
