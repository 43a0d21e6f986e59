"""Findings in words: every sentence that page, paper and command line share, in the language asked.

The questions below (plan, safety, light, ...) return findings: keys and numbers. Here is a module
for each subject that turns its findings into text. The sentences themselves stand in catalogues,
one folder a language, so that another language is a folder and no change of the code.
"""

from glowtrace.words.language import LANGUAGES, Language, language, say, speaking

__all__ = ["LANGUAGES", "Language", "language", "say", "speaking"]
