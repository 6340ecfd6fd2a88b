"""Routes of stewards: who is a member, who may become one, and what should be looked at."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from starlette.responses import Response

from mendpool.api.bodies import JsonBody, json_body
from mendpool.api.context import Running, Steward
from mendpool.api.ids import known_id
from mendpool.api.problems import Refusal
from mendpool.api.replies import reply
from mendpool.core.catalogue.typed import typed
from mendpool.core.errors import Complaint, Conflict, NotFound, RefusedInput
from mendpool.core.record.steward import Inviting, Verdict
from mendpool.store.invitations import Invitation
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import FOREIGN_PSEUDONYM, Member
from mendpool.usecases import members, review

router = APIRouter(prefix="/v1", tags=["steward"])
Body = Annotated[JsonBody, Depends(json_body)]
REVIEW_MOST = 100
INVITATIONS_MOST = 200
_ONCE = {"Cache-Control": "no-store"}
_STEWARDS = (
    "A steward is the concern of whoever runs the pool: `mendpool pool member` on its machine."
)


@router.get("/members")
def list_members(running: Running, steward: Steward) -> Response:
    """List the members, in the order they came, with when their token ends and was used."""
    now = running.clock()
    listed = running.place.store.list_members()
    items = [
        {
            "name": one.name,
            "role": one.role,
            "contributor": one.pseudonym,
            "state": _state(one, now),
            "vouched": one.vouched,
            "expires": _time(one.expires),
            "last_used": None if one.last_used is None else one.last_used.date().isoformat(),
        }
        for one in listed
        if not one.pseudonym.startswith(FOREIGN_PSEUDONYM)
    ]
    return reply({"items": items})


@router.delete("/members/{contributor}")
def revoke_member(contributor: str, running: Running, steward: Steward) -> Response:
    """Stop a member's token, phones and codes at once; again is harmless."""
    store = running.place.store
    held = _member(store, contributor)
    if held.role == "steward":
        raise Refusal("not-allowed", _STEWARDS)
    store.revoke_member(held.name, running.clock())
    return Response(status_code=204)


@router.post("/members/{contributor}/code", status_code=201)
def make_code(contributor: str, running: Running, steward: Steward) -> Response:
    """Make a code that signs a member in on another phone, once, within two weeks.

    Whoever has it is taken for that member; so there is none for another steward.
    """
    store = running.place.store
    held = _member(store, contributor)
    if held.role == "steward" and held.id != steward.id:
        raise Refusal("not-allowed", _STEWARDS)
    try:
        made = members.member_code(store, held.name, running.clock(), made_by=steward.id)
    except Conflict:
        says = "Their token was revoked; whoever runs the pool can take them back."
        raise Refusal("not-allowed", says) from None
    return reply(_made(made), 201, _ONCE)


@router.get("/invitations")
def list_invitations(running: Running, steward: Steward) -> Response:
    """List invitations and members' codes, newest first, without the codes themselves."""
    store, now = running.place.store, running.clock()
    names = {one.id: one.name for one in store.list_members()}
    newest = reversed(store.list_invitations()[-INVITATIONS_MOST:])
    items = [
        {
            "name": one.name,
            "for": "phone" if one.of_member else "member",
            "state": _use(one, now),
            "vouched": one.vouched,
            "expires": _time(one.expires),
            "by": None if one.made_by is None else names.get(one.made_by),
        }
        for one in newest
    ]
    return reply({"items": items})


@router.post("/invitations", status_code=201)
def invite(running: Running, steward: Steward, body: Body) -> Response:
    """Make a code by which one new member joins, once, within two weeks."""
    wanted = typed(Inviting, body.value)
    try:
        made = members.invite(
            running.place.store,
            wanted.name,
            running.clock(),
            vouched=wanted.vouched,
            made_by=steward.id,
        )
    except Conflict:
        says = "a member or an open invitation has this name already; choose another"
        raise RefusedInput([Complaint("/name", says)]) from None
    return reply(_made(made), 201, _ONCE)


@router.get("/review")
def list_review(running: Running, steward: Steward) -> Response:
    """List the reports to look at, newest first, with reasons; `more` is how many are left.

    Only the newest reports are looked at, so many as `looked_at` says.
    """
    found = running.reviewing.flagged(running.place.store, running.place.catalogue)
    items = [
        {
            "report": str(one.report),
            "member": one.member,
            "received": _time(one.received),
            "why": [why._asdict() for why in one.why],
        }
        for one in reversed(found[-REVIEW_MOST:])
    ]
    more = len(found) - len(items)
    return reply({"items": items, "more": more, "looked_at": review.NEWEST})


@router.post("/review/{report_id}")
def judge(report_id: str, running: Running, steward: Steward, body: Body) -> Response:
    """Withdraw a report or let it stand; who, when and why stay in the trail."""
    given, name = typed(Verdict, body.value), known_id(report_id)
    withdrawn = given.verdict == "withdraw"
    act = review.take_back if withdrawn else review.let_stand
    try:
        act(running.place, steward, name, given.reason, running.clock())
    except review.NoReason as error:
        raise RefusedInput([Complaint("/reason", str(error))]) from None
    if withdrawn and running.snapshots is not None:
        running.snapshots.drop_stale()
    return reply({"report": str(name), "came": "withdrawn" if withdrawn else "kept"})


def _member(store: PoolStore, contributor: str) -> Member:
    held = store.member_by_pseudonym(contributor)
    if held is None or contributor.startswith(FOREIGN_PSEUDONYM):
        raise NotFound
    return held


def _made(new: members.NewInvitation) -> dict[str, Any]:
    ends = _time(new.invitation.expires)
    return {"name": new.invitation.name, "code": new.code, "expires": ends}


def _state(member: Member, now: datetime) -> str:
    if member.revoked is not None:
        return "revoked"
    over = member.expires is not None and member.expires <= now
    return "expired" if over else "active"


def _use(code: Invitation, now: datetime) -> str:
    if code.used is not None:
        return "used"
    return "expired" if code.expires <= now else "open"


def _time(at: datetime | None) -> str | None:
    return None if at is None else at.strftime("%Y-%m-%dT%H:%M:%SZ")
