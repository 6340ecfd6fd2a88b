"""The tables, as SQLModel classes; the operations use the plain tables below them.

Everything remembered carries its own sequence number (`seq`), the number of the line in
`change` that announced it, so a page of the feed is a range of numbers in every table.
Lengths and closed lists are checked by the database as well, because SQLite takes any
text into any column and a table class of SQLModel validates nothing.
"""

# long because every table stands here, so that what depends on what is seen at once.

import uuid
from datetime import datetime
from typing import Any

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    text,
)
from sqlmodel import Field, SQLModel

from mendpool.core.privacy.photo import BYTES_KEPT
from mendpool.core.record.correction import WORD_MAX

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}

BODY_MAX = 1_048_576  # a request is at most 256 KiB; the rest is room for what enriching adds
CODE_MAX = 60

# Only INTEGER PRIMARY KEY is SQLite's own row number; BIGINT would cost a second tree.
_SEQ: Any = BigInteger().with_variant(Integer(), "sqlite")


def _lengths(column: str, most: int, least: int = 1) -> CheckConstraint:
    return CheckConstraint(
        f"length({column}) BETWEEN {least} AND {most}", name=f"{column}_length"
    )


class StoreTable(SQLModel):
    """The base of every table; its names of constraints are fixed from the first day."""

    metadata = MetaData(naming_convention=NAMING)


class PoolRow(StoreTable, table=True):
    """What the pool knows of itself: its id, its key, the version of its format."""

    __tablename__ = "pool"
    __table_args__ = (_lengths("key", 40), _lengths("value", 2000, 0))

    key: str = Field(primary_key=True, max_length=40)
    value: str = Field(max_length=2000)


class MemberRow(StoreTable, table=True):
    """One who may read and write; `group_no` is what the feed shows in place of a name."""

    __tablename__ = "member"
    __table_args__ = (
        CheckConstraint("role IN ('member', 'steward')", name="role_known"),
        _lengths("name", 60),
        _lengths("pseudonym", 60),
        _lengths("token_prefix", 32),
        _lengths("token_sha256", 64, 64),
    )

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True, max_length=60)
    role: str = Field(max_length=8)
    pseudonym: str = Field(unique=True, max_length=60)
    group_no: int = Field(sa_type=BigInteger, unique=True)
    token_prefix: str = Field(unique=True, max_length=32)
    token_sha256: str = Field(max_length=64)
    created_at: datetime
    expires_at: datetime | None = None
    revoked_at: datetime | None = None
    vouched: bool
    last_used_at: datetime | None = None


class ReportRow(StoreTable, table=True):
    """A report, or the empty place of one that was taken back."""

    __tablename__ = "report"
    __table_args__ = (
        CheckConstraint(
            "CASE WHEN withdrawn_at IS NULL THEN body IS NOT NULL AND case_body IS NOT NULL"
            " AND derived_version IS NOT NULL AND sameness IS NOT NULL"
            " AND fuel IS NOT NULL AND outcome IS NOT NULL"
            " ELSE body IS NULL AND case_body IS NULL"
            " AND derived_version IS NULL AND sameness IS NULL AND fuel IS NULL"
            " AND excitation IS NULL AND outcome IS NULL AND happened IS NULL END",
            name="whole_or_erased",
        ),
        CheckConstraint("seq > 0", name="seq_positive"),
        _lengths("body", BODY_MAX, 2),
        _lengths("case_body", BODY_MAX, 2),
        _lengths("sameness", 128),
        _lengths("derived_version", CODE_MAX),
        _lengths("fuel", CODE_MAX),
        _lengths("excitation", CODE_MAX),
        _lengths("outcome", CODE_MAX),
        _lengths("happened", 7, 7),
        Index(None, "member_id", "received_at"),
        Index("ix_report_member_id_seq", "member_id", "seq"),
        Index(None, "fuel", "seq"),
        Index(None, "excitation", "seq"),
        Index(None, "outcome", "seq"),
        Index(None, "derived_version"),
        Index(
            "ix_report_withdrawn",
            "seq",
            sqlite_where=text("withdrawn_at IS NOT NULL"),
            postgresql_where=text("withdrawn_at IS NOT NULL"),
        ),
    )

    id: uuid.UUID = Field(primary_key=True)
    seq: int = Field(sa_type=BigInteger, unique=True)
    member_id: int = Field(foreign_key="member.id")
    received_at: datetime
    sameness: str | None = Field(default=None, max_length=128)
    body: str | None = Field(default=None, sa_type=Text)
    case_body: str | None = Field(default=None, sa_type=Text)
    derived_version: str | None = Field(default=None, max_length=CODE_MAX)
    fuel: str | None = Field(default=None, max_length=CODE_MAX)
    excitation: str | None = Field(default=None, max_length=CODE_MAX)
    outcome: str | None = Field(default=None, max_length=CODE_MAX)
    happened: str | None = Field(default=None, max_length=7)
    withdrawn_at: datetime | None = None
    withdrawn_by: int | None = Field(default=None, foreign_key="member.id")


class ReportSymptomRow(StoreTable, table=True):
    """For the list by symptom; newest first is the order of the key, read backwards."""

    __tablename__ = "report_symptom"
    __table_args__ = (_lengths("symptom", CODE_MAX), {"sqlite_with_rowid": False})

    symptom: str = Field(primary_key=True, max_length=CODE_MAX)
    report_seq: int = Field(
        primary_key=True,
        sa_type=BigInteger,
        foreign_key="report.seq",
        ondelete="CASCADE",
        index=True,
    )


class ReportComponentRow(StoreTable, table=True):
    """For the list by component."""

    __tablename__ = "report_component"
    __table_args__ = (_lengths("component", CODE_MAX), {"sqlite_with_rowid": False})

    component: str = Field(primary_key=True, max_length=CODE_MAX)
    report_seq: int = Field(
        primary_key=True,
        sa_type=BigInteger,
        foreign_key="report.seq",
        ondelete="CASCADE",
        index=True,
    )


class FollowupRow(StoreTable, table=True):
    """What was seen later; goes when its report is taken back."""

    __tablename__ = "followup"
    __table_args__ = (
        CheckConstraint("seq > 0", name="seq_positive"),
        _lengths("body", BODY_MAX, 2),
        _lengths("sameness", 128),
    )

    id: uuid.UUID = Field(primary_key=True)
    seq: int = Field(sa_type=BigInteger, unique=True)
    report_id: uuid.UUID = Field(foreign_key="report.id", ondelete="CASCADE", index=True)
    member_id: int = Field(foreign_key="member.id", index=True)
    received_at: datetime
    sameness: str = Field(max_length=128)
    body: str = Field(sa_type=Text)


class ChangeRow(StoreTable, table=True):
    """The feed: one line a change, numbered 1, 2, 3 … without a gap, never altered."""

    __tablename__ = "change"
    __table_args__ = (
        CheckConstraint(
            "kind IN ('report', 'followup', 'withdrawal', 'fit')", name="kind_known"
        ),
        CheckConstraint("seq > 0", name="seq_positive"),
        _lengths("ref", 36),
        Index(
            "ix_change_withdrawal",
            "seq",
            sqlite_where=text("kind = 'withdrawal'"),
            postgresql_where=text("kind = 'withdrawal'"),
        ),
    )

    seq: int | None = Field(
        default=None,
        primary_key=True,
        sa_type=_SEQ,
        sa_column_kwargs={"autoincrement": False},
    )
    kind: str = Field(max_length=10)
    ref: str = Field(max_length=36)
    at: datetime


class FitRow(StoreTable, table=True):
    """Everything learned from the feed up to a cut; opaque here."""

    __tablename__ = "fit"
    __table_args__ = (
        CheckConstraint("cut_seq >= 0 AND cut_seq < seq", name="cut_before_fit"),
        _lengths("catalogue_version", 80),
        Index(None, "catalogue_version", "cut_seq", unique=True),
    )

    seq: int | None = Field(
        default=None,
        primary_key=True,
        sa_type=_SEQ,
        sa_column_kwargs={"autoincrement": False},
    )
    cut_seq: int = Field(sa_type=BigInteger)
    catalogue_version: str = Field(max_length=80)
    made_at: datetime
    body: bytes = Field(sa_type=LargeBinary)


class ParcelRow(StoreTable, table=True):
    """A line that came from another pool, word for word, so that it can go on as it came.

    `id` is that of the report or the follow-up; a report taken back keeps its line of that.
    """

    __tablename__ = "parcel"
    __table_args__ = (
        CheckConstraint("kind IN ('report', 'followup', 'withdrawal')", name="kind_known"),
        _lengths("line", BODY_MAX, 2),
        _lengths("origin", 36, 36),
        _lengths("sha256", 64, 64),
        Index(None, "report_id"),
    )

    id: uuid.UUID = Field(primary_key=True)
    kind: str = Field(max_length=10)
    origin: str = Field(max_length=36)
    report_id: uuid.UUID
    sha256: str = Field(max_length=64)
    line: str = Field(sa_type=Text)


class PhotoRow(StoreTable, table=True):
    """A photograph of a report; goes when its report is taken back. In no feed."""

    __tablename__ = "photo"
    __table_args__ = (
        CheckConstraint("width > 0 AND height > 0", name="sides_positive"),
        CheckConstraint(
            f"size = length(body) AND size BETWEEN 1 AND {BYTES_KEPT}", name="size_right"
        ),
        _lengths("sameness", 128),
        _lengths("sha256", 64, 64),
        Index(None, "report_id", "sha256", unique=True),
        Index(None, "member_id", "received_at"),
    )

    id: uuid.UUID = Field(primary_key=True)
    report_id: uuid.UUID = Field(foreign_key="report.id", ondelete="CASCADE")
    member_id: int = Field(foreign_key="member.id")
    received_at: datetime
    sameness: str = Field(max_length=128)
    sha256: str = Field(max_length=64)
    width: int
    height: int
    size: int
    body: bytes = Field(sa_type=LargeBinary)


class UsageRow(StoreTable, table=True):
    """How often a member asked in a stretch of ten seconds; the last minute only."""

    __tablename__ = "usage"
    __table_args__ = (
        CheckConstraint("requests > 0", name="requests_positive"),
        {"sqlite_with_rowid": False},
    )

    member_id: int = Field(primary_key=True, foreign_key="member.id")
    slot: int = Field(primary_key=True, sa_type=BigInteger)
    requests: int


class InvitationRow(StoreTable, table=True):
    """A code that makes one member, once; kept only as a hash, as tokens are.

    With `member_id` it makes nobody but signs that member in, on another phone say. `made_by`
    is the steward who made it from the page; none where the operator did.
    """

    __tablename__ = "invitation"
    __table_args__ = (
        _lengths("name", 60),
        _lengths("code_prefix", 32),
        _lengths("code_sha256", 64, 64),
        CheckConstraint("token_days IS NULL OR token_days > 0", name="token_days_positive"),
    )

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=60)
    code_prefix: str = Field(unique=True, max_length=32)
    code_sha256: str = Field(max_length=64)
    vouched: bool
    token_days: int | None = None
    made_at: datetime
    expires_at: datetime
    used_at: datetime | None = None
    used_by: int | None = Field(default=None, foreign_key="member.id")
    member_id: int | None = Field(default=None, foreign_key="member.id", index=True)
    made_by: int | None = Field(default=None, foreign_key="member.id")


class SessionRow(StoreTable, table=True):
    """A browser that is signed in as a member; of its secret only a hash."""

    __tablename__ = "session"
    __table_args__ = (
        _lengths("prefix", 32),
        _lengths("sha256", 64, 64),
        CheckConstraint("expires_at > made_at", name="ends_later"),
        Index(None, "member_id", "made_at"),
        {"sqlite_with_rowid": False},
    )

    prefix: str = Field(primary_key=True, max_length=32)
    sha256: str = Field(max_length=64)
    member_id: int = Field(foreign_key="member.id")
    made_at: datetime
    expires_at: datetime
    last_used_at: datetime | None = None


class JudgementRow(StoreTable, table=True):
    """What a steward did with a report, and why; nothing of what the report said."""

    __tablename__ = "judgement"
    __table_args__ = (
        CheckConstraint("came IN ('withdrawn', 'kept')", name="came_known"),
        _lengths("reason", 500),
    )

    id: int | None = Field(default=None, primary_key=True)
    at: datetime
    member_id: int = Field(foreign_key="member.id")
    report_id: uuid.UUID = Field(index=True)  # stays when the row of the report goes
    came: str = Field(max_length=9)
    reason: str | None = Field(default=None, max_length=500)


class CorrectionRow(StoreTable, table=True):
    """A word that a member put back after the scrubber took it for somebody's."""

    __tablename__ = "correction"
    __table_args__ = (
        CheckConstraint(
            "kind IN ('address', 'day', 'email', 'handle', 'link', 'name', 'number', 'phone',"
            " 'position')",
            name="kind_known",
        ),
        _lengths("word", WORD_MAX, 2),
        {"sqlite_with_rowid": False},
    )

    member_id: int = Field(primary_key=True, foreign_key="member.id")
    word: str = Field(primary_key=True, max_length=WORD_MAX)
    kind: str = Field(primary_key=True, max_length=8)


def _table(row: type[StoreTable]) -> Table:
    return StoreTable.metadata.tables[str(row.__tablename__)]


POOL = _table(PoolRow)
MEMBER = _table(MemberRow)
REPORT = _table(ReportRow)
REPORT_SYMPTOM = _table(ReportSymptomRow)
REPORT_COMPONENT = _table(ReportComponentRow)
FOLLOWUP = _table(FollowupRow)
CHANGE = _table(ChangeRow)
FIT = _table(FitRow)
PARCEL = _table(ParcelRow)
PHOTO = _table(PhotoRow)
USAGE = _table(UsageRow)
INVITATION = _table(InvitationRow)
SESSION = _table(SessionRow)
JUDGEMENT = _table(JudgementRow)
CORRECTION = _table(CorrectionRow)
