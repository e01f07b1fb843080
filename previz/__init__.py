"""Light a scene before the pre-light day: scene file in, measured frames out."""

__version__ = "0.3.1"
