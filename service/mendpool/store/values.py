"""What goes into the store room and what comes out of it: plain, frozen values."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Generic, Literal, TypeVar
from uuid import UUID

from mendpool.core.errors import MendpoolError

Role = Literal["member", "steward"]
FOREIGN_PSEUDONYM = "x-"
"""How the pseudonym of an author of another pool begins; members' own begin otherwise."""
FOREIGN_NAME = "parcel:"
"""How the name of an author begins who came with a parcel; no member's own may."""
ForeignKind = Literal["report", "followup", "withdrawal"]
ChangeKind = Literal["report", "followup", "withdrawal", "fit"]


@dataclass(frozen=True, slots=True)
class Facets:
    """What a report can be listed by, as codes of the catalogue.

    Args:
        fuel: what the set burns.
        excitation: how its alternator is excited, if known.
        outcome: how the repair ended.
        happened: the month, ``YYYY-MM``, if given.
        symptoms: the symptoms said or found; repeats count once.
        components: the components tried or found at fault; repeats count once.
    """

    fuel: str
    excitation: str | None
    outcome: str
    happened: str | None = None
    symptoms: tuple[str, ...] = ()
    components: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NewReport:
    """A report on its way in.

    Args:
        report_id: the id its client made.
        member_id: who sends it.
        sameness: equal for equal bodies as received, at most 128 characters.
        body: JSON as shown to people.
        case_body: JSON of the derived form that the index reads; opaque here.
        derived_version: the version of the code that derived it, at most 60 characters.
        facets: what it can be listed by.
    """

    report_id: UUID
    member_id: int
    sameness: str
    body: str
    case_body: str
    derived_version: str
    facets: Facets


@dataclass(frozen=True, slots=True)
class ForeignLine:
    """A line of a parcel, as it came.

    Args:
        id: of the report or follow-up it is of.
        kind: what it is.
        origin: the pool it comes from, as that pool calls itself.
        report_id: the report it is of or belongs to.
        sha256: of the line.
        line: its text, word for word.
    """

    id: UUID
    kind: ForeignKind
    origin: str
    report_id: UUID
    sha256: str
    line: str


@dataclass(frozen=True, slots=True)
class Arrival:
    """A line of a parcel, made ready to be kept.

    Args:
        line: as it came.
        report: what a line of a report is kept as.
        member_id, body: whose a follow-up is, and its JSON.
    """

    line: ForeignLine
    report: NewReport | None = None
    member_id: int = 0
    body: str = ""


@dataclass(frozen=True, slots=True)
class NewFollowup:
    """A follow-up on its way in; its parts as of a `NewReport`."""

    followup_id: UUID
    report_id: UUID
    member_id: int
    sameness: str
    body: str


@dataclass(frozen=True, slots=True)
class HeldFollowup:
    """What tells whether a follow-up is the one that is held."""

    report_id: UUID
    member_id: int
    sameness: str | None


@dataclass(frozen=True, slots=True)
class Bulked:
    """What came of many.

    Args:
        reports: for each in order, whether it is new, or why it is refused.
        followed: how many follow-ups are new.
    """

    reports: Sequence[bool | MendpoolError]
    followed: int


@dataclass(frozen=True, slots=True)
class StoredFollowup:
    """A follow-up as kept. `received` is aware, UTC."""

    id: UUID
    seq: int
    report_id: UUID
    member_id: int
    pseudonym: str
    received: datetime
    body: str


@dataclass(frozen=True, slots=True)
class StoredReport:
    """A report as kept, its follow-ups in the order they came. `received` is aware, UTC."""

    id: UUID
    seq: int
    member_id: int
    pseudonym: str
    received: datetime
    body: str
    followups: tuple[StoredFollowup, ...] = ()


Stored = TypeVar("Stored", StoredReport, StoredFollowup)


@dataclass(frozen=True, slots=True)
class PutResult(Generic[Stored]):
    """What a put found: `created` is False when the very same was there already."""

    created: bool
    record: Stored


@dataclass(frozen=True, slots=True)
class ReportFilters:
    """What a list is narrowed to; all that are given must hold. `member_id`: whose they are."""

    symptom: str | None = None
    component: str | None = None
    fuel: str | None = None
    excitation: str | None = None
    outcome: str | None = None
    member_id: int | None = None


@dataclass(frozen=True, slots=True)
class StaleCase:
    """A report whose derived form was made by an older version."""

    report_id: UUID
    seq: int
    body: str


@dataclass(frozen=True, slots=True)
class Member:
    """One who may read and write.

    Args:
        id: the pool's own number.
        name: what the operator calls them; never leaves the pool.
        role: ``member`` or ``steward``.
        pseudonym: what their reports are signed with, for themselves and stewards.
        group: a pool-wide opaque number that says only which reports share an author.
        token_prefix: the readable beginning of the token, by which it is looked up.
        token_sha256: the hash of the token, 64 hexadecimal digits.
        created: when.
        expires: when the token stops, if ever.
        revoked: when it was revoked, if it was.
        vouched: set when the member is made and never changed, so that a copy that learned
            it from the feed cannot disagree; see `Cases.vouched_since` for those who are
            vouched for by what they filed.
        last_used: the day on which the token was last seen.
    """

    id: int
    name: str
    role: Role
    pseudonym: str
    group: int
    token_prefix: str
    token_sha256: str
    created: datetime
    expires: datetime | None
    revoked: datetime | None
    vouched: bool
    last_used: datetime | None


@dataclass(frozen=True, slots=True)
class Fit:
    """Everything learned from the feed up to and including `cut_seq`; `body` is opaque."""

    seq: int
    cut_seq: int
    catalogue_version: str
    made: datetime
    body: bytes


@dataclass(frozen=True, slots=True)
class Change:
    """One line of the feed.

    Args:
        seq: its number; 1, 2, 3 … without a gap.
        kind: what happened.
        ref: the id of the report or follow-up, or the number of the fit.
        at: when.
        report_id: the report concerned; None for a fit and for an erased follow-up.
        group: the contributor's opaque number; None for a fit and for what is erased.
        vouched: whether the contributor is; None where `group` is.
        body: JSON of the report or follow-up; None when it was withdrawn since.
        fit: the fit; None for other kinds and for a fit that a newer one replaced.
        case_body: the derived form of a report; None where `body` is, and for other kinds.
        derived_version: the version of the code that derived it.
        elsewhere: whether the contributor is an author of another pool.
    """

    seq: int
    kind: ChangeKind
    ref: str
    at: datetime
    report_id: UUID | None = None
    group: int | None = None
    vouched: bool | None = None
    body: str | None = None
    fit: Fit | None = None
    case_body: str | None = None
    derived_version: str | None = None
    elsewhere: bool = False


@dataclass(frozen=True, slots=True)
class CopiedLine:
    """A line of another pool's feed on its way into a copy.

    Args:
        change: the line as its pool told it; its number stays what it was.
        facets: of a report, what it can be listed by; None for other kinds.
    """

    change: Change
    facets: Facets | None = None


@dataclass(frozen=True, slots=True)
class CaseRow:
    """One line of the feed as the index reads it.

    Args:
        seq: its number.
        kind: what happened; every kind is there, so that the last number read is the
            place to go on from.
        report_id: the report concerned; None for a fit and for an erased follow-up.
        member_id: the contributor, a number of this database alone; None where `group` is.
        group: the contributor's opaque number, the same in every copy, so what reaches an
            answer goes by this one; None for a fit, a withdrawal and what is erased.
        vouched: whether the contributor is; None where `group` is.
        case_body: for a report its derived form, for a follow-up its body; None for a
            withdrawal, a fit and what was withdrawn since.
    """

    seq: int
    kind: ChangeKind
    report_id: UUID | None
    member_id: int | None
    group: int | None
    vouched: bool | None
    case_body: str | None


@dataclass(frozen=True, slots=True)
class HeldCase:
    """A case that was not taken back, with what was seen later.

    Args:
        seq: the number of its report.
        report_id: the report.
        group: the contributor's opaque number.
        vouched: whether the contributor is.
        case_body: the derived form.
        followups: bodies of the follow-ups, in no order that means anything.
    """

    seq: int
    report_id: UUID
    group: int
    vouched: bool
    case_body: str
    followups: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PoolSettings:
    """What the pool knows of itself.

    Args:
        pool_id: its id.
        key: the secret that sameness, pseudonyms and groups are made with.
        format_version: the version of what is stored.
        made: when the pool was begun.
    """

    pool_id: UUID
    key: bytes
    format_version: int
    made: datetime
