"""The part of a query that leaves out what is no production: trials, studies, services, checks.

They say something about limits, the station or a repair, and nothing about what the line makes.
Each run says itself what it was made for. Those that were stored before they did are found by what
names the run that decided, an entry of a study or a step of a service, with the void attempts
before it in the same scan; runs of reference units that were stored before count as they did.
"""

from __future__ import annotations

# Attempts count from 1 anew in each scan.
SCANS = """SELECT one.seq FROM {named} AS named
    JOIN runs AS deciding ON deciding.run_id = named.run_id
    JOIN runs AS one ON one.serial = deciding.serial AND one.seq <= deciding.seq
        AND one.seq >= coalesce((SELECT max(first.seq) FROM runs AS first
            WHERE first.serial = deciding.serial AND first.seq <= deciding.seq
            AND first.attempt = 1), deciding.seq)"""
SET_APART = "(runs.set_apart IS '{name}' OR runs.seq IN ({scans}))"

OF_GAUGES = SET_APART.format(name="gauge", scans=SCANS.format(named="gauge_entries"))
OF_SERVICES = SET_APART.format(name="service", scans=SCANS.format(named="service_steps"))
# Production as it ran, with the reference units among it, which tell the product from the station.
WATCHED = f"runs.trial IS NOT 1 AND NOT {OF_GAUGES} AND NOT {OF_SERVICES}"
OF_CHECKS = f"({WATCHED} AND runs.set_apart IS 'check')"
OF_PRODUCTION = f"({WATCHED} AND runs.set_apart IS NOT 'check')"
