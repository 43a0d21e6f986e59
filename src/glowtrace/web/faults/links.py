"""Links to the other steps; they open beside this page, which keeps what is told."""

from __future__ import annotations

from typing import Final

from glowtrace.bench.settings import Settings
from glowtrace.web.controls import words
from glowtrace.web.preparation import Preparation

NAMED: Final = "wiring list"
"""What a text calls the leads of the page Wiring."""


def put_wiring_link(preparation: Preparation, text: str) -> None:
    """Lead to the wiring list where a text wants something compared with it."""
    if NAMED in text:
        _put("Wiring list", preparation.at("/wiring"))


def put_rehearse_link(preparation: Preparation, settings: Settings) -> None:
    """Lead to the live picture at other settings."""
    _put("See on Rehearse what to expect", preparation.with_settings(settings).at("/"))


def _put(label: str, address: str) -> None:
    link = words(label, "a", "plain").props('target="_blank"')
    link.props["href"] = address
