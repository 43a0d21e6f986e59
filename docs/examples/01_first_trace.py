"""Where the line ends on the screen: by the real fields, and by those of the textbook."""

from glowtrace import Settings, prepare, ready_made

tube = prepare(ready_made("deflection tube"))
settings = Settings(accelerating_voltage=3000.0, plate_voltage=1000.0)  # V

for model in ("bench", "ideal"):
    trace = tube.picture(settings, model=model).mean_trace  # m along the sheet, up, and across
    end, height, width = 1e3 * trace.u[-1], 1e3 * trace.v[-1], 2e3 * trace.width_v[-1]
    print(f"{model}: at {end:.0f} mm the line is {height:.1f} mm up and {width:.1f} mm wide")
