"""One plate tied to the anode changes the speed between the plates; the textbook leaves it out."""

from glowtrace import Settings, prepare, ready_made

tube = prepare(ready_made("deflection tube"))

for tie in ("symmetric", "lower at anode", "upper at anode"):
    settings = Settings(accelerating_voltage=3000.0, plate_voltage=1500.0, plate_tie=tie)
    ray = tube.central_ray(settings)
    middle = abs(ray.position[:, 0] - 0.050).argmin()  # the point at x = 50 mm
    height = tube.picture(settings).mean_trace.v[-1]
    print(
        f"{tie}: {ray.potential[middle]:+.0f} V on the beam's axis in the middle of the plates, "
        f"the line ends {1e3 * height:.1f} mm up"
    )
