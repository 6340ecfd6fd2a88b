"""One JSON object, read without surprises: of a request's body, or of a line of a file."""

import json
import re
from typing import Any

DEEPEST = 20
"""Objects and lists in one another; a record needs four."""
_NO_TEXT = re.compile("[\x00\ud800-\udfff]")


class NotStrictJson(Exception):
    """It is not one JSON object as mendpool takes it; the text says why, in a sentence."""


def read_object(raw: bytes) -> dict[str, Any]:
    """Return one JSON object (RFC 8259) from bytes.

    Raises:
        NotStrictJson: not UTF-8, not JSON, a name twice, NaN or Infinity, half a surrogate
            pair, a NUL, too deep, or no object.
    """
    try:
        value = json.loads(
            raw.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_constant
        )
    except UnicodeDecodeError:
        raise NotStrictJson("The body is not UTF-8 text.") from None
    except RecursionError:
        raise NotStrictJson("The body is nested too deeply.") from None
    except ValueError:
        raise NotStrictJson("The body is not JSON.") from None
    if not isinstance(value, dict):
        raise NotStrictJson("The body must be one JSON object.")
    # Neither can be in UTF-8 and in a JSON text but by an escape.
    if b"\\u" in raw:
        _check_texts(value)
    if raw.count(b"{") + raw.count(b"[") > DEEPEST:
        _check_depth(value)
    return value


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise NotStrictJson("A name stands twice in one object.")
    return found


def _no_constant(_: str) -> None:
    raise NotStrictJson("NaN and Infinity are no JSON numbers.")


def _check_texts(value: object) -> None:
    waiting = [value]
    while waiting:
        one = waiting.pop()
        if isinstance(one, str) and _NO_TEXT.search(one):
            raise NotStrictJson("A text holds NUL or half a surrogate pair.")
        if isinstance(one, dict):
            waiting += [*one, *one.values()]
        elif isinstance(one, list):
            waiting += one


def _check_depth(value: object) -> None:
    level = [value]
    for _ in range(DEEPEST + 1):
        inner: list[object] = []
        for one in level:
            if isinstance(one, dict):
                inner += one.values()
            elif isinstance(one, list):
                inner += one
        if not inner:
            return
        level = inner
    raise NotStrictJson("The body is nested too deeply.")
