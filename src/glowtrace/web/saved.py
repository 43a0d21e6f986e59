"""The dialog that saves the settings under a name and opens them again."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui
from nicegui.events import GenericEventArguments

from glowtrace.errors import GlowtraceError
from glowtrace.store import SavedSettings, Store
from glowtrace.web.controls import box, button, words

FIELD = 'name="name" autocomplete="off" maxlength="120" autofocus'
ENTERED = "(event) => { event.preventDefault(); emit(new FormData(event.target).get('name')); }"


class SavedDialog:
    """Saves, lists and opens settings.

    Parameters
    ----------
    store
        The database; None where it cannot be opened.
    on_save
        Called with a name and whether to replace what it stands for; saves what is on the table,
        or raises GlowtraceError.
    on_open
        Called with what the visitor chose.
    """

    def __init__(
        self,
        store: Store | None,
        on_save: Callable[..., None],
        on_open: Callable[[SavedSettings], None],
    ) -> None:
        self._store = store
        self._on_save = on_save
        self._on_open = on_open
        with ui.dialog() as self._dialog, box("sheet"):
            words("Saved settings", "h2")
            with box("field-row", "form") as form:
                field = ui.element("input").classes("field").props(FIELD)
                field.props["placeholder"] = field.props["aria-label"] = "Name for these settings"
                words("Save", "button", "key").props('type="submit"')
            form.on("submit", self._save, js_handler=ENTERED)
            with box("row attention") as self._complaint:
                self._message = words("", "p").props('role="alert"')
                self._overwrite = button("Overwrite", self._save_over)
            self._list = box("rows saved", "ul")

    def open(self) -> None:
        """Show the dialog."""
        self._complain("")
        self._refresh()
        self._dialog.open()

    def _save(self, event: GenericEventArguments) -> None:
        self._name = str(event.args)
        self._try(overwrite=False)

    def _save_over(self) -> None:
        self._try(overwrite=True)

    def _try(self, *, overwrite: bool) -> None:
        try:
            self._on_save(self._name, overwrite=overwrite)
        except GlowtraceError as error:
            self._complain(str(error), can_overwrite=self._name in self._names)
            return
        self._complain("")
        self._refresh()

    def _complain(self, text: str, *, can_overwrite: bool = False) -> None:
        self._complaint.set_visibility(bool(text))
        self._message.text = text
        self._overwrite.set_visibility(can_overwrite)

    def _refresh(self) -> None:
        self._list.clear()
        try:
            saved = () if self._store is None else self._store.settings.list()
        except GlowtraceError as error:
            self._complain(str(error))
            saved = ()
        self._names = {one.name for one in saved}
        with self._list:
            for one in saved:
                self._entry(one)

    def _entry(self, one: SavedSettings) -> None:
        def open_it() -> None:
            self._dialog.close()
            self._on_open(one)

        with ui.element("li"):
            button(one.name, open_it, "plain saved-name")
            words(f"{one.changed.astimezone():%d %b %Y, %H:%M}", css="fine")
