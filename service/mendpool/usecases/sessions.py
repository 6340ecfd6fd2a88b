"""Sign a browser in as a member, tell whose session it is, and sign it out."""

import hashlib
import hmac
import re
from dataclasses import dataclass
from datetime import datetime, timedelta

from mendpool.core.errors import NotFound
from mendpool.store.pool_store import PoolStore
from mendpool.store.sessions import HeldSession, Kept, Session
from mendpool.usecases.members import (
    CODE_FORM,
    NO_HASH,
    PREFIX_LENGTH,
    digest,
    new_token,
    secret,
)

SESSION_DAYS = 400
"""The longest a session lasts: no browser keeps a cookie for longer (RFC 6265bis, 5.5)."""
_KIND = "se"
_SESSION_FORM = re.compile(r"se[0-9a-f]{10}_[A-Za-z0-9_-]{43}")
_TOKEN_FORM = re.compile(r"mp[0-9a-f]{10}_[A-Za-z0-9_-]{43}")


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A browser just signed in, with the secret that it is given this once."""

    held: HeldSession
    secret: str


def sign_in(store: PoolStore, shown: str, now: datetime, earlier: str = "") -> SignedIn:
    """Begin a session for whoever shows a code or a member's token.

    The same is done for one that nobody made, so that neither words nor time tell.

    Args:
        shown: an invitation's code, which makes a member whose token nobody sees; a code
            that a steward made for a member; or a member's token.
        earlier: the secret the browser had before, if any; that session ends.

    Raises:
        NotFound: it is unknown, was used or revoked, or has expired.
        Conflict: the invitation's name was given to someone else meanwhile.
    """
    is_token = _TOKEN_FORM.fullmatch(shown) is not None
    is_code = CODE_FORM.fullmatch(shown) is not None
    prefix = shown[:PREFIX_LENGTH] if is_token or is_code else ""
    if is_token:
        member = store.member_by_prefix(prefix)
        held = None if member is None else member.token_sha256
    else:
        held = store.invitation_hash(prefix)
    if not hmac.compare_digest(digest(shown), held or NO_HASH):
        raise NotFound
    name, made = secret(_KIND)
    new = Session(name, digest(made), now, now + timedelta(days=SESSION_DAYS))
    before = _kept(earlier)
    if is_token:
        signed = store.add_session(Kept(prefix, digest(shown)), new, before)
    else:
        signed = store.use_code(prefix, new_token()[1], new, before)
    return SignedIn(HeldSession(new, signed), made)


def session_of(store: PoolStore, shown: str, now: datetime) -> HeldSession:
    """Return the session whose secret a browser shows, and whose it is.

    Raises:
        NotFound: there is none, or it has ended, by itself or with the member's token.
    """
    prefix = shown[:PREFIX_LENGTH] if _SESSION_FORM.fullmatch(shown) else ""
    found = store.session_by_prefix(prefix)
    right = hmac.compare_digest(digest(shown), found.session.sha256 if found else NO_HASH)
    if found is None or not right or found.member.revoked is not None or ends(found) <= now:
        raise NotFound
    return found


def ends(held: HeldSession) -> datetime:
    """Return when a session ends if nobody ends it before."""
    term = held.member.expires
    return held.session.expires if term is None else min(term, held.session.expires)


def page_token(key: bytes, session: Session) -> str:
    """Return what the page must say with every request of a session besides its cookie.

    A page of another origin may make a browser send the cookie, and cannot read this.

    Args:
        key: the pool's secret.
        session: whose.
    """
    told = b"page\0" + session.sha256.encode()
    return hmac.new(key, told, hashlib.sha256).hexdigest()


def _kept(shown: str) -> Kept | None:
    if not _SESSION_FORM.fullmatch(shown):
        return None
    return Kept(shown[:PREFIX_LENGTH], digest(shown))
