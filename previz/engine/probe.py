"""Meters as probes of the engine: their own samples, lamp by lamp, to a stated precision."""

from __future__ import annotations

from previz.engine.gather import THREADS, Gather
from previz.engine.render import USUAL_LIMITS, Limits
from previz.stage.records import Stage


class ProbeJob(Gather):
    """Incident meters: call `run`, then take `probes`.

    Parameters
    ----------
    buffers, stage, seed, limits
        See `Gather`.
    probes : sequence of Probe, optional
        The meters, at least one; those of the stage by default.
    """

    def __init__(self, buffers, stage: Stage, seed: int = 1, limits: Limits = USUAL_LIMITS,
                 probes=None):
        self.places = tuple(stage.probes if probes is None else probes)
        super().__init__(buffers, stage, (probe.name for probe in self.places), seed, limits)

    def starts(self, which, samples, seed):
        """Yield all the meters at once."""
        from previz.engine.starts import ProbeStart

        yield which, ProbeStart(tuple(self.places[i] for i in which), THREADS)
