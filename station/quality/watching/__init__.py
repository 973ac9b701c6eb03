"""Production as it is watched: yield, causes, charts, drift, one clear alarm."""
