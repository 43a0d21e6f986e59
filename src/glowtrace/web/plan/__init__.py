"""From a rehearsed setting to a demonstration: plan, outcomes, wiring, safety, sheet.

Each step is a page of its own. All that it needs travels in its address, so that nothing is typed
twice and reload, back and bookmarks work.
"""
