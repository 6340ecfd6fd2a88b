"""What the command's exit code says; the same everywhere in mendpool."""

from enum import IntEnum


class ExitCode(IntEnum):
    """Every way the command ends."""

    DONE = 0
    """Done, or safely queued to be sent later."""
    OUR_FAULT = 1
    """A fault of mendpool's own, or of the machine it runs on (a full disk)."""
    USAGE = 2
    """What was typed can't be used."""
    REFUSED = 3
    """The service, or the same rules held here, refused what was sent."""
    NOT_SIGNED_IN = 4
    """No pool joined, or a token that is no longer good."""
    NO_SERVICE = 5
    """The service failed or can't be reached, and there is no copy to answer from."""
    NOT_ONLINE = 75
    """Queued, not sent, though ``--require-online`` was given."""
    INTERRUPTED = 130
    """Stopped by the keyboard."""
