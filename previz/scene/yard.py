"""Shapes of yards and streets as they are written, with their usual sizes."""

from __future__ import annotations

YARD_SIZES: dict[str, tuple[float, float, float] | None] = {
    "track": (6.0, 3.6, 0.40),
    "sleepers": (2.6, 1.2, 0.52),
    "buffer stop": (2.2, 2.5, 1.35),
    "signal": (1.9, 0.85, 7.0),
    "platform": (8.0, 3.0, 0.92),
    "telegraph line": (50.0, 1.8, 7.5),
    "kerb": (3.6, 0.15, 0.14),
    "pavement": (6.0, 1.8, 0.14),
    "lamp post": (0.42, 0.42, 3.8),
    "picket fence": (3.6, 0.12, 1.1),
    "wire fence": (8.4, 0.12, 1.2),
    "garden wall": (4.0, 0.34, 1.9),
    "gate": (3.3, 0.2, 1.15),
    "handcart": (2.0, 1.0, 0.95),
    "milk churn": (0.36, 0.36, 0.72),
    "park bench": (1.6, 0.62, 0.85),
    "tree": (5.0, 5.0, 8.0),
    "bare tree": (5.0, 5.0, 8.0),
    "bush": (1.4, 1.2, 1.2),
    "puddle": (1.6, 1.1, 0.003),
    "water": (20.0, 6.0, 0.01),
    "van": (4.6, 1.85, 2.15),
    "car": (3.9, 1.6, 1.42),
}
"""Shapes of yards and streets, each with its size where none is written; a length runs along x, the front of
vehicles is towards +x, edges of kerbs, pavements and platforms are on the -y side. [m]  Common practice, no
source.
"""

YARD_SOLIDS = ("garden wall", "kerb", "platform")
"""Those with no room inside."""
