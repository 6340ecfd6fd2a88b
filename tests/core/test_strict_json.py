"""One JSON object and nothing that two readers could take for two things (RFC 8259, 8785)."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.record.strict_json import DEEPEST, NotStrictJson, read_object

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")),
    lambda inner: st.lists(inner) | st.dictionaries(st.text('abc"\\ü['), inner),
    max_leaves=20,
)  # fmt: skip


@given(st.dictionaries(st.text("abc"), VALUES, max_size=4), st.booleans())
def test_what_json_writes_is_read_back(body: dict[str, object], escaped: bool) -> None:
    assert read_object(json.dumps(body, ensure_ascii=escaped).encode()) == body


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b'{"a": "\xff"}', "UTF-8"),
        (b"{", "not JSON"),
        (b"\xef\xbb\xbf{}", "not JSON"),
        (b'{"a": 1, "a": 1}', "twice"),
        (b'{"b": [{"a": 1, "a": 2}]}', "twice"),
        (b'{"a": NaN}', "NaN"),
        (b'{"a": [-Infinity]}', "NaN"),
        (b'{"a": "\\u0000"}', "NUL"),
        (b'{"a\\u0000": 1}', "NUL"),
        (b'{"a": ["\\ud800"]}', "surrogate"),
        (b'{"a": {"b": "x\\udc00y"}}', "surrogate"),
        (b"[]", "one JSON object"),
        (b"null", "one JSON object"),
        (b'{"a": ' + b"[" * 100_000 + b"]" * 100_000 + b"}", "deeply"),
    ],
)
def test_what_could_be_two_things_is_refused_with_why(raw: bytes, says: str) -> None:
    with pytest.raises(NotStrictJson, match=says):
        read_object(raw)


def test_a_whole_pair_and_an_escaped_backslash_are_text() -> None:
    assert read_object(b'{"a": "\\ud83d\\udd27 \\\\u0000"}') == {"a": "\U0001f527 \\u0000"}


def test_it_may_be_so_deep_and_no_deeper() -> None:
    def nested(depth: int) -> bytes:
        return b'{"a": ' + b"[" * (depth - 1) + b"1" + b"]" * (depth - 1) + b"}"

    assert read_object(nested(DEEPEST))
    assert read_object(b'{"a": "' + b"[" * 100 + b'"}')
    with pytest.raises(NotStrictJson, match="deeply"):
        read_object(nested(DEEPEST + 1))
