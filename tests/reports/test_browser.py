"""The pages in a real browser: they show what they should, and ask nothing of the outside."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from station.reports.certificate import certificate
from station.reports.sheet import Paper
from station.reports.translations import language
from tests.reports.conftest import Story
from tests.reports.reading import codes_in

QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--disable-extensions",
    "--disable-default-apps", "--hide-scrollbars", "--window-size=900,1400",
    "--force-device-scale-factor=2", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)  # fmt: skip
BROWSERS_OWN = "not an origin"  # whom the browser names for what it asks by itself
PATIENCE_S = 60.0


def browse(chromium: str, page: Path, folder: Path) -> tuple[Image.Image, list[str]]:
    """Return what the browser shows, and every address that the page asked for."""
    shot, log = folder / "shot.png", folder / "net.json"
    subprocess.run(
        [
            chromium, *QUIET, f"--user-data-dir={folder / 'profile'}", f"--screenshot={shot}",
            f"--log-net-log={log}", page.as_uri(),
        ],
        check=True, capture_output=True, timeout=PATIENCE_S,
    )  # fmt: skip
    told: dict[str, Any] = json.loads(log.read_text(encoding="utf-8"))
    facts = [event.get("params", {}) for event in told["events"]]
    asked = [one["url"] for one in facts if one.get("initiator", BROWSERS_OWN) != BROWSERS_OWN]
    with Image.open(shot) as picture:
        return picture.convert("L"), asked


@pytest.mark.tools
def test_a_browser_shows_the_certificate_without_a_single_request_to_the_outside(
    story: Story, tool: Callable[[str], str], tmp_path: Path
) -> None:
    page = tmp_path / "certificate.html"
    page.write_text(certificate(story.repaired, language("en"), Paper.A4), encoding="utf-8")
    picture, asked = browse(tool("chromium"), page, tmp_path)
    assert asked == []
    assert story.repaired.run.serial in codes_in(picture).values()


@pytest.mark.tools
def test_the_same_look_finds_a_page_that_does_ask(
    tool: Callable[[str], str], tmp_path: Path
) -> None:
    page = tmp_path / "asks.html"
    page.write_text('<img src="http://127.0.0.1:9/never.png">', encoding="utf-8")
    _picture, asked = browse(tool("chromium"), page, tmp_path)
    assert asked == ["http://127.0.0.1:9/never.png"]
