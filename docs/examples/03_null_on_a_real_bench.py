"""A null on a real bench, read with the textbook's formula and with the bench model.

The coils reach further than the plates, and a tied plate changes the beam's speed: the same meters
give another e/m for every way of tying the plates, unless the model knows how they are tied.
"""

from typing import Literal, get_args

from scipy.constants import physical_constants
from scipy.optimize import brentq

from glowtrace import Settings, prepare, ready_made, textbook_trace

TRUE = -physical_constants["electron charge to mass quotient"][0]  # C/kg
CURRENT = 0.14  # A
Tie = Literal["symmetric", "lower at anode", "upper at anode"]
TIES: tuple[Tie, ...] = get_args(Tie)

bench = ready_made("deflection tube")
tube = prepare(bench)


def crossed(tie: Tie, plate_voltage: float, current: float = CURRENT) -> Settings:
    """Plates that pull down against coils that push up."""
    return Settings(
        accelerating_voltage=3000.0,
        plate_voltage=plate_voltage,
        plate_reversed=True,
        plate_tie=tie,
        coil_current=current,
    )


def end_of_the_line(settings: Settings) -> float:
    """Height in m of the last piece of the line."""
    return float(tube.picture(settings, electrons=2000).mean_trace.v[-1])


for tie in TIES:
    null = brentq(lambda volts, tie=tie: end_of_the_line(crossed(tie, volts)), 500.0, 2500.0)
    reading = round(null, -1)  # the voltmeter shows steps of 10 V

    textbook = textbook_trace(bench, crossed(tie, reading))
    speed = textbook.electric_field / textbook.flux_density  # m/s, from V_p / d and thin coils
    by_textbook = speed**2 / (2.0 * 3000.0)  # C/kg, as if the gun's were the speed between plates

    # Slow electrons fly the same way wherever (e/m) B^2 / V is the same. So the current at which
    # the model, with the accepted e/m, has its null tells by how much e/m differs from that.
    current = brentq(
        lambda amperes, tie=tie, reading=reading: end_of_the_line(crossed(tie, reading, amperes)),
        0.05,
        0.3,
    )
    by_bench = TRUE * (current / CURRENT) ** 2

    print(
        f"{tie}: null at {reading:.0f} V; "
        f"textbook e/m = {by_textbook:.3g} C/kg, {100 * (by_textbook / TRUE - 1):+.0f} %; "
        f"bench model {by_bench:.3g} C/kg, {100 * (by_bench / TRUE - 1):+.1f} %"
    )
