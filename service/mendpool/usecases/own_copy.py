"""Take lines of a pool's feed into a member's own copy of it.

A line brings its derived case along where the pool derived it with this code and catalogue;
else the case is derived here, which takes a hundred times as long.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import MendpoolError
from mendpool.core.evidence.fit_format import fit_version
from mendpool.index.folder import Folder
from mendpool.store.copied import CopyStore
from mendpool.store.values import Change, CopiedLine, Facets, Fit
from mendpool.usecases.derive_again import Deriver
from mendpool.usecases.indexing import Indexing

_INDEX_PAGE = 2000
KINDS = ("report", "followup", "withdrawal", "fit")


class NotAFeed(MendpoolError):
    """What was sent is no line of a change feed."""


class Taking:
    """Takes lines into a copy.

    Args:
        store: of the copy.
        derive: derives cases; made only when it is first wanted.
        catalogue: whose cautions need not be kept with each report that they go with.
        now: aware; stands for the time of lines that tell none.
    """

    def __init__(
        self, store: CopyStore, derive: Deriver, catalogue: Catalogue, now: datetime
    ) -> None:
        self._store = store
        self._known = known_cautions(catalogue)
        self._derive = derive
        self._now = now
        self.reports = self.withdrawn = self.fits = self.derived = self.unread = 0

    def take(self, lines: Sequence[Mapping[str, Any]]) -> None:
        """Keep lines as `usecases.changes` tells them; all of them or none.

        Raises:
            NotAFeed: a line is of another form.
        """
        try:
            told = [self._copied(line) for line in lines]
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise NotAFeed(f"a line of the feed can't be read: {error!r:.80}") from error
        self._store.take(told, self._now)
        self.reports += sum(line.facets is not None for line in told)
        self.withdrawn += sum(line.change.kind == "withdrawal" for line in told)
        self.fits += sum(line.change.fit is not None for line in told)

    def _copied(self, line: Mapping[str, Any]) -> CopiedLine:
        kind, seq = line["kind"], int(line["sequence"])
        if kind not in KINDS or seq < 1:
            raise ValueError(kind)
        report = UUID(line["report"]) if "report" in line else None
        at = _time(line.get("received"), self._now)
        if kind == "fit":
            return CopiedLine(Change(seq, kind, str(seq), at, fit=_fit(line, seq, at)))
        ref = str(UUID(line["followup"])) if kind == "followup" else str(report)
        body = line.get("body")
        if body is None:
            return CopiedLine(Change(seq, kind, ref, at, report))
        group, vouched = int(line["group"]), bool(line["vouched"])
        elsewhere = bool(line.get("elsewhere", False))
        if kind == "followup":
            said = Change(seq, kind, ref, at, report, group, vouched, _text(body))
            return CopiedLine(replace(said, elsewhere=elsewhere))
        case = self._case(line, str(report), body)
        if case is None:
            self.unread += 1
            return CopiedLine(Change(seq, kind, ref, at, report))
        change = Change(
            seq,
            kind,
            ref,
            at,
            report,
            group,
            vouched,
            _text({**body, "cautions": self._cautions(body)}),
            case_body=case[0],
            derived_version=case[1],
            elsewhere=elsewhere,
        )
        return CopiedLine(change, facets_of(body))

    def _cautions(self, body: Mapping[str, Any]) -> list[Any]:
        cautions = body.get("cautions", ())
        # The words of a warning that may save a life stay, whatever catalogue comes later.
        return list(cautions) if body.get("advice") else self._short(cautions)

    def _short(self, cautions: Sequence[Mapping[str, Any]]) -> list[Any]:
        """Return cautions by the hash of their words, where the catalogue has the words."""
        names = [caution_name(caution) for caution in cautions]
        return [
            name if name in self._known else caution
            for name, caution in zip(names, cautions, strict=True)
        ]

    def _case(
        self, line: Mapping[str, Any], report: str, body: Mapping[str, Any]
    ) -> tuple[str, str] | None:
        version = self._derive.version
        if line.get("derived") == version and "case" in line:
            return _text(line["case"]), version
        self.derived += 1
        made = self._derive.case(report, body)
        if made is not None:
            return made, version
        # This code can't read it; in a pool of the same code its case would have come along.
        return None


def caution_name(caution: Mapping[str, Any]) -> str:
    """Return a short name that only these very words have; its topic's code stands first."""
    words = json.dumps(caution, sort_keys=True).encode()
    return f"{caution.get('code', '')}:{hashlib.sha256(words).hexdigest()[:12]}"


def known_cautions(catalogue: Catalogue) -> dict[str, dict[str, str]]:
    """Return the catalogue's cautions as reports show them, by `caution_name`, by rank."""
    gravest = sorted(catalogue.cautions, key=lambda caution: caution.rank)
    told = [{"code": c.topic, "says": c.says, "source": c.source} for c in gravest]
    return {caution_name(caution): caution for caution in told}


def with_cautions(
    report: dict[str, Any], known: Mapping[str, Mapping[str, str]]
) -> dict[str, Any]:
    """Return a report of a copy with the words of its cautions, as the pool shows it.

    Where this catalogue has other words by now, those of the topic stand in till the next sync.
    """
    if "cautions" not in report:
        return report
    kept = [_worded(c, known) if isinstance(c, str) else c for c in report["cautions"]]
    return {**report, "cautions": kept}


def _worded(name: str, known: Mapping[str, Mapping[str, str]]) -> Mapping[str, str]:
    """Return the caution of a name: its own words, else today's of its topic, never none."""
    code, _, words = name.rpartition(":")
    # Copies of before have names without the code.
    same = [caution for kept, caution in known.items() if kept.rpartition(":")[2] == words]
    topic = [caution for caution in known.values() if code and caution["code"] == code]
    return next(iter([*same, *topic]), {"code": code or "caution", "says": _GONE, "source": ""})


_GONE = (
    "A warning stands here whose words this machine no longer has. Take care, and run "
    "mendpool sync to read it."
)


def index_copy(store: CopyStore, folder: Folder, *, whole: bool) -> None:
    """Bring the index of a copy up to its feed and put it on disk.

    With all of it in the index, a question need not read the feed at all.

    Args:
        whole: make it anew, since something was withdrawn.

    Raises:
        OSError: the disk is full or can't be written.
    """
    indexing = Indexing(store, folder)
    begun = seq = indexing.load()
    while rows := store.cases_after(seq, _INDEX_PAGE):
        indexing.take(rows)
        seq = rows[-1].seq
    if whole or seq != begun:
        indexing.keep(whole=whole)


def facets_of(body: Mapping[str, Any]) -> Facets:
    """Return what a stored report can be listed by."""
    causes = [cause for cause in (body.get("cause"), *body.get("causes", ())) if cause]
    return Facets(
        fuel=str(body["machine"]["fuel"]),
        excitation=body["machine"].get("excitation"),
        outcome=str(body["outcome"]),
        happened=body.get("happened"),
        symptoms=tuple(body.get("symptoms", ())),
        components=tuple(c["component"] for c in (*body.get("attempts", ()), *causes)),
    )


def _fit(line: Mapping[str, Any], seq: int, at: datetime) -> Fit | None:
    body = line.get("body")
    if body is None:
        return None
    packed = json.dumps(body, sort_keys=True, separators=(",", ":")).encode()
    version = fit_version(str(line["catalogue"]), int(body.get("format", 0)))
    return Fit(seq, int(line["cut"]), version, at, packed)


def _text(body: Any) -> str:  # noqa: ANN401 - any JSON
    return json.dumps(body, ensure_ascii=False, separators=(",", ":"))


def _time(told: str | None, now: datetime) -> datetime:
    return (
        now
        if told is None
        else datetime.strptime(told, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    )


def in_pages(
    lines: Iterable[Mapping[str, Any]], most: int
) -> Iterable[list[Mapping[str, Any]]]:
    """Yield lines so many at a time."""
    page: list[Mapping[str, Any]] = []
    for line in lines:
        page.append(line)
        if len(page) == most:
            yield page
            page = []
    if page:
        yield page
