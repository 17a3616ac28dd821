"""The workbench: place the outlines and watch the part change, in a browser.

What needs no browser is here by topic: `session` holds everything together and
is all that the pages talk to.
"""
