"""How the fit is made: model, what is looked for, rows far out, calibration."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.errors import GlowtraceError
from glowtrace.measure.calibration import TubeCalibration, calibration_from_json
from glowtrace.measure.experiment import Known
from glowtrace.measure.methods import Method, columns_of
from glowtrace.measure.robust import Robust
from glowtrace.web.controls import Choice, box, button, words
from glowtrace.web.measuring.keeping import Keeping
from glowtrace.web.measuring.writing import measured_text

_LARGEST = 50_000
_READ = f"""async (event) => {{
  const file = event.target.files[0];
  if (!file) return;
  const text = file.size > {_LARGEST} ? "" : await file.text();
  event.target.value = "";
  emit(text);
}}"""


class FitForm:
    """The choices, and the button that fits.

    Parameters
    ----------
    bench
        What stands there.
    keeping
        Where the tube's calibration is kept.
    say
        Shows one message.
    on_fit
        Called when a fit is wanted.
    """

    def __init__(
        self,
        bench: Bench,
        keeping: Keeping,
        say: Callable[[str], None],
        on_fit: Callable[[], object],
    ) -> None:
        self._bench, self._keeping, self._say = bench, keeping, say
        self.model: Model = "bench"
        self.robust: Robust = "none"
        self.finds_constants = False
        self._method: Method = "circle"
        self._calibration: TubeCalibration | None = None
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
            with box("calibration"):
                self._calibrated = words("", "p")
                with box("plain", "label"):
                    words("Apply a calibration file")
                    chooser = ui.element("input").classes("visually-hidden")
                    chooser.props('type="file" accept=".json"')
                    chooser.on("change", self._opened, js_handler=_READ)
                self._forget = button("Forget it", self._drop, "plain")
            button("Fit", on_fit, "key is-main fit-button")
        self._show_calibration()

    async def recall(self) -> None:
        """Take the calibration that the browser keeps for this tube, if any."""
        text = await self._keeping.calibration()
        if text:
            try:
                self.apply(calibration_from_json(text))
            except GlowtraceError as error:
                self._say(str(error))

    def set_method(self, method: Method) -> None:
        """Go on with another method."""
        self._method = method
        is_plates = method == "plates only"
        self._wanted.set_visibility(not is_plates)
        if is_plates:
            self.finds_constants = True
        self._about.text = (
            "Looked for is the plate factor: how much of V_p / gap acts." if is_plates else ""
        )

    def apply(self, calibration: TubeCalibration) -> None:
        """Apply a calibration to the fits of e/m, and keep it.

        Raises
        ------
        GlowtraceError
            It belongs to another tube.
        """
        calibration.known(self._bench)
        self._calibration = calibration
        self._keeping.keep_calibration(calibration.to_json())
        self._show_calibration()

    def known(self) -> Mapping[str, Known]:
        """Give what the calibration says, where it counts."""
        found = self._calibration
        if found is None or found.model != self.model or self.finds_constants:
            return {}
        columns = {column.name for column in columns_of(self._method)}
        needs = {"plate_gap": "plate_voltage", "coil_constant": "coil_current"}
        known = found.known(self._bench)
        return {name: each for name, each in known.items() if needs[name] in columns}

    def _set_model(self, chosen: str) -> None:
        self.model = "ideal" if chosen == "ideal" else "bench"
        self._show_calibration()

    def _set_wanted(self, chosen: str) -> None:
        self.finds_constants = chosen == "constants"

    def _set_robust(self, chosen: str) -> None:
        self.robust = "huber" if chosen == "huber" else "none"

    def _show_calibration(self) -> None:
        found = self._calibration
        self._forget.set_visibility(found is not None)
        if found is None:
            self._calibrated.text = "No calibration: plates and coils act as drawn."
            return
        parts = [
            f"{name} {measured_text(factor.value, factor.uncertainty, '1')}"
            for name, factor in (
                ("plate factor", found.plate_factor),
                ("coil factor", found.coil_factor),
            )
            if factor is not None
        ]
        fields = "real fields" if found.model == "bench" else "uniform fields"
        idle = (
            "" if found.model == self.model else "; it is for other fields and does not count now"
        )
        self._calibrated.text = (
            f"Calibration of {found.date:%d %b %Y} for {fields}: {', '.join(parts)}{idle}."
        )

    def _opened(self, event: GenericEventArguments) -> None:
        try:
            self.apply(calibration_from_json(str(event.args)))
        except GlowtraceError as error:
            self._say(str(error))

    def _drop(self) -> None:
        self._calibration = None
        self._keeping.keep_calibration("")
        self._show_calibration()
