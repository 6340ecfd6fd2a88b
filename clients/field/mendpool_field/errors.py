"""What can go wrong in the field, as values. `explain` puts each into words, once.

FieldError
├── BadUsage         what was typed can't be used; carries its own words
├── NoPool           no pool was ever joined
├── Unreachable      no connection, or none in time
├── NotMendpool      something answered that is no mendpool (a network's sign-in page)
├── ServiceFailed    the service is at fault; later may work
├── TooMany          the service asks to wait
├── NotSignedIn      the token is not good
├── Refused          the service will not have it, now or later
├── NotOnline        queued though it had to be sent at once
├── AnotherPool      the address answers for another pool than the copy is of
├── NoRoom           the disk is too full for a copy
└── DamagedFile      a file that the command keeps can't be read
"""

from collections.abc import Sequence
from pathlib import Path

from mendpool.core.errors import Complaint


class FieldError(Exception):
    """Anything the command has to tell a person instead of doing what was asked."""


class BadUsage(FieldError):
    """What was typed can't be used: `says` in a sentence, and what to `do` about it."""

    def __init__(self, says: str, do: str) -> None:
        self.says = says
        self.do = do
        super().__init__(says)


class NoPool(FieldError):
    """No service is known: nobody has joined a pool from here."""


class Unreachable(FieldError):
    """The service at `url` can't be reached; `why` in a few words."""

    def __init__(self, url: str, why: str) -> None:
        self.url = url
        self.why = why
        super().__init__(f"{url}: {why}")


class NotMendpool(FieldError):
    """Something answered at `url` with `status`, but not as a mendpool does."""

    def __init__(self, url: str, status: int) -> None:
        self.url = url
        self.status = status
        super().__init__(f"{url}: {status}")


class ServiceFailed(FieldError):
    """The service answered with a fault of its own (408 or 5xx).

    `wait_s` seconds until it is worth another try, where it says how long.
    """

    def __init__(self, status: int, wait_s: int | None = None) -> None:
        self.status = status
        self.wait_s = wait_s
        super().__init__(str(status))


class TooMany(FieldError):
    """The service asks to wait; `wait_s` seconds where it says how long."""

    def __init__(self, wait_s: int | None) -> None:
        self.wait_s = wait_s
        super().__init__(str(wait_s))


class NotSignedIn(FieldError):
    """The service does not accept the token; `detail` as it says."""

    def __init__(self, detail: str) -> None:
        self.detail = detail
        super().__init__(detail)


class Refused(FieldError):
    """The service refuses it (a 4xx that no waiting mends)."""

    def __init__(
        self, status: int, title: str, detail: str, errors: Sequence[Complaint] = ()
    ) -> None:
        self.status = status
        self.title = title
        self.detail = detail
        self.errors = tuple(errors)
        super().__init__(f"{status} {title}")


class NotOnline(FieldError):
    """It is queued, but ``--require-online`` wanted it sent."""

    def __init__(self, waiting: int) -> None:
        self.waiting = waiting
        super().__init__(str(waiting))


class AnotherPool(FieldError):
    """What answers at `url` is another pool than the copy is of, which was at `before`."""

    def __init__(self, url: str, before: str) -> None:
        self.url = url
        self.before = before
        super().__init__(url)


class NoRoom(FieldError):
    """The disk has `free` bytes, and `needed` are wanted."""

    def __init__(self, needed: int, free: int) -> None:
        self.needed = needed
        self.free = free
        super().__init__(f"{free} of {needed}")


class DamagedFile(FieldError):
    """A file the command keeps can't be read."""

    def __init__(self, path: Path, why: str) -> None:
        self.path = path
        self.why = why
        super().__init__(f"{path}: {why}")


class NewerFile(DamagedFile):
    """A file was kept by a newer mendpool, in a form that is not known here."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, "a newer mendpool kept it")


NO_ANSWER = (Unreachable, NotMendpool, ServiceFailed, TooMany)
"""The pool gave no answer, whoever asks; trying later can work."""
