"""The catalogue as shipped: whole, quick to load, and nothing in it that could hurt."""

import gc
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from time import process_time

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import (
    packaged_catalogue,
    packaged_texts,
    version_of,
)
from mendpool.core.catalogue.loader import load_catalogue
from mendpool.core.catalogue.model import SetKind

Texts = dict[str, str]


@pytest.fixture(scope="module")
def texts() -> Texts:
    return packaged_texts()


# --- whole as shipped


def test_every_code_of_the_vocabulary_has_its_entry(catalogue: Catalogue) -> None:
    v = catalogue.vocabulary
    assert set(catalogue.symptoms) == set(v.symptoms)
    assert set(catalogue.components) == set(v.components)
    assert {caution.topic for caution in catalogue.cautions} == set(v.cautions)


def test_there_is_enough_of_everything(catalogue: Catalogue) -> None:
    assert min(len(s.aliases) for s in catalogue.symptoms.values()) >= 6
    assert min(len(c.aliases) for c in catalogue.components.values()) >= 3
    assert len(catalogue.causes) >= 140
    assert len(catalogue.checks) >= 45
    assert len(catalogue.cautions) >= 25


def test_the_protections_are_those_that_are_never_worked_round(catalogue: Catalogue) -> None:
    assert set(catalogue.sets.protections) == {
        "oil-switch", "temperature-switch", "main-breaker", "rcd", "control-fuse",
        "stop-button", "earth-bond", "radiator-cap", "transfer-switch",
    }  # fmt: skip


def test_no_remedy_is_a_get_by(catalogue: Catalogue) -> None:
    remedies = [(cause.key, r) for cause in catalogue.causes for r in cause.remedies]
    assert not [key for key, r in remedies if r.action in {"bypass", "test", "substitute"}]
    # Only a part that has no business there is taken off for good.
    protections = set(catalogue.sets.protections)
    taken_off = {key.split("/")[0] for key, r in remedies if r.action == "remove"}
    assert not taken_off & protections


def test_every_caution_says_who_says_so(catalogue: Catalogue) -> None:
    for caution in catalogue.cautions:
        assert caution.source.strip()
        assert caution.confidence in {"published", "from memory", "common practice"}


def test_a_symptom_can_come_to_every_kind_of_set_that_it_is_about(catalogue: Catalogue) -> None:
    """Brushes are on brushed sets only, glow plugs on diesel, thermostats on liquid cooling."""
    only = {code: component.only for code, component in catalogue.components.items()}
    assert only["brushes"].excitation == ("brushed-avr", "transformer")
    assert only["glow-plug"].fuel == ("diesel",)
    assert only["thermostat"].cooling == ("liquid",)
    assert "diesel" not in only["spark-plug"].fuel


# --- nothing that could hurt someone is advised

NEVER = {
    "the rack or throttle by hand": r"\b(hold|push|pull|move)\w*\b[^.]*"
    r"\b(rack|throttle) (by|with the) hand",
    "running without the oil switch": r"\b(run|start)\w*\b[^.]*oil (pressure )?switch (off|un)",
    "unplugging the oil switch": r"\bunplug\w*\b[^.]*oil (pressure )?switch",
    "a neutral link": r"\b(fit|remove|add|make|lift|take)\w*\b[^.]*neutral (link|bond)",
    "a spark test over an open bowl": r"\bspark\b[^.]*\b(open|opened|empty|dry) bowl",
    "a lead left hanging": r"\bspark\b[^.]*\blead\b[^.]*\bhang",
    "mains to anything": r"\b(apply|connect|put|feed|give)\w*\b[^.]*"
    r"\b(mains|line volts)\b (to|on|into)",
    "a hand over the intake": r"\b(hand|rag|cloth)\b over the (intake|air)",
    "tying back or bridging a protection": r"\b(bridge|tie back|jumper|bypass)\w*\b[^.]*"
    r"\b(switch|breaker|rcd|fuse|stop button)\b",
    "a battery straight across a capacitor": r"\bflash\w*\b[^.]*\bcapacitor",
    "starting fluid with glow plugs": r"\b(spray|use|give)\w*\b[^.]*\b(ether|starting fluid)\b",
    "opening a hot radiator": r"\b(open|remove|unscrew)\w*\b[^.]*\b(cap)\b[^.]*\bwhile hot",
}  # fmt: skip
_DENIED = re.compile(r"\b(never|no|not|nobody|don't|nothing)\b", re.IGNORECASE)


def steps(catalogue: Catalogue) -> Iterator[tuple[str, str]]:
    for check in catalogue.checks.values():
        told = [f"{found.says}. {found.means}" for found in check.found.values()]
        yield f"check {check.code}", ". ".join([check.how, check.expect, *told])
    for cause in catalogue.causes:
        for remedy in cause.remedies:
            yield f"{cause.key} {remedy.action}", remedy.says


def advised(text: str, pattern: str) -> list[str]:
    """The sentences that say it without saying not to."""
    sentences = re.split(r"(?<=[.;:!?])\s+", text)
    return [
        s for s in sentences if re.search(pattern, s, re.IGNORECASE) and not _DENIED.search(s)
    ]


@pytest.mark.parametrize("pattern", NEVER.values(), ids=NEVER)
def test_no_step_advises_what_is_unsafe_for_an_owner(
    catalogue: Catalogue, pattern: str
) -> None:
    found = [(where, s) for where, text in steps(catalogue) for s in advised(text, pattern)]
    # The undoing of a get-by speaks of the bridge that comes off.
    assert [f for f in found if not f[0].endswith(("restore", "earlier-get-by"))] == []


@pytest.mark.parametrize(
    ("bad", "what"),
    [
        ("Hold the rack by hand and start it.", "the rack or throttle by hand"),
        ("Run it with the oil switch unplugged.", "running without the oil switch"),
        ("Unplug the oil pressure switch and try again.", "unplugging the oil switch"),
        ("Fit a neutral link at the panel.", "a neutral link"),
        ("Crank and look for spark beside the open bowl.", "a spark test over an open bowl"),
        ("Apply mains to the winding for a moment.", "mains to anything"),
        ("Hold a rag over the intake.", "a hand over the intake"),
        (
            "Bridge the temperature switch for a test run.",
            "tying back or bridging a protection",
        ),
    ],
)
def test_the_word_checks_would_catch_it(bad: str, what: str) -> None:
    assert advised(bad, NEVER[what])
    assert not advised("Never: " + bad.lower().rstrip(".") + " - never.", NEVER[what])


def test_flashing_is_told_with_its_safeguards(catalogue: Catalogue) -> None:
    flash = [
        remedy.says.lower()
        for cause in catalogue.causes
        for remedy in cause.remedies
        if remedy.action == "flash"
    ]
    assert flash
    for says in flash:
        assert "switch" in says or "lamp" in says, says
        assert "unplug" in says or "off" in says, says


def test_a_runaway_or_a_set_that_will_not_turn_is_not_to_be_run(catalogue: Catalogue) -> None:
    assert "running" in catalogue.symptoms["runaway"].cannot
    for code in ("no-crank", "clicks-only", "locked"):
        assert set(catalogue.symptoms[code].cannot) == {"running", "cranking"}


# --- quick to load


def quickest(times: int, load: Callable[[], object], enough: float = 0.0) -> float:
    """Processor seconds of the best run: what else the machine is doing is no matter.

    Nor is what the other tests hold in memory: it is put out of the collector's sight.
    """
    best = 9.0
    gc.collect()
    gc.freeze()
    try:
        for _ in range(times):
            start = process_time()
            load()
            best = min(best, process_time() - start)
            if best < enough:
                break
    finally:
        gc.unfreeze()
    return best


@pytest.mark.slow
def test_it_loads_from_its_yaml_in_well_under_a_second(texts: Texts) -> None:
    assert quickest(8, lambda: load_catalogue(texts), enough=0.3) < 1


@pytest.mark.slow
def test_it_loads_quicker_still_from_its_checked_form(texts: Texts, tmp_path: Path) -> None:
    from_yaml = quickest(2, lambda: load_catalogue(texts))
    packaged_catalogue.__wrapped__(tmp_path)
    kept = quickest(3, lambda: packaged_catalogue.__wrapped__(tmp_path))
    assert kept < from_yaml / 2


def test_the_checked_form_is_the_same_catalogue(catalogue: Catalogue, tmp_path: Path) -> None:
    packaged_catalogue.__wrapped__(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [f"catalogue-{catalogue.version}.json"]
    assert packaged_catalogue.__wrapped__(tmp_path) == catalogue


def test_a_spoilt_checked_form_is_not_believed(catalogue: Catalogue, tmp_path: Path) -> None:
    kept = tmp_path / f"catalogue-{catalogue.version}.json"
    kept.write_text('{"vocabulary": 3}', encoding="utf-8")
    assert packaged_catalogue.__wrapped__(tmp_path) == catalogue
    assert len(kept.read_bytes()) > 100_000


def test_a_folder_that_cannot_be_written_costs_speed_only(
    catalogue: Catalogue, tmp_path: Path
) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("", encoding="utf-8")
    assert packaged_catalogue.__wrapped__(in_the_way / "below") == catalogue


def test_another_word_is_another_version(texts: Texts, catalogue: Catalogue) -> None:
    assert version_of(texts) == catalogue.version
    assert version_of({**texts, "sets.yaml": texts["sets.yaml"] + "# x\n"}) != catalogue.version
    assert version_of(dict(reversed(list(texts.items())))) == catalogue.version


def test_every_field_of_a_kind_is_in_the_vocabulary(catalogue: Catalogue) -> None:
    assert set(SetKind.model_fields) <= set(catalogue.vocabulary.machine)


@pytest.mark.usefixtures("parsed_once")
def test_loading_changes_nothing_in_what_was_parsed(texts: dict[str, str]) -> None:
    first = load_catalogue(texts)
    assert load_catalogue(texts) == first
