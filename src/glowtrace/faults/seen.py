"""What can be said about what is seen, by keys that stay: addresses and files carry them."""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class Seen(StrEnum):
    """The key of a statement; its sentence, for a line, a circle or a spot, is in the catalogues.

    The sentence that was the key before there were keys gives it too: ``Seen("line bends up")``.
    """

    DARK = "dark"
    ONLY_FILAMENT = "only_filament"
    DULL_FILAMENT = "dull_filament"
    HAZE = "haze"
    FAINT = "faint"
    COMES_AND_GOES = "comes_and_goes"
    CREEPS = "creeps"
    STRAIGHT = "straight"
    UP = "up"
    DOWN = "down"
    BENDS_MORE = "bends_more"
    """Of a circle: it is smaller than it should be."""
    BENDS_LESS = "bends_less"
    """Of a circle: it is larger than it should be."""
    WRONG_WAY = "wrong_way"
    THICK = "thick"
    ENDS_EARLY = "ends_early"
    NOT_CLOSED = "not_closed"
    HELIX = "helix"
    OFF_CENTRE = "off_centre"
    ELSEWHERE = "elsewhere"
    LARGE = "large"
    SMALL = "small"
    SMEARED = "smeared"
    COILS_LESS = "coils_less"
    COILS_STAY = "coils_stay"
    COILS_WRONG_WAY = "coils_wrong_way"
    COILS_STRAIGHT = "coils_straight"
    PLATES_LESS = "plates_less"
    PLATES_STAY = "plates_stay"
    PLATES_WRONG_WAY = "plates_wrong_way"
    PLATES_STRAIGHT = "plates_straight"
    AT_REST = "at_rest"
    TENSION_NONE = "tension_none"
    TENSION_LESS = "tension_less"
    RANGE = "range"
    COIL_CURRENT_NONE = "coil_current_none"
    PLATE_VOLTAGE_NONE = "plate_voltage_none"

    @classmethod
    def _missing_(cls, value: object) -> Seen | None:
        return _FORMER.get(value) if isinstance(value, str) else None


def statement_key(text: str) -> str:
    """Give the key of a statement by its key or former sentence; any other text as it is."""
    try:
        return Seen(text)
    except ValueError:
        return text


_FORMER: Final = {
    "no light at all": Seen.DARK,
    "light from the filament but no line": Seen.ONLY_FILAMENT,
    "light from the filament but no spot": Seen.ONLY_FILAMENT,
    "the filament is dull": Seen.DULL_FILAMENT,
    "a haze glows all through the tube": Seen.HAZE,
    "line is faint": Seen.FAINT,
    "spot is faint": Seen.FAINT,
    "line comes and goes": Seen.COMES_AND_GOES,
    "spot comes and goes": Seen.COMES_AND_GOES,
    "line creeps slowly by itself": Seen.CREEPS,
    "spot creeps slowly by itself": Seen.CREEPS,
    "line is straight": Seen.STRAIGHT,
    "line bends up": Seen.UP,
    "line bends down": Seen.DOWN,
    "line bends more than it should": Seen.BENDS_MORE,
    "line bends less than it should": Seen.BENDS_LESS,
    "line bends the wrong way": Seen.WRONG_WAY,
    "line is thick or fan-shaped": Seen.THICK,
    "line ends early": Seen.ENDS_EARLY,
    "spot is off the middle": Seen.ELSEWHERE,
    "spot is larger than it should be": Seen.LARGE,
    "spot is smaller than it should be": Seen.SMALL,
    "line moves less than it should with the coils": Seen.COILS_LESS,
    "line does not move with the coils": Seen.COILS_STAY,
    "spot does not change with the coils": Seen.COILS_STAY,
    "line moves the wrong way with the coils": Seen.COILS_WRONG_WAY,
    "line is straight and does not move with the coils": Seen.COILS_STRAIGHT,
    "line moves less than it should with the plates": Seen.PLATES_LESS,
    "line does not move with the plates": Seen.PLATES_STAY,
    "spot does not change with the plates": Seen.PLATES_STAY,
    "line moves the wrong way with the plates": Seen.PLATES_WRONG_WAY,
    "line is straight and does not move with the plates": Seen.PLATES_STRAIGHT,
    "line bends even with the fields off": Seen.AT_REST,
    "spot is off the middle even with the fields off": Seen.AT_REST,
    "the high-tension meter shows nothing": Seen.TENSION_NONE,
    "the high-tension meter shows less than is set": Seen.TENSION_LESS,
    "a meter is on another range than it is read on": Seen.RANGE,
    "the coil meter shows no current": Seen.COIL_CURRENT_NONE,
}
"""Sentences that addresses and files carried before the keys; they do not change any more."""
