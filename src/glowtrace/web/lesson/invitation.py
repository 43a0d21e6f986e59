"""How learners join: addresses of this computer, the code, and both as a picture for cameras."""

from __future__ import annotations

import io

import segno

from glowtrace.lesson.shown import Invitation
from glowtrace.web.guard import network_addresses


def reachable_at(port: int, *, to_room: bool) -> tuple[str, ...]:
    """Give the addresses at which the learners' page is reached, the likeliest first.

    Old names of networks (IPv4) come first: phones show and type them more easily.
    """
    if not to_room:
        return (f"http://127.0.0.1:{port}",)
    found = [each for each in network_addresses() if "[" not in each]
    return tuple(f"http://{each}:{port}" for each in found)


def spoken(code: str) -> str:
    """Write a code in two halves, as people read it out."""
    return f"{code[:3]} {code[3:]}"


def invite(address: str, code: str) -> Invitation:
    """Give the invitation with its picture, which leads straight to the lesson."""
    picture = drawn_for_cameras(f"{address}/{code}")
    return Invitation(address.removeprefix("http://"), spoken(code), picture)


def drawn_for_cameras(address: str) -> str:
    """Give an address as a QR code, an ``<svg>`` element."""
    drawn = io.BytesIO()
    segno.make(address, error="m", micro=False).save(
        drawn, kind="svg", border=4, dark="#0a0908", light="#ffffff", xmldecl=False, omitsize=True
    )
    return drawn.getvalue().decode()
