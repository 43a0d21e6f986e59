"""Names that people give to the columns of a table, in some languages (common practice, no source).

Written without blanks, underscores and case, as `plain_name` makes them.
"""

from __future__ import annotations

import re
from typing import Final


def _words(text: str) -> list[str]:
    return text.split()


_NAMES: Final = {
    "diameter": "d diameter diam durchmesser diamètre diámetro diametro ø 2r",
    "accelerating_voltage": "va ua vb ub uacc vacc ubeschl accelerationvoltage acceleratingvoltage "
    "anodevoltage accelerationpotential beschleunigungsspannung anodenspannung "
    "tensionaccélératrice tensióndeaceleración tensionediaccelerazione",
    "plate_voltage": "vp up vd ud platevoltage deflectionvoltage deflectingvoltage plattenspannung "
    "ablenkspannung kondensatorspannung tensiondesplaques",
    "coil_current": "i ic is il current coilcurrent amperage strom stromstärke spulenstrom "
    "courant intensité corriente corrente",
    "x": "x place ort",
    "y": "y height deflection höhe auslenkung ablenkung hauteur altura altezza",
    "length": "l length länge laenge longueur longitud lunghezza",
    "turns": "n turns umläufe umdrehungen",
    "depth": "depth tiefe profondeur profundidad profondità",
    "pitch": "pitch ganghöhe",
}
NAMES: Final = {name: frozenset(_words(text)) for name, text in _NAMES.items()}
"""By the name of a column."""
VOLTAGES: Final = frozenset(_words("v u voltage spannung tension tensión tensione volt volts"))
"""The accelerating voltage, unless the plates' is meant."""
RADII: Final = frozenset(_words("r radius halbmesser radius rayon radio raggio"))
LEFT: Final = frozenset(_words("left links gauche izquierda sinistra xl xleft xlinks dleft"))
RIGHT: Final = frozenset(_words("right rechts droite derecha destra xr xright xrechts dright"))
LEFT_HALVES: Final = frozenset(_words("rleft leftradius leftr rlinks rgauche rl"))
RIGHT_HALVES: Final = frozenset(_words("rright rightradius rightr rrechts rdroite rr"))
RUNS: Final = frozenset(
    _words(
        "run series set observer student group person who messreihe reihe serie série beobachter "
        "gruppe lauf"
    )
)
REMARKS: Final = frozenset(
    _words("remark remarks note notes comment bemerkung row no nr number nummer")
)
_LOWERED: Final = str.maketrans("ₐₚₒ", "apo")


def plain_name(name: str) -> str:
    """Give a name without what people write in different ways."""
    return re.sub(r"[\s_\-\\{}$.*]", "", name.translate(_LOWERED)).casefold()
