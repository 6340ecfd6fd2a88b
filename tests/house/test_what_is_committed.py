"""Nothing committed names a machine's paths, a registry, or a real maker."""

import hashlib
import re
from functools import cache
from pathlib import Path

from tests.house.tree import TOP, tracked

_TEXTS = {
    ".css", ".html", ".js", ".json", ".mako", ".md", ".py", ".toml", ".txt", ".yaml", ".yml",
}  # fmt: skip
# Written with a gap, so that this file does not find itself.
_MACHINE = re.compile(
    r"(?<![\w.])/(?:w[o]rk|r[o]ot|h[o]me/\w+|o[p]t/(?:wheels|pypi))/"
    r"|/t[m]p/w|p[y]pi\.org|p[y]thonhosted|r[e]gistry\.npmjs|://[^ ]*/s[i]mple/"
)
_WORD = re.compile(r"[a-z]{4,}")
# The first twelve digits of the SHA-256 of the lower-case names of makers of engines, sets,
# alternators, regulators, meters and oils. Only their hashes, for the house names none.
_MAKERS = frozenset({
    "0021e408d153", "014e3f1f2076", "03273a56bb38", "03e61c8fb71c", "05d680db04bf",
    "0600c79833cc", "07b35f20b4af", "0997942f6064", "09b7b4bebb61", "0f141a82c514",
    "11f915bfcd3e", "130f2fc8b55b", "152f451b82e3", "158c5c53166e", "1609d914e47b",
    "1728f4f24f28", "174046fe1afe", "1a51a9a22402", "2113ce977fb8", "25cd71af0713",
    "261651c7c73c", "270d19a94a40", "2bc530625936", "2e11f2c2a8b0", "30a1f8260377",
    "32c20e8d7004", "337b8d2c1e13", "35296af6701a", "38e6891f62ee", "39a9abb4fccd",
    "3b3e64e780a9", "3bfaf7682094", "3eaa3425d073", "40fc6718a81f", "44e8dd36c54c",
    "463fe640da82", "46c0eff0bac6", "4747e8f2fae7", "484723f641f4", "49762afb5c3e",
    "4c77cac1139b", "4d13e1dbe7ab", "50bd62820127", "52bbf05c5bf8", "587bf9b32f9a",
    "595a5e4acc45", "59c1de0763e8", "5a70aad00ac4", "60f522075cf5", "651b8ff3460b",
    "668d0ffa62f7", "66b9b6e861fb", "67510c89572b", "69ea8b684360", "6e5b9ac0642f",
    "6ffd166a9b0f", "75aa62551733", "77385badb525", "77a45f25d31a", "782b9a67691c",
    "78fe4a402ea1", "7c4f03f7bde4", "8008d0bcecbe", "80537d65d479", "8417659f46b5",
    "859ff5df2f1b", "8725b5e825eb", "879cf9d91962", "884c8925e6c2", "8ae0bd50306d",
    "8b5b4f7c5ce5", "8bb25a20d80d", "91bc3eedce1e", "9287b0b8f670", "93d65b44487c",
    "9b90ca19464b", "a246c741e936", "a2cd35d04be9", "a8005e860c38", "a9cc19ac5f2d",
    "aa7d397c4ccf", "ab3b77ad7a56", "ac85892205b9", "af62a9a95fbb", "b4fedafd5664",
    "bb7acca7d7b1", "bccae4ce7be6", "bf97d84684b2", "c29a6b3cbecf", "c3a8edb12963",
    "c444d3c81327", "c4762d43d855", "c5553f597baa", "ca9fd6b44635", "cc6e872950c9",
    "d9a8ecb6f4bf", "df9630d8e619", "e077b295b764", "e292000b16bb", "e3a2d8fabafa",
    "e7eceae55aeb", "ea81598faf4b", "eadcb38128f8", "ee878cd79c98", "f09371d394c1",
    "f5f292f547cc", "f64dc92b8869", "fb5459aea8d2", "fc28a051657c", "fe9fc7844a7d",
})  # fmt: skip


@cache
def texts() -> dict[str, str]:
    found = {}
    for path in tracked():
        if path.suffix in _TEXTS or path.name in ("Dockerfile", "run"):
            found[path.relative_to(TOP).as_posix()] = path.read_text("utf-8")
    return found


def is_maker(word: str) -> bool:
    return hashlib.sha256(word.encode()).hexdigest()[:12] in _MAKERS


def test_there_is_something_to_look_at() -> None:
    assert {"README.md", "pyproject.toml", "service/Dockerfile", ".ci/run"} <= set(texts())


def test_no_path_of_a_machine_and_no_registry_is_named() -> None:
    said = {name: found for name, text in texts().items() if (found := _MACHINE.findall(text))}
    assert said == {}


def test_no_real_maker_is_named() -> None:
    seen: dict[str, bool] = {}
    named: dict[str, set[str]] = {}
    for name, text in texts().items():
        if name.endswith("constraints.txt"):
            continue
        for word in set(_WORD.findall(text.lower())):
            if word not in seen:
                seen[word] = is_maker(word)
            if seen[word]:
                named.setdefault(name, set()).add(word)
    assert named == {}


def test_a_maker_would_be_seen() -> None:
    # One of the list, backwards so that it stands nowhere.
    assert is_maker("atobuk"[::-1])
    assert not is_maker("harrow")


def test_no_secret_file_is_committed() -> None:
    assert [p for p in tracked() if p.suffix in (".sqlite3", ".pem", ".key", ".env")] == []
    assert not any(Path("secrets") in p.relative_to(TOP).parents for p in tracked())
