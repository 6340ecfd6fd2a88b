"""What a route needs from the running service: workplace, clock, who is asking."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from typing import Annotated
from uuid import UUID

from fastapi import Depends, Request

from mendpool.api.outer import say_more
from mendpool.api.problems import Refusal
from mendpool.api.signing_in import member_of, session_held, told_by_the_page
from mendpool.core.errors import Complaint, RefusedInput, TemporarilyImpossible
from mendpool.store.sessions import HeldSession
from mendpool.store.values import Member
from mendpool.usecases.allowances import Allowances
from mendpool.usecases.guesses import Guesses
from mendpool.usecases.review import Reviewing
from mendpool.usecases.snapshot import Snapshots
from mendpool.usecases.workplace import Workplace

MINUTE_S = 60


@dataclass(frozen=True, slots=True)
class Service:
    """One running service.

    Args:
        clock: gives aware UTC.
        new_id: makes a UUIDv7, for a form that has no script to make one.
        snapshots: packs the feed for copies; None where nothing may be kept for that.
        told_lag: hears how far the index is behind whenever that is looked at.
        ready_for_s: how long `/readyz` stands by what it found.
        guesses: counts the sign-ins that failed.
        reviewing: makes the list for stewards.
    """

    place: Workplace
    clock: Callable[[], datetime]
    new_id: Callable[[], UUID]
    requests_a_minute: int
    reports_a_day: int
    limiter: Allowances
    snapshots: Snapshots | None = None
    told_lag: Callable[[int], None] | None = None
    photos_a_day: int = 100
    ready_for_s: float = 0.0
    guesses: Guesses = field(default_factory=Guesses)
    reviewing: Reviewing = field(default_factory=Reviewing)


def new_limiter() -> Allowances:
    """Make what counts the members' requests and reports for this process."""
    return Allowances()


async def running_of(request: Request) -> Service:
    """Return the running service; `async`, for a plain one would be sent to a thread."""
    return service_of(request)


def service_of(request: Request) -> Service:
    """Return the running service."""
    service: Service = request.app.state.service
    return service


def signed_in(request: Request) -> Member:
    """Return the member who asks, within his rate, by token or by the page's session.

    Raises:
        Refusal: not signed in, the cookie alone, or too many requests.
    """
    authorization = request.headers.get("authorization")
    if not authorization:
        return signed_session(request).member
    service = service_of(request)
    now = service.clock()
    member = member_of(service.place.store, authorization, now)
    within_his_rate(request, service, member, now)
    return member


def signed_session(request: Request) -> HeldSession:
    """Return the session by which a browser asks, with its page's token.

    Raises:
        Refusal: see `signed_in`.
    """
    return _session(request, by_page=True)


def session_shown(request: Request) -> HeldSession:
    """Return the session of the cookie, for the page that does not know its token yet."""
    return _session(request, by_page=False)


def _session(request: Request, *, by_page: bool) -> HeldSession:
    service = service_of(request)
    now = service.clock()
    store = service.place.store
    held = session_held(request, store, now)
    if by_page:
        told_by_the_page(request, service.place.key, held)
    within_his_rate(request, service, held.member, now)
    with suppress(TemporarilyImpossible):
        store.touch_session(held.session.prefix, now)
    return held


def within_his_rate(request: Request, service: Service, member: Member, now: datetime) -> None:
    """Count a request of a member's.

    Raises:
        Refusal: there were too many in a minute.
    """
    store, most = service.place.store, service.requests_a_minute
    wait = service.limiter.ask(store, member.id, most, now)
    left, more_in = service.limiter.left(member.id, most, now)
    say_more(
        request.scope,
        ("ratelimit-policy", f'"requests";q={most};w={MINUTE_S}'),
        ("ratelimit", f'"requests";r={left};t={more_in}'),
    )
    if wait:
        raise Refusal("too-many", headers={"Retry-After": str(wait)})
    # A full disk must not keep anyone from reading.
    with suppress(TemporarilyImpossible):
        store.touch_member(member.id, now)


def steward_signed_in(request: Request) -> Member:
    """Return the steward who asks.

    Raises:
        Refusal: see `signed_in`, or it is another member; whatever is asked for, so that
            nothing is learned by asking.
    """
    member = signed_in(request)
    if member.role != "steward":
        raise Refusal("not-allowed", "Only a steward may.")
    return member


def wrong_code(request: Request, service: Service, now: datetime) -> None:
    """Count a code that was wrong.

    Raises:
        Refusal: there were many of late from there.
    """
    address = request.client.host if request.client else ""
    wait = service.guesses.wait(address, now)
    service.guesses.failed(address, now)
    if wait:
        says = "Too many codes were wrong; wait as Retry-After says."
        raise Refusal("too-many", says, {"Retry-After": str(wait)})


def known_parameters(*names: str) -> Callable[[Request], None]:
    """Refuse a query parameter nobody knows, or one that stands twice."""

    def check(request: Request) -> None:
        faults = []
        for name in dict.fromkeys(request.query_params.keys()):
            if name not in names:
                faults.append(
                    Complaint(
                        f"/{name[:40]}", f"no such parameter; there are {', '.join(names)}"
                    )
                )
            elif len(request.query_params.getlist(name)) > 1:
                faults.append(Complaint(f"/{name}", "give it once"))
        if faults:
            raise RefusedInput(faults)

    return check


def whole_number(at: str, given: str, least: int) -> int:
    """Return a whole number of at most 18 digits, so that every database can hold it.

    Raises:
        RefusedInput: at `at`.
    """
    if not (given.isascii() and given.isdigit() and len(given) <= 18) or int(given) < least:
        raise RefusedInput([Complaint(at, f"a whole number from {least}")])
    return int(given)


def truth(at: str, given: str) -> bool:
    """Return a yes or no of a query, told as JSON tells it.

    Raises:
        RefusedInput: at `at`.
    """
    if given not in ("true", "false"):
        raise RefusedInput([Complaint(at, "true or false")])
    return given == "true"


Running = Annotated[Service, Depends(running_of)]
Asker = Annotated[Member, Depends(signed_in)]
Signed = Annotated[HeldSession, Depends(session_shown)]
Steward = Annotated[Member, Depends(steward_signed_in)]
