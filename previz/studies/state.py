"""What a picture is of, however well it is rendered."""

from __future__ import annotations

from collections.abc import Sequence

from previz.physics.light import LampLight
from previz.stage.fingerprint import digest_of
from previz.stage.records import Camera


def state_of(paths: str, camera: Camera, lamps: Sequence[LampLight]) -> str:
    """Return the fingerprint of a picture of a stage with that `light_path_hash`, its lamps as set.

    Size, paths a pixel and seed do not count: two pictures of one state differ in how good they are.
    """
    return digest_of(paths, camera, tuple(lamps))[:32]
