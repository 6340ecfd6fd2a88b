"""A corpus of a size: texts for the peers, cases for us, true causes for the judge.

Up to `drawn` reports each is a repair of its own, drawn by the simulator. A larger corpus
goes on with retellings: a drawn report with a quarter of its telling words exchanged, half of
them for words of the same true cause and half for anyone's, and a tenth of its symptoms,
readings and parts left out. A word goes from the raw text and from our terms together, so no
side is given what the other has lost. Retellings make a corpus less various than as many
repairs: what is measured on one says more of cost than of quality.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from random import Random
from typing import Any, NamedTuple
from uuid import UUID

from mendpool.core.text.words import stem, words_of

from tests.bench.scale.drawn import Pool, Told

DRAWN = 100_000
"""Reports drawn as repairs of their own, unless told otherwise."""

_EXCHANGED, _SAME_CAUSE, _LEFT_OUT = 0.25, 0.5, 0.1
_POOL_OF_WORDS = 200_000
Word = tuple[str, str]
"""A word as typed, and its term."""


class Corpus(NamedTuple):
    """Files with a line for each report, in the order of their numbers from 1."""

    folder: Path
    count: int
    drawn: int

    def texts(self) -> list[str]:
        """Return the raw complaints."""
        return (self.folder / "texts.txt").read_text(encoding="utf-8").split("\n")[:-1]

    def causes(self) -> list[str]:
        """Return the true causes; an empty one is none that the catalogue knows."""
        return (self.folder / "causes.txt").read_text(encoding="utf-8").split("\n")[:-1]

    def cases(self) -> Iterator[tuple[int, str]]:
        """Yield the member and the derived case of each."""
        with (self.folder / "cases.txt").open(encoding="utf-8") as lines:
            for line in lines:
                group, case = line.rstrip("\n").split(" ", 1)
                yield int(group), case


def corpus(pool: Pool, count: int, drawn: int = DRAWN) -> Corpus:
    """Return the corpus of that size, made where it is not in the folder yet."""
    own = min(count, drawn)
    folder = pool.folder / f"corpus-{count}-of-{own}"
    made = Corpus(folder, count, own)
    if not (folder / "causes.txt").exists():
        folder.mkdir(parents=True, exist_ok=True)
        _written(folder, _reports(pool, count, own))
    return made


def _written(folder: Path, reports: Iterable[Told]) -> None:
    with (
        (folder / "texts.txt").open("w", encoding="utf-8") as texts,
        (folder / "cases.txt").open("w", encoding="utf-8") as cases,
        (folder / "causes.part").open("w", encoding="utf-8") as causes,
    ):
        for told in reports:
            texts.write(" ".join(told.text.split()) + "\n")
            cases.write(f"{told.group} {told.case}\n")
            causes.write((told.cause or "") + "\n")
    (folder / "causes.part").rename(folder / "causes.txt")


def _reports(pool: Pool, count: int, own: int) -> Iterator[Told]:
    held: list[Told] = []
    rng = Random(f"{pool.seed} ids")
    for number, told in enumerate(pool.reports(own), 1):
        named = json.loads(told.case)
        named["id"] = str(_id(number, rng))
        if count > own:
            held.append(told)
        yield told._replace(case=_dumped(named))
    if count > own:
        retold = Retold(held, Random(f"{pool.seed} retold"))
        for number in range(own + 1, count + 1):
            yield retold.next(number, str(_id(number, rng)))


class Retold:
    """Tells drawn reports again, each in turn, every time otherwise."""

    def __init__(self, held: list[Told], rng: Random) -> None:
        self._held = held
        self._rng = rng
        self._read = [(json.loads(told.case), _linked(told)) for told in held]
        self._of_cause: dict[str | None, list[Word]] = defaultdict(list)
        for told, (_, words) in zip(held, self._read, strict=True):
            self._of_cause[told.cause] += words.items()
        self._anyone = [word for words in self._of_cause.values() for word in words]
        if len(self._anyone) > _POOL_OF_WORDS:
            self._anyone = rng.sample(self._anyone, _POOL_OF_WORDS)

    def next(self, number: int, name: str) -> Told:
        """Return the report of this number, under this id."""
        place = number % len(self._held)
        told = self._held[place]
        case, words = self._read[place]
        text, terms = told.text, dict.fromkeys(case["terms"])
        gone = {term: typed for typed, term in words.items() if self._chance(_EXCHANGED)}
        came = dict(self._word(told.cause) for _ in gone)
        typed_now = [word for word in text.split() if _bare(word) not in gone.values()]
        for typed in came:
            typed_now.insert(self._rng.randrange(len(typed_now) + 1), typed)
        kept = [
            term
            for term in terms
            if term not in gone and (term[:2] in ("k:", "w:") or not self._chance(_LEFT_OUT))
        ]
        now = dict.fromkeys([*kept, *came.values()])
        return Told(
            told.cause,
            self._held[self._rng.randrange(len(self._held))].group,
            " ".join(typed_now),
            _dumped(_with_terms(case, now, name)),
        )

    def _chance(self, share: float) -> bool:
        return self._rng.random() < share

    def _word(self, cause: str | None) -> Word:
        same = self._of_cause[cause]
        words = same if same and self._chance(_SAME_CAUSE) else self._anyone
        return words[int(self._rng.random() * len(words))]


def _with_terms(case: dict[str, Any], terms: dict[str, None], name: str) -> dict[str, Any]:
    return {
        **case,
        "id": name,
        "terms": list(terms),
        "symptoms": [code for code in case["symptoms"] if f"s:{code}" in terms],
        "absent": [code for code in case["absent"] if f"n:{code}" in terms],
        "found": [entry for entry in case["found"] if f"r:{entry}" in terms],
    }


def _linked(told: Told) -> dict[str, str]:
    """Return the words of a complaint as typed that are terms of its case as they stand."""
    terms = frozenset(json.loads(told.case)["terms"])
    bare = {_bare(word) for word in told.text.split()}
    linked = {}
    for word in words_of(told.text):
        term = f"w:{stem(word.text)}"
        if term in terms and word.text in bare:
            linked[word.text] = term
    return linked


def _bare(word: str) -> str:
    return word.strip(".,;:!?()\"'").lower()


def _dumped(case: dict[str, Any]) -> str:
    return json.dumps(case, ensure_ascii=False, separators=(",", ":"))


def _id(number: int, rng: Random) -> UUID:
    """Return a UUIDv7: a minute between reports, sent up to some days late."""
    random = rng.getrandbits(62)
    moment = 1_700_000_000_000 + number * 60_000 - random % 1_000_000_000
    return UUID(int=moment << 80 | 0x7 << 76 | 0x2 << 62 | random)
