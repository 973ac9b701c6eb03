"""The part of a query that leaves out what is no production: trials, gauge studies, services.

They say something about limits, the station or a repair, and nothing about what the line makes. A
study and a service name the run that decided; the void attempts before it in the same scan are
left out with it.
"""

from __future__ import annotations

# Attempts count from 1 anew in each scan.
SCANS = """SELECT one.seq FROM {named} AS named
    JOIN runs AS deciding ON deciding.run_id = named.run_id
    JOIN runs AS one ON one.serial = deciding.serial AND one.seq <= deciding.seq
        AND one.seq >= coalesce((SELECT max(first.seq) FROM runs AS first
            WHERE first.serial = deciding.serial AND first.seq <= deciding.seq
            AND first.attempt = 1), deciding.seq)"""
GAUGE_SCANS = SCANS.format(named="gauge_entries")
SERVICE_SCANS = SCANS.format(named="service_steps")

OF_PRODUCTION = (
    f"runs.trial IS NOT 1 AND runs.seq NOT IN ({GAUGE_SCANS}) AND runs.seq NOT IN ({SERVICE_SCANS})"
)
