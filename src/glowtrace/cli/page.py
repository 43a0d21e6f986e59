"""The command that opens the page."""

from __future__ import annotations

from typing import Annotated

import typer


def show_page(
    bench: Annotated[
        str | None,
        typer.Option(
            metavar="BENCH",
            help="The bench that stands on the table first: a name or the path of a bench file.",
        ),
    ] = None,
    serve: Annotated[
        bool, typer.Option("--serve", help="Only serve the page; open no browser.")
    ] = False,
    host: Annotated[
        str,
        typer.Option(
            metavar="ADDRESS", help="Address to listen on; the default lets in this computer only."
        ),
    ] = "127.0.0.1",
    port: Annotated[
        int | None,
        typer.Option(
            metavar="PORT",
            min=1,
            max=65535,
            help="Port to listen on; left out, a free one is found.",
        ),
    ] = None,
) -> None:
    """Open the page in the browser, without the internet.

    Ctrl + C ends it.
    """
    typer.echo("Glowtrace is starting ...")  # at once: what follows takes seconds
    from glowtrace.bench.first_use import what_takes_long

    if told := what_takes_long():
        typer.echo(told)
    from glowtrace.web.page import open_page

    open_page(bench, serve=serve, host=host, port=port)
