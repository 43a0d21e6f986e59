"""Helices in a long coil: the spread beam comes together at the right currents."""

from glowtrace import Settings, prepare, ready_made, textbook_trace

bench = ready_made("axial coil tube")
tube = prepare(bench)
textbook = textbook_trace(bench, Settings(accelerating_voltage=500.0, coil_current=0.1))
print(f"textbook: first focus at {textbook.focus_coil_current:.3f} A")

for milliamperes in range(0, 451, 50):
    settings = Settings(accelerating_voltage=500.0, coil_current=1e-3 * milliamperes)
    spot = tube.picture(settings, electrons=2000).landings  # m, (z, y)
    width = 2e3 * spot.std(axis=0).mean()
    print(f"{milliamperes:4d} mA  {width:5.2f} mm  {'#' * round(8 * width)}")
