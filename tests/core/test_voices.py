"""What owners say of causes: every fault is named with its file and its entry."""

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_texts
from mendpool.core.catalogue.loader import load_catalogue
from mendpool.core.errors import CatalogueError

pytestmark = pytest.mark.usefixtures("parsed_once")

FILE = "voices/structure.yaml"
FEWEST = 3  # phrases, so that one observer does not speak for all


def faults_with(said: str) -> tuple[str, ...]:
    texts = {**packaged_texts(), FILE: said}
    with pytest.raises(CatalogueError) as refused:
        load_catalogue(texts)
    return refused.value.lines


def test_every_cause_is_spoken_of_in_several_voices(catalogue: Catalogue) -> None:
    assert set(catalogue.voices) == set(catalogue.cause_by_key)
    assert min(len(said) for said in catalogue.voices.values()) >= FEWEST


def test_a_cause_that_is_not_is_named() -> None:
    kept = packaged_texts()[FILE].replace("mounts/loose:", "mounts/lose:")
    faults = faults_with(kept)
    assert faults == (f"{FILE}: mounts/lose: no such cause; did you mean mounts/loose?",)


def test_a_phrase_said_of_two_causes_tells_of_neither() -> None:
    faults = faults_with(packaged_texts()[FILE] + "  - Tin  hums\n  - tin hums\n")
    assert any(f.startswith(f"{FILE}: enclosure/loose: 'tin hums' is said of") for f in faults)


def test_a_story_is_no_phrase() -> None:
    faults = faults_with(packaged_texts()[FILE] + f"  - {'it went and ' * 9}\n")
    assert [f for f in faults if f.startswith(f"{FILE}: enclosure/loose: over 80 letters")]


@pytest.mark.parametrize(
    "said", ["mounts/loose: one corner hammers\n", "mounts/loose: [1, 2]\n"]
)
def test_what_is_no_list_of_phrases_is_named(said: str) -> None:
    assert faults_with(said) == (f"{FILE}: mounts/loose: must hold a list of phrases",)
