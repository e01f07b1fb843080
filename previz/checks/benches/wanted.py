"""What levels for ten wants of twelve lamps cost, over the plain search of the library."""

from __future__ import annotations

import time

import numpy as np

from previz.checks.benches.setting import Setting

LAMPS, WANTS, BATCHES = 12, 10, 64


def balance(setting: Setting) -> tuple[dict, dict]:
    """Return 'balance_s': levels for what can be had, from meters as they are read from the cache. [s]

    The details have what cannot be had, with what would have to change, and both over the library's least
    squares from what is set, with slopes by differences: that has neither a proof nor advice.
    """
    from scipy.optimize import least_squares

    from previz.levels.advice import remedies
    from previz.levels.moves import LampMove
    from previz.levels.problem import Problem
    from previz.levels.response import Response
    from previz.levels.solve import solved
    from previz.levels.wants import LEVEL, Want
    from previz.physics.blackbody import radiance
    from previz.physics.light import LampLight
    from previz.physics.spectra import WAVELENGTHS_NM

    draw = np.random.default_rng(7)
    names = tuple(f"lamp {n}" for n in range(LAMPS))
    gains = np.exp(draw.normal(0, 1.2, (WANTS, LAMPS)))
    light = gains[:, None, :, None, None] * np.full((1, BATCHES, 1, 2, setting.bands), 0.5)
    response = Response(tuple(f"meter {n}" for n in range(WANTS)), names, light)
    spectrum = radiance(WAVELENGTHS_NM, 3200.0)
    moves = [LampMove(name, (LampLight(name, "lm", 1.0, spectrum, np.ones_like(spectrum)),), ("3200 K",), 0.5)
             for name in names]
    problem = Problem(response, [], moves)
    full = np.stack([problem.gains[n][:, 0, 1] for n in range(LAMPS)], axis=1)
    had = full @ draw.uniform(0.05, 1.0, LAMPS)
    seconds = {}
    for what, lux in (("met", had), ("missed", had * 2.0 ** draw.normal(0, 1.5, WANTS))):
        wants = [Want(f"want {n}", LEVEL, (f"meter {n}",), 0.0, float(each)) for n, each in enumerate(lux)]
        for _ in range(2):
            # The first time imports the solver.
            began = time.perf_counter()
            problem = Problem(response, wants, moves)
            state = solved(problem)
            remedies(problem, state)
            seconds[what] = time.perf_counter() - began
        began = time.perf_counter()
        least_squares(lambda levels, lux=lux: np.log2(np.maximum(full @ levels, 1e-12) / lux),
                      np.full(LAMPS, 0.5), bounds=(0.0, 1.0))
        seconds[f"{what} plainly"] = time.perf_counter() - began
    return {"balance_s": seconds["met"]}, {
        "balance_missed_s": seconds["missed"], "balance_lamps": LAMPS, "balance_wants": WANTS,
        "balance_over_plain": seconds["met"] / seconds["met plainly"],
        "balance_missed_over_plain": seconds["missed"] / seconds["missed plainly"]}
