"""Ids as they stand in an address."""

import uuid

from mendpool.core.errors import Complaint, NotFound, RefusedInput


def uuid7(at: str, text: str) -> uuid.UUID:
    """Return the id of something new.

    Raises:
        RefusedInput: no UUIDv7.
    """
    try:
        found = uuid.UUID(text)
    except ValueError:
        found = None
    if found is None or found.version != 7 or str(found) != text.lower():
        says = "the id must be a UUIDv7 (RFC 9562), made by the client"
        raise RefusedInput([Complaint(at, says)])
    return found


def known_id(text: str) -> uuid.UUID:
    """Return an id to look for; one that nothing can have is simply not here.

    Raises:
        NotFound: no UUID.
    """
    try:
        return uuid.UUID(text)
    except ValueError:
        raise NotFound from None
