"""Shares in words, as a person would say them."""

from __future__ import annotations


def about(share: float) -> str:
    """Say a probability without more digits than it deserves."""
    if share < 0.01:
        return "under 1 %"
    if share > 0.975:
        return "nearly 100 %"
    percent = 100.0 * share
    return f"about {percent:.0f} %" if percent < 9.5 else f"about {5 * round(percent / 5)} %"


def with_uncertainty(share: float, uncertainty: float) -> str:
    """Say a probability with its standard uncertainty, in per cent."""
    spread = 100.0 * uncertainty
    written = "less than 1" if spread < 0.5 else f"{spread:.0f}"
    return f"{100.0 * share:.0f} % ± {written} %".replace("± less than 1 %", "(± less than 1 %)")


def capital(text: str) -> str:
    """Give a text with a capital first letter."""
    return f"{text[:1].upper()}{text[1:]}"
