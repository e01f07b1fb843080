"""The page's quick renderer: a process of its own that makes a small picture of what is in the hand.

A wish a line on its input, as JSON:

    {"option": ..., "camera": ..., "look": ..., "base": ..., "rounds": n, "png": bool}
    {"option": ..., "camera": ..., "look": ..., "lamps": [...]}          get ready

`look` is as the page sends it, with what is moved; `base` is what was moved in the picture that is shown,
None where there is none; `rounds` of it are there. It answers with a line of JSON, in which `bytes` says
how many bytes follow. It ends when its input does.
"""

from __future__ import annotations

import dataclasses
import gc
import json
import os
import sys
from collections.abc import Mapping
from typing import Any

import numpy as np

from previz.errors import DataError
from previz.exposure.camera import expose, settings_of
from previz.exposure.display import show_8bit
from previz.page import pack
from previz.page.change_text import read_changes, read_moves
from previz.page.describe import reference_of
from previz.page.desk import Desk, PageRequest, moves_text, problem_text
from previz.page.png import png_bytes
from previz.page.shots import Lit
from previz.rendering.following import Coarse, Following
from previz.scene.camera import Camera
from previz.stage.build import build_stage
from previz.stage.records import Stage
from previz.stage.sheets import held_by
from previz.studies.changes import changed_scene, staged_camera


class HandRenderer:
    """Makes small pictures, one wish after the other, and goes on with the one of before where it can."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self._following: tuple[tuple, Following] | None = None
        self._coarse: tuple[tuple, Coarse, Lit] | None = None

    def answer(self, wish: Mapping[str, Any]) -> tuple[dict, bytes]:
        """Return what a wish comes to, and its bytes.

        Raises
        ------
        PrevizError
            The option, camera or what is moved is none of the scene's.
        """
        lit = self._lit(wish["option"], wish["look"])
        camera = self._camera(lit, wish["camera"])
        base = read_moves(wish["look"]) if wish.get("base") is None else moves_text(wish["base"])
        following = self._followed(lit, camera.name, base)
        if "lamps" in wish:
            following.warm(staged_camera(lit.stage, camera), wish["lamps"])
            return {}, b""
        key = (lit.option, lit.moves, camera, base, wish.get("base") is None)
        if self._coarse is None or self._coarse[0] != key or self._coarse[1].rounds != wish["rounds"]:
            staged = staged_camera(lit.stage, camera)
            coarse = following.begin(lit.stage, staged, held_by(lit.scene), wish.get("base") is None)
        else:
            coarse = self._coarse[1]
        self._coarse = key, coarse, lit
        coarse.step()
        full = [lit.at_full(name, fading=False) for name in coarse.lamps]
        now = {lamp.name: lamp for lamp in lit.lamps()}
        gains = [float(now[each.name].on * now[each.name].level * now[each.name].output
                       / max(each.level * each.output, 1e-30)) for each in full]
        layers = coarse.layers(full, gains)
        written = next(each for each in lit.scene.cameras if each.name == camera.name)
        rows, columns = layers.shape[1:3]
        head = {"width": columns, "height": rows, "lamps": list(coarse.lamps), "whole": coarse.whole,
                "samples": coarse.job.weight, "rounds": coarse.rounds, "last": coarse.last,
                "fades": [self._fade(lit, coarse, number) if coarse.last else []
                          for number in range(len(coarse.lamps))]}
        if wish.get("png"):
            return head, self._png(lit, camera, base, coarse, layers, gains)
        return head, pack.to_half(layers * np.float32(reference_of(written)))

    def _lit(self, option: str, look: str) -> Lit:
        """Return an option as it is moved and changed."""
        changes, moves = read_changes(look), read_moves(look)
        scene = self.desk.scene(option, moves)
        stage = self._stage(option, moves)
        return Lit(option, moves, scene, stage, changes, changed_scene(scene, stage, changes))

    def _stage(self, option: str, moves: str) -> Stage:
        # Cautions are for the page, which asks the server for them.
        if self._coarse is not None and self._coarse[0][:2] == (option, moves):
            return self._coarse[2].stage
        return build_stage(self.desk.scene(option, moves), reminders=False)

    def _camera(self, lit: Lit, name: str) -> Camera:
        """Return a camera as it is moved and changed."""
        chosen = self.desk.camera(lit.option, name, lit.moves).name
        return next(each for each in lit.changed.cameras if each.name == chosen)

    def _followed(self, lit: Lit, camera: str, base: str) -> Following:
        """Return what follows the picture that is there, made when there is another one."""
        stage = lit.stage if base == lit.moves else None
        scene = self.desk.scene(lit.option, base)
        written = next((each for each in scene.cameras if each.name == camera), None)
        if written is None:
            raise DataError(f"there was no camera '{camera}'", "Wait for the draft.")
        stop = self._camera(lit, camera).stop
        key = (lit.option, base, camera, stop)
        if self._following is None or self._following[0] != key:
            self._following = None
            stage = stage or build_stage(scene, reminders=False)
            request = self.desk.request.request
            shown = staged_camera(stage, dataclasses.replace(written, stop=stop))
            self._following = key, Following(stage, shown, request.bands, request.backend)
        return self._following[1]

    @staticmethod
    def _fade(lit: Lit, coarse: Coarse, number: int) -> list[list[float]]:
        light = next((each for each in lit.changed.lights if each.name == coarse.lamps[number]), None)
        return pack.fade_tables(coarse.bands(number), light)

    def _png(self, lit: Lit, camera: Camera, base: str, coarse: Coarse, layers: np.ndarray,
             gains: list[float]) -> bytes:
        """Return the mix as a picture; lamps that stand as they stood are of the frames that are there."""
        total = np.tensordot(np.asarray(gains, np.float32), layers, axes=1)
        found = None if coarse.whole else self.desk.find(lit.option, camera.name, camera.stop, base)
        if found is not None:
            rows, columns = ((np.arange(few) + 0.5) * many // few for few, many in zip(
                total.shape[:2], found.frames.shape, strict=True))
            by_name = {lamp.name: lamp for lamp in lit.lamps()}
            for number, name in enumerate(found.frames.lights):
                lamp = by_name.get(name)
                if lamp is None or name in coarse.lamps or not lamp.on or not lamp.level:
                    continue
                bands, scale = pack.lamp_bands(found.frames, found.clean, number)
                few = bands[:, rows.astype(int)[:, None], columns.astype(int)]
                total = total + pack.lamp_picture(few, scale, lamp, lamp.level)
        settings = settings_of(staged_camera(lit.stage, camera))
        return png_bytes(show_8bit(expose(np.moveaxis(total, -1, 0), settings)))


def main() -> None:
    """Read the page's request from the command line, then wishes until the input ends."""
    answers = os.fdopen(os.dup(1), "wb")
    # Whatever a library prints must not land between the answers.
    os.dup2(2, 1)
    renderer = None
    for line in sys.stdin:
        try:
            renderer = renderer or HandRenderer(Desk(PageRequest.from_json(sys.argv[1])))
            head, payload = renderer.answer(json.loads(line))
        except Exception as error:  # Whatever goes wrong is the page's to show.
            head, payload = {"fault": problem_text(error)}, b""
        try:
            answers.write(json.dumps({**head, "bytes": len(payload)}).encode() + b"\n" + payload)
            answers.flush()
        except BrokenPipeError:
            os._exit(0)
        tidy()


def tidy() -> None:
    """Give back what the wish before the last has left: scenes of the ray tracer are part of circles.

    What is there to stay is not looked through again, so that it takes next to no time.
    """
    gc.collect()
    if not gc.get_freeze_count():
        gc.freeze()


if __name__ == "__main__":
    main()
