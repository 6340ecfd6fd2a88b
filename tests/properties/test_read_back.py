"""What is stored is read back by a quicker reader: held to Python's own, value and type."""

import json

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pydantic_core import from_json

from mendpool.core.evidence.case import case_from_text
from mendpool.usecases.workplace import shown

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**30), 10**30)
    | st.floats(allow_nan=False, allow_infinity=False)
    | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4),
    max_leaves=20,
)


def typed(value: object) -> object:
    """Return a value with the types in it, for 1 == 1.0 == True, and names in their order."""
    if isinstance(value, dict):
        return [(name, typed(one)) for name, one in value.items()]
    if isinstance(value, list):
        return [typed(one) for one in value]
    return type(value).__name__, repr(value)


@given(st.dictionaries(texts, values, max_size=5), st.booleans())
@example({"a": -0.0, "b": 1e22, "c": 5e-324, "d": 1.7976931348623157e308, "e": 2**63}, False)
def test_a_stored_body_is_read_as_python_reads_it(body: dict[str, object], plain: bool) -> None:
    text = json.dumps(body, ensure_ascii=plain, separators=(",", ":"))
    assert typed(from_json(text)) == typed(json.loads(text))
    expected = {name: value for name, value in json.loads(text).items() if name != "given"}
    assert typed(shown(text)) == typed(expected)


@pytest.mark.parametrize("text", ["", "{", '{"a":1}x', "{'a':1}", '{"a":01}', '{"a":"\n"}'])
def test_what_python_refuses_is_refused_with_the_same_kind_of_error(text: str) -> None:
    for read in (json.loads, shown, lambda t: case_from_text(t, group=0, vouched=True)):
        with pytest.raises(ValueError, match=r"."):
            read(text)
