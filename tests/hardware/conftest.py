"""What the hardware tests share."""

from __future__ import annotations

import ctypes.util

import pytest


@pytest.fixture(scope="session")
def portaudio(request: pytest.FixtureRequest) -> None:
    """Skip the test, or fail it under --require-tools, where PortAudio's library is missing."""
    if ctypes.util.find_library("portaudio") is None:
        missing = "PortAudio is not installed (apt install libportaudio2 to run this test)"
        if request.config.getoption("--require-tools"):
            pytest.fail(missing)
        pytest.skip(missing)
