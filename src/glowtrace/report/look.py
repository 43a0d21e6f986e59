"""Two looks of a picture: for the dark room, and for paper that a copier makes black and white."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Look:
    """The colours of a picture.

    Attributes
    ----------
    name
        What the user calls it.
    ground, screen
        Behind everything, and behind the trace.
    ink, quiet
        Text that is read first, and text that is read second. Both keep a contrast of at least
        4.5 with `ground` (WCAG 2.2, success criterion 1.4.3).
    grid, frame
        The lines on the screen and around it.
    textbook, halo
        The dashed line of the textbook, and what sets it off from the glow.
    electric, magnetic
        Arrows of the two forces; their shapes tell them apart without colour too.
    phosphor, gas
        Colours of the glow from no light to the most light, evenly spaced.
    """

    name: str
    ground: str
    screen: str
    ink: str
    quiet: str
    grid: str
    frame: str
    textbook: str
    halo: str
    electric: str
    magnetic: str
    phosphor: tuple[str, ...]
    gas: tuple[str, ...]


DARK = Look(
    name="dark room",
    ground="#0a0908",
    screen="#110f0d",
    ink="#f0dfc2",
    quiet="#b3a58b",
    grid="#2b2721",
    frame="#4d463b",
    textbook="#ffb454",
    halo="#0a0908",
    electric="#ffd84d",
    magnetic="#b79bff",
    phosphor=("#110f0d", "#103a33", "#1f7d68", "#5cf0c4", "#bffbe9", "#ffffff"),
    gas=("#110f0d", "#1c2b49", "#3d5c93", "#80b0ff", "#ccdeff", "#ffffff"),
)

_GREYS = ("#ffffff", "#cfcfcf", "#9a9a9a", "#636363", "#333333", "#000000")
PRINT = Look(
    name="print",
    ground="#ffffff",
    screen="#ffffff",
    ink="#000000",
    quiet="#4a4a4a",
    grid="#dcdcdc",
    frame="#7a7a7a",
    textbook="#000000",
    halo="#ffffff",
    electric="#000000",
    magnetic="#000000",
    phosphor=_GREYS,
    gas=_GREYS,
)
