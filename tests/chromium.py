"""The browser that tests of the page are run in."""

from __future__ import annotations

import shutil

# As on any machine without a GPU: the page is put together by the processor, WebGL by SwiftShader.
FLAGS = ("--no-sandbox", "--use-angle=swiftshader-webgl", "--enable-unsafe-swiftshader",
         "--disable-background-networking", "--disable-component-update", "--disable-sync",
         "--no-first-run")


def chromium_path() -> str | None:
    """Return where Chromium is, if it is there."""
    return next((found for name in ("chromium-headless-shell", "chromium", "chromium-browser",
                                    "google-chrome")
                 if (found := shutil.which(name))), None)
