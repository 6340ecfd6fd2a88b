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
    secret_of,
)

SESSION_DAYS = 400
"""The longest a session lasts: no browser keeps a cookie for longer (RFC 6265bis, 5.5)."""
AGAIN_FOR = timedelta(minutes=10)
"""How long a browser that never heard the answer may ask for the session of its code again."""
_KIND = "se"
_SESSION_FORM = re.compile(r"se[0-9a-f]{10}_[A-Za-z0-9_-]{43}")
_TOKEN_FORM = re.compile(r"mp[0-9a-f]{10}_[A-Za-z0-9_-]{43}")


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A browser just signed in, with the secret that it is given this once."""

    held: HeldSession
    secret: str


@dataclass(frozen=True, slots=True)
class Attempt:
    """One browser's signing in, said again word for word where the answer was lost.

    The session's secret is made of the code and of what the browser drew, so that whoever says
    both again is given the same; nothing of it is stored.

    Args:
        key: the pool's secret.
        drawn: by the browser, for this alone; only who knows it, and the code, is that browser.
    """

    key: bytes
    drawn: str

    def secret(self, code: str) -> tuple[str, str]:
        """Return the session's secret and its readable beginning, as `members.secret` does."""
        told = f"\0{code}\0{self.drawn}".encode()
        name, rest = (
            hmac.digest(self.key, part + told, "sha256") for part in (b"name", b"rest")
        )
        return secret_of(_KIND, name, rest)


def sign_in(
    store: PoolStore,
    shown: str,
    now: datetime,
    earlier: str = "",
    attempt: Attempt | None = None,
) -> SignedIn:
    """Begin a session for whoever shows a code or a member's token.

    The same is done for one that nobody made, so that neither words nor time tell.

    Args:
        shown: an invitation's code, which makes a member whose token nobody sees; a code
            that a steward made for a member; or a member's token.
        earlier: the secret the browser had before, if any; that session ends.
        attempt: makes a code used up by the very same attempt, minutes ago, give its session
            again. A token is good every time and needs none.

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
    name, made = secret(_KIND) if attempt is None or is_token else attempt.secret(shown)
    new = Session(name, digest(made), now, now + timedelta(days=SESSION_DAYS))
    before = _kept(earlier)
    if is_token:
        signed = store.add_session(Kept(prefix, digest(shown)), new, before)
    else:
        try:
            signed = store.use_code(prefix, new_token()[1], new, before)
        except NotFound:
            if attempt is None:
                raise
            return _begun_before(store, made, now)
    return SignedIn(HeldSession(new, signed), made)


def _begun_before(store: PoolStore, made: str, now: datetime) -> SignedIn:
    held = session_of(store, made, now)
    if now - held.session.made >= AGAIN_FOR:
        raise NotFound
    return SignedIn(held, made)


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
