"""Send what waits, in the order it was said, so that nothing blocks the rest for good.

No network, 408, 429 and 5xx: it is tried again a few times, as long apart as the service
asks or a little longer each time, and then it waits on. 401 and 403: stop, with everything
still queued, so that a stale token never spoils a week of reports. Any other 4xx: that one is
parked with the reason, and the next goes on.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from mendpool_field.errors import (
    FieldError,
    NotMendpool,
    NotSignedIn,
    Refused,
    ServiceFailed,
    TooMany,
    Unreachable,
)
from mendpool_field.outbox import Entry, Outbox

FORBIDDEN = 403
_GONE = 410


_AGAIN_S = 0.5
_JITTER = 0.5


@dataclass(frozen=True, slots=True)
class Patience:
    """How a thing that may work in a moment is tried again.

    Args:
        tries: how often in all, for one thing.
        longest_s: the longest pause; a service that asks for more is not waited for.
        pause: waits so many seconds.
        chance: a number from 0 to 1, so that many who wait do not all come back at once.
    """

    tries: int
    longest_s: float
    pause: Callable[[float], None]
    chance: Callable[[], float]

    def waited(self, trouble: FieldError, tried: int) -> bool:
        """Wait before another try, if there is to be one; tell whether."""
        asked = trouble.wait_s if isinstance(trouble, TooMany | ServiceFailed) else None
        pause = asked if asked is not None else _AGAIN_S * 2 ** (tried - 1)
        if tried >= self.tries or pause > self.longest_s:
            return False
        self.pause(pause * (1 + _JITTER * self.chance()))
        return True


@dataclass(slots=True)
class Flushed:
    """What came of it.

    Args:
        sent, parked: entries, in order; a parked one with the error that parked it.
        waiting: how many wait on.
        trouble: why those wait, None if none does.
        busy: another mendpool is sending at this moment, so nothing was tried.
    """

    sent: list[Entry] = field(default_factory=list)
    parked: list[tuple[Entry, Refused]] = field(default_factory=list)
    waiting: int = 0
    trouble: FieldError | None = None
    busy: bool = False


def flush(
    outbox: Outbox,
    send: Callable[[Entry], None],
    reason_of: Callable[[Refused], str],
    patience: Patience | None = None,
    pool: str | None = None,
) -> Flushed:
    """Send everything that waits.

    Args:
        outbox: the queue.
        send: puts one entry to the service; returns when the service has it.
        reason_of: says in a sentence why an entry was refused.
        patience: how often it is tried again where that may help; None for not at all.
        pool: the id of the pool, where it is known.

    Raises:
        OSError, DamagedFile: the outbox itself can't be used.
    """
    done = Flushed()
    with outbox.sending() as ours:
        if ours:
            _send_all(outbox, lambda e: _tried(e, send, patience), reason_of, done, pool)
        else:
            done.busy = True
        done.waiting = len(outbox.waiting())
    return done


def _send_all(
    outbox: Outbox,
    tried: Callable[[Entry], FieldError | None],
    reason_of: Callable[[Refused], str],
    done: Flushed,
    pool: str | None,
) -> None:
    held: set[str] = set()
    without: set[str] = set()  # reports whose photographs stay for now
    not_ours: list[tuple[Entry, Refused]] = []
    for entry in outbox.waiting():
        if entry.report in (without if entry.kind == "photo" else held):
            continue  # what belongs to a report goes after it
        trouble = tried(entry)
        if trouble is None:
            outbox.mark_sent(entry, pool)
            done.sent.append(entry)
            _park_all(outbox, not_ours, reason_of, done)
        elif isinstance(trouble, Refused) and trouble.status != FORBIDDEN:
            _park_all(outbox, [(entry, trouble)], reason_of, done)
            without.add(entry.id)
        elif entry.kind == "photo" and isinstance(trouble, TooMany | ServiceFailed):
            # Enough photographs for a day, or one that can't be taken now: words go first.
            done.trouble = trouble
            without.add(entry.report)
        else:
            done.trouble = trouble
            if isinstance(trouble, Refused) and entry.kind != "report":
                # Forbidden because the report is another's, or because the member is out?
                # The next one tells: until then it waits.
                not_ours.append((entry, trouble))
            elif isinstance(trouble, ServiceFailed):
                held.add(entry.report)
                without.add(entry.report)
            else:
                return


def _tried(
    entry: Entry, send: Callable[[Entry], None], patience: Patience | None
) -> FieldError | None:
    """Send one, more than once where that may help; return what was last in the way."""
    tries = 0
    while True:
        tries += 1
        try:
            send(entry)
        except (Refused, NotSignedIn, NotMendpool) as trouble:
            return trouble
        except (ServiceFailed, Unreachable, TooMany) as trouble:
            if patience is None or not patience.waited(trouble, tries):
                return trouble
        else:
            return None


def _park_all(
    outbox: Outbox,
    not_ours: list[tuple[Entry, Refused]],
    reason_of: Callable[[Refused], str],
    done: Flushed,
) -> None:
    for entry, refused in not_ours:
        if entry.kind == "photo" and refused.status == _GONE:
            outbox.drop(entry)  # its report was taken back
            continue
        outbox.park(entry, reason_of(refused), refused.status)
        done.parked.append((entry, refused))
        if done.trouble is refused:
            done.trouble = None
    not_ours.clear()
