"""Routes of the forms: each reads a form, does what a route of `/v1` does, and draws a page."""

from collections.abc import Callable, Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from mendpool.api.context import Running, Service
from mendpool.api.ids import known_id, uuid7
from mendpool.api.pages import drawn as draw
from mendpool.api.pages.answering import answer_words, removed_words, report_lines
from mendpool.api.pages.asking import FIGURES, KINDS, number, question_of
from mendpool.api.pages.form import Form, read_form
from mendpool.api.pages.reporting import ROWS, report_of, struck
from mendpool.api.pages.texts import Texts, languages
from mendpool.api.pages.who import Visitor, enter, leave, visitor_of, within_rate
from mendpool.api.problems import Refusal, told_of
from mendpool.api.report_routes import within_the_day
from mendpool.core.catalogue.typed import typed
from mendpool.core.errors import MendpoolError, RefusedInput
from mendpool.core.record.report import Followup, Question, Report
from mendpool.store.values import ReportFilters
from mendpool.usecases import ask as asking
from mendpool.usecases import file_report as filing
from mendpool.usecases import follow_up as following
from mendpool.usecases import look
from mendpool.usecases.members import secret

router = APIRouter(prefix="/plain", include_in_schema=False)
Posted = Annotated[Form, Depends(read_form)]
CARRIED = (
    "complaint", "symptoms", "readings", "saw", "did", "skipped", "get_by",
    *KINDS, *FIGURES,
)  # fmt: skip
_OF_A_ROW = ("part", "action", "result", "minutes")
_OF_REPORT = (
    *(f"{name}{row}" for row in range(ROWS) for name in _OF_A_ROW),
    "outcome", "cause", "failure", "left", "happened", "note",
    "tell_hours", "hours", "tell_region", "region",
)  # fmt: skip
_CHOICES = ("parts", "actions", "results", "outcomes", "failures")
_SIGN_IN = "/plain/"
_MINE_MOST = 100
EMPTY = Form({})
"""What a form holds that was not posted yet."""
Page = Callable[[Texts], Response]


def shown(request: Request, make: Page) -> Response:
    """Return a page; what stands in the way of it is a page too."""
    texts = draw.texts_for(request)
    try:
        return make(texts)
    except MendpoolError as error:
        # Only what a client of `/v1` is told: an error's own words may be meant for the log.
        told = told_of(error)
        if told.kind.status == 401:
            return RedirectResponse(_SIGN_IN, 303)
        page = draw.drawn(
            texts, "said", told.kind.status,
            title=texts.t("plain.trouble"), says=told.detail, more=told.kind.title,
        )  # fmt: skip
        if "Retry-After" in told.headers:
            page.headers["Retry-After"] = told.headers["Retry-After"]
        return page


@router.get("/")
def front(request: Request) -> Response:
    """Show where to go, or how to sign in."""

    def make(texts: Texts) -> Response:
        try:
            visitor = visitor_of(request)
        except Refusal:
            visitor = None
        return _front(texts, visitor)

    return shown(request, make)


def _front(texts: Texts, visitor: Visitor | None, wrong: str = "") -> Response:
    name, token = ("", "") if visitor is None else (visitor.member.name, visitor.token)
    page = draw.drawn(
        texts, "index", 422 if wrong else 200, token,
        name=name, wrong=wrong, languages=languages(), attempt=secret("at")[1],
    )  # fmt: skip
    page.set_cookie("language", texts.language, max_age=31_536_000, samesite="lax", path="/")
    return page


@router.post("/sign-in")
def sign_in(request: Request, running: Running, form: Posted) -> Response:
    """Sign this browser in by a code."""

    def make(texts: Texts) -> Response:
        try:
            cookie = enter(request, form.one("code"), form.one("attempt"))
        except Refusal as refusal:
            if refusal.kind.name != "not-found":
                raise
            return _front(texts, None, refusal.detail or texts.t("plain.trouble"))
        answer = RedirectResponse("/plain/", 303)
        answer.headers.append("Set-Cookie", cookie)
        return answer

    return shown(request, make)


@router.post("/sign-out")
def sign_out(request: Request, form: Posted) -> Response:
    """Sign this browser out."""

    def make(_: Texts) -> Response:
        answer = RedirectResponse("/plain/", 303)
        answer.headers.append("Set-Cookie", leave(request, form))
        return answer

    return shown(request, make)


@router.get("/ask")
def ask_form(request: Request, running: Running) -> Response:
    """Show the empty form of a question."""

    def make(texts: Texts) -> Response:
        visitor = within_rate(request, visitor_of(request))
        return _ask_page(texts, running, visitor, EMPTY)

    return shown(request, make)


@router.post("/ask")
def ask(request: Request, running: Running, form: Posted) -> Response:
    """Answer a question, or say what is missing in it."""

    def make(texts: Texts) -> Response:
        visitor = within_rate(request, visitor_of(request, form))
        try:
            body = question_of(form, running.place.catalogue)
            answer = asking.ask(running.place, typed(Question, body))
        except RefusedInput as refused:
            return _ask_page(texts, running, visitor, form, errors=refused.errors)
        given = answer_words(texts, running.place.catalogue, answer, form.all("skipped"))
        return _ask_page(texts, running, visitor, form, answer=answer, **given)

    return shown(request, make)


def _ask_page(
    texts: Texts,
    running: Service,
    visitor: Visitor,
    form: Form,
    **given: Any,  # noqa: ANN401 - what the template shows
) -> Response:
    words = draw.plate_words(texts, running.place.catalogue)
    status = 422 if given.get("errors") else 200
    given = {"answer": None, "carry": CARRIED, "form": form, **words, **given}
    return draw.drawn(texts, "ask", status, visitor.token, **given)


@router.get("/report")
def report_form(request: Request, running: Running) -> Response:
    """Show the empty form of a report."""

    def make(texts: Texts) -> Response:
        return _report_page(texts, running, within_rate(request, visitor_of(request)), EMPTY)

    return shown(request, make)


@router.post("/report")
def report(request: Request, running: Running, form: Posted) -> Response:
    """Show the form again, what would be kept and removed, or keep the report."""

    def make(texts: Texts) -> Response:
        visitor = within_rate(request, visitor_of(request, form))
        if form.one("go") == "form":
            return _report_page(texts, running, visitor, form)
        try:
            name = uuid7("/id", form.one("id"))
            body = report_of(form, running.place.catalogue)
            told = typed(Report, body)
            if form.one("go") == "send":
                _keep(running, visitor, str(name), body, told)
                return _said(texts, "plain.kept", "plain.kept-more")
            kept = filing.preview_report(running.place, told, running.clock())
        except RefusedInput as refused:
            return _report_page(texts, running, visitor, form, errors=refused.errors)
        return _look_over(texts, running, visitor, form, body, kept)

    return shown(request, make)


def _keep(
    running: Service, visitor: Visitor, name: str, body: dict[str, Any], told: Report
) -> None:
    report_id, now = uuid7("/id", name), running.clock()
    within_the_day(running, visitor.member, report_id, now)
    filing.file_report(running.place, visitor.member, report_id, body, told, now)


def _report_page(
    texts: Texts,
    running: Service,
    visitor: Visitor,
    form: Form,
    **given: Any,  # noqa: ANN401 - what the template shows
) -> Response:
    catalogue = running.place.catalogue
    status = 422 if given.get("errors") else 200
    return draw.drawn(
        texts, "report", status, visitor.token,
        form=form, rows=ROWS, id=form.one("id") or str(running.new_id()),
        did=[" · ".join(told.split(":")) for told in form.all("did")],
        month=running.clock().strftime("%Y-%m"),
        **draw.plate_words(texts, catalogue),
        **draw.choices(texts, catalogue, _CHOICES),
        **given,
    )  # fmt: skip


def _look_over(
    texts: Texts,
    running: Service,
    visitor: Visitor,
    form: Form,
    told: Mapping[str, Any],
    kept: Mapping[str, Any],
) -> Response:
    body = kept["report"]
    return draw.drawn(
        texts, "look_over", 200, visitor.token,
        form=form, id=form.one("id"), kept=body, texts=struck(told, body),
        lines=report_lines(texts, running.place.catalogue, body),
        removed=removed_words(texts, kept["removed"]),
        changed=told["outcome"] != form.one("outcome"), carry=(*CARRIED, *_OF_REPORT),
    )  # fmt: skip


@router.get("/followup")
def followups(request: Request, running: Running) -> Response:
    """List the visitor's own reports, to say whether they held."""

    def make(texts: Texts) -> Response:
        visitor = within_rate(request, visitor_of(request))
        own = ReportFilters(member_id=visitor.member.id)
        page = look.list_reports(running.place, visitor.member, own, _MINE_MOST, None)
        mine = [_line(texts, running, one) for one in page["items"] if one["outcome"] != "well"]
        return draw.drawn(texts, "followups", 200, visitor.token, mine=mine)

    return shown(request, make)


def _line(texts: Texts, running: Service, one: Mapping[str, Any]) -> dict[str, str]:
    v = running.place.catalogue.vocabulary
    outcome = texts.code("outcomes", one["outcome"], v.outcomes[one["outcome"]])
    signs = [texts.code("symptoms", s, v.symptoms[s]) for s in one.get("symptoms", ())]
    said = one.get("complaint") or ", ".join(signs)
    parts = (one.get("happened") or "", outcome, said[:90])
    return {"id": one["id"], "says": " · ".join(part for part in parts if part)}


@router.get("/followup/{report_id}")
def followup_form(request: Request, running: Running, report_id: str) -> Response:
    """Show the form of a follow-up."""

    def make(texts: Texts) -> Response:
        visitor = within_rate(request, visitor_of(request))
        return _followup_page(texts, running, visitor, report_id, EMPTY)

    return shown(request, make)


@router.post("/followup/{report_id}")
def followup(request: Request, running: Running, report_id: str, form: Posted) -> Response:
    """Keep a follow-up."""

    def make(texts: Texts) -> Response:
        visitor = within_rate(request, visitor_of(request, form))
        body: dict[str, Any] = {
            n: form.one(n) for n in ("happened", "state", "note") if form.one(n)
        }
        try:
            if hours := form.one("hours_run"):
                body["hours_run"] = number(hours, "/hours_run")
            following.follow_up(
                running.place,
                visitor.member,
                known_id(report_id),
                uuid7("/id", form.one("id")),
                body,
                typed(Followup, body),
                running.clock(),
            )
        except RefusedInput as refused:
            return _followup_page(
                texts, running, visitor, report_id, form, errors=refused.errors
            )
        return _said(texts, "plain.followed", "plain.followed-more")

    return shown(request, make)


def _followup_page(
    texts: Texts,
    running: Service,
    visitor: Visitor,
    report_id: str,
    form: Form,
    **given: Any,  # noqa: ANN401 - what the template shows
) -> Response:
    one = look.read_report(running.place, visitor.member, known_id(report_id))
    return draw.drawn(
        texts, "followup", 422 if given.get("errors") else 200, visitor.token,
        one=_line(texts, running, one), form=form, id=form.one("id") or str(running.new_id()),
        month=running.clock().strftime("%Y-%m"),
        **draw.choices(texts, running.place.catalogue, ("states",)), **given,
    )  # fmt: skip


def _said(texts: Texts, key: str, more: str) -> Response:
    title = texts.t(key)
    return draw.drawn(texts, "said", title=title, says=title, more=texts.t(more))
