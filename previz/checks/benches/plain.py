"""Our one pass against plain renders of the library, and the noise of both at equal time."""

from __future__ import annotations

from previz.checks.benches.setting import Setting, camera_of, window_room


def passes(setting: Setting) -> tuple[dict, dict]:
    """Return 'pass_ratio' and 'per_lamp_ratio': see `engine.benchmark.pass_ratios`."""
    from previz.engine import benchmark

    stage = setting.stage()
    ratios = benchmark.pass_ratios(stage, camera_of(stage), *setting.size, setting.bands,
                                 setting.samples)
    keys = {key: ratios.pop(key) for key in ("pass_ratio", "per_lamp_ratio")}
    return keys, ratios


def bounce(setting: Setting) -> tuple[dict, dict]:
    """Return 'bounce_gain': how much lower our relative squared error is at equal time."""
    from previz.engine import benchmark

    stage, (width, height) = setting.stage(), setting.size
    camera, small = camera_of(stage), (width // 4, height // 4)
    gain = benchmark.equal_time_gain(
        benchmark.Ours(stage, camera, *small, setting.bands),
        benchmark.Plain(stage, camera, *small), setting.samples,
        4 if setting.quick else 8)
    return {"bounce_gain": gain.pop("gain")}, gain


WINDOW_SAMPLES = 64


def window(setting: Setting) -> tuple[dict, dict]:
    """Return 'window_gain': the same for an overcast sky through a glazed window.

    Beside it stands the gain for a window without glass: through glass the plain renderer meets
    the sky by chance only.
    """
    from previz.engine import benchmark

    keys, details = {}, {}
    small = (setting.size[0] // 4, setting.size[1] // 4)
    for key, glass in (("window", "clear"), ("window_without_glass", "none")):
        stage = window_room(glass)
        camera = camera_of(stage)
        gain = benchmark.equal_time_gain(
            benchmark.Ours(stage, camera, *small, setting.bands),
            benchmark.Plain(stage, camera, *small), WINDOW_SAMPLES, 4 if setting.quick else 8)
        (keys if key == "window" else details)[f"{key}_gain"] = gain.pop("gain")
        details |= {f"{key}_{name}": value for name, value in gain.items()}
    return keys, details
