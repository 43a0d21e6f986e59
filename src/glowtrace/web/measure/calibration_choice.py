"""Which calibration of the tube counts: none, one kept with the bench, or that of a file."""

from __future__ import annotations

from collections.abc import Mapping

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.bench.picture import Model
from glowtrace.errors import GlowtraceError
from glowtrace.measure.calibration import TubeCalibration, calibration_from_json
from glowtrace.measure.experiment import Known
from glowtrace.measure.methods import Method
from glowtrace.store.calibrations import KeptCalibration, calibration_words, known_for
from glowtrace.web.controls import Picker, box, button, file_button, hint, read_text, words
from glowtrace.web.frame import Frame
from glowtrace.web.measure.keeping import Keeping

_NONE = "none"
_LOOSE = "a file"
_LARGEST = 50_000


class CalibrationChoice:
    """Offers the calibrations of this bench; the browser remembers which one was chosen.

    Parameters
    ----------
    frame
        The page around it.
    keeping
        The browser's memory.
    """

    def __init__(self, frame: Frame, keeping: Keeping) -> None:
        self._frame, self._keeping = frame, keeping
        self._chosen: TubeCalibration | None = None
        self._chosen_id = _NONE
        self._model: Model = "bench"
        with box("choice calibration"):
            words("Calibration", css="choice-label")
            with box("calibration-ways"):
                self._picker = Picker("Calibration of the tube", self._pick)
                self._says = hint("")
                with box("row readings-ways"):
                    take = read_text(_LARGEST)
                    file_button("Take in a calibration file", ".json", take, self._opened)
                    self._file = button("Save it as a file", self._save_file, "plain")
        self._show()

    async def recall(self) -> None:
        """Choose the calibration that was chosen last in this browser, if it is still kept."""
        kept = await self._keeping.calibration()
        if any(each.id == kept for each in self._kept()):
            self._pick(kept)

    def set_model(self, model: Model) -> None:
        """Go on with other fields; a calibration counts for those that it was made with."""
        self._model = model
        self._show()

    def known(self, method: Method) -> Mapping[str, Known]:
        """Give what the calibration says, where it counts."""
        found = self._chosen
        if found is None or found.model != self._model:
            return {}
        return known_for(found, self._frame.bench, method)

    def choose(self, calibration: TubeCalibration, kept: KeptCalibration | None = None) -> None:
        """Let a calibration count from now on: one that is kept, or one for this page only."""
        self._chosen = calibration
        self._chosen_id = _LOOSE if kept is None else kept.id
        self._keeping.keep_calibration("" if kept is None else kept.id)
        self._show()

    def leave_out(self) -> None:
        """Let none count."""
        self._pick(_NONE)

    def _kept(self) -> tuple[KeptCalibration, ...]:
        store = self._frame.rack.store
        try:
            return () if store is None else store.calibrations.list(self._frame.bench)
        except GlowtraceError as error:
            self._frame.say(str(error))
            return ()

    def _show(self) -> None:
        offered = {_NONE: "none: plates and coils act as drawn"}
        if self._chosen is not None and self._chosen_id == _LOOSE:
            offered[_LOOSE] = f"this page only: {_line(self._chosen)}"
        kept = self._kept()
        offered |= {each.id: _line(each.calibration) for each in kept}
        self._picker.offer({"Of this bench": offered}, self._chosen_id)
        self._file.set_visibility(self._chosen is not None)
        self._says.text = self._words(len(kept))

    def _words(self, kept: int) -> str:
        found = self._chosen
        if found is None:
            return (
                "Calibrations are kept with the bench and listed here."
                if kept
                else "None is kept for this bench yet: look for the tube’s constants to make one."
            )
        if found.model != self._model:
            return "It was made for other fields, and does not count now."
        note = f" Note: {found.note}." if found.note else ""
        return (
            "Its factors count with their uncertainties when e/m is looked for. Measure by another "
            "method than it was made by: the same one brings the accepted e/m back by "
            f"construction.{note}"
        )

    def _pick(self, id: str) -> None:
        self._frame.say("")
        found = next((each for each in self._kept() if each.id == id), None)
        if found is not None:
            self.choose(found.calibration, found)
            return
        if id == _NONE:
            self._chosen, self._chosen_id = None, _NONE
            self._keeping.keep_calibration("")
        self._show()

    def _opened(self, event: GenericEventArguments) -> None:
        """Keep the calibration of a file with the bench, and let it count."""
        frame, store = self._frame, self._frame.rack.store
        frame.say("")
        try:
            found = calibration_from_json(str(event.args[1] or ""))
            found.known(frame.bench)
            kept = None if store is None else store.calibrations.keep(found, frame.bench)
        except GlowtraceError as error:
            frame.say(str(error))
            return
        self.choose(found, kept)

    def _save_file(self) -> None:
        if self._chosen is not None:
            ui.download.content(self._chosen.to_json(), "calibration.json", "application/json")


def _line(calibration: TubeCalibration) -> str:
    return f"{calibration.date:%d %b %Y}: {calibration_words(calibration)}"
