"""What all tests share: the switch for the big ensembles and the Hypothesis profiles.

``--all`` runs everything. Without it tests marked ``big`` are deselected, and
Hypothesis tries a moderate number of examples, the same ones every time.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings

from tests.support.browser import browser, browser_type  # noqa: F401 (fixtures for all)
from tests.support.command import run  # noqa: F401

# How fast the machine is says nothing about the code: no deadline, no complaint of slowness.
settings.register_profile(
    "fast",
    derandomize=True,
    database=None,
    deadline=None,
    max_examples=50,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile(
    "all",
    derandomize=False,  # Hypothesis has another default where CI is set
    deadline=None,
    max_examples=500,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)


@pytest.fixture(autouse=True)
def no_set_width(monkeypatch: pytest.MonkeyPatch) -> None:
    """Some who run tests set how wide a terminal is, in the environment."""
    monkeypatch.delenv("COLUMNS", raising=False)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--all",
        action="store_true",
        dest="run_all",
        help="run the big ensembles too, and more random examples",
    )


def pytest_configure(config: pytest.Config) -> None:
    settings.load_profile("all" if config.getoption("run_all") else "fast")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("run_all"):
        return
    big = [item for item in items if item.get_closest_marker("big")]
    if big:
        config.hook.pytest_deselected(items=big)
        items[:] = [item for item in items if item not in big]
