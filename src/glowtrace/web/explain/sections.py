"""What stands below the stage: causes of the width, textbook against bench, accounts judged."""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import Final

from nicegui import ui

from glowtrace.explain.accounts import Verdict, WrongAccount
from glowtrace.explain.differences import Differences
from glowtrace.explain.spread import Spread
from glowtrace.explain.writing import measured_text, share_text, shift_text
from glowtrace.units import page_text
from glowtrace.web.controls import box, hint, words

VERDICTS: Final[dict[Verdict, str]] = {
    "not true": "Not true",
    "partly true": "Partly true",
    "true here": "True here",
}
NOTHING_FLIES: Final = "No electron flies at these settings."


def put_differences(found: Differences | None) -> None:
    """Show the shift from the textbook's trace to the bench's, with the share of each cause."""
    if found is None:
        hint(NOTHING_FLIES)
        return
    with box("rows compared", "dl").props('aria-label="Textbook and bench"'):
        for name, value in (
            ("In the textbook, for slow electrons", found.textbook),
            ("On this bench", found.bench),
            ("Difference", found.bench - found.textbook),
        ):
            with ui.element("div"):
                words(name, "dt")
                words(shift_text(value, signed=name == "Difference"), "dd")
    hint(found.compared + ".")
    largest = max(abs(part.share.mean) for part in found.parts) or 1.0
    with box("shares", "ul").props('aria-label="Causes of the difference"'):
        for part in sorted(found.parts, key=lambda each: -abs(each.share.mean)):
            share = part.share
            with box("share", "li"):
                words(part.name)
                words(shift_text(share.mean), css="share-value")
                _put_signed_bar(share.mean / largest)
                words(part.says, "p", "small quiet across")
                span = share.most - share.least
                if span > max(0.02 * abs(share.mean), 1e-5):
                    words(
                        f"From {shift_text(share.least)} to "
                        f"{shift_text(share.most)}, as it comes first or last.",
                        "p",
                        "small quiet across",
                    )
    hint(
        "Each cause is switched on in every possible order, and its mean is shown: "
        "the parts add up to the difference."
    )


def put_spread(found: Spread | None) -> None:
    """Show the width of the trace with the share of each cause."""
    if found is None:
        hint(
            "Too few electrons reach the screen to give a width, or every cause of a width is "
            "switched off."
        )
        return
    what = "spot" if found.is_spot else "line"
    with box("rows compared", "dl"), ui.element("div"):
        words(f"Width of the {what} {found.place}", "dt")
        words(measured_text(found.width, found.uncertainty), "dd")
    with box("shares", "ul").props('aria-label="Causes of the width"'):
        for part in found.parts:
            with box("share", "li"):
                words(part.name)
                words(share_text(part.told_share, part.uncertainty), css="share-value")
                _put_bar(0.0, min(max(part.share, 0.0), 1.0))
                words(
                    f"{part.says} Alone it makes the {what} {1e3 * part.alone:.2f} mm wide.",
                    "p",
                    "small quiet across",
                )
    together = (
        f" Together they make {share_text(abs(found.interaction))} "
        f"{'more' if found.interaction > 0 else 'less'} of it than alone."
        if abs(found.interaction) >= 0.01
        else ""
    )
    hint(
        "Widths add up by their squares: the percentages are parts of the squared width."
        f"{together} Two standard deviations; from {found.seeds} times {found.electrons} "
        "electrons. Numbers in brackets: uncertainty of the last digits."
    )


def put_accounts(accounts: Sequence[WrongAccount]) -> None:
    """Show the wrong accounts as statements that open."""
    if not accounts:
        hint(NOTHING_FLIES)
        return
    with box("accounts"):
        for account in accounts:
            with box("fold account", "details").props(
                f'id="account-{account.key.replace(" ", "-")}"'
            ):
                with ui.element("summary"):
                    words(f"“{account.claim}”")
                    words(
                        VERDICTS[account.verdict],
                        css=f"account-verdict is-{account.verdict.replace(' ', '-')}",
                    )
                words(account.short, "p", "account-short")
                put_text(account.answer, "p")
                with box("rows", "dl"):
                    for told in account.numbers:
                        with ui.element("div"):
                            words(told.name, "dt")
                            put_text(told.value, "dd")


def put_text(text: str, tag: str) -> None:
    """Put text on the page with its powers raised, and no break within a number."""
    safe = html.escape(text).replace(" × ", "\u00a0×\u00a0")
    ui.html(page_text(safe), sanitize=False, tag=tag)


def _put_signed_bar(part: float) -> None:
    """A bar to the right of its middle for more, to the left for less."""
    end = 0.5 + 0.5 * min(max(part, -1.0), 1.0)
    _put_bar(min(end, 0.5), max(end, 0.5), "is-signed")


def _put_bar(start: float, end: float, css: str = "") -> None:
    bar = box(f"share-bar across {css}").props('aria-hidden="true"')
    bar.style(f"--from: {start:.3f}; --to: {end:.3f}")
