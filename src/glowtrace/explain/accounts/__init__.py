"""Common wrong accounts of a trace, each answered with the computed numbers of this trace."""

from glowtrace.explain.accounts.answer import Told, Verdict, WrongAccount
from glowtrace.explain.accounts.choosing import wrong_accounts

__all__ = ["Told", "Verdict", "WrongAccount", "wrong_accounts"]
