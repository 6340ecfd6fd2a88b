"""Who answers a question: the pool while it can be reached, else the copy, else the catalogue.

Where there is a copy nobody is kept waiting for the network: it answers after three tenths of
a second, and says how old it is.
"""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from mendpool_field.errors import NO_ANSWER, NoPool, NotSignedIn

if TYPE_CHECKING:
    from mendpool_field.gateway import Gateway
    from mendpool_field.offline import Here

T = TypeVar("T")

WAIT_S = 8.0
"""The longest wait for a pool's answer beside the set where there is no copy."""
AWAY = (NoPool, *NO_ANSWER, NotSignedIn)
"""What goes wrong with the pool that this machine can make good."""


class Asker:
    """Answers questions.

    Args:
        open_gateway: opens the way to the pool; raises `NoPool` where none was joined.
        here: answers where the pool can't be reached.
        tell: says once that the pool is gone, and why.
        offline: never ask the pool.
    """

    def __init__(
        self,
        open_gateway: "Callable[[], Gateway]",
        here: "Here",
        tell: Callable[[str], None],
        *,
        offline: bool,
    ) -> None:
        self._open = open_gateway
        self._here = here
        self._tell = tell
        self._gateway: Gateway | None = None
        self._away = offline
        if offline:
            tell(f"Answered here, {here.from_what}; no pool is asked.")

    def ask(self, question: Mapping[str, Any]) -> dict[str, Any]:
        """Return the answer to a question.

        Raises:
            Refused, RefusedInput: the question can't be used as it is.
        """
        if not self._away:
            try:
                return self._ask_there(question)
            except AWAY as trouble:
                self._away = True
                self._tell(f"{why(trouble)} Going on without the pool, {self._here.from_what}.")
        return self._here.answer(question)

    def _ask_there(self, question: Mapping[str, Any]) -> dict[str, Any]:
        from mendpool_field.gateway import AT_ONCE_S, within

        gateway = self._gateway = self._gateway or self._open()
        wait_s = AT_ONCE_S if self._here.has_copy else WAIT_S
        return within(wait_s, lambda: gateway.ask(question))


def there_or_here(
    there: Callable[[], T], here: Callable[[], T | None], tell: Callable[[str], None]
) -> T:
    """Return what the pool gives, if it does so at once, else what this machine gives.

    Args:
        there: asks the pool.
        here: does it here; None where it can't.
        tell: is told why the pool did not.

    Raises:
        FieldError: the pool's trouble, where it can't be done here.
    """
    from mendpool_field.gateway import AT_ONCE_S, within

    try:
        return within(AT_ONCE_S, there)
    except AWAY as trouble:
        found = here()
        if found is None:
            raise
        tell(why(trouble))
        return found


def why(trouble: Exception) -> str:
    """Say in a sentence what is wrong with the pool."""
    from mendpool_field.explain import explain

    return explain(trouble).says
