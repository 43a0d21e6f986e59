"""A null on a real bench: coils reach further than plates, and a tied plate changes the speed."""

from scipy.constants import physical_constants
from scipy.optimize import brentq

from glowtrace import Settings, prepare, ready_made, textbook_trace

TRUE = -physical_constants["electron charge to mass quotient"][0]  # C/kg

bench = ready_made("deflection tube")
tube = prepare(bench)


def at(plate_voltage: float, settings: Settings) -> Settings:
    """The same settings with another voltage in V on the plates."""
    return settings.model_copy(update={"plate_voltage": plate_voltage})


def end_of_the_line(plate_voltage: float, settings: Settings) -> float:
    """Height in m of the last piece of the line."""
    return float(tube.picture(at(plate_voltage, settings)).mean_trace.v[-1])


for tie in ("symmetric", "lower at anode", "upper at anode"):
    crossed = Settings(
        accelerating_voltage=3000.0, coil_current=0.14, plate_reversed=True, plate_tie=tie
    )
    null = brentq(end_of_the_line, 500.0, 2500.0, args=(crossed,), xtol=1.0)
    textbook = textbook_trace(bench, at(null, crossed))
    speed = textbook.electric_field / textbook.flux_density  # m/s, from V_p / d and thin coils
    found = speed**2 / (2.0 * crossed.accelerating_voltage)  # C/kg, as if the gun's were the speed
    print(f"{tie}: null at {null:.0f} V, e/m = {found:.3g} C/kg, {100 * (found / TRUE - 1):+.0f} %")
