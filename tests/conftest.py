"""What all tests share."""

from pathlib import Path

import pytest

PAGES = Path(__file__).parent / "pages"


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Mark the tests that drive the live page in a browser, so that they can be asked for apart."""
    for item in items:
        if PAGES in item.path.parents:
            item.add_marker(pytest.mark.browser)
