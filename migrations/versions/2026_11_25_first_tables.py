"""First tables.

Revision 0001, the first, made 2026-11-25. What it makes is fixed here and not taken from
the code's tables, which go on changing; a test holds the two equal at the newest revision.
"""

from typing import Any

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import AutoString, UTCDateTime

revision: str = "0001"
down_revision: str | None = None
branch_labels: str | None = None
depends_on: str | None = None


def upgrade() -> None:
    """Make every table."""
    _pool_and_members()
    _feed()
    _reports()
    _filters()


def downgrade() -> None:
    """Drop every table; a restore is what is promised, not this."""
    for table in (
        "report_symptom",
        "report_component",
        "followup",
        "report",
        "fit",
        "change",
        "member",
        "pool",
    ):
        op.drop_table(table)


def _text(name: str, most: int, *, nullable: bool = False) -> sa.Column[Any]:
    return sa.Column(name, AutoString(length=most), nullable=nullable)


def _time(name: str, *, nullable: bool = False) -> sa.Column[Any]:
    return sa.Column(name, UTCDateTime(), nullable=nullable)


def _number_key(name: str) -> sa.Column[Any]:
    number = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
    return sa.Column(name, number, autoincrement=False, nullable=False)


def _check(table: str, name: str, rule: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}"))


def _length(table: str, column: str, most: int, least: int = 1) -> sa.CheckConstraint:
    rule = f"length({column}) BETWEEN {least} AND {most}"
    return _check(table, f"{column}_length", rule)


def _key(table: str, *columns: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(*columns, name=op.f(f"pk_{table}"))


def _unique(table: str, column: str) -> sa.UniqueConstraint:
    return sa.UniqueConstraint(column, name=op.f(f"uq_{table}_{column}"))


def _refers(
    table: str, column: str, to: str, to_column: str, *, cascade: bool = False
) -> sa.ForeignKeyConstraint:
    name = op.f(f"fk_{table}_{column}_{to}")
    return sa.ForeignKeyConstraint(
        [column], [f"{to}.{to_column}"], name=name, ondelete="CASCADE" if cascade else None
    )


def _index(table: str, *columns: str, unique: bool = False) -> None:
    op.create_index(
        op.f(f"ix_{table}_{'_'.join(columns)}"), table, list(columns), unique=unique
    )


def _index_where(name: str, table: str, column: str, rule: str) -> None:
    where = sa.text(rule)
    op.create_index(name, table, [column], sqlite_where=where, postgresql_where=where)


def _pool_and_members() -> None:
    op.create_table(
        "pool",
        _text("key", 40),
        _text("value", 2000),
        _key("pool", "key"),
        _length("pool", "key", 40),
        _length("pool", "value", 2000, 0),
    )
    op.create_table(
        "member",
        sa.Column("id", sa.Integer(), nullable=False),
        _text("name", 60),
        _text("role", 8),
        _text("pseudonym", 60),
        sa.Column("group_no", sa.BigInteger(), nullable=False),
        _text("token_prefix", 32),
        _text("token_sha256", 64),
        _time("created_at"),
        _time("expires_at", nullable=True),
        _time("revoked_at", nullable=True),
        sa.Column("vouched", sa.Boolean(), nullable=False),
        _time("last_used_at", nullable=True),
        _key("member", "id"),
        _check("member", "role_known", "role IN ('member', 'steward')"),
        _length("member", "name", 60),
        _length("member", "pseudonym", 60),
        _length("member", "token_prefix", 32),
        _length("member", "token_sha256", 64, 64),
        _unique("member", "name"),
        _unique("member", "pseudonym"),
        _unique("member", "group_no"),
        _unique("member", "token_prefix"),
    )


def _feed() -> None:
    kinds = "kind IN ('report', 'followup', 'withdrawal', 'fit')"
    op.create_table(
        "change",
        _number_key("seq"),
        _text("kind", 10),
        _text("ref", 36),
        _time("at"),
        _key("change", "seq"),
        _check("change", "kind_known", kinds),
        _check("change", "seq_positive", "seq > 0"),
        _length("change", "ref", 36),
    )
    _index_where("ix_change_withdrawal", "change", "seq", "kind = 'withdrawal'")
    op.create_table(
        "fit",
        _number_key("seq"),
        sa.Column("cut_seq", sa.BigInteger(), nullable=False),
        _text("catalogue_version", 80),
        _time("made_at"),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        _key("fit", "seq"),
        _check("fit", "cut_before_fit", "cut_seq >= 0 AND cut_seq < seq"),
        _length("fit", "catalogue_version", 80),
    )
    _index("fit", "catalogue_version", "cut_seq", unique=True)


def _reports() -> None:
    whole_or_erased = (
        "CASE WHEN withdrawn_at IS NULL THEN body IS NOT NULL AND case_body IS NOT NULL"
        " AND derived_version IS NOT NULL AND sameness IS NOT NULL"
        " AND fuel IS NOT NULL AND outcome IS NOT NULL"
        " ELSE body IS NULL AND case_body IS NULL"
        " AND derived_version IS NULL AND sameness IS NULL AND fuel IS NULL"
        " AND excitation IS NULL AND outcome IS NULL AND happened IS NULL END"
    )
    op.create_table(
        "report",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("member_id", sa.Integer(), nullable=False),
        _time("received_at"),
        _text("sameness", 128, nullable=True),
        sa.Column("body", sa.Text(), nullable=True),
        sa.Column("case_body", sa.Text(), nullable=True),
        _text("derived_version", 60, nullable=True),
        _text("fuel", 60, nullable=True),
        _text("excitation", 60, nullable=True),
        _text("outcome", 60, nullable=True),
        _text("happened", 7, nullable=True),
        _time("withdrawn_at", nullable=True),
        sa.Column("withdrawn_by", sa.Integer(), nullable=True),
        _key("report", "id"),
        _unique("report", "seq"),
        _refers("report", "member_id", "member", "id"),
        _refers("report", "withdrawn_by", "member", "id"),
        _check("report", "whole_or_erased", whole_or_erased),
        _check("report", "seq_positive", "seq > 0"),
        _length("report", "body", 1_048_576, 2),
        _length("report", "case_body", 1_048_576, 2),
        _length("report", "sameness", 128),
        _length("report", "derived_version", 60),
        _length("report", "fuel", 60),
        _length("report", "excitation", 60),
        _length("report", "outcome", 60),
        _length("report", "happened", 7, 7),
    )
    for facet in ("fuel", "excitation", "outcome"):
        _index("report", facet, "seq")
    _index("report", "member_id", "received_at")
    _index_where("ix_report_withdrawn", "report", "seq", "withdrawn_at IS NOT NULL")
    op.create_table(
        "followup",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("report_id", sa.Uuid(), nullable=False),
        sa.Column("member_id", sa.Integer(), nullable=False),
        _time("received_at"),
        _text("sameness", 128),
        sa.Column("body", sa.Text(), nullable=False),
        _key("followup", "id"),
        _unique("followup", "seq"),
        _refers("followup", "report_id", "report", "id", cascade=True),
        _refers("followup", "member_id", "member", "id"),
        _check("followup", "seq_positive", "seq > 0"),
        _length("followup", "body", 1_048_576, 2),
        _length("followup", "sameness", 128),
    )
    _index("followup", "report_id")
    _index("followup", "member_id")


def _filters() -> None:
    for table, code in (("report_symptom", "symptom"), ("report_component", "component")):
        op.create_table(
            table,
            _text(code, 60),
            sa.Column("report_seq", sa.BigInteger(), nullable=False),
            _key(table, code, "report_seq"),
            _refers(table, "report_seq", "report", "seq", cascade=True),
            _length(table, code, 60),
            sqlite_with_rowid=False,
        )
        _index(table, "report_seq")
