"""`mendpool pool member` and `mendpool pool invite`: who may read and write."""

import json
from datetime import datetime
from typing import Annotated, Any

import typer

from mendpool.admin_common import (
    USAGE,
    Json,
    members_of,
    now,
    opened_pool,
    plainly,
    say,
    stop,
    unknown,
)
from mendpool.core.errors import NotFound
from mendpool.settings import Settings
from mendpool.store.invitations import Invitation
from mendpool.store.values import Member, Role
from mendpool.usecases.members import (
    CODE_DAYS,
    TOKEN_DAYS,
    NewInvitation,
    NewMember,
    add_member,
    member_code,
    rotate_member,
)
from mendpool.usecases.members import invite as make_invitation

app = typer.Typer(
    help="The pool's members.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)
NAME_MOST = 60
Name = Annotated[str, typer.Argument(help="What you call them; never leaves the pool.")]
Days = Annotated[
    int,
    typer.Option(
        "--days", min=0, max=36_500, help="How long the token is good; 0 is for good."
    ),
]


@app.command("add")
def add(
    name: Name,
    steward: Annotated[
        bool,
        typer.Option(
            "--steward",
            help="Sees who filed what, reviews, follows up and withdraws any report.",
        ),
    ] = False,
    days: Days = TOKEN_DAYS,
    as_json: Json = False,
) -> None:
    """Make a member and show the token, this once."""
    with plainly(), opened_pool(Settings()) as store:
        name = _checked(name)
        role: Role = "steward" if steward else "member"
        new = add_member(store, name, role, now(), days or None)
        _show(new, f"{name} is a {role}.", as_json=as_json)


@app.command("rotate")
def rotate(
    name: Name,
    days: Days = TOKEN_DAYS,
    readmit: Annotated[
        bool, typer.Option("--readmit", help="Also a member whose token was revoked.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Give a member another token, shown this once; the old one stops at once."""
    with plainly(), opened_pool(Settings()) as store:
        try:
            new = rotate_member(store, name, now(), days or None, readmit=readmit)
        except NotFound as error:
            raise unknown(name) from error
        _show(new, f"{name}'s old token no longer works.", as_json=as_json)


@app.command("revoke")
def revoke(name: str, as_json: Json = False) -> None:
    """Stop a member's token at once."""
    with plainly(), opened_pool(Settings()) as store:
        try:
            gone = store.revoke_member(name, now())
        except NotFound as error:
            raise unknown(name) from error
        if as_json:
            typer.echo(json.dumps({"member": gone.name, "revoked": True}))
        else:
            say(f"{gone.name}'s token no longer works.")


@app.command("code")
def code(
    name: Name,
    days: Annotated[
        int, typer.Option("--days", min=1, max=365, help="How long the code is good.")
    ] = CODE_DAYS,
    as_json: Json = False,
) -> None:
    """Make a code that signs a member in on another phone, once; shown only now.

    An earlier code that was not used stops. The member's token and other phones stay as they
    are; a token that has run out begins another term of a year, unseen, by the code.
    """
    with plainly(), opened_pool(Settings()) as store:
        try:
            made = member_code(store, name, now(), days=days)
        except NotFound as error:
            raise unknown(name) from error
        warned = "It is shown only now, and whoever has it is taken for them:"
        then = "They sign in with it on the pool's page."
        _show_code(made, f"A code for {name}", warned, then, as_json=as_json)


@app.command("list")
def list_(as_json: Json = False) -> None:
    """List the members, and the invitations that are open."""
    with plainly(), opened_pool(Settings()) as store:
        at = now()
        for found in members_of(store):
            told = _told(found, at)
            if as_json:
                typer.echo(json.dumps({**told, "pseudonym": found.pseudonym}))
                continue
            used = f"last seen {told['last_used']}" if told["last_used"] else "never seen"
            ends = f"until {told['expires']}" if told["expires"] else "for good"
            say(f"{found.name}: {found.role}, {told['state']}, {ends}, {used}")
        for waiting in store.list_invitations():
            if waiting.used is not None or waiting.expires <= at:
                continue
            state = "code" if waiting.of_member else "invited"
            if as_json:
                typer.echo(json.dumps({**_invited(waiting), "state": state}))
            else:
                ends = _day(waiting.expires) or ""
                says = "has a code for a phone" if waiting.of_member else "member, invited"
                say(f"{waiting.name}: {says}, until {ends}")


def invite(
    name: Name,
    vouched: Annotated[
        bool,
        typer.Option(
            "--vouched",
            help="The reports count fully from the first; only where the code goes into "
            "the hands of someone you know.",
        ),
    ] = False,
    days: Annotated[
        int, typer.Option("--days", min=1, max=365, help="How long the code is good.")
    ] = CODE_DAYS,
    token_days: Annotated[
        int,
        typer.Option(
            "--token-days", min=0, max=36_500, help="How long the token is good; 0 is for good."
        ),
    ] = TOKEN_DAYS,
    as_json: Json = False,
) -> None:
    """Make a code that lets one new member join, once; shown only now.

    Reports of someone who came by a code count for less until three of them have a
    follow-up.
    """
    with plainly(), opened_pool(Settings()) as store:
        made = make_invitation(
            store,
            _checked(name),
            now(),
            vouched=vouched,
            days=days,
            token_days=token_days or None,
        )
        what = f"An invitation for {made.invitation.name}"
        then = "They sign in with it on the pool's page, or with: mendpool join URL"
        _show_code(made, what, "The code is shown only now:", then, as_json=as_json)


def _checked(name: str) -> str:
    if not 1 <= len(name.strip()) <= NAME_MOST:
        stop(f"A name has 1 to {NAME_MOST} characters.", USAGE)
    return name.strip()


def _show_code(
    made: NewInvitation, what: str, warned: str, then: str, *, as_json: bool
) -> None:
    if as_json:
        typer.echo(json.dumps({**_invited(made.invitation), "code": made.code}))
        return
    say(f"{what}, good once, until {_day(made.invitation.expires)}. {warned}")
    say(made.code)
    say(then)


def _show(new: NewMember, says: str, *, as_json: bool) -> None:
    member = new.member
    if as_json:
        told = {
            "member": member.name,
            "role": member.role,
            "pseudonym": member.pseudonym,
            "token": new.token,
            "expires": _day(member.expires),
        }
        typer.echo(json.dumps(told))
        return
    ends = "for good" if member.expires is None else f"until {_day(member.expires)}"
    say(f"{says} The token is good {ends} and is shown only now:")
    say(new.token)


def _told(member: Member, at: datetime) -> dict[str, Any]:
    state = "active"
    if member.revoked is not None:
        state = "revoked"
    elif member.expires is not None and member.expires <= at:
        state = "expired"
    return {
        "member": member.name,
        "role": member.role,
        "state": state,
        "expires": _day(member.expires),
        "last_used": _day(member.last_used),
        "vouched": member.vouched,
    }


def _invited(invitation: Invitation) -> dict[str, Any]:
    return {
        "member": invitation.name,
        "vouched": invitation.vouched,
        "expires": _day(invitation.expires),
    }


def _day(at: datetime | None) -> str | None:
    return None if at is None else at.strftime("%Y-%m-%d")
