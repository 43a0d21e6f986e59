"""Can the last row see the trace? How bright it is, what it stands against, and what would help."""

from glowtrace import Settings, prepare, ready_made
from glowtrace.light.assessment import assess
from glowtrace.light.camera_advice import suggest_exposure
from glowtrace.light.changes import suggest_changes
from glowtrace.light.scene import Room, Scene
from glowtrace.words.light import exposure_words, illuminance, margin_words, verdict_within
from glowtrace.words.light_changes import change_advice

bench = ready_made("deflection tube")
tube = prepare(bench)
settings = Settings(accelerating_voltage=3000.0, plate_voltage=900.0)  # V

for lux in (1.0, 20.0, 400.0):
    scene = Scene(room=Room(illuminance=lux), beam_current=2e-6)  # lx on the screen, A
    found = assess(tube, settings, scene)
    print(f"{illuminance(lux)}: {verdict_within(found.eye)}, {margin_words(found.eye)}")

exposure = suggest_exposure(scene.room, scene.camera, found.brightest, found.background.value)
print(f"for a camera in the last of these rooms: {exposure_words(exposure)}")

for change in suggest_changes(bench, settings, scene, found.glow):
    print(f"- {change_advice(change)} Then {verdict_within(change.after)}.")
