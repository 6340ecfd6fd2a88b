"""The readings by which the page's own rule is held to the service's are of today's rule."""

import json
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.readings.judge import judge
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading

from tests.phone.vectors.make import FILE, text_of, vector, vectors

Cases = list[dict[str, Any]]
STALE = "run python -m tests.phone.vectors.make"


@pytest.fixture(scope="module")
def cases() -> Cases:
    held: Cases = json.loads(FILE.read_text("utf-8"))
    return held


def test_the_rule_says_today_what_the_file_says(cases: Cases, catalogue: Catalogue) -> None:
    for case in cases:
        reading = Reading.model_validate(case["reading"])
        said = judge(reading, Machine.model_validate(case["machine"]), catalogue.limits)
        assert vector(reading, case["machine"], said) == case, STALE


@pytest.mark.slow
def test_nothing_new_is_missing_in_the_file(catalogue: Catalogue) -> None:
    """It takes seconds to look for what each band can say."""
    # No `==` of two such texts: what differs would be looked for until the day is over.
    same = text_of(vectors(catalogue)) == FILE.read_text("utf-8")
    assert same, STALE


def test_every_kind_of_reading_is_among_them(cases: Cases, catalogue: Catalogue) -> None:
    assert len(cases) >= 300
    assert {case["verdict"] for case in cases} == {"low", "within", "high", "unjudged"}
    places = {(case["reading"]["quantity"], case["reading"]["point"]) for case in cases}
    assert places == {
        (quantity, point)
        for quantity, entry in catalogue.vocabulary.readings.items()
        for point in entry.points
    }
    for part in ("condition", "which", "sign", "min", "mark", "at_degC", "stage"):
        assert sum(part in case["reading"] for case in cases) >= 5, part
    assert sum("altitude_m" in case["machine"] for case in cases) >= 5
    assert sum(not case["machine"] for case in cases) >= 5


def test_every_sentence_of_every_band_is_among_them(cases: Cases, catalogue: Catalogue) -> None:
    """But of those that no set of these can come to; the page has no rule for them alone."""
    means = " ".join(case["means"] for case in cases)
    sentences = {
        sentence
        for limit in catalogue.limits
        for sentence in (*limit.means.values(), *(shade.says for shade in limit.shades))
        if "{" not in sentence
    }
    missing = sorted(sentence for sentence in sentences if sentence not in means)
    assert len(missing) <= len(sentences) // 10, missing
