"""Whether a protection that was out of action is back, and how that stands in a report."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool_field.questions import Asking, ask_one

PROOFS: Mapping[str, str] = {
    "proved": "back as it was, and proved: it trips or stops the set",
    "untested": "back as it was, not proved yet",
    "defeated": "still out of action",
}
"""By the wire's code, best first."""


def back_again(out: Sequence[str], catalogue: Catalogue) -> Asking:
    """Ask how protections taken out on the way were left; None where it can't be said."""
    parts = " and ".join(catalogue.vocabulary.components[component] for component in out)
    verb = "is it" if len(out) == 1 else "are they"
    return (
        yield from ask_one(
            f"On the way this was bridged or taken out: {parts}. How {verb} now?",
            PROOFS,
            hint="One key; Enter if you can't say",
        )
    )


def left_as(proofs: Collection[str]) -> dict[str, Any]:
    """Return the fields of a report for protections left so; the worst of them counts."""
    left = [code for code in PROOFS if code in proofs][-1]
    out = {"protection_defeated": True} if left == "defeated" else {}
    return {"protection": {"left": left}} | out
