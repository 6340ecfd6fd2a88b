"""Who is asking: a bearer token, or the cookie of a browser that shows it is our own page.

Under `/v1` a cookie alone is nothing: browsers send it whoever made them ask. So it counts only
where the browser itself says that the page that asks came from here (Fetch Metadata), and where
that page says the token it was told, which a page from elsewhere cannot read.
"""

import hmac
from datetime import datetime

from fastapi import Request

from mendpool.api.problems import Refusal
from mendpool.core.errors import NotFound
from mendpool.store.pool_store import PoolStore
from mendpool.store.sessions import HeldSession
from mendpool.store.values import Member
from mendpool.usecases.members import PREFIX_LENGTH, digest
from mendpool.usecases.sessions import page_token, session_of

COOKIE = "__Host-mendpool"
"""Browsers take such a name only over TLS, for this host alone and for all of its addresses."""
TOKEN_HEADER = "Mendpool-Token"  # noqa: S105 - the name of a header
_LONGEST = 200
_CHALLENGE = {"WWW-Authenticate": 'Bearer realm="mendpool"'}


def member_of(store: PoolStore, authorization: str, now: datetime) -> Member:
    """Return whose token an Authorization header carries.

    Raises:
        Refusal: one that is unknown, expired or revoked.
    """
    scheme, _, token = authorization.partition(" ")
    token = token.strip()
    if scheme.lower() != "bearer" or not token or len(token) > _LONGEST or not token.isascii():
        raise _bad("This is no member's token.")
    held = store.member_by_prefix(token.partition("_")[0][:PREFIX_LENGTH])
    # The same work is done for an unknown beginning, so that the time tells nothing.
    right = hmac.compare_digest(digest(token), held.token_sha256 if held else "0" * 64)
    if held is None or not right:
        raise _bad("This is no member's token.")
    if held.revoked is not None:
        raise _bad("This token was revoked; ask a steward for another.")
    if held.expires is not None and held.expires <= now:
        raise _bad("This token has expired; ask a steward for another.")
    return held


def own_page(request: Request) -> None:
    """Refuse what no page of this very address asks for.

    ``none`` is an address typed or opened from elsewhere, which no page asks for either.

    Raises:
        Refusal: the browser says so, or says nothing.
    """
    if request.headers.get("sec-fetch-site") != "same-origin":
        raise Refusal(
            "not-allowed",
            "Only the pool's own page may ask this, opened over https in a browser of today.",
        )


def session_held(request: Request, store: PoolStore, now: datetime) -> HeldSession:
    """Return the session of a request's cookie.

    Raises:
        Refusal: there is no cookie, another page asks, or the session has ended.
    """
    shown = request.cookies.get(COOKIE)
    if shown is None:
        raise Refusal("not-signed-in", headers=_CHALLENGE)
    own_page(request)
    try:
        return session_of(store, shown, now)
    except NotFound:
        says = "You are signed out on this phone; ask a steward for a code."
        raise Refusal("not-signed-in", says, _CHALLENGE) from None


def told_by_the_page(request: Request, key: bytes, held: HeldSession) -> None:
    """Refuse a request whose page does not say its token.

    Raises:
        Refusal: it says none, or another.
    """
    said = request.headers.get(TOKEN_HEADER, "").encode("latin-1", "replace")
    if not hmac.compare_digest(said, page_token(key, held.session).encode()):
        raise Refusal("not-allowed", "The page's token is missing or old; load the page again.")


def _bad(detail: str) -> Refusal:
    says = 'Bearer realm="mendpool", error="invalid_token"'
    return Refusal("not-signed-in", detail, {"WWW-Authenticate": says})
