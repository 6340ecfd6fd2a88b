"""What a plan goes by: each fault in its three files is named, with file and entry."""

import pytest

from mendpool.core.catalogue.files import packaged_catalogue, packaged_texts
from mendpool.core.catalogue.loader import load_catalogue
from mendpool.core.errors import CatalogueError

pytestmark = pytest.mark.usefixtures("parsed_once")

FAULTS: dict[str, tuple[str, str, str, str]] = {
    "a cover nobody wrote": (
        "openings.yaml", "belt-guard:", "belt-gard:",
        "no such code belt-guard; did you mean belt-gard?",
    ),
    "a cover with nothing behind it": (
        "openings.yaml", "sump:", "attic: {says: the attic, minutes: 5, stays: true}\nsump:",
        "openings.yaml: attic: nothing lies behind it",
    ),
    "a cover without its minutes": (
        "openings.yaml", "the sump, minutes: 60,", "the sump,",
        "openings.yaml: sump: minutes: Field required",
    ),
    "a tool that no step needs": (
        "planning.yaml", "    multimeter:", "    multimetre:",
        "planning.yaml: hands: no such code multimetre; did you mean multimeter?",
    ),
    "an action that is none": (
        "planning.yaml", "undoable: [clean,", "undoable: [cleen,",
        "planning.yaml: undoable: no such code cleen; did you mean clean?",
    ),
    "one word for two loads": (
        "planning.yaml", "aliases: [fridge,", "aliases: [freezer, fridge,",
        "planning.yaml: must_run: freezer: stands for fridge and for freezer",
    ),
    "a load without its size": (
        "planning.yaml", "the welder, kva: 5,", "the welder,",
        "planning.yaml: must_run.loads.welder: Value error, give `kva` or `motor_hp`",
    ),
    "words without a place for the load": (
        "planning.yaml", "start {load} first and alone, and", "start it first, and",
        "planning.yaml: must_run: stagger: no place for {load}",
    ),
    "a group without words": (
        "get-bys.yaml", "groups: [structure]", "groups: [output]",
        "get-bys.yaml: structure: no words for this group",
    ),
    "a protection without words of its own": (
        "get-bys.yaml", "components: [stop-button]", "components: [key-switch]",
        "get-bys.yaml: stop-button: a protection needs words of its own",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("path", "written", "broken", "line"), FAULTS.values(), ids=FAULTS)
def test_a_fault_is_named_with_its_file_and_entry(
    path: str, written: str, broken: str, line: str
) -> None:
    texts = packaged_texts()
    assert written in texts[path]
    texts[path] = texts[path].replace(written, broken, 1)
    with pytest.raises(CatalogueError) as refused:
        load_catalogue(texts)
    assert any(line in told for told in refused.value.lines), refused.value.lines


def test_the_words_of_a_get_by_name_the_part_and_never_defeat_another_protection() -> None:
    for entry in packaged_catalogue().get_bys:
        assert "{part}" in entry.restore or entry.components
        for said in (entry.time_limit, entry.restore):
            assert "bypass" not in said
            assert "bridge it" not in said
