"""What a route needs from the running service: workplace, clock, who is asking."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import Depends, Request
from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter

from mendpool.api.problems import Refusal
from mendpool.api.signing_in import member_of
from mendpool.core.errors import Complaint, RefusedInput, TemporarilyImpossible
from mendpool.store.values import Member
from mendpool.usecases.snapshot import Snapshots
from mendpool.usecases.workplace import Workplace


@dataclass(frozen=True, slots=True)
class Service:
    """One running service.

    Args:
        clock: gives aware UTC.
        snapshots: packs the feed for copies; None where nothing may be kept for that.
    """

    place: Workplace
    clock: Callable[[], datetime]
    requests_a_minute: int
    reports_a_day: int
    limiter: MovingWindowRateLimiter
    snapshots: Snapshots | None = None


def new_limiter() -> MovingWindowRateLimiter:
    """Make a limiter that counts in this process."""
    return MovingWindowRateLimiter(MemoryStorage())


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
    rate = RateLimitItemPerMinute(service.requests_a_minute)
    if not service.limiter.hit(rate, str(member.id)):
        reset = service.limiter.get_window_stats(rate, str(member.id)).reset_time
        wait = max(1, round(reset - now.timestamp()))
        raise Refusal("too-many", headers={"Retry-After": str(min(wait, 60))})
    # A full disk must not keep anyone from reading.
    with suppress(TemporarilyImpossible):
        service.place.store.touch_member(member.id, now)
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


Running = Annotated[Service, Depends(service_of)]
Asker = Annotated[Member, Depends(signed_in)]
