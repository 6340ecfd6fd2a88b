"""Make, invite and re-key members. A token is shown once and kept only as a hash."""

import base64
import hashlib
import hmac
import re
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from mendpool.core.errors import Complaint, Conflict, NotFound, RefusedInput
from mendpool.store.invitations import Invitation, Token
from mendpool.store.pool_store import PoolStore
from mendpool.store.reports import FORGOTTEN
from mendpool.store.values import FOREIGN_NAME, Member, Role

PREFIX_LENGTH = 12
TOKEN_DAYS = 365
"""How long a token is good unless said otherwise (common practice)."""
CODE_DAYS = 14
"""How long an invitation is good unless said otherwise (common practice)."""
_TOKEN, _CODE = "mp", "in"
NO_HASH = "0" * 64
"""What is compared with where nothing is kept, so that the time tells nothing."""
CODE_FORM = re.compile(r"in[0-9a-f]{10}_[A-Za-z0-9_-]{43}")


@dataclass(frozen=True, slots=True)
class NewMember:
    """A member just made, with the token that is shown this once."""

    member: Member
    token: str


@dataclass(frozen=True, slots=True)
class NewInvitation:
    """An invitation just made, with the code that is shown this once."""

    invitation: Invitation
    code: str


def add_member(
    store: PoolStore, name: str, role: Role, now: datetime, days: int | None = None
) -> NewMember:
    """Make a vouched member with a token of 256 random bits.

    Args:
        days: how long the token is good; None is for good.

    Raises:
        RefusedInput: the name is as those of authors who came with a parcel, or of members
            who were forgotten; one could be taken for the other.
        Conflict: the name is taken.
    """
    _check_name(name)
    token, kept = new_token()
    member = store.add_member(
        name, role, kept.sha256, kept.prefix, kept.pseudonym, now, _ends(now, days)
    )
    return NewMember(member, token)


def rotate_member(
    store: PoolStore, name: str, now: datetime, days: int | None, *, readmit: bool = False
) -> NewMember:
    """Give a member another token; the one before stops at once.

    Raises:
        NotFound, Conflict: see the store.
    """
    token, kept = new_token()
    ends = _ends(now, days)
    return NewMember(store.rotate_member(name, kept.sha256, kept.prefix, ends, readmit), token)


def invite(  # noqa: PLR0913 - each says something of the code
    store: PoolStore,
    name: str,
    now: datetime,
    *,
    vouched: bool = False,
    days: int = CODE_DAYS,
    token_days: int | None = TOKEN_DAYS,
    made_by: int | None = None,
) -> NewInvitation:
    """Make a code by which one new member joins, once.

    Args:
        name: what the member will be called here.
        vouched: count the member's reports fully from the first; not for a code that may be
            passed on.
        days: how long the code is good.
        token_days: how long the member's token will be; None is for good.
        made_by: the steward who makes it; None is the operator.

    Raises:
        RefusedInput: see `add_member`.
        Conflict: the name is taken.
    """
    _check_name(name)
    prefix, code = secret(_CODE)
    ends = now + timedelta(days=days)
    made = Invitation(name, ends, vouched, token_days, None, made=now, made_by=made_by)
    store.add_invitation(made, digest(code), prefix, now)
    return NewInvitation(made, code)


def member_code(
    store: PoolStore,
    name: str,
    now: datetime,
    *,
    days: int = CODE_DAYS,
    token_days: int | None = TOKEN_DAYS,
    made_by: int | None = None,
) -> NewInvitation:
    """Make a code that signs a member in on another phone, once; their token stays as it is.

    Args:
        name: whose.
        days: how long the code is good.
        token_days: how long a new term is where the member's token has run out by then.
        made_by: see `invite`.

    Raises:
        NotFound: there is no member of that name.
        Conflict: the token was revoked, or the member came with a parcel.
    """
    if name.strip().casefold().startswith(FOREIGN_NAME):
        raise Conflict(f"{name} came with a parcel and can't sign in")
    prefix, code = secret(_CODE)
    ends = now + timedelta(days=days)
    made = Invitation(
        name=name,
        expires=ends,
        vouched=True,
        token_days=token_days,
        used=None,
        of_member=True,
        made=now,
        made_by=made_by,
    )
    store.add_member_code(made, digest(code), prefix, now)
    return NewInvitation(made, code)


def join(store: PoolStore, code: str, now: datetime) -> NewMember:
    """Use up an invitation.

    The same is done for a code nobody made, so that neither words nor time tell.

    Raises:
        NotFound: the code is unknown, used up or has expired.
        Conflict: its name was given to someone else meanwhile.
    """
    prefix = code[:PREFIX_LENGTH] if CODE_FORM.fullmatch(code) else ""
    held = store.invitation_hash(prefix)
    if not hmac.compare_digest(digest(code), held or NO_HASH):
        raise NotFound
    token, kept = new_token()
    return NewMember(store.use_invitation(prefix, kept, now), token)


def digest(token: str) -> str:
    """Return the SHA-256 of a token, as kept."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def _ends(now: datetime, days: int | None) -> datetime | None:
    return None if days is None else now + timedelta(days=days)


def new_token() -> tuple[str, Token]:
    """Return a member's token, and what is kept of it."""
    prefix, token = secret(_TOKEN)
    return token, Token(digest(token), prefix, "m-" + secrets.token_hex(6))


def secret(kind: str) -> tuple[str, str]:
    """Return 256 random bits with a readable beginning, which comes alone as well."""
    return secret_of(kind, secrets.token_bytes(PREFIX_LENGTH), secrets.token_bytes(32))


def secret_of(kind: str, name: bytes, rest: bytes) -> tuple[str, str]:
    """Return a secret made of given bytes, as `secret` has it.

    Args:
        kind: how its beginning begins.
        name: enough of them for the beginning, of which no more is used.
        rest: the secret itself, 32 of them.
    """
    prefix = kind + name.hex()[: PREFIX_LENGTH - len(kind)]
    return prefix, f"{prefix}_{base64.urlsafe_b64encode(rest).decode().rstrip('=')}"


def _check_name(name: str) -> None:
    plain = name.strip().casefold()
    if plain.startswith(FOREIGN_NAME):
        says = f"a name can't begin with {FOREIGN_NAME}; authors of other pools are kept so"
        raise RefusedInput([Complaint("/name", says)])
    if re.fullmatch(rf"{FORGOTTEN} \d+", plain):
        says = "members who were forgotten are kept under such a name; choose another"
        raise RefusedInput([Complaint("/name", says)])
