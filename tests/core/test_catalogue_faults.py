"""Every fault in the catalogue is named, with its file and its entry."""

import re

import pytest

from mendpool.core.catalogue.files import packaged_texts

from tests.core.spoilt import Texts, faults_of

pytestmark = pytest.mark.usefixtures("parsed_once")


@pytest.fixture(scope="module")
def texts() -> Texts:
    return packaged_texts()


# --- what can't be an entry at all


CHECK = """
{code}:
  label: Look
  how: Look at it.
  expect: All right.
  state: stopped
  minutes: 2
  found:
    fine: {{says: Fine, means: Not this., usual: 90}}
    bad: {{says: Bad, means: This., usual: 10, likely: {{{likely}}}}}
"""


REMEDY = 'remedies: [{action: replace, minutes: 9, cost: 1, works: 0.9, says: "Renew it."}]'


def cause(component: str, failure: str, symptoms: str, more: str = REMEDY) -> str:
    return (
        f"- component: {component}\n  failure: {failure}\n  says: As it says.\n"
        f"  symptoms: {symptoms}\n  {more}\n"
    )


MISTYPED: dict[str, tuple[str, str, str]] = {
    "too few aliases of a component": (
        "components/zz.yaml", "thing:\n  says: A thing.\n  aliases: [a, b]\n",
        r"components/zz.yaml: thing: aliases: .*at least 3",
    ),
    "an entry in two files": (
        "components/zz.yaml", "mounts: {says: Twice., aliases: [a, b, c]}\n",
        "components/zz.yaml: mounts: written twice",
    ),
    "a cure that works more than always": (
        "causes/zz.yaml", cause("avr", "worn", "{no-output: {usual: 1}}",
        "remedies: [{action: replace, minutes: 9, cost: 1, works: 1.2, says: Renew.}]"),
        r"causes/zz.yaml: avr/worn: remedies.0.works: ",
    ),
    "no remedy": (
        "causes/zz.yaml", cause("avr", "worn", "{no-output: {usual: 1}}", "remedies: []"),
        r"causes/zz.yaml: avr/worn: remedies: .*at least 1",
    ),
    "a key nobody knows": (
        "causes/zz.yaml",
        cause("avr", "worn", "{no-output: {usual: 1}}", f"{REMEDY}\n  likly: 3"),
        r"causes/zz.yaml: avr/worn: likly: ",
    ),
    "more than a hundred per cent": (
        "checks/zz.yaml", CHECK.format(code="zz-look", likely="avr/failed: 140"),
        r"checks/zz.yaml: zz-look: found.bad.likely.avr/failed: ",
    ),
    "a list where entries are by code": (
        "checks/zz.yaml", "- code: zz-look\n",
        "checks/zz.yaml: must hold entries by their code",
    ),
    "entries by code where a list is wanted": (
        "causes/zz.yaml", "avr: {failure: worn}\n",
        "causes/zz.yaml: must hold a list of entries",
    ),
    "a word where an entry is wanted": (
        "components/zz.yaml", "thing: yes please\n", "components/zz.yaml: thing: ",
    ),
    "text that is no YAML": ("checks/zz.yaml", "a: [1, 2\n", "checks/zz.yaml: not YAML: "),
    "a key written twice in one entry": (
        "checks/zz.yaml", "look: {state: stopped, minutes: 2, state: running}\n",
        "checks/zz.yaml: state: written twice",
    ),
    "an entry written twice in one file": (
        "components/zz.yaml", "thing: {says: One.}\nthing: {says: Two.}\n",
        "components/zz.yaml: thing: written twice",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("path", "text", "line"), MISTYPED.values(), ids=MISTYPED)
def test_what_is_no_entry_is_named_with_its_file(
    texts: Texts, path: str, text: str, line: str
) -> None:
    # What is broken needs no company to be found: the other causes and checks stay away.
    few = {p: t for p, t in texts.items() if not p.startswith(("causes/", "checks/"))}
    assert [found for found in faults_of({**few, path: text}) if re.match(line, found)]


def test_too_few_aliases_of_a_symptom_are_named(texts: Texts) -> None:
    few = {p: t for p, t in texts.items() if not p.startswith(("causes/", "checks/"))}
    more = "\nhums:\n  says: Hums.\n  share: 1\n  aliases: [hums, humming, a hum]\n"
    lines = faults_of({**few, "symptoms.yaml": texts["symptoms.yaml"] + more})
    assert any(re.match(r"symptoms.yaml: hums: aliases: .*at least 6", line) for line in lines)


@pytest.mark.parametrize("missing", ["vocabulary.yaml", "words.yaml", "sets.yaml"])
def test_a_missing_file_is_named(texts: Texts, missing: str) -> None:
    lines = faults_of({p: t for p, t in texts.items() if p != missing})
    assert any(line.startswith(missing) for line in lines)


# --- what does not fit the rest


BROKEN: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "an unknown symptom": (
        "causes/z01.yaml",
        cause("avr", "worn", "{no-outputs: {usual: 1}, no-output: {usual: 1}}"),
        ("causes/z01.yaml: avr/worn: no such code no-outputs; did you mean no-output?",),
    ),
    "an unknown component": (
        "causes/z02.yaml", cause("brush", "worn", "{noise: {usual: 1}}"),
        ("causes/z02.yaml: brush/worn: no such code brush; did you mean brushes?",
         "causes/z02.yaml: brush/worn: no check reaches it"),
    ),
    "an unknown failure, event, topic and action": (
        "causes/z03.yaml", cause("choke", "wurn", "{noise: {usual: 1}}",
        "follows: [stood-lon]\n  remedies: [{action: replce, minutes: 1, cost: 1, works: 0.5, "
        "says: Renew., cautions: [fuel-fires]}]"),
        ("causes/z03.yaml: choke/wurn: no such code wurn; did you mean worn?",
         "causes/z03.yaml: choke/wurn: no such code stood-lon; did you mean stood-long?",
         "causes/z03.yaml: choke/wurn: no such code replce; did you mean replace?",
         "causes/z03.yaml: choke/wurn: no such code fuel-fires; did you mean fuel-fire?"),
    ),
    "a get-by for a remedy": (
        "causes/z04.yaml", cause("oil-switch", "worn", "{noise: {usual: 1}}",
        "remedies: [{action: bypass, minutes: 1, cost: 0, works: 0.9, says: Never.}]"),
        ("causes/z04.yaml: oil-switch/worn: bypass is no cure",),
    ),
    "no weight": (
        "causes/z05.yaml", cause("battery", "wet", "{slow-crank: {diesel: 4}}"),
        ("causes/z05.yaml: battery/wet: slow-crank: no `usual` weight",),
    ),
    "weights that stand on nothing": (
        "causes/z06.yaml", cause("battery", "perished", "{slow-crank: {usual: 0, diesel: 4}}"),
        (("causes/z06.yaml: battery/perished: slow-crank: `usual` must be above 0 where other "
         "weights stand on it"),),
    ),
    "a weight below nothing": (
        "causes/z07.yaml", cause("battery", "worn", "{slow-crank: {usual: 2, diesel: -4}}"),
        ("causes/z07.yaml: battery/worn: slow-crank: a weight below 0",),
    ),
    "a cause no symptom reaches": (
        "causes/z08.yaml", cause("exhaust", "wet", "{}"),
        ("causes/z08.yaml: exhaust/wet: no symptom reaches it",
         "causes/z08.yaml: exhaust/wet: no check reaches it"),
    ),
    "a cause whose weights are all nothing": (
        "causes/z09.yaml", cause("exhaust", "burnt", "{noise: {usual: 0}}"),
        ("causes/z09.yaml: exhaust/burnt: no symptom reaches it",
         "causes/z09.yaml: exhaust/burnt: no check reaches it"),
    ),
    "a cause written twice": (
        "causes/z10.yaml", cause("brushes", "worn", "{no-output: {usual: 13}}"),
        ("causes/z10.yaml: brushes/worn: written twice",),
    ),
    "brushes on a brushless set": (
        "causes/z11.yaml", cause("brushes", "wet", "{no-output: {usual: 1, brushless-avr: 2}}"),
        ("causes/z11.yaml: brushes/wet: no-output: brushless-avr sets have no such cause",),
    ),
    "a thermostat on an air-cooled set": (
        "causes/z12.yaml", cause("thermostat", "wet", "{overheats: {usual: 1, air: 3}}"),
        ("causes/z12.yaml: thermostat/wet: overheats: air sets have no such cause",
         "causes/z12.yaml: thermostat/wet: no check reaches it"),
    ),
    "a cause beyond the sets that have its part": (
        "causes/z13.yaml", cause("glow-plug", "wet", "{hard-start: {usual: 1}}",
        f"only: {{fuel: [petrol]}}\n  {REMEDY}"),
        ("causes/z13.yaml: glow-plug/wet: only.fuel: beyond the sets that have the component",),
    ),
    "a kind of set that there is not": (
        "causes/z14.yaml", cause("mounts", "wet", "{noise: {usual: 1, deisel: 3}}",
        f"only: {{cooling: [airy]}}\n  {REMEDY}"),
        ("causes/z14.yaml: mounts/wet: noise: no such kind of set deisel; did you mean diesel?",
         "causes/z14.yaml: mounts/wet: no such code airy; did you mean air?"),
    ),
    "results beyond a hundred per cent": (
        "checks/z21.yaml", CHECK.format(code="z21", likely="brushes/worn: 60")
        .replace("usual: 90}", "usual: 90, likely: {brushes: 50}}"),
        ("checks/z21.yaml: z21: brushes/worn: its results add up to 110 %",),
    ),
    "a cause that no check may speak of": (
        "checks/z22.yaml", CHECK.format(code="z22", likely="brushes/worm: 60"),
        ("checks/z22.yaml: z22: bad: no such cause brushes/worm; did you mean brushes/worn?",),
    ),
    "an unknown caution and state of a check": (
        "checks/z23.yaml", CHECK.format(code="z23", likely="") + "  cautions: [hot-surfaces]\n",
        ("checks/z23.yaml: z23: no such code hot-surfaces; did you mean hot-surface?",),
    ),
    "an unknown quantity": (
        "checks/z24.yaml", CHECK.format(code="z24", likely="").replace("fine:", "within:")
        .replace("bad:", "low:") + "  reading: {quantity: volts-ac, point: output}\n",
        ("checks/z24.yaml: z24: no such code volts-ac; did you mean voltage-ac?",),
    ),
    "an unknown point and condition": (
        "checks/z25.yaml", CHECK.format(code="z25", likely="").replace("fine:", "within:")
        .replace("bad:", "low:")
        + "  reading: {quantity: voltage-ac, point: outputs, condition: no-loads}\n",
        ("checks/z25.yaml: z25: no such code outputs; did you mean output?",
         "checks/z25.yaml: z25: no such code no-loads; did you mean no-load?"),
    ),
    "a reading with results of its own": (
        "checks/z26.yaml", CHECK.format(code="z26", likely="")
        + "  reading: {quantity: voltage-ac, point: output}\n",
        ("checks/z26.yaml: z26: a reading's results are low, within, high",),
    ),
    "one result only": (
        "checks/z27.yaml", CHECK.format(code="z27", likely="").rsplit("    bad:", 1)[0],
        ("checks/z27.yaml: z27: a check with one result tells nothing",),
    ),
    "nothing usual": (
        "checks/z28.yaml", CHECK.format(code="z28", likely="").replace("usual: 90", "usual: 0")
        .replace("usual: 10", "usual: 0"),
        ("checks/z28.yaml: z28: no `usual` above 0",),
    ),
    "a look that settles what is no kind": (
        "checks/z29.yaml", CHECK.format(code="z29", likely="") + "  tells: cooling\n",
        ("checks/z29.yaml: z29: no such code fine",
         "checks/z29.yaml: z29: no such code bad"),
    ),
    "a look that settles no field": (
        "checks/z30.yaml", CHECK.format(code="z30", likely="") + "  tells: coolings\n",
        ("checks/z30.yaml: z30: no such code coolings; did you mean cooling?",),
    ),
    "a reading that settles the kind": (
        "checks/z31.yaml", CHECK.format(code="z31", likely="").replace("fine:", "within:")
        .replace("bad:", "low:")
        + "  reading: {quantity: voltage-ac, point: output}\n  tells: phases\n",
        ("checks/z31.yaml: z31: a reading can't settle what kind of set it is",
         "checks/z31.yaml: z31: no such code within", "checks/z31.yaml: z31: no such code low"),
    ),
    "a component that nothing happens to": (
        "vocabulary.yaml", "{mounts:",
        ("components/: doubler: no entry for this code",
         "components/: doubler: no cause names it",
         "sheet.yaml: letters: components: no letter for doubler"),
    ),
    "a symptom that nothing gives": (
        "vocabulary.yaml", "    no-output:",
        ("symptoms.yaml: sings: no entry for this code",
         "symptoms.yaml: sings: no cause gives this symptom",
         "sheet.yaml: letters: symptoms: no letter for sings"),
    ),
    "a topic without a text": (
        "vocabulary.yaml", "  back-feed:", ("cautions.yaml: wildlife: no text for this topic",),
    ),
    "a caution that nothing could call for": (
        "cautions.yaml",
        ("- topic: lifting\n  says: Mind your back when you lift.\n  source: common practice\n"
        "  confidence: common practice\n  rank: 5\n  when:\n    symptoms: [noises]\n"
        "    components: [mount]\n    actions: [removes]\n    checks: [walk-rounds]\n"
        "    readings: ['pressures@oil:low', 'pressure@oils:low', 'pressure@oil:lows']\n"
        "    sets: {fuel: [deisel]}\n"),
        ("cautions.yaml: lifting: no such code noises; did you mean noise?",
         "cautions.yaml: lifting: no such code mount; did you mean mounts?",
         "cautions.yaml: lifting: no such code removes; did you mean remove?",
         "cautions.yaml: lifting: no such code walk-rounds; did you mean walk-round?",
         "cautions.yaml: lifting: no such code pressures; did you mean pressure?",
         "cautions.yaml: lifting: no such code oils; did you mean oil?",
         "cautions.yaml: lifting: no such code lows; did you mean low?",
         "cautions.yaml: lifting: no such code deisel; did you mean diesel?"),
    ),
    "a protection that is no part": (
        "sets.yaml", "protections: [",
        ("sets.yaml: protections: no such code oil-swich; did you mean oil-switch?",
         "get-bys.yaml: oil-swich: a protection needs words of its own"),
    ),
    "an action that is none": (
        "words.yaml", "actions:\n",
        ("words.yaml: actions: no such code replac; did you mean replace?",),
    ),
}  # fmt: skip


# Faults that are put into a shipped text, before or after what they name.
INSERTED = {
    "{mounts:": "{doubler: a part nobody has written, mounts:",
    "    no-output:": "    sings: sings\n    no-output:",
    "  back-feed:": "  wildlife: animals\n  back-feed:",
    "protections: [": "protections: [oil-swich, ",
    "actions:\n": "actions:\n  replac: [swopped]\n",
}


@pytest.fixture(scope="module")
def all_faults(texts: Texts) -> tuple[str, ...]:
    """Every fault at once: loading is not cheap, and one must not hide another."""
    broken = dict(texts)
    for path, text, _ in BROKEN.values():
        if text in INSERTED:
            assert text in broken[path], f"{path} holds no {text!r} any more"
            broken[path] = broken[path].replace(text, INSERTED[text], 1)
        else:
            broken[path] = broken.get(path, "") + "\n" + text
    return faults_of(broken)


@pytest.mark.parametrize("lines", [lines for _, _, lines in BROKEN.values()], ids=BROKEN)
def test_what_does_not_fit_the_rest_is_named_with_file_and_entry(
    all_faults: tuple[str, ...], lines: tuple[str, ...]
) -> None:
    assert set(lines) <= set(all_faults)


def test_nothing_else_is_complained_of(all_faults: tuple[str, ...]) -> None:
    expected = {line for _, _, lines in BROKEN.values() for line in lines}
    assert set(all_faults) == expected
