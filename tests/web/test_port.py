"""A port in use is told in one line; without a wish, the next free one is taken."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator

import pytest

from glowtrace.errors import PageError
from glowtrace.web.page import FIRST_PORT, PORTS_TRIED, choose_port, open_page

HOST = "127.0.0.1"


@pytest.fixture
def busy_port() -> Iterator[int]:
    with socket.socket() as other:
        other.bind((HOST, 0))
        other.listen()
        yield other.getsockname()[1]


def test_a_free_port_is_taken_as_wished() -> None:
    with socket.socket() as other:
        other.bind((HOST, 0))
        free = other.getsockname()[1]
    assert choose_port(HOST, free) == free


def test_a_port_in_use_is_named_with_what_to_do(busy_port: int) -> None:
    with pytest.raises(
        PageError, match=rf"Port {busy_port} of 127\.0\.0\.1 is in use.*another port"
    ):
        open_page(serve=True, port=busy_port)


def test_without_a_wish_a_port_in_use_is_passed_over() -> None:
    with socket.socket() as other:
        try:
            other.bind((HOST, FIRST_PORT))
        except OSError:
            pass  # in use already, which serves as well
        else:
            other.listen()
        chosen = choose_port(HOST, None)
    assert FIRST_PORT < chosen < FIRST_PORT + PORTS_TRIED


def test_the_command_line_tells_it_in_one_line(busy_port: int) -> None:
    environment = {name: value for name, value in os.environ.items() if "PYTEST" not in name}
    done = subprocess.run(
        [sys.executable, "-m", "glowtrace", "page", "--serve", "--port", str(busy_port)],
        capture_output=True,
        text=True,
        timeout=120,
        env=environment,
    )
    assert done.returncode != 0
    told = done.stderr.strip()
    assert f"Port {busy_port}" in told
    assert "Traceback" not in told
    assert len(told.splitlines()) == 1
