"""How the fit is made: model, what is looked for, rows far out, calibration."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from glowtrace.bench.picture import Model
from glowtrace.measure.experiment import Known
from glowtrace.measure.methods import Method
from glowtrace.measure.robust import Robust
from glowtrace.web.controls import Choice, box, button, words
from glowtrace.web.frame import Frame
from glowtrace.web.measuring.calibration_choice import CalibrationChoice
from glowtrace.web.measuring.constants_form import ConstantsForm
from glowtrace.web.measuring.keeping import Keeping


class FitForm:
    """The choices, and the button that fits.

    Parameters
    ----------
    frame
        The page around it.
    keeping
        Where the choice of a calibration is remembered.
    on_fit
        Called when a fit is wanted.
    """

    def __init__(self, frame: Frame, keeping: Keeping, on_fit: Callable[[], object]) -> None:
        self.model: Model = "bench"
        self.robust: Robust = "none"
        self._wants_constants = False
        self._method: Method = "circle"
        with box("fit-form"):
            fields = Choice(
                "Fields", {"bench": "this bench’s real ones", "ideal": "uniform"}, self._set_model
            )
            fields.put("bench")
            self._wanted = Choice(
                "Look for",
                {"charge": "e/m", "constants": "the tube’s constants"},
                self._set_wanted,
            )
            self._wanted.put("charge")
            rows = Choice(
                "Rows far out", {"none": "count fully", "huber": "count less"}, self._set_robust
            )
            rows.put("none")
            self._about = words("", "p", "hint")
            self.calibration = CalibrationChoice(frame, keeping)
            self._constants = ConstantsForm(frame.bench)
            button("Fit", on_fit, "key is-main fit-button")

    @property
    def finds_constants(self) -> bool:
        """Whether the tube's constants are looked for; by the plates only they are always."""
        return self._wants_constants or self._method == "plates only"

    def set_method(self, method: Method) -> None:
        """Go on with another method."""
        self._method = method
        is_plates = method == "plates only"
        self._wanted.set_visibility(not is_plates)
        self._about.text = (
            "Looked for is the plate factor: how much of V_p / gap acts." if is_plates else ""
        )
        self._constants.put(method, self.model)

    def known(self) -> Mapping[str, Known]:
        """Give what the calibration says, where it counts, and what is told of the constants.

        Raises
        ------
        GlowtraceError
            A constant cannot be read.
        """
        calibrated = {} if self.finds_constants else self.calibration.known(self._method)
        return {**calibrated, **self._constants.known(finds_constants=self.finds_constants)}

    def _set_model(self, chosen: str) -> None:
        self.model = "ideal" if chosen == "ideal" else "bench"
        self.calibration.set_model(self.model)
        self._constants.put(self._method, self.model)

    def _set_wanted(self, chosen: str) -> None:
        self._wants_constants = chosen == "constants"

    def _set_robust(self, chosen: str) -> None:
        self.robust = "huber" if chosen == "huber" else "none"
