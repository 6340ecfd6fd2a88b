"""Faults in limits, patterns and the words of readings are named, with file and entry."""

import pytest

from mendpool.core.catalogue.files import packaged_texts

from tests.core.spoilt import LIMIT, Texts, faults_of

pytestmark = pytest.mark.usefixtures("parsed_once")


@pytest.fixture(scope="module")
def texts() -> Texts:
    return packaged_texts()


READING_FAULTS: dict[str, tuple[str, str, str, str]] = {
    "a point that the quantity has not": (
        "limits.yaml", LIMIT.format(point="brushs", more="basis: absolute"), "",
        "limits.yaml: length/brushs: no such code brushs; did you mean brush?",
    ),
    "a limit behind one that takes all": (
        "limits.yaml", LIMIT.format(point="brush", more="basis: absolute") * 2, "",
        "limits.yaml: length/brush: stands behind an entry that takes all",
    ),
    "a symptom that a limit can't show": (
        "limits.yaml",
        LIMIT.format(point="brush", more="shows: {low: [no-outputs]}"), "",
        "limits.yaml: length/brush: no such code no-outputs; did you mean no-output?",
    ),
    "a topic that there is not": (
        "limits.yaml",
        LIMIT.format(point="brush", more="danger: {topic: live-tests, below: 2}"), "",
        "limits.yaml: length/brush: no such code live-tests; did you mean live-test?",
    ),
    "a kind of set that there is not": (
        "limits.yaml", LIMIT.format(point="brush", more="surely: {fuel: [deisel]}"), "",
        "limits.yaml: length/brush: no such code deisel; did you mean diesel?",
    ),
    "a pattern of what is not measured": (
        "patterns.yaml", ("\n- code: zz\n  parts: [{quantity: voltage-ac, points: [leg-9]},"
        " {quantity: voltage-ac, points: [leg-1]}]\n  says: Two.\n  unless: [zy]\n"
        "  source: common practice\n  confidence: common practice\n"), "",
        "patterns.yaml: zz: no such code leg-9; did you mean leg-1?",
    ),
    "a pattern written twice": (
        "patterns.yaml", ("\n- code: lost-neutral\n  parts: [{quantity: voltage-ac, points:"
        " [leg-2]}, {quantity: voltage-ac, points: [leg-1]}]\n  says: Two.\n"
        "  source: common practice\n  confidence: common practice\n"), "",
        "patterns.yaml: lost-neutral: written twice",
    ),
    "a point nobody can say": (
        "vocabulary.yaml", "points: [brush]", "points: [brush, spring]",
        "reading-words.yaml: places: no words for length at spring",
    ),
    "a point without a limit": (
        "vocabulary.yaml", "points: [brush, spring]", "points: [brush, spring, holder]",
        "limits.yaml: length: no entry for holder",
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def reading_faults(texts: Texts) -> tuple[str, ...]:
    broken = dict(texts)
    for path, old, new, _ in READING_FAULTS.values():
        if new:
            assert old in broken[path], f"{path} holds no {old!r} any more"
            broken[path] = broken[path].replace(old, new, 1)
        else:
            broken[path] += old
    return faults_of(broken)


@pytest.mark.parametrize("line", [f[-1] for f in READING_FAULTS.values()], ids=READING_FAULTS)
def test_limits_patterns_and_words_of_readings_are_checked_too(
    reading_faults: tuple[str, ...], line: str
) -> None:
    assert line in reading_faults


def test_a_band_upside_down_is_refused(texts: Texts) -> None:
    few = {p: t for p, t in texts.items() if not p.startswith(("causes/", "checks/"))}
    wrong = (
        "\n- quantity: length\n  points: [brush]\n  low: 9\n  high: 5\n"
        "  means: {within: Good., low: Short., high: Long.}\n"
        "  source: common practice\n  confidence: common practice\n"
    )
    lines = faults_of({**few, "limits.yaml": texts["limits.yaml"] + wrong})
    assert any("low is above high" in line and line.startswith("limits.yaml") for line in lines)
