"""Opens the page: a server on this machine only, and the browser that shows it."""

from __future__ import annotations

import logging
import socket
import sys
from pathlib import Path
from typing import Final

from nicegui import app, ui

from glowtrace.bench.files import load_bench
from glowtrace.bench.ready_made import ready_made_names
from glowtrace.errors import PageError, StoreError
from glowtrace.store import Store, open_store
from glowtrace.web.guard import EVERY_ADDRESS, Guard, network_addresses, own_hosts
from glowtrace.web.pages import receive_all
from glowtrace.web.rack import READY_MADE, SAVED, Rack
from glowtrace.web.reception import Reception

FIRST_PORT: Final = 8480
PORTS_TRIED: Final = 20
TURN_S: Final = 1e-3
"""Python's threads take turns of this length, so that a plan holds up a picture only a little."""
ICON: Final = (
    "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 32 32'>"
    "<rect width='32' height='32' fill='#0a0908'/>"
    "<path d='M4 24C14 24 22 18 28 7' fill='none' stroke='#5cf0c4' stroke-width='4' "
    "stroke-linecap='round'/></svg>"
)


def open_page(
    bench: str | Path | None = None,
    *,
    serve: bool = False,
    host: str = "127.0.0.1",
    port: int | None = None,
) -> None:
    """Serve the page until the program is ended, and open it in the browser.

    Parameters
    ----------
    bench
        The bench that stands on the table first: the name of a ready-made or saved bench, or the
        path of a bench file. None for the first ready-made bench.
    serve
        Do not open a browser.
    host
        Address to listen on. The default lets only this machine in.
    port
        Port to listen on; None for the first free one from 8480 on.

    Raises
    ------
    PageError
        The port is in use, or no port is free.
    BenchError
        The bench file cannot be read, or no bench has this name.
    """
    chosen = choose_port(host, port)
    sys.setswitchinterval(TURN_S)
    store, trouble = _open_store()
    rack = Rack(store, trouble)
    first = _place_first(rack, bench)
    app.on_startup(lambda: rack.build(rack.bench(first)))
    receive_all(Reception(rack, first))
    app.add_middleware(Guard, hosts=own_hosts(host, chosen))
    app.on_startup(lambda: print(_where(host, chosen), flush=True))
    logging.getLogger("uvicorn.error").addFilter(_is_worth_telling)
    ui.run(
        host=host,
        port=chosen,
        show=not serve,
        reload=False,
        title="Glowtrace",
        favicon=ICON,
        dark=True,
        language="en-US",
        tailwind=False,
        show_welcome_message=False,
        message_history_length=200,
        reconnect_timeout=10.0,
    )


def choose_port(host: str, wanted: int | None) -> int:
    """Give the port that was asked for, or the first free one; PageError where it is in use."""
    if wanted is not None:
        if not _is_free(host, wanted):
            raise PageError(
                f"Port {wanted} of {host} is in use, perhaps by another Glowtrace page; "
                "close that program, or choose another port."
            )
        return wanted
    for port in range(FIRST_PORT, FIRST_PORT + PORTS_TRIED):
        if _is_free(host, port):
            return port
    raise PageError(
        f"No port of {host} from {FIRST_PORT} to {FIRST_PORT + PORTS_TRIED - 1} is free; "
        "close a program that uses one, or choose another port."
    )


def _where(host: str, port: int) -> str:
    """Say where the page is, and who else can reach it."""
    is_own = host in ("127.0.0.1", "::1", "localhost")
    name = "localhost" if is_own or host in EVERY_ADDRESS else host
    told = f"Glowtrace is at http://{name}:{port} (Ctrl + C ends it)"
    if is_own:
        return told
    reached = [host] if host not in EVERY_ADDRESS else network_addresses() or ["(this computer)"]
    addresses = ", ".join(f"http://{each}:{port}" for each in reached)
    return (
        f"{told}\nCaution: everybody on this network can open it at {addresses}, "
        "and read and change all that is saved here."
    )


def _is_worth_telling(record: logging.LogRecord) -> bool:
    """Leave out the trace that a visitor causes who goes away while the page still loads."""
    return record.exc_info is None or "No response returned" not in str(record.exc_info[1])


def _is_free(host: str, port: int) -> bool:
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((host, port))
        except OSError:
            return False
    return True


def _open_store() -> tuple[Store | None, str]:
    """Open the database; without it the page works all the same and says what is missing."""
    try:
        store = open_store()
        store.allow_copies()
    except StoreError as error:
        return None, f"Nothing can be saved or reopened: {error}"
    return store, ""


def _place_first(rack: Rack, bench: str | Path | None) -> str:
    """Give the place of the bench that stands on the table first."""
    if bench is None:
        return f"{READY_MADE}/{ready_made_names()[0]}"
    if isinstance(bench, str):
        for group in (SAVED, READY_MADE):
            place = f"{group}/{bench}"
            if any(place in offered for offered in rack.offer().values()):
                return place
    return rack.take_in(load_bench(bench))
