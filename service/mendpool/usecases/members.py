"""Make and revoke members. A token is shown once and kept only as a hash."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime

from mendpool.store.pool_store import PoolStore
from mendpool.store.values import Member, Role

PREFIX_LENGTH = 12


@dataclass(frozen=True, slots=True)
class NewMember:
    """A member just made, with the token that is shown this once."""

    member: Member
    token: str


def add_member(store: PoolStore, name: str, role: Role, now: datetime) -> NewMember:
    """Make a vouched member with a token of 256 random bits.

    Raises:
        Conflict: the name is taken.
    """
    prefix = "mp" + secrets.token_hex((PREFIX_LENGTH - 2) // 2)
    token = f"{prefix}_{secrets.token_urlsafe(32)}"
    pseudonym = "m-" + secrets.token_hex(6)
    member = store.add_member(name, role, digest(token), prefix, pseudonym, now)
    return NewMember(member, token)


def digest(token: str) -> str:
    """Return the SHA-256 of a token, as kept."""
    return hashlib.sha256(token.encode()).hexdigest()
