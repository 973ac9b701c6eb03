"""The log of runs and the recordings; the only writer to the logs folder."""
