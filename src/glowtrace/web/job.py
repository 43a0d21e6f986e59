"""Long work beside the page: how far it is, and giving it up."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Final, TypeVar

from glowtrace.errors import GlowtraceError
from glowtrace.watching import GivenUpError

Result = TypeVar("Result")
LOOK_EVERY: Final = 0.25
"""Seconds between two looks at how far something is."""


@dataclass
class Job:
    """How far something long is: written by the thread that works, read by the page.

    Attributes
    ----------
    share
        The part that is done, from 0 to 1; None while nothing is known.
    words
        What is being done.
    is_given_up
        Whether nobody waits for it any more.
    """

    share: float | None = None
    words: str = ""
    is_given_up: bool = False

    def note(self, share: float, words: str) -> None:
        """Take down how far it is; GivenUpError where nobody waits any more."""
        if self.is_given_up:
            raise GivenUpError
        self.share, self.words = share, words

    @property
    def sentence(self) -> str:
        """What is being done, as it stands on the page."""
        return f"{self.words[:1].upper()}{self.words[1:]} …"

    def give_up(self) -> None:
        """Let the work end at its next look."""
        self.is_given_up = True

    def wants_end(self) -> bool:
        """Say whether to give up, for the thread that works."""
        return self.is_given_up

    async def watch(self, work: Awaitable[Result], look: Callable[[], object]) -> Result:
        """Wait for the work, with a look at how far it is now and then."""
        task = asyncio.ensure_future(work)
        while not task.done():
            look()
            await asyncio.wait({task}, timeout=LOOK_EVERY)
        return task.result()


async def told(
    work: Awaitable[Result], say: Callable[[str], object], failure: str
) -> Result | None:
    """Wait for work on which the page must not break.

    Parameters
    ----------
    work
        What is waited for.
    say
        Is told what went wrong, if anything did.
    failure
        What to say of a defect, such as "This could not be computed"; it goes into the log whole.

    Returns
    -------
    Result or None
        None where it failed, or was given up.
    """
    try:
        return await work
    except GivenUpError:
        return None
    except GlowtraceError as error:
        say(str(error))
    except Exception as error:  # the page must live on
        logging.getLogger(__name__).exception("%s", failure)
        say(f"{failure}: {error}")
    return None
