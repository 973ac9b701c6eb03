"""What every test may ask for."""

from __future__ import annotations

import importlib
import shutil
from collections.abc import Callable

import pytest

from station.reports.pdf import LIBRARIES


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--require-tools",
        action="store_true",
        help="a missing program (jackd, ngspice, sox, tmux) fails its tests instead of skipping",
    )


@pytest.fixture(scope="session")
def tool(request: pytest.FixtureRequest) -> Callable[[str], str]:
    """Return a function that finds a program that pip does not bring, or skips the test."""

    def find(program: str) -> str:
        path = shutil.which(program)
        if path is None:
            missing = f"{program} is not installed (apt install it to run this test)"
            if request.config.getoption("--require-tools"):
                pytest.fail(missing)
            pytest.skip(missing)
        return path

    return find


@pytest.fixture(scope="session")
def pdf_libraries(request: pytest.FixtureRequest) -> None:
    """Skip the test, or fail it under --require-tools, where PDF has no libraries."""
    try:
        importlib.import_module("weasyprint")
    except OSError:
        missing = f"PDF needs libraries (apt install {LIBRARIES} to run this test)"
        if request.config.getoption("--require-tools"):
            pytest.fail(missing)
        pytest.skip(missing)
