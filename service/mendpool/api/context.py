"""What a route needs from the running service: workplace, clock, who is asking."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import Depends, Request

from mendpool.api.outer import say_more
from mendpool.api.problems import Refusal
from mendpool.api.signing_in import member_of
from mendpool.core.errors import Complaint, RefusedInput, TemporarilyImpossible
from mendpool.store.values import Member
from mendpool.usecases.allowances import Allowances
from mendpool.usecases.snapshot import Snapshots
from mendpool.usecases.workplace import Workplace

MINUTE_S = 60


@dataclass(frozen=True, slots=True)
class Service:
    """One running service.

    Args:
        clock: gives aware UTC.
        snapshots: packs the feed for copies; None where nothing may be kept for that.
        told_lag: hears how far the index is behind whenever that is looked at.
        ready_for_s: how long `/readyz` stands by what it found.
    """

    place: Workplace
    clock: Callable[[], datetime]
    requests_a_minute: int
    reports_a_day: int
    limiter: Allowances
    snapshots: Snapshots | None = None
    told_lag: Callable[[int], None] | None = None
    photos_a_day: int = 100
    ready_for_s: float = 0.0


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
    """Return the member who asks, within his rate.

    Raises:
        Refusal: not signed in, or too many requests.
    """
    service = service_of(request)
    now = service.clock()
    member = member_of(service.place.store, request.headers.get("authorization"), now)
    store = service.place.store
    most = service.requests_a_minute
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
    return member


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
