"""Mend what was refused: change single places of its body until the rules here are content."""

import json
from collections.abc import Callable, Mapping
from typing import Any

from mendpool.core.errors import Complaint, RefusedInput
from mendpool_field.errors import BadUsage

Body = dict[str, Any]
_ROUNDS = 20


def with_places(body: Mapping[str, Any], places: list[str]) -> Body:
    """Return a body with places changed, each ``/readings/0/unit=V``; nothing after = removes.

    Raises:
        BadUsage: no such place, or not written so.
    """
    changed: Body = json.loads(json.dumps(body))
    for place in places:
        pointer, equals, value = place.partition("=")
        if not equals or not pointer.startswith("/"):
            raise BadUsage(
                f"“{place}” names no place and value.", "Write it as /readings/0/unit=V"
            )
        put(changed, pointer, value.strip())
    return changed


def put(body: Body, pointer: str, typed: str) -> None:
    """Put a value at a place of a body, or take the place away where nothing was typed.

    A whole entry of a list that loses what it is about goes as a whole.

    Raises:
        BadUsage: there is no such place.
    """
    *above, last = [_unescaped(part) for part in pointer.split("/")[1:]]
    held: Any = body
    try:
        for part in above:
            held = held[int(part)] if isinstance(held, list) else held[part]
        if isinstance(held, list):
            number = int(last)
            if typed:
                held[number] = _value(typed)
            else:
                del held[number]
        elif typed:
            held[last] = _value(typed)
        else:
            del held[last]
    except (KeyError, IndexError, ValueError, TypeError):
        raise BadUsage(
            f"There is nothing at {pointer}.", "mendpool outbox --json shows what is there."
        ) from None


def mended(
    body: Mapping[str, Any],
    check: Callable[[Mapping[str, Any]], None],
    ask: Callable[[Complaint, object], str],
) -> Body:
    """Ask about each place that is wrong until nothing is.

    Args:
        body: as it was refused.
        check: raises `RefusedInput` for what is wrong.
        ask: is told what is wrong and what stands there; returns what should, empty for
            nothing.

    Raises:
        BadUsage: it could not be mended place by place.
    """
    now: Body = json.loads(json.dumps(body))
    for _ in range(_ROUNDS):
        try:
            check(now)
        except RefusedInput as refused:
            first = next((c for c in refused.errors if c.at), None)
            if first is None:
                raise
            put(now, first.at, ask(first, found_at(now, first.at)))
        else:
            return now
    raise BadUsage(
        "It still can't be used.", "mendpool outbox --drop ID forgets it; mendpool report"
    )


def found_at(body: Mapping[str, Any], pointer: str) -> object:
    """Return what stands at a place, None for nothing."""
    held: Any = body
    for part in [_unescaped(p) for p in pointer.split("/")[1:]]:
        try:
            held = held[int(part)] if isinstance(held, list) else held[part]
        except (KeyError, IndexError, ValueError, TypeError):
            return None
    return held


def _unescaped(part: str) -> str:
    return part.replace("~1", "/").replace("~0", "~")


def _value(typed: str) -> object:
    """A number or yes/no as JSON writes it; anything else is text."""
    try:
        found = json.loads(typed)
    except ValueError:
        return typed
    return found if isinstance(found, int | float | bool | dict | list) else typed
