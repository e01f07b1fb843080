"""The renderer's two libraries, started: whatever computes on the device imports them from here."""

from previz.engine.backend import load

mi, dr = load()
