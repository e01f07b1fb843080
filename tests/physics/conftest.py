"""The colour library as an outside witness."""

import warnings

import pytest


@pytest.fixture(scope="session")
def colour():
    """The colour-science library; it warns of optional parts that are not installed."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour as library
    return library
