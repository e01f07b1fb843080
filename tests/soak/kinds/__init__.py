"""The kinds of input, in the order in which they are tried."""

import functools
import importlib

SHARES = {
    "scenes": 0.12,
    "written": 0.06,
    "options": 0.08,
    "meshes": 0.16,
    "pictures": 0.16,
    "lamps": 0.18,
    "shown": 0.02,
    "looks": 0.05,
    "cached": 0.12,
    "requests": 0.05,
}
"""Kind -> its part of all inputs: slow ones have less. [1]"""


def _made(name: str):
    """Return a kind; only what is tried is imported."""
    return getattr(importlib.import_module(f".{name}", __package__), name.capitalize())()


KINDS = {name: functools.partial(_made, name) for name in SHARES}
"""Name of a kind -> what makes it."""
