"""The texts that the page's scrub is held to are those the service's scrub makes now."""

import json

from tests.phone.vectors.make_scrub import FILE, as_text, vectors


def test_the_file_is_as_new_as_the_scrub() -> None:
    assert FILE.read_text("utf-8") == as_text(), "run python -m tests.phone.vectors.make_scrub"


def test_it_holds_enough_of_each_sort_to_tell() -> None:
    told = vectors()
    assert json.loads(FILE.read_text("utf-8")) == told
    assert sum("gone" in one for one in told) >= 130
    assert sum("stays" in one for one in told) >= 30
    assert sum("same" in one for one in told) >= 400
