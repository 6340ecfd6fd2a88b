"""Who answers a session's questions: the pool while it can be reached, else this machine."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from mendpool_field.errors import (
    NoPool,
    NotMendpool,
    NotSignedIn,
    ServiceFailed,
    TooMany,
    Unreachable,
)

if TYPE_CHECKING:
    from mendpool.core.catalogue.catalogue import Catalogue
    from mendpool_field.gateway import Gateway
    from mendpool_field.offline import Here

WAIT_S = 8.0
"""The longest wait for a pool's answer beside the set; after it this machine answers."""
_AWAY = (NoPool, Unreachable, NotMendpool, ServiceFailed, TooMany, NotSignedIn)
_GOING_ON = "Going on without the pool, from the trade catalogue here."


class Asker:
    """Answers questions.

    Args:
        open_gateway: opens the way to the pool; raises `NoPool` where none was joined.
        catalogue: answers where the pool can't be reached.
        tell: says once that the pool is gone, and why.
        offline: never ask the pool.
    """

    def __init__(
        self,
        open_gateway: "Callable[[], Gateway]",
        catalogue: "Catalogue",
        tell: Callable[[str], None],
        *,
        offline: bool,
    ) -> None:
        self._open = open_gateway
        self._catalogue = catalogue
        self._tell = tell
        self._gateway: Gateway | None = None
        self._here: Here | None = None
        self._away = offline
        if offline:
            tell("Answered here, from the trade catalogue alone; no pool is asked.")

    def ask(self, question: Mapping[str, Any]) -> dict[str, Any]:
        """Return the answer to a question.

        Raises:
            Refused, RefusedInput: the question can't be used as it is.
        """
        if not self._away:
            try:
                return self._ask_there(question)
            except _AWAY as trouble:
                self._away = True
                self._tell(f"{_why(trouble)} {_GOING_ON}")
        from mendpool_field.offline import Here

        self._here = self._here or Here(self._catalogue)
        return self._here.answer(question)

    def _ask_there(self, question: Mapping[str, Any]) -> dict[str, Any]:
        from mendpool_field.gateway import within

        gateway = self._gateway = self._gateway or self._open()
        return within(WAIT_S, lambda: gateway.ask(question))


def _why(trouble: Exception) -> str:
    from mendpool_field.explain import explain

    return explain(trouble).says
