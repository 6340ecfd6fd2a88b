"""`mendpool`: the command's front door.

Commands import what they need when they run, so that help is there at once.
"""

import gc
import sys
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from mendpool_field import (
    commands_ask,
    commands_copy,
    commands_look,
    commands_outbox,
    commands_pool,
    commands_report,
    commands_set,
    commands_shed,
    commands_sync,
    commands_well,
    commands_work,
    console,
)
from mendpool_field.errors import BadUsage
from mendpool_field.exitcodes import ExitCode

LATE = {
    "pool": "Run a pool: make it, serve it, its members.",
    "demo": "Try mendpool with a small pool of made-up repairs.",
}
"""Commands of the service, found through the entry points only when they are typed."""
GROUP = "mendpool.commands"
_TRACEBACK = "--traceback"
_EPILOG = (
    "Exit codes: 0 done, or safely kept to be sent later; 1 a fault of ours or of this "
    "machine; 2 what was typed; 3 refused; 4 not signed in; 5 the pool failed or can't be "
    "reached; 75 only with --require-online: kept, not sent; 130 interrupted."
)


class FrontDoor(TyperGroup):
    """The group that turns every error into a sentence, and finds the late commands."""

    def main(self, args: Any = None, *rest: Any, **extra: Any) -> Any:  # noqa: ANN401 - Typer's
        """Take ``--traceback`` wherever it was typed."""
        given = list(sys.argv[1:] if args is None else args)
        plain = given[: given.index("--")] if "--" in given else given
        if _TRACEBACK in plain:
            given.remove(_TRACEBACK)
            given.insert(0, _TRACEBACK)
        return super().main(given, *rest, **extra)

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ANN401 - Typer's
        """Return every command, the late ones too."""
        return [*super().list_commands(ctx), *LATE]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ANN401 - Typer's
        """Return a command; a late one as its name and help alone."""
        if cmd_name in LATE:
            return TyperGroup(name=cmd_name, help=LATE[cmd_name], rich_markup_mode=None)
        return super().get_command(ctx, cmd_name)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:  # noqa: ANN401 - Typer's
        """Load a late command now that it was typed."""
        if args and args[0] in LATE:
            return args[0], late_command(args[0]), args[1:]
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: Any) -> Any:  # noqa: ANN401 - Typer's
        """Run the command; whatever goes wrong is a sentence and an exit code."""
        try:
            return super().invoke(ctx)
        except (typer.Exit, typer.TyperException):
            raise
        except (KeyboardInterrupt, typer.Abort, EOFError):
            console.talk("Stopped.")
            console.end(ExitCode.INTERRUPTED)
        except BrokenPipeError:
            _let_go_of_stdout()
            console.end(ExitCode.DONE)
        except Exception as error:  # noqa: BLE001 - the one place where all errors end
            console.fail(error, with_trace=bool(ctx.params.get("traceback")))


app = typer.Typer(
    cls=FrontDoor,
    help="Keep small generator sets running: what worked for others, also with no signal.",
    epilog=_EPILOG,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        from mendpool import __version__

        console.say(f"mendpool {__version__}")
        console.end(ExitCode.DONE)


@app.callback()
def front(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Print the version."),
    ] = False,
    traceback: Annotated[
        bool, typer.Option(_TRACEBACK, help="Print the whole of an error, for your steward.")
    ] = False,
) -> None:
    """Keep small generator sets running: what worked for others, also with no signal."""


for _command in (
    *commands_ask.COMMANDS,
    *commands_work.COMMANDS,
    *commands_report.COMMANDS,
    *commands_well.COMMANDS,
    *commands_look.COMMANDS,
    *commands_sync.COMMANDS,
    *commands_pool.COMMANDS,
    *commands_shed.COMMANDS,
):
    app.command()(_command)
app.command("kept-words")(commands_pool.kept_words)
app.command("before-off")(commands_shed.BEFORE_OFF)
app.add_typer(commands_set.app, name="set")
app.add_typer(commands_outbox.app, name="outbox")
app.add_typer(commands_copy.app, name="copy")


@app.command()
def manual() -> None:
    """Print the manual page, for man.

    mendpool manual > mendpool.1
    """
    from mendpool import __version__
    from mendpool_field.manual import manual_page

    console.say(manual_page(typer.main.get_command(app), __version__).rstrip("\n"))


def late_command(name: str) -> Any:  # noqa: ANN401 - Typer's
    """Load a command of the service.

    Raises:
        BadUsage: the service is not installed.
    """
    from importlib.metadata import entry_points

    missing = BadUsage(
        f"mendpool {name} needs the service, which is not installed here.",
        "Install it with: pip install 'mendpool[service]'",
    )
    found = [entry for entry in entry_points(group=GROUP) if entry.name == name]
    if not found:
        raise missing
    # Thousands of small objects that all stay: looking through them for garbage again and
    # again is a tenth of the start, and members are added by the dozen.
    gc.disable()
    try:
        loaded = found[0].load()
    except ModuleNotFoundError as error:
        raise missing from error
    finally:
        gc.freeze()
        gc.enable()
    return typer.main.get_command(loaded) if isinstance(loaded, typer.Typer) else loaded


def _let_go_of_stdout() -> None:
    """A reader that has seen enough (``| head``) is no error, not at the exit either."""
    import os

    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def main() -> None:
    """Run `mendpool`."""
    # Most of what a command makes lives as long as it does: looking through it all for
    # garbage hundreds of times is a tenth of a cold answer.
    gc.set_threshold(100_000, 50, 100)
    app()


if __name__ == "__main__":
    main()
