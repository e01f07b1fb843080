"""A scene file in a folder of its own."""

import pytest

from previz.errors import SceneError
from previz.scene.read import load


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder that is also the current one, so that messages say 'scene.yaml'."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def load_text(folder):
    """Load a scene from its text."""

    def load_it(text):
        (folder / "scene.yaml").write_text(text, encoding="utf-8")
        return load("scene.yaml")

    return load_it


@pytest.fixture
def message_of(load_text):
    """Return the whole text of the error that a scene gives."""

    def message(text):
        with pytest.raises(SceneError) as caught:
            load_text(text)
        return str(caught.value)

    return message
