"""Browsers that are signed in, and codes that sign in a member who is there already.

Revision 0007, made 2026-11-28. SQLite can give a table no foreign key later, so there the table
of codes is written anew, whole; Alembic does not read its checks back, so they are said here.
"""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import AutoString, UTCDateTime

revision: str = "0007"
down_revision: str | None = "0006"
branch_labels: str | None = None
depends_on: str | None = None

_COLUMNS = ("member_id", "made_by")
_INDEX = "ix_invitation_member_id"


def upgrade() -> None:
    """Make the table, empty, and let a code be of a member."""
    op.create_table(
        "session",
        sa.Column("prefix", AutoString(length=32), nullable=False),
        sa.Column("sha256", AutoString(length=64), nullable=False),
        sa.Column("member_id", sa.Integer(), nullable=False),
        sa.Column("made_at", UTCDateTime(), nullable=False),
        sa.Column("expires_at", UTCDateTime(), nullable=False),
        sa.Column("last_used_at", UTCDateTime(), nullable=True),
        sa.PrimaryKeyConstraint("prefix", name=op.f("pk_session")),
        sa.ForeignKeyConstraint(
            ["member_id"], ["member.id"], name=op.f("fk_session_member_id_member")
        ),
        sa.CheckConstraint(
            "length(prefix) BETWEEN 1 AND 32", name=op.f("ck_session_prefix_length")
        ),
        sa.CheckConstraint(
            "length(sha256) BETWEEN 64 AND 64", name=op.f("ck_session_sha256_length")
        ),
        sa.CheckConstraint("expires_at > made_at", name=op.f("ck_session_ends_later")),
        sqlite_with_rowid=False,
    )
    op.create_index(op.f("ix_session_member_id_made_at"), "session", ["member_id", "made_at"])
    with op.batch_alter_table("invitation", copy_from=_invitation()) as invitation:
        for name in _COLUMNS:
            invitation.add_column(sa.Column(name, sa.Integer(), nullable=True))
            invitation.create_foreign_key(_key(name), "member", [name], ["id"])
        invitation.create_index(op.f(_INDEX), ["member_id"])


def downgrade() -> None:
    """Drop both; whoever was signed in is not, and a code of a member would make another."""
    op.drop_table("session")
    op.execute("DELETE FROM invitation WHERE member_id IS NOT NULL")
    with op.batch_alter_table("invitation", copy_from=_invitation(later=True)) as invitation:
        invitation.drop_index(op.f(_INDEX))
        for name in _COLUMNS:
            invitation.drop_constraint(_key(name), type_="foreignkey")
            invitation.drop_column(name)


def _key(column: str) -> str:
    return op.f(f"fk_invitation_{column}_member")


def _invitation(*, later: bool = False) -> sa.Table:
    """Return the table of codes as it was, or with what this revision adds."""
    more: list[sa.schema.SchemaItem] = []
    if later:
        for name in _COLUMNS:
            more.append(sa.Column(name, sa.Integer(), nullable=True))
            more.append(sa.ForeignKeyConstraint([name], ["member.id"], name=_key(name)))
        more.append(sa.Index(op.f(_INDEX), "member_id"))
    return sa.Table(
        "invitation",
        sa.MetaData(),
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
        *more,
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
