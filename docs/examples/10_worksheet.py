"""What a class takes home: worksheets with answers, a clip, and a figure with the forces."""

import sys
import tempfile
from pathlib import Path

from glowtrace import Settings, prepare, ready_made
from glowtrace.explain.account import account_of
from glowtrace.explain.followed import followed_ray
from glowtrace.report.clips.clip import ClipForm
from glowtrace.report.clips.file import save_clip
from glowtrace.report.clips.sweep import sweep_clip
from glowtrace.report.figure import save_picture
from glowtrace.report.worksheets.print import print_worksheets
from glowtrace.report.worksheets.worksheet import build_worksheets

folder = Path(sys.argv[1] if len(sys.argv) > 1 else tempfile.mkdtemp())
tube = prepare(ready_made("deflection tube"))
settings = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)

sheets = build_worksheets(tube, "algebra", seed=7, learners=2)
(folder / "sheets.pdf").write_bytes(print_worksheets(sheets))
(folder / "answers.pdf").write_bytes(print_worksheets(sheets, part="answers"))
for sheet in sheets:
    speed = sheet.questions[0]
    print(f"sheet {sheet.number}: {speed.results[0].text}. {speed.remark}")

clip = sweep_clip(tube, settings, "plate_voltage", -900.0, 900.0,
                  form=ClipForm(seconds=1.0, rate=10, size="480p"))  # fmt: skip
save_clip(folder / "up-and-down.mp4", clip)
print(f"{clip.title}: {clip.count} frames; {clip.captions[-1].text}")

picture = tube.picture(settings, electrons=5000)
forces = account_of(followed_ray(tube, settings))
save_picture(folder / "forces.svg", picture, tube.bench, account=forces)
print(*sorted(each.name for each in folder.iterdir() if not each.name.startswith(".")))
