"""How the fit is made: model, what is looked for, rows far out, calibration."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from glowtrace.bench.picture import Model
from glowtrace.measure.experiment import Known
from glowtrace.measure.fits.robust import Robust
from glowtrace.measure.methods import Method
from glowtrace.measure.tables.readings import Table
from glowtrace.measure.usual_meters import usual_knowledge
from glowtrace.web.controls import Choice, box, button, hint
from glowtrace.web.frame import Frame
from glowtrace.web.measure.calibration_choice import CalibrationChoice
from glowtrace.web.measure.constants_form import ConstantsForm
from glowtrace.web.measure.keeping import Keeping
from glowtrace.words.bench import model_choices

_CHOICES = ("fields", "rows", "wanted")
"""Names under which the browser remembers choices, beside those of constants."""


class FitForm:
    """The choices, and the button that fits.

    Parameters
    ----------
    frame
        The page around it.
    keeping
        Where the choices are remembered.
    on_fit
        Called when a fit is wanted.
    on_change
        Called when something was chosen or written that another fit would follow.
    """

    def __init__(
        self,
        frame: Frame,
        keeping: Keeping,
        on_fit: Callable[[], object],
        on_change: Callable[[], object],
    ) -> None:
        self._keeping, self._on_change, self._bench = keeping, on_change, frame.bench
        self.model: Model = "bench"
        self.robust: Robust = "none"
        self._wants_constants = self._is_touched = False
        self._method: Method = "circle"
        with box("fit-form"):
            self._fields = Choice("Fields", model_choices(), self._set_model)
            self._wanted = Choice(
                "Look for",
                {"charge": "e/m", "constants": "the tube’s constants"},
                self._set_wanted,
            )
            self._rows = Choice(
                "Rows far out", {"none": "count fully", "huber": "count less"}, self._set_robust
            )
            self._put_choices()
            self._about = hint("")
            self.calibration = CalibrationChoice(frame, keeping)
            self._constants = ConstantsForm(frame.bench, self._changed)
            button("Fit", on_fit, "key is-main is-wide")

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
            "Looked for is the plate factor: how much of plate voltage over gap acts."
            if is_plates
            else ""
        )
        self._constants.put(method, self.model)

    def known(self, readings: Table) -> Mapping[str, Known]:
        """Give what the calibration says, where it counts, and what is told of the constants.

        Raises
        ------
        GlowtraceError
            A constant cannot be read.
        """
        calibrated = {} if self.finds_constants else self.calibration.known(self._method)
        told = self._constants.known(finds_constants=self.finds_constants)
        model = None if self.finds_constants else self.model
        usual = usual_knowledge(self._bench, readings, model=model)
        return {**usual, **calibrated, **told}

    async def recall(self) -> None:
        """Choose and write what was chosen and written last on this bench in this browser."""
        kept = await self._keeping.choices()
        if kept and not self._is_touched:  # what somebody has chosen meanwhile stays
            self.put_choices(
                "ideal" if kept.get("fields") == "ideal" else "bench",
                "huber" if kept.get("rows") == "huber" else "none",
                wants_constants=kept.get("wanted") == "constants",
                constants={name: text for name, text in kept.items() if name not in _CHOICES},
            )
        await self.calibration.recall()

    def put_choices(
        self,
        model: Model,
        robust: Robust,
        *,
        wants_constants: bool,
        constants: Mapping[str, str],
    ) -> None:
        """Choose how the fit is made, and write what is known of the constants."""
        self.model, self.robust, self._wants_constants = model, robust, wants_constants
        self._put_choices()
        self.calibration.set_model(model)
        self._constants.put(self._method, model)
        self._constants.put_texts(constants)

    def look_for_charge(self) -> None:
        """Look for e/m from now on, as one does once the tube is calibrated."""
        self._wants_constants = False
        self._put_choices()
        self.keep()

    def keep(self) -> None:
        """Let the browser remember the choices."""
        chosen = {
            "fields": self.model,
            "rows": self.robust,
            "wanted": "constants" if self._wants_constants else "charge",
        }
        self._keeping.keep_choices({**self._constants.texts, **chosen})

    def _put_choices(self) -> None:
        self._fields.put(self.model)
        self._wanted.put("constants" if self._wants_constants else "charge")
        self._rows.put(self.robust)

    def _changed(self) -> None:
        self._is_touched = True
        self.keep()
        self._on_change()

    def _set_model(self, chosen: str) -> None:
        self.model = "ideal" if chosen == "ideal" else "bench"
        self.calibration.set_model(self.model)
        self._constants.put(self._method, self.model)
        self._changed()

    def _set_wanted(self, chosen: str) -> None:
        self._wants_constants = chosen == "constants"
        self._changed()

    def _set_robust(self, chosen: str) -> None:
        self.robust = "huber" if chosen == "huber" else "none"
        self._changed()
