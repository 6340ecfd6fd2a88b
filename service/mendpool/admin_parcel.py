"""`mendpool pool parcel`: carry reports from pool to pool by hand, on a stick."""

import gzip
import json
import os
from pathlib import Path
from typing import Annotated

import typer

from mendpool.admin_common import FAILED, REFUSED, Json, now, opened_pool, plainly, say, stop
from mendpool.settings import Settings

app = typer.Typer(
    help="Carry reports from pool to pool by hand.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)
File = Annotated[Path, typer.Argument(help="The parcel.")]


@app.command("write")
def write(file: File, as_json: Json = False) -> None:
    """Write what may leave this pool: coarse, without names, no class of fewer than three."""
    with plainly(), opened_pool(Settings()) as store:
        from mendpool.usecases.parcels_out import Written, write_parcel

        written = Written()
        part = file.with_name(f"{file.name}.{os.getpid()}.part")
        try:
            with part.open("xb") as out:
                # No time of day and no name in it: the same pool writes the same bytes.
                with gzip.GzipFile("", "wb", fileobj=out, mtime=0) as packed:
                    for line in write_parcel(store, written):
                        packed.write(line.encode())
                out.flush()
                os.fsync(out.fileno())
            part.replace(file)
        except OSError as error:
            stop(f"{file} can't be written: {error.strerror}", FAILED)
        finally:
            part.unlink(missing_ok=True)
        if as_json:
            typer.echo(json.dumps({**written.lines, "kept_home": written.kept_home}))
            return
        told = ", ".join(f"{n} {kind}s" for kind, n in written.lines.items()) or "nothing"
        say(f"Written: {told}.")
        if written.kept_home:
            say(
                f"{written.kept_home} reports stay here: fewer than three people have a set "
                "of their class."
            )


@app.command("read")
def read(file: File, as_json: Json = False) -> None:
    """Take a parcel in. Again, in any order or only a part of it is harmless."""
    with plainly():
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        from mendpool.main import open_place
        from mendpool.usecases.parcels_in import Read, read_parcel, unpacked

        with opened_pool(Settings()):
            pass  # it is there and current, or told so before the file is opened
        done = Read()
        try:
            with file.open("rb") as held:
                for done in read_parcel(open_place(Settings()), unpacked(held), now()):
                    say(f"{done.lines} lines read", err=True)
        except OSError as error:
            stop(f"{file} can't be read: {error.strerror}", FAILED)
        if as_json:
            counts = {str(what): n for what, n in done.taken.items()}
            typer.echo(json.dumps({**counts, "left_out": done.left_out, "whole": done.whole}))
        else:
            told = ", ".join(f"{n} {what}" for what, n in sorted(done.taken.items()) if n)
            say(f"{told or 'nothing'}; {done.left_out} lines left out.")
        if not done.whole:
            stop("The parcel broke off or is damaged; what was read of it is kept.", REFUSED)
