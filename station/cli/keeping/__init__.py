"""What keeps a station in order: doctor, calibration, people, the log's upkeep."""
