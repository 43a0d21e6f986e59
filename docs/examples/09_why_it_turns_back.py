"""Why a beam turns back: forces and energy on the way, and a plain circle seen moving along."""

import numpy as np

from glowtrace import Settings, prepare, ready_made
from glowtrace.explain.accounts import wrong_accounts
from glowtrace.explain.drift_frame import DriftFrame
from glowtrace.explain.explanation import explain

tube = prepare(ready_made("deflection tube"))
settings = Settings(
    accelerating_voltage=1000.0, plate_voltage=2500.0, coil_current=1.0, coil_reversed=True
)
trace = explain(tube, settings)

for mark in trace.marks:
    now = trace.instant(mark.at)
    electric, magnetic = (np.linalg.norm(each) for each in (now.electric_force, now.magnetic_force))
    print(f"{mark.name:18} {1e9 * now.time:5.2f} ns, y = {1e3 * now.position[1]:6.1f} mm, forwards "
          f"{now.velocity[0]:8.2e} m/s, forces {electric:.1e} N and {magnetic:.1e} N")  # fmt: skip
print(f"the magnetic force works {abs(trace.account.magnetic_work).max():.0e} J in all")

frame = trace.frame
if isinstance(frame, DriftFrame) and frame.circle is not None:
    print(f"moving along at {frame.speed:.2e} m/s: a circle of {1e3 * frame.circle.radius:.1f} mm "
          f"radius, within {1e3 * frame.circle.roughness:.2f} mm")  # fmt: skip

for account in wrong_accounts(tube, trace)[:2]:
    print(f'"{account.claim}" {account.verdict}: {account.answer}')
