"""How a deflection changes with the plate voltage and the gap: a table, and a frame of it."""

import numpy as np

from glowtrace import Settings, prepare, ready_made, sweep

tube = prepare(ready_made("deflection tube"))
settings = Settings(accelerating_voltage=3000.0)

made = sweep(
    tube,
    settings,
    {"plates.gap": [0.048, 0.054]},  # m; the fields are computed anew for each
    plate_voltage=np.linspace(0.0, 1000.0, 6),  # V
    at=0.08,  # m from the opening of the gun
)
print(made)  # pandas.DataFrame(made.columns) makes a frame of it

heights = 1e3 * made["height_m"].reshape(made.shape)  # mm, one row for each gap
for gap, row in zip(made.axes[0].values, heights, strict=True):
    print(f"gap {1e3 * gap:.0f} mm:", "  ".join(f"{height:.1f}" for height in row), "mm")
slopes = heights[:, -1] / 1000.0
print(f"mm a volt: {slopes[0]:.4f} and {slopes[1]:.4f}, ratio {slopes[0] / slopes[1]:.3f}")
