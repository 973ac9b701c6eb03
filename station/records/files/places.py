"""What stands where in a logs folder."""

from __future__ import annotations

import re

DATABASE_NAME = "station.db"
TIPS_NAME = "station.tips"
RECORDINGS_NAME = "recordings"
CALIBRATIONS_NAME = "calibrations"
UNFINISHED_NAME = "unfinished"  # files under way, of which none outlives its writer
EVENTS_NAME = "events"
SET_ASIDE_NAME = "set-aside"  # damaged databases, one numbered folder each

FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,199}")
BUSY_TIMEOUT_S = 5.0  # another process commits in milliseconds; longer means it hangs
