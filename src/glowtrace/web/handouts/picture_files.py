"""The picture as SVG, PDF or PNG, by an address that tells how it is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final, Literal

from nicegui import app
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from glowtrace.bench.picture import Model
from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.settings import Settings
from glowtrace.demos.textbook import textbook_trace
from glowtrace.explain.account import account_of
from glowtrace.explain.followed import followed_ray
from glowtrace.report.figure import picture_bytes
from glowtrace.report.look import DARK, PRINT
from glowtrace.web.address import Word, fragment, read_state, told_state
from glowtrace.web.preparation import read_preparation
from glowtrace.web.rack import Rack
from glowtrace.web.served import file_name, served, telling

PATH: Final = "/glowtrace-picture"
KINDS: Final = ("svg", "pdf", "png")
_ELECTRONS: Final = {"line": 20_000, "spot": 12_000, "path": 1200}


@dataclass(frozen=True)
class PictureForm:
    """How the picture is drawn."""

    look: Literal["dark", "print"] = "dark"
    model: Model = "bench"
    has_textbook: Annotated[bool, Word("textbook")] = True
    has_forces: Annotated[bool, Word("forces")] = False

    @property
    def query(self) -> str:
        """The same in an address."""
        return fragment(told_state(self, PictureForm()))


def draw(prepared: PreparedBench, settings: Settings, form: PictureForm, kind: str) -> bytes:
    """Draw the picture as the content of a file of this kind."""
    bench = prepared.bench
    picture = prepared.picture(
        settings, electrons=_ELECTRONS[prepared.plane.shows], model=form.model
    )
    has_beam = settings.accelerating_voltage > 0.0
    account = None
    if form.has_forces:
        account = account_of(followed_ray(prepared, settings, model=form.model))
    return picture_bytes(
        picture,
        bench,
        textbook_trace(bench, settings) if form.has_textbook and has_beam else None,
        kind=kind,
        look=DARK if form.look == "dark" else PRINT,
        account=account if account is not None and len(account.time) else None,
    )


def serve_pictures(rack: Rack, first: str) -> None:
    """Serve the picture that an address tells, in each kind of file."""

    @telling
    async def serve(request: Request) -> Response:
        kind = request.path_params["kind"]
        if kind not in KINDS:
            return PlainTextResponse(f"Choose {', '.join(KINDS)}.", 404)
        preparation, bench = read_preparation(request.query_params, first, rack.bench)
        prepared = await rack.build(bench).task
        form = read_state(request.query_params, PictureForm())
        content = await rack.compute(lambda: draw(prepared, preparation.settings, form, kind))
        return served(request, f"{file_name(bench.name)}.{kind}", content)

    app.add_route(f"{PATH}.{{kind}}", serve)
