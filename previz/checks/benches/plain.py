"""Our one pass against plain renders of the library, and the noise of both at equal time."""

from __future__ import annotations

from previz.checks.benches.setting import Setting, window_room
from previz.stage.records import Stage


def passes(setting: Setting) -> tuple[dict, dict]:
    """Return 'pass_ratio' and 'per_lamp_ratio': see `engine.benchmark.pass_ratios`."""
    from previz.engine import benchmark

    stage = setting.stage()
    ratios = benchmark.pass_ratios(stage, stage.cameras[0], *setting.size, setting.bands,
                                 setting.samples)
    keys = {key: ratios.pop(key) for key in ("pass_ratio", "per_lamp_ratio")}
    return keys, ratios


def bounce(setting: Setting) -> tuple[dict, dict]:
    """Return 'bounce_gain': how much lower our relative squared error is at equal time."""
    gain = _gain(setting, setting.stage(), setting.samples)
    return {"bounce_gain": gain.pop("gain")}, gain


def _gain(setting: Setting, stage: Stage, samples: int) -> dict:
    """Return `equal_time_gain` of a stage, at a quarter of the width and height."""
    from previz.engine import benchmark

    camera, small = stage.cameras[0], [side // 4 for side in setting.size]
    return benchmark.equal_time_gain(
        benchmark.Ours(stage, camera, *small, setting.bands),
        benchmark.Plain(stage, camera, *small), samples, 4 if setting.quick else 8)


WINDOW_SAMPLES = 64


def window(setting: Setting) -> tuple[dict, dict]:
    """Return 'window_gain': the same for an overcast sky through a glazed window.

    Beside it stands the gain for a window without glass: through glass the plain renderer meets
    the sky by chance only.
    """
    keys, details = {}, {}
    for key, glass in (("window", "clear"), ("window_without_glass", "none")):
        gain = _gain(setting, window_room(glass), WINDOW_SAMPLES)
        (keys if key == "window" else details)[f"{key}_gain"] = gain.pop("gain")
        details |= {f"{key}_{name}": value for name, value in gain.items()}
    return keys, details
