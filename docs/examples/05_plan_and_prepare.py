"""From a goal to settings, wiring checks, safety and a printed sheet."""

import tempfile
from pathlib import Path

from glowtrace import check_safety, plan_goal, prepare, ready_made, run_sheet, wire
from glowtrace.demos.goals import TurnBack
from glowtrace.words.safety import told_report

bench = ready_made("deflection tube")
tube = prepare(bench)

planned = plan_goal(tube, TurnBack(depth=0.009, turns=0.75))  # m, periods
best = planned.answers[0]
settings = best.settings
print(f"{settings.accelerating_voltage:.0f} V, {settings.plate_voltage:.0f} V on the plates, "
      f"{1e3 * settings.coil_current:.0f} mA in the coils")  # fmt: skip
for knob, window in best.windows.items():
    print(f"  {knob} works from {window.low:.4g} to {window.high:.4g}")

for check in wire(bench, settings).checks:
    print(f"{check.number}. {check.do} {check.expect}")

safety = told_report(check_safety(bench, settings, run_minutes=10.0))
for line in safety.lines:
    if line.verdict != "ok":
        print(f"{line.verdict}: {line.topic}, {line.value}; limit {line.limit}")

sheet = Path(tempfile.mkdtemp()) / "sheet.pdf"
sheet.write_bytes(run_sheet(tube, settings, plan=best))
print(f"sheet: {sheet.stat().st_size // 1024} KiB")
