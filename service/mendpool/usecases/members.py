"""Make and revoke members. A token is shown once and kept only as a hash."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime

from mendpool.core.errors import Complaint, RefusedInput
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import FOREIGN_NAME, Member, Role

PREFIX_LENGTH = 12


@dataclass(frozen=True, slots=True)
class NewMember:
    """A member just made, with the token that is shown this once."""

    member: Member
    token: str


def add_member(store: PoolStore, name: str, role: Role, now: datetime) -> NewMember:
    """Make a vouched member with a token of 256 random bits.

    Raises:
        RefusedInput: the name begins as those of authors do who came with a parcel; such a
            member could be taken for one, and one for such a member.
        Conflict: the name is taken.
    """
    if name.strip().casefold().startswith(FOREIGN_NAME):
        says = f"a name can't begin with {FOREIGN_NAME}; authors of other pools are kept so"
        raise RefusedInput([Complaint("/name", says)])
    prefix = "mp" + secrets.token_hex((PREFIX_LENGTH - 2) // 2)
    token = f"{prefix}_{secrets.token_urlsafe(32)}"
    pseudonym = "m-" + secrets.token_hex(6)
    member = store.add_member(name, role, digest(token), prefix, pseudonym, now)
    return NewMember(member, token)


def digest(token: str) -> str:
    """Return the SHA-256 of a token, as kept."""
    return hashlib.sha256(token.encode()).hexdigest()
