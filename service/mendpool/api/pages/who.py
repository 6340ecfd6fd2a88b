"""Whose form it is: the same cookie as the page's, and the page's token within the form."""

import hmac
import re
from typing import NamedTuple
from urllib.parse import urlsplit

from fastapi import Request

from mendpool.api.context import service_of, within_his_rate
from mendpool.api.pages.form import Form
from mendpool.api.problems import Refusal
from mendpool.api.session_routes import begin_session, end_session
from mendpool.api.signing_in import COOKIE
from mendpool.core.errors import NotFound
from mendpool.core.record.joining import ATTEMPT
from mendpool.store.sessions import HeldSession
from mendpool.store.values import Member
from mendpool.usecases.sessions import page_token, session_of

_OURS = ("same-origin", "none")
"""``none`` is a form that was sent again by reloading it."""


class Visitor(NamedTuple):
    """Who is signed in, and the token that forms carry."""

    held: HeldSession
    token: str

    @property
    def member(self) -> Member:
        """Who it is."""
        return self.held.member


def visitor_of(request: Request, form: Form | None = None) -> Visitor:
    """Return who is signed in by the cookie.

    Args:
        request: a page may be opened from anywhere, for it changes nothing.
        form: what was posted; it must come from a page of ours and carry its token.

    Raises:
        Refusal: nobody is, or the form is not ours.
    """
    service = service_of(request)
    try:
        held = session_of(service.place.store, request.cookies.get(COOKIE, ""), service.clock())
    except NotFound:
        raise Refusal("not-signed-in") from None
    visitor = Visitor(held, page_token(service.place.key, held.session))
    if form is not None:
        from_own_page(request)
        if not hmac.compare_digest(form.one("token").encode(), visitor.token.encode()):
            raise Refusal("not-allowed", "This form is old; open it again.")
    return visitor


def from_own_page(request: Request) -> None:
    """Refuse a form that a page of another origin sent.

    A browser too old to say where it stands says at least the origin (RFC 6454).

    Raises:
        Refusal: it did, or nothing tells.
    """
    site = request.headers.get("sec-fetch-site")
    if site is None:
        origin = urlsplit(request.headers.get("origin", "")).netloc
        ours = origin != "" and origin == request.headers.get("host")
    else:
        ours = site in _OURS
    if not ours:
        raise Refusal("not-allowed", "Only a form of the pool's own page is taken.")


def within_rate(request: Request, visitor: Visitor) -> Visitor:
    """Count the request, as one of `/v1` is.

    Raises:
        Refusal: too many in a minute.
    """
    service = service_of(request)
    within_his_rate(request, service, visitor.member, service.clock())
    return visitor


def enter(request: Request, code: str, attempt: str) -> str:
    """Sign a browser in by a code; return its cookie.

    Args:
        attempt: what the form carried, so that sending the same form again is the same sign-in.

    Raises:
        Refusal: a page of another origin sent it, or the code is not good.
    """
    from_own_page(request)
    once = attempt if re.fullmatch(ATTEMPT, attempt) else ""
    return begin_session(request, service_of(request), code, once)[1]


def leave(request: Request, form: Form) -> str:
    """Sign a browser out; return the cookie that takes the other's place.

    Raises:
        Refusal: see `visitor_of`.
    """
    return end_session(service_of(request), visitor_of(request, form).held)
