"""Who is asking: a bearer token, looked up by its readable beginning."""

import hmac
from datetime import datetime

from mendpool.api.problems import Refusal
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import Member
from mendpool.usecases.members import PREFIX_LENGTH, digest

_LONGEST = 200


def member_of(store: PoolStore, authorization: str | None, now: datetime) -> Member:
    """Return whose token an Authorization header carries.

    Raises:
        Refusal: none, or one that is unknown, expired or revoked.
    """
    if not authorization:
        raise Refusal("not-signed-in", headers={"WWW-Authenticate": 'Bearer realm="mendpool"'})
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


def _bad(detail: str) -> Refusal:
    says = 'Bearer realm="mendpool", error="invalid_token"'
    return Refusal("not-signed-in", detail, {"WWW-Authenticate": says})
