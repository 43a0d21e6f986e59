"""Which number is worth measuring better: its share of the doubt, and what that would bring."""

from __future__ import annotations

from glowtrace.bench.prediction import Prediction
from glowtrace.units import percent
from glowtrace.web.controls import box, hint, words
from glowtrace.words.knowledge import half_width_words, share_rows, share_words


class DoubtFold:
    """The fold. Building it puts it on the page; it hides while nothing is uncertain.

    Parameters
    ----------
    bench_page
        Address where the numbers are typed.
    """

    def __init__(self, bench_page: str) -> None:
        with box("fold small doubts", "details") as self._fold:
            words("What is worth measuring better?", "summary")
            self._told = box("stack")
            words("Type it on Bench", "a", "plain").props["href"] = bench_page
        self._fold.set_visibility(False)

    def show(self, found: Prediction | None, x: float) -> None:
        """Show the shares in the doubt about the line at x in m."""
        seen = None if found is None else found.seen(x)
        self._fold.set_visibility(seen is not None)
        self._told.clear()
        if found is None or seen is None:
            return
        slopes, is_circle = seen
        shares = found.shares_of(slopes)
        with self._told:
            hint(share_words(x, found.belief.size(slopes), is_circle=is_circle))
            with box("doubt-rows", "ol"):
                for row in share_rows(found.prepared.bench, shares):
                    with box("doubt-row", "li"):
                        words(row.name)
                        words(row.known, css="fine")
                        words(percent(row.share), css="doubt-share")
                        bar = box("share-bar", "span").style(
                            f"--to: {min(max(row.share, 0), 1):.3f}"
                        )
                        bar.props["aria-hidden"] = "true"
                        words(half_width_words(row.without), css="fine")
