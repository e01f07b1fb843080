"""What all tests share."""

from pathlib import Path

import pytest

PAGES = Path(__file__).parent / "pages"
NO_BROWSER = ("test_answers.py", "test_save.py", "test_renders.py")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Mark the tests that drive the live page in a browser, so that they can be asked for apart."""
    for item in items:
        if PAGES in item.path.parents and item.path.name not in NO_BROWSER:
            item.add_marker(pytest.mark.browser)
