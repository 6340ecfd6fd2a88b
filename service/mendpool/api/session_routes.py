"""Signing in from the page: a code for a cookie that no script can read."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from mendpool.api.bodies import JsonBody, json_body
from mendpool.api.context import (
    Running,
    Service,
    Signed,
    signed_session,
    within_his_rate,
    wrong_code,
)
from mendpool.api.problems import Refusal
from mendpool.api.replies import reply
from mendpool.api.signing_in import COOKIE, own_page
from mendpool.core.catalogue.typed import typed
from mendpool.core.errors import Conflict, NotFound
from mendpool.core.record.joining import SigningIn
from mendpool.store.sessions import HeldSession
from mendpool.usecases import sessions

router = APIRouter(prefix="/v1/session", tags=["session"])
Body = Annotated[JsonBody, Depends(json_body)]
_COOKIE_RULES = "Path=/; Secure; HttpOnly; SameSite=Lax"
_NOT_KEPT = {"Cache-Control": "no-store"}
_UNKNOWN = (
    "This code is unknown, was used, was revoked or has expired; ask a steward for another."
)
_GIVEN_AWAY = "The name of this invitation was given away; ask a steward for another."


@router.post("", status_code=201, dependencies=[Depends(own_page)])
def sign_in(request: Request, running: Running, body: Body) -> Response:
    """Sign this browser in, by an invitation, a sign-in code or a member's token.

    Gives the session and its cookie; an invitation makes the member. Only for the pool's own
    page: the browser has to say `Sec-Fetch-Site: same-origin`. Where the answer was lost on the
    way, the same code with the same `attempt` gives the same session for ten minutes.
    """
    told = typed(SigningIn, body.value)
    held, cookie = begin_session(request, running, told.code, told.attempt or "")
    return reply(_told(running, held), 201, {**_NOT_KEPT, "Set-Cookie": cookie})


def begin_session(
    request: Request, running: Service, shown: str, attempt: str = ""
) -> tuple[HeldSession, str]:
    """Sign a browser in; return its session and the cookie to set.

    Args:
        shown: what stands in the place of a code.
        attempt: see `SigningIn`.

    Raises:
        Refusal: the code is not good, or too many were wrong.
    """
    code, now = shown.strip(), running.clock()
    store = running.place.store
    try:
        once = sessions.Attempt(running.place.key, attempt) if attempt else None
        signed = sessions.sign_in(store, code, now, request.cookies.get(COOKIE, ""), once)
    except NotFound:
        wrong_code(request, running, now)
        raise Refusal("not-found", _UNKNOWN) from None
    except Conflict:
        raise Refusal("not-found", _GIVEN_AWAY) from None
    within_his_rate(request, running, signed.held.member, now)
    lasts = int((sessions.ends(signed.held) - now).total_seconds())
    return signed.held, f"{COOKIE}={signed.secret}; Max-Age={lasts}; {_COOKIE_RULES}"


@router.get("")
def session(running: Running, signed: Signed) -> Response:
    """Tell who is signed in by the cookie, and the token that the page says with the rest."""
    return reply(_told(running, signed), headers=_NOT_KEPT)


@router.delete("")
def sign_out(
    running: Running, signed: Annotated[HeldSession, Depends(signed_session)]
) -> Response:
    """Sign this browser out and have it forget everything of this address."""
    gone = {
        "Set-Cookie": end_session(running, signed),
        "Clear-Site-Data": '"cache", "cookies", "storage"',
    }
    return Response(status_code=204, headers=gone)


def end_session(running: Service, signed: HeldSession) -> str:
    """End a session; return the cookie that takes the other's place."""
    running.place.store.end_session(signed.session.prefix)
    return f"{COOKIE}=; Max-Age=0; {_COOKIE_RULES}"


def _told(running: Service, held: HeldSession) -> dict[str, Any]:
    member = held.member
    return {
        "name": member.name,
        "role": member.role,
        "contributor": member.pseudonym,
        "until": _time(sessions.ends(held)),
        "token": sessions.page_token(running.place.key, held.session),
        "pool": str(running.place.store.pool_settings().pool_id),
    }


def _time(at: datetime) -> str:
    return at.strftime("%Y-%m-%dT%H:%M:%SZ")
